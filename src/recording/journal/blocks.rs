//! The blocks of a journal, one after another, from anything that can be read.
//!
//! Invariant: no more than one block is in memory, whatever the bytes say.

use super::Cut;
use super::JOURNAL_VERSION;
use super::JournalError;
use super::Kind;
use super::MAGIC;
use super::MAX_PAYLOAD_BYTES;
use super::OLDEST_VERSION;
use super::START_BYTES;
use super::checksum;
use std::io;
use std::io::Read;

/// Why there is no further block.
#[derive(Debug)]
pub(super) enum Stopped {
    /// What stands there is not believed.
    Cut(Cut),
    /// The bytes cannot be had.
    Broken(io::Error),
}

impl From<Cut> for Stopped {
    fn from(cut: Cut) -> Self {
        Self::Cut(cut)
    }
}

impl From<io::Error> for Stopped {
    fn from(cause: io::Error) -> Self {
        Self::Broken(cause)
    }
}

/// Reads block by block.
#[derive(Debug)]
pub(super) struct Blocks<R> {
    from: Counted<R>,
    block: Vec<u8>,
    n_good: usize,
}

/// A reader that knows how many bytes it gave.
#[derive(Debug)]
struct Counted<R> {
    from: R,
    n_bytes: usize,
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let n_read = self.from.read(buffer)?;
        self.n_bytes += n_read;
        Ok(n_read)
    }
}

impl<R: Read> Blocks<R> {
    /// Behind magic and version, which are looked at.
    pub(super) fn begin(from: R) -> Result<Self, JournalError> {
        let mut from = Counted { from, n_bytes: 0 };
        let broken = |cause| JournalError::Unreadable { cause };
        let mut start = [0; START_BYTES];
        let n_read = fill(&mut from, &mut start).map_err(broken)?;
        let (magic, version) = start.split_at(MAGIC.len());
        if n_read < START_BYTES || magic != MAGIC {
            io::copy(&mut from, &mut io::sink()).map_err(broken)?;
            return Err(JournalError::Foreign {
                n_bytes: from.n_bytes,
            });
        }
        let version = version.try_into().map_or(0, u32::from_le_bytes);
        if !(OLDEST_VERSION..=JOURNAL_VERSION).contains(&version) {
            return Err(JournalError::Newer { found: version });
        }
        Ok(Self {
            from,
            block: Vec::new(),
            n_good: START_BYTES,
        })
    }

    /// Bytes up to the end of the last block that is whole and right.
    pub(super) fn n_good(&self) -> usize {
        self.n_good
    }

    /// Kind and payload of the next block; None at the end.
    pub(super) fn next(&mut self) -> Result<Option<(Kind, &[u8])>, Stopped> {
        let mut length = [0; 4];
        match fill(&mut self.from, &mut length)? {
            0 => return Ok(None),
            4 => {}
            _ => return Err(Cut::Torn.into()),
        }
        let n_payload =
            usize::try_from(u32::from_le_bytes(length)).map_err(|_too_large| Cut::Damaged)?;
        if n_payload > MAX_PAYLOAD_BYTES {
            return Err(Cut::Damaged.into());
        }
        let n_checked = 4 + 1 + n_payload;
        self.block.resize(n_checked + 4, 0);
        self.block[..4].copy_from_slice(&length);
        if fill(&mut self.from, &mut self.block[4..])? < n_checked {
            return Err(Cut::Torn.into());
        }
        let (checked, found) = self.block.split_at(n_checked);
        if checksum(checked).to_le_bytes() != found {
            return Err(Cut::Damaged.into());
        }
        let kind = Kind::from_code(checked[4]).ok_or(Cut::Senseless)?;
        self.n_good += n_checked + 4;
        Ok(Some((kind, &checked[5..])))
    }

    /// Number of all bytes that there are; reads to the end.
    pub(super) fn n_all(mut self) -> io::Result<usize> {
        io::copy(&mut self.from, &mut io::sink())?;
        Ok(self.from.n_bytes)
    }
}

/// Fills a buffer; the number of bytes, fewer only at the end.
fn fill(from: &mut impl Read, buffer: &mut [u8]) -> io::Result<usize> {
    let mut n_read = 0;
    while n_read < buffer.len() {
        match from.read(&mut buffer[n_read..]) {
            Ok(0) => break,
            Ok(n) => n_read += n,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(n_read)
}
