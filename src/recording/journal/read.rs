//! A journal's bytes to the parts of a recording, and what had to be cut off.
//!
//! The end of a journal may be torn: the power went while it was written. Reading stops
//! at the first block that is not whole and right, and says where and why.
//!
//! Invariant: for any bytes, the rows read from a shortened journal are the first rows
//! of those read from the whole one.

use super::JOURNAL_VERSION;
use super::JournalError;
use super::Kind;
use super::MAGIC;
use super::MAX_PAYLOAD_BYTES;
use super::OLDEST_VERSION;
use super::START_BYTES;
use super::checksum;
use super::description;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::Entry;
use crate::recording::EntryKind;
use crate::recording::Gap;
use crate::recording::GapCause;
use crate::recording::Loss;
use crate::recording::Parts;
use crate::recording::PhaseMark;
use crate::recording::Track;

/// How much of a journal could be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TailReport {
    /// Bytes that were read.
    pub n_bytes_good: usize,
    /// Bytes behind them that were not believed.
    pub n_bytes_cut: usize,
    /// Why they were not; None if nothing was cut.
    pub cut: Option<Cut>,
    /// Whether the journal said how the recording ended.
    pub has_ending: bool,
}

/// Why reading stopped before the end of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Cut {
    /// The last block is not whole: writing was cut off.
    #[error("the last block was not written to its end")]
    Torn,
    /// A block has a wrong checksum, or a length that cannot be.
    #[error("a block is damaged")]
    Damaged,
    /// A block has a right checksum and contents that cannot be.
    #[error("a block says what cannot be")]
    Senseless,
    /// Something stands behind the ending.
    #[error("something follows the ending")]
    AfterEnding,
}

/// Reads a journal as far as it can be believed.
///
/// # Errors
/// If the bytes are no journal of this version, or not even the heading is whole.
pub fn read_journal(bytes: &[u8]) -> Result<(Parts, TailReport), JournalError> {
    let rest = without_start(bytes)?;
    let no_heading = |why: String| JournalError::NoHeading { why };
    let first = next_block(rest).map_err(|cut| no_heading(cut.to_string()))?;
    let Some((Kind::Heading, payload, mut rest)) = first else {
        return Err(no_heading("it does not come first".into()));
    };
    let (heading, channels) = description::from_json(payload).map_err(no_heading)?;
    let mut parts = Parts {
        heading,
        time_s: Vec::new(),
        tracks: channels
            .into_iter()
            .map(|channel| Track {
                channel,
                codes: Codes::Raw(Vec::new()),
            })
            .collect(),
        gaps: Vec::new(),
        phases: Vec::new(),
        entries: Vec::new(),
        loss: Loss::default(),
        ending: Ending::Complete,
    };
    let mut state = State::default();
    let cut = loop {
        match next_block(rest) {
            Ok(None) => break None,
            Ok(Some(_)) if state.ending.is_some() => break Some(Cut::AfterEnding),
            Ok(Some((kind, payload, after))) => {
                if take_block(&mut parts, &mut state, kind, payload).is_none() {
                    break Some(Cut::Senseless);
                }
                rest = after;
            }
            Err(cut) => break Some(cut),
        }
    };
    let report = TailReport {
        n_bytes_good: bytes.len() - rest.len(),
        n_bytes_cut: rest.len(),
        cut,
        has_ending: state.ending.is_some(),
    };
    close(&mut parts, state, &report);
    Ok((parts, report))
}

/// What is known while reading and not part of a recording.
#[derive(Default)]
struct State {
    open_phases: Vec<(String, f64)>,
    ending: Option<Ending>,
}

fn without_start(bytes: &[u8]) -> Result<&[u8], JournalError> {
    let foreign = JournalError::Foreign {
        n_bytes: bytes.len(),
    };
    let Some((start, rest)) = bytes.split_at_checked(START_BYTES) else {
        return Err(foreign);
    };
    let mut start = Fields(start);
    if start.take::<8>() != Some(MAGIC) {
        return Err(foreign);
    }
    match start.take().map(u32::from_le_bytes) {
        Some(OLDEST_VERSION..=JOURNAL_VERSION) => Ok(rest),
        Some(found) => Err(JournalError::Newer { found }),
        None => Err(foreign),
    }
}

type Block<'a> = (Kind, &'a [u8], &'a [u8]);

/// Kind, payload and what follows; None at the end.
fn next_block(bytes: &[u8]) -> Result<Option<Block<'_>>, Cut> {
    if bytes.is_empty() {
        return Ok(None);
    }
    let mut fields = Fields(bytes);
    let length = fields.take().map(u32::from_le_bytes).ok_or(Cut::Torn)?;
    let length = usize::try_from(length).map_err(|_too_large| Cut::Damaged)?;
    if length > MAX_PAYLOAD_BYTES {
        return Err(Cut::Damaged);
    }
    let n_checked = 4 + 1 + length;
    let (checked, rest) = bytes.split_at_checked(n_checked).ok_or(Cut::Torn)?;
    let (found, rest) = rest.split_first_chunk().ok_or(Cut::Torn)?;
    if checksum(checked) != u32::from_le_bytes(*found) {
        return Err(Cut::Damaged);
    }
    let kind = Kind::from_code(checked[4]).ok_or(Cut::Senseless)?;
    Ok(Some((kind, &checked[5..], rest)))
}

/// None if the block says what cannot be.
fn take_block(parts: &mut Parts, state: &mut State, kind: Kind, payload: &[u8]) -> Option<()> {
    let mut fields = Fields(payload);
    match kind {
        Kind::Heading => return None,
        Kind::Rows => return take_rows(parts, fields),
        Kind::Gap => {
            let (from_s, until_s) = (fields.f64()?, fields.f64()?);
            let cause = GapCause::from_word(fields.text()?)?;
            parts.gaps.push(Gap {
                from_s,
                until_s,
                cause,
            });
        }
        Kind::PhaseBegins => {
            let from_s = fields.f64()?;
            state.open_phases.push((fields.text()?.into(), from_s));
        }
        Kind::PhaseEnds => {
            let until_s = fields.f64()?;
            let name = fields.text()?;
            let at = state.open_phases.iter().rposition(|(n, _)| n == name)?;
            let (name, from_s) = state.open_phases.remove(at);
            parts.phases.push(PhaseMark {
                name,
                from_s,
                until_s,
            });
        }
        Kind::Entry => {
            let at_s = fields.f64()?;
            let mut lines = fields.text()?.splitn(3, '\n');
            parts.entries.push(Entry {
                at_s,
                kind: EntryKind::from_word(lines.next()?)?,
                step: lines.next()?.into(),
                text: lines.next()?.into(),
            });
        }
        Kind::Loss => {
            parts.loss = Loss {
                n_samples_lost: fields.u64()?,
                n_frames_bad: fields.u64()?,
                n_board_dropped: fields.u64()?,
                n_bytes_overrun: fields.u64()?,
            };
            return fields.0.is_empty().then_some(());
        }
        Kind::Ending => {
            let [code] = fields.take()?;
            let reason = fields.text()?;
            state.ending = Some(match code {
                0 => Ending::Complete,
                1 => Ending::Interrupted(reason.into()),
                _ => return None,
            });
        }
    }
    Some(())
}

/// All rows of a block or none, so that no channel is ever longer than another.
fn take_rows(parts: &mut Parts, mut fields: Fields<'_>) -> Option<()> {
    let [n_channels] = fields.take()?;
    let n_rows = usize::from(u16::from_le_bytes(fields.take()?));
    let width = 8 + 4 * usize::from(n_channels);
    if usize::from(n_channels) != parts.tracks.len() || fields.0.len() != n_rows * width {
        return None;
    }
    let mut last_s = parts.time_s.last().copied().unwrap_or(f64::NEG_INFINITY);
    for row in fields.0.chunks_exact(width) {
        let time_s = Fields(row).f64()?;
        if !time_s.is_finite() || time_s <= last_s {
            return None;
        }
        last_s = time_s;
    }
    for row in fields.0.chunks_exact(width) {
        let mut row = Fields(row);
        parts.time_s.push(row.f64()?);
        for track in &mut parts.tracks {
            if let Codes::Raw(codes) = &mut track.codes {
                codes.push(i32::from_le_bytes(row.take()?));
            }
        }
    }
    Some(())
}

/// Ends what was still open when the journal stopped.
fn close(parts: &mut Parts, state: State, report: &TailReport) {
    let last_s = parts.time_s.last().copied().unwrap_or(0.0);
    for (name, from_s) in state.open_phases {
        parts.phases.push(PhaseMark {
            name,
            from_s,
            until_s: last_s.max(from_s),
        });
    }
    parts.ending = match (state.ending, report.cut) {
        (Some(ending), _) => ending,
        (None, None | Some(Cut::Torn)) => Ending::Interrupted(format!(
            "recording stopped without an ending at {last_s:.1} s: the program or the computer was stopped"
        )),
        (None, Some(cut)) => Ending::Interrupted(format!(
            "journal ends at {last_s:.1} s: {cut} at byte {}, {} bytes behind it were not read",
            report.n_bytes_good, report.n_bytes_cut
        )),
    };
}

/// Little-endian fields from the front of a byte string.
struct Fields<'a>(&'a [u8]);

impl<'a> Fields<'a> {
    fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (array, rest) = self.0.split_first_chunk()?;
        self.0 = rest;
        Some(*array)
    }

    fn f64(&mut self) -> Option<f64> {
        self.take().map(f64::from_le_bytes)
    }

    fn u64(&mut self) -> Option<u64> {
        self.take().map(u64::from_le_bytes)
    }

    /// All that is left, as text.
    fn text(&mut self) -> Option<&'a str> {
        std::str::from_utf8(std::mem::take(&mut self.0)).ok()
    }
}
