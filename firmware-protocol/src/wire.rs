//! Little-endian fields into a frame and out of a payload.
//!
//! Invariants: the writer needs no second buffer, it stuffs and sums as it goes;
//! the reader never looks past its payload and knows the kind it reads, so that
//! every complaint says where.

use crate::cobs::Encoder;
use crate::crc32c::Crc32c;
use crate::fault::{EncodeError, FieldError, Malformed};
use crate::message::Kind;

/// Writes one frame: delimiter, stuffed body with its checksum, delimiter.
#[derive(Debug)]
pub(crate) struct FrameWriter<'a> {
    encoder: Encoder<'a>,
    crc: Crc32c,
}

impl<'a> FrameWriter<'a> {
    pub(crate) fn begin(out: &'a mut [u8]) -> Result<Self, EncodeError> {
        Ok(Self {
            encoder: Encoder::begin_frame(out)?,
            crc: Crc32c::new(),
        })
    }

    pub(crate) fn bytes(&mut self, bytes: &[u8]) -> Result<(), EncodeError> {
        self.crc.update(bytes);
        bytes.iter().try_for_each(|&byte| self.encoder.push(byte))
    }

    pub(crate) fn u8(&mut self, value: u8) -> Result<(), EncodeError> {
        self.bytes(&[value])
    }

    pub(crate) fn u16(&mut self, value: u16) -> Result<(), EncodeError> {
        self.bytes(&value.to_le_bytes())
    }

    pub(crate) fn u32(&mut self, value: u32) -> Result<(), EncodeError> {
        self.bytes(&value.to_le_bytes())
    }

    pub(crate) fn i32(&mut self, value: i32) -> Result<(), EncodeError> {
        self.bytes(&value.to_le_bytes())
    }

    pub(crate) fn f32(&mut self, value: f32) -> Result<(), EncodeError> {
        self.bytes(&value.to_le_bytes())
    }

    /// One byte of length, then the text.
    pub(crate) fn text(&mut self, text: &[u8]) -> Result<(), EncodeError> {
        self.u8(u8::try_from(text.len()).expect("texts are limited below 256 characters"))?;
        self.bytes(text)
    }

    pub(crate) fn finish(mut self) -> Result<usize, EncodeError> {
        let checksum = self.crc.value().to_le_bytes();
        self.bytes(&checksum)?;
        self.encoder.finish_frame()
    }
}

/// Reads the fields of one payload in order.
#[derive(Debug)]
pub(crate) struct PayloadReader<'a> {
    kind: Kind,
    rest: &'a [u8],
}

impl<'a> PayloadReader<'a> {
    pub(crate) fn new(kind: Kind, payload: &'a [u8]) -> Self {
        Self {
            kind,
            rest: payload,
        }
    }

    pub(crate) fn array<const N: usize>(&mut self) -> Result<[u8; N], Malformed> {
        let (array, rest) = self
            .rest
            .split_first_chunk()
            .ok_or(Malformed::PayloadTooShort {
                kind: self.kind,
                n_missing: N - self.rest.len().min(N),
            })?;
        self.rest = rest;
        Ok(*array)
    }

    /// The next `count` groups of four bytes, borrowed.
    pub(crate) fn arrays(&mut self, count: usize) -> Result<&'a [[u8; 4]], Malformed> {
        Ok(self.take(count * 4)?.as_chunks().0)
    }

    pub(crate) fn u8(&mut self) -> Result<u8, Malformed> {
        self.array().map(u8::from_le_bytes)
    }

    pub(crate) fn u16(&mut self) -> Result<u16, Malformed> {
        self.array().map(u16::from_le_bytes)
    }

    pub(crate) fn u32(&mut self) -> Result<u32, Malformed> {
        self.array().map(u32::from_le_bytes)
    }

    pub(crate) fn i32(&mut self) -> Result<i32, Malformed> {
        self.array().map(i32::from_le_bytes)
    }

    pub(crate) fn f32(&mut self) -> Result<f32, Malformed> {
        self.array().map(f32::from_le_bytes)
    }

    /// One byte of length, then so many bytes.
    pub(crate) fn text(&mut self) -> Result<&'a [u8], Malformed> {
        let length = usize::from(self.u8()?);
        self.take(length)
    }

    /// Reads a field and checks it, so that the complaint names the message.
    pub(crate) fn checked<Raw, Value>(
        &mut self,
        read: impl FnOnce(&mut Self) -> Result<Raw, Malformed>,
        check: impl FnOnce(Raw) -> Result<Value, FieldError>,
    ) -> Result<Value, Malformed> {
        let raw = read(self)?;
        check(raw).map_err(|error| self.field(error))
    }

    pub(crate) fn field(&self, error: FieldError) -> Malformed {
        Malformed::Field {
            kind: self.kind,
            error,
        }
    }

    pub(crate) fn finish(self) -> Result<(), Malformed> {
        match self.rest.len() {
            0 => Ok(()),
            n_surplus => Err(Malformed::PayloadTooLong {
                kind: self.kind,
                n_surplus,
            }),
        }
    }

    fn take(&mut self, length: usize) -> Result<&'a [u8], Malformed> {
        let Some((taken, rest)) = self.rest.split_at_checked(length) else {
            return Err(Malformed::PayloadTooShort {
                kind: self.kind,
                n_missing: length - self.rest.len(),
            });
        };
        self.rest = rest;
        Ok(taken)
    }
}
