//! The rows of a journal: as bytes in a block, and some at a time as a source.
//!
//! Invariant: all rows of a block are believed or none, so that no channel is ever longer than
//! another.

use super::JournalError;
use super::Kind;
use super::blocks::Blocks;
use super::blocks::Stopped;
use super::read::begun;
use crate::recording::Codes;
use crate::recording::Outline;
use crate::recording::Piece;
use crate::recording::RowSource;
use crate::recording::Track;
use std::io::Read;

/// The payload of a block of rows.
#[derive(Clone, Copy)]
pub(super) struct RowBlock<'a> {
    rows: &'a [u8],
    /// Codes in each row.
    pub(super) n_channels: usize,
}

/// One of its rows.
#[derive(Clone, Copy)]
pub(super) struct RowBytes<'a>(&'a [u8]);

impl<'a> RowBlock<'a> {
    /// None if it is not as long as it says, or has another number of channels.
    pub(super) fn new(payload: &'a [u8], n_channels: usize) -> Option<Self> {
        let mut fields = Fields(payload);
        let [n_found] = fields.take()?;
        let n_rows = usize::from(u16::from_le_bytes(fields.take()?));
        let rows = fields.0;
        let fits = usize::from(n_found) == n_channels && rows.len() == n_rows * width(n_channels);
        fits.then_some(Self { rows, n_channels })
    }

    /// Number of rows.
    pub(super) fn len(&self) -> usize {
        self.rows.len() / width(self.n_channels)
    }

    /// The rows.
    pub(super) fn iter(&self) -> impl Iterator<Item = RowBytes<'a>> + use<'a> {
        self.rows.chunks_exact(width(self.n_channels)).map(RowBytes)
    }

    /// Time of the last row, s, if the times rise from behind `last_s`.
    pub(super) fn rises(&self, mut last_s: f64) -> Option<f64> {
        for row in self.iter() {
            let time_s = row.time_s();
            if !time_s.is_finite() || time_s <= last_s {
                return None;
            }
            last_s = time_s;
        }
        Some(last_s)
    }
}

impl<'a> RowBytes<'a> {
    /// Bench time, s.
    pub(super) fn time_s(self) -> f64 {
        Fields(self.0).f64().unwrap_or(f64::NAN)
    }

    /// One code for each channel.
    pub(super) fn codes(self) -> impl Iterator<Item = i32> + use<'a> {
        let (codes, _) = self.0.get(8..).unwrap_or_default().as_chunks();
        codes.iter().map(|bytes| i32::from_le_bytes(*bytes))
    }
}

/// Bytes of one row.
fn width(n_channels: usize) -> usize {
    8 + 4 * n_channels
}

/// The rows of a journal that was looked through before.
#[derive(Debug)]
pub struct JournalRows<R> {
    blocks: Blocks<R>,
    outline: Outline,
    n_given: usize,
    /// Payload of the block that is being handed out, and how many of its rows were.
    payload: Vec<u8>,
    n_taken: usize,
}

impl<R: Read> JournalRows<R> {
    /// From the same bytes that [`super::scan_journal`] made this outline of.
    ///
    /// # Errors
    /// If they are others, or cannot be had.
    pub fn begin(from: R, outline: Outline) -> Result<Self, JournalError> {
        let mut blocks = Blocks::begin(from)?;
        let found = begun(&mut blocks)?;
        if found.heading != outline.heading || found.lanes != outline.lanes {
            return Err(JournalError::Changed);
        }
        Ok(Self {
            blocks,
            outline,
            n_given: 0,
            payload: Vec::new(),
            n_taken: 0,
        })
    }

    /// Goes to the next block of rows.
    fn next_block(&mut self) -> Result<(), JournalError> {
        loop {
            match self.blocks.next() {
                Ok(Some((Kind::Rows, payload))) => {
                    self.payload.clear();
                    self.payload.extend_from_slice(payload);
                    self.n_taken = 0;
                    return Ok(());
                }
                Ok(Some(_)) => {}
                Err(Stopped::Broken(cause)) => return Err(JournalError::Unreadable { cause }),
                Ok(None) | Err(Stopped::Cut(_)) => return Err(JournalError::Changed),
            }
        }
    }
}

impl<R: Read> RowSource for JournalRows<R> {
    type Error = JournalError;

    fn outline(&self) -> &Outline {
        &self.outline
    }

    fn next_piece(&mut self, n_most: usize) -> Result<Piece, JournalError> {
        let n_channels = self.outline.lanes.len();
        let n_wanted = n_most.min(self.outline.n_rows - self.n_given);
        let mut time_s = Vec::with_capacity(n_wanted);
        let mut columns = vec![Vec::with_capacity(n_wanted); n_channels];
        while time_s.len() < n_wanted {
            let rows = RowBlock::new(&self.payload, n_channels);
            let n_left = rows.map_or(0, |rows| rows.len() - self.n_taken);
            if n_left == 0 {
                self.next_block()?;
                continue;
            }
            let n_now = n_left.min(n_wanted - time_s.len());
            let rows = rows.into_iter().flat_map(|rows| rows.iter());
            for row in rows.skip(self.n_taken).take(n_now) {
                time_s.push(row.time_s());
                for (column, code) in columns.iter_mut().zip(row.codes()) {
                    column.push(code);
                }
            }
            self.n_taken += n_now;
        }
        self.n_given += n_wanted;
        let lanes = self.outline.lanes.iter().zip(columns);
        let tracks = lanes.map(|(lane, codes)| Track {
            channel: lane.channel.clone(),
            codes: Codes::Raw(codes),
        });
        Ok(Piece::new(time_s, tracks.collect()))
    }
}

/// Little-endian fields from the front of a byte string.
pub(super) struct Fields<'a>(pub(super) &'a [u8]);

impl<'a> Fields<'a> {
    pub(super) fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (array, rest) = self.0.split_first_chunk()?;
        self.0 = rest;
        Some(*array)
    }

    pub(super) fn f64(&mut self) -> Option<f64> {
        self.take().map(f64::from_le_bytes)
    }

    pub(super) fn u64(&mut self) -> Option<u64> {
        self.take().map(u64::from_le_bytes)
    }

    /// All that is left, as text.
    pub(super) fn text(&mut self) -> Option<&'a str> {
        std::str::from_utf8(std::mem::take(&mut self.0)).ok()
    }
}
