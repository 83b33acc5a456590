//! What happens, as blocks to append to a journal.
//!
//! Invariant: every byte string this file returns is a whole number of blocks, so a
//! journal that was appended to without error ends at the end of a block.

use super::JOURNAL_VERSION;
use super::JournalError;
use super::Kind;
use super::MAGIC;
use super::MAX_PAYLOAD_BYTES;
use super::MAX_ROWS;
use super::checksum;
use super::description;
use crate::channel::Channel;
use crate::recording::Ending;
use crate::recording::Entry;
use crate::recording::Gap;
use crate::recording::Heading;
use crate::recording::Loss;
use crate::recording::Row;

/// Makes the blocks of one journal. Append each result to the file, in order.
#[derive(Debug)]
pub struct JournalWriter {
    n_channels: usize,
    last_time_s: Option<f64>,
}

impl JournalWriter {
    /// Begins a journal; the bytes are the start of the file.
    ///
    /// # Errors
    /// If a number of a channel is not finite, or setup and shop file are beyond all measure.
    pub fn begin(heading: &Heading, channels: &[Channel]) -> Result<(Self, Vec<u8>), JournalError> {
        let json = description::to_json(heading, channels)?;
        if json.len() > MAX_PAYLOAD_BYTES {
            return Err(JournalError::HeadingTooLong {
                n_bytes: json.len(),
            });
        }
        let mut bytes = MAGIC.to_vec();
        bytes.extend_from_slice(&JOURNAL_VERSION.to_le_bytes());
        bytes.extend_from_slice(&block(Kind::Heading, &[&json]));
        let writer = Self {
            n_channels: channels.len(),
            last_time_s: None,
        };
        Ok((writer, bytes))
    }

    /// Rows as they arrived, one code for each channel of the heading, in its order.
    ///
    /// # Errors
    /// If a row has another number of codes, or its time does not follow the one before;
    /// then none of these rows counts as written.
    pub fn rows(&mut self, rows: &[Row]) -> Result<Vec<u8>, JournalError> {
        let mut last_time_s = self.last_time_s;
        for row in rows {
            if row.codes.len() != self.n_channels {
                return Err(JournalError::RowWidth {
                    n_codes: row.codes.len(),
                    n_channels: self.n_channels,
                });
            }
            let before_s = last_time_s.unwrap_or(f64::NEG_INFINITY);
            if !row.time_s.is_finite() || row.time_s <= before_s {
                return Err(JournalError::TimeBackwards {
                    before_s,
                    after_s: row.time_s,
                });
            }
            last_time_s = Some(row.time_s);
        }
        self.last_time_s = last_time_s;
        Ok(rows
            .chunks(MAX_ROWS)
            .flat_map(|chunk| self.rows_block(chunk))
            .collect())
    }

    /// A stretch without samples.
    pub fn gap(&self, gap: &Gap) -> Vec<u8> {
        let (from, until) = (gap.from_s.to_le_bytes(), gap.until_s.to_le_bytes());
        block(Kind::Gap, &[&from, &until, gap.cause.word().as_bytes()])
    }

    /// A phase begins at `from_s` seconds of bench time.
    pub fn phase_begins(&self, name: &str, from_s: f64) -> Vec<u8> {
        block(Kind::PhaseBegins, &[&from_s.to_le_bytes(), shortened(name)])
    }

    /// A phase that began ends at `until_s` seconds of bench time.
    pub fn phase_ends(&self, name: &str, until_s: f64) -> Vec<u8> {
        block(Kind::PhaseEnds, &[&until_s.to_le_bytes(), shortened(name)])
    }

    /// What a person said or read.
    pub fn entry(&self, entry: &Entry) -> Vec<u8> {
        let words = format!("{}\n{}\n{}", entry.kind.word(), entry.step, entry.text);
        block(Kind::Entry, &[&entry.at_s.to_le_bytes(), shortened(&words)])
    }

    /// What was lost so far, in total. The last such block counts.
    pub fn loss(&self, loss: &Loss) -> Vec<u8> {
        let totals = [
            loss.n_samples_lost,
            loss.n_frames_bad,
            loss.n_board_dropped,
            loss.n_bytes_overrun,
        ];
        block(Kind::Loss, &[totals.map(u64::to_le_bytes).as_flattened()])
    }

    /// How it ended. Takes the writer: nothing may follow.
    pub fn ending(self, ending: &Ending) -> Vec<u8> {
        match ending {
            Ending::Complete => block(Kind::Ending, &[&[0]]),
            Ending::Interrupted(reason) => block(Kind::Ending, &[&[1], shortened(reason)]),
        }
    }

    fn rows_block(&self, rows: &[Row]) -> Vec<u8> {
        let n_rows = u16::try_from(rows.len()).expect("chunks have at most MAX_ROWS rows");
        let n_channels = u8::try_from(self.n_channels).expect("roles are fewer than 256");
        let mut payload = Vec::with_capacity(3 + rows.len() * (8 + 4 * self.n_channels));
        payload.push(n_channels);
        payload.extend_from_slice(&n_rows.to_le_bytes());
        for row in rows {
            payload.extend_from_slice(&row.time_s.to_le_bytes());
            for code in &row.codes {
                payload.extend_from_slice(&code.to_le_bytes());
            }
        }
        block(Kind::Rows, &[&payload])
    }
}

/// Names and reasons are sentences; what is beyond a page is cut rather than refused,
/// because an ending must be written whatever it says.
fn shortened(text: &str) -> &[u8] {
    const PAGE_BYTES: usize = 4_096;
    &text.as_bytes()[..text.floor_char_boundary(PAGE_BYTES)]
}

fn block(kind: Kind, parts: &[&[u8]]) -> Vec<u8> {
    let n_payload: usize = parts.iter().map(|part| part.len()).sum();
    debug_assert!(n_payload <= MAX_PAYLOAD_BYTES);
    let length = u32::try_from(n_payload).expect("payloads are limited");
    let mut bytes = Vec::with_capacity(n_payload + 9);
    bytes.extend_from_slice(&length.to_le_bytes());
    bytes.push(kind.code());
    parts.iter().for_each(|part| bytes.extend_from_slice(part));
    bytes.extend_from_slice(&checksum(&bytes).to_le_bytes());
    bytes
}
