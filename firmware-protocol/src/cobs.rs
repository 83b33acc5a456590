//! Consistent overhead byte stuffing: a frame without a zero inside.
//!
//! After Cheshire and Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM
//! Transactions on Networking 7(2), 1999. Splitting a stream at delimiters is the
//! business of `decoder`; a sender's delimiters are written here, around the frame.
//!
//! Invariant: one grammar. Slices and piecewise senders go through [`Encoder`];
//! everything received goes through [`decode_in_place`].

use core::error::Error;
use core::fmt;

use crate::fault::EncodeError;

/// Code of a block of 254 bytes that is not followed by a zero.
const FULL_BLOCK: u8 = 0xFF;

/// Why bytes are not a COBS frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CobsError {
    /// There were no bytes at all; even an empty body is one byte encoded.
    Empty,
    /// A zero stands inside the frame.
    ZeroInside {
        /// Position of the zero in the encoded frame, from 0.
        at: usize,
    },
    /// A block promises more bytes than the frame has left.
    CutOff {
        /// Position of the block's code byte in the encoded frame, from 0.
        at: usize,
        /// How many bytes are missing.
        n_missing: usize,
    },
}

impl fmt::Display for CobsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => write!(f, "no bytes between two delimiters"),
            Self::ZeroInside { at } => write!(f, "zero inside the frame at byte {at}"),
            Self::CutOff { at, n_missing } => {
                write!(f, "block at byte {at} lacks {n_missing} bytes")
            }
        }
    }
}

impl Error for CobsError {}

/// Encodes `raw` into `out` without delimiters; returns the number of bytes written.
///
/// # Errors
/// [`EncodeError::BufferTooSmall`]; `raw.len() + raw.len() / 254 + 1` bytes are always enough.
pub fn encode(raw: &[u8], out: &mut [u8]) -> Result<usize, EncodeError> {
    let mut encoder = Encoder::begin(out)?;
    for &byte in raw {
        encoder.push(byte)?;
    }
    Ok(encoder.finish())
}

/// Decodes a frame (without delimiters) over itself; returns the length of the body,
/// which then stands at the start of `frame`.
///
/// # Errors
/// [`CobsError`] when the bytes are not COBS; `frame` is then no longer of use.
pub fn decode_in_place(frame: &mut [u8]) -> Result<usize, CobsError> {
    if frame.is_empty() {
        return Err(CobsError::Empty);
    }
    let (mut from, mut to) = (0, 0);
    while from < frame.len() {
        let code_at = from;
        let code = frame[code_at];
        if code == 0 {
            return Err(CobsError::ZeroInside { at: code_at });
        }
        let end = code_at + usize::from(code);
        if end > frame.len() {
            return Err(CobsError::CutOff {
                at: code_at,
                n_missing: end - frame.len(),
            });
        }
        for index in code_at + 1..end {
            if frame[index] == 0 {
                return Err(CobsError::ZeroInside { at: index });
            }
            frame[to] = frame[index];
            to += 1;
        }
        if code != FULL_BLOCK && end < frame.len() {
            frame[to] = 0;
            to += 1;
        }
        from = end;
    }
    Ok(to)
}

/// Encodes byte by byte, so that a sender needs no second buffer for the raw body.
#[derive(Debug)]
pub(crate) struct Encoder<'a> {
    out: &'a mut [u8],
    /// Where the code of the open block will be written.
    code_at: usize,
    /// One past the last byte written.
    end: usize,
}

impl<'a> Encoder<'a> {
    pub(crate) fn begin(out: &'a mut [u8]) -> Result<Self, EncodeError> {
        let mut encoder = Self {
            out,
            code_at: 0,
            end: 0,
        };
        encoder.open_block()?;
        Ok(encoder)
    }

    /// As [`Encoder::begin`], with a delimiter before the frame.
    pub(crate) fn begin_frame(out: &'a mut [u8]) -> Result<Self, EncodeError> {
        let mut encoder = Self {
            out,
            code_at: 0,
            end: 0,
        };
        encoder.put(0)?;
        encoder.open_block()?;
        Ok(encoder)
    }

    pub(crate) fn push(&mut self, byte: u8) -> Result<(), EncodeError> {
        // A full block is closed only when another byte follows: 254 bytes at the
        // very end of the body need no empty block after them.
        if self.code() == FULL_BLOCK {
            self.close_block();
            self.open_block()?;
        }
        if byte == 0 {
            self.close_block();
            self.open_block()
        } else {
            self.put(byte)
        }
    }

    pub(crate) fn finish(mut self) -> usize {
        self.close_block();
        self.end
    }

    /// As [`Encoder::finish`], with a delimiter after the frame.
    pub(crate) fn finish_frame(mut self) -> Result<usize, EncodeError> {
        self.close_block();
        self.put(0)?;
        Ok(self.end)
    }

    fn code(&self) -> u8 {
        u8::try_from(self.end - self.code_at).expect("a block is closed at 255 bytes")
    }

    fn open_block(&mut self) -> Result<(), EncodeError> {
        self.code_at = self.end;
        self.put(0)
    }

    fn close_block(&mut self) {
        self.out[self.code_at] = self.code();
    }

    fn put(&mut self, byte: u8) -> Result<(), EncodeError> {
        let available = self.out.len();
        let slot = self
            .out
            .get_mut(self.end)
            .ok_or(EncodeError::BufferTooSmall { available })?;
        *slot = byte;
        self.end += 1;
        Ok(())
    }
}
