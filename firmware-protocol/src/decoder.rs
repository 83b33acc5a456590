//! Splits a stream of bytes at its delimiters.
//!
//! Knows COBS and nothing of versions, kinds or checksums; those are read in
//! `message`. Two delimiters in a row are ordinary: every frame has one at both ends.
//!
//! Invariants: never holds more than `CAPACITY` bytes; after an overflow nothing is
//! taken for a frame until the next delimiter has passed.

use crate::cobs;
use crate::cobs::CobsError;

/// What one byte led to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decoded<'a> {
    /// No frame ends here.
    Pending,
    /// A whole body, freed of delimiters and COBS.
    Frame(&'a [u8]),
    /// A frame longer than `CAPACITY` ended here. All of it was dropped.
    Oversized,
    /// The bytes that ended here are not COBS: foreign text, or a frame cut off.
    Malformed(CobsError),
}

/// Collects bytes until a frame is complete. Never holds more than `CAPACITY`
/// bytes (counted encoded, without delimiters).
#[derive(Debug, Clone)]
pub struct FrameDecoder<const CAPACITY: usize> {
    buffer: [u8; CAPACITY],
    length: usize,
    /// Set on overflow and cleared only by a delimiter, so that the tail of an
    /// oversized frame is never taken for a frame of its own.
    skipping: bool,
}

/// As [`Decoded`], without borrowing, so that a caller can go on with the next byte.
pub(crate) enum Step {
    Pending,
    Frame { length: usize },
    Oversized,
    Malformed(CobsError),
}

impl<const CAPACITY: usize> FrameDecoder<CAPACITY> {
    /// Begins with nothing collected.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            buffer: [0; CAPACITY],
            length: 0,
            skipping: false,
        }
    }

    /// Takes the next byte of the stream.
    pub fn push(&mut self, byte: u8) -> Decoded<'_> {
        match self.step(byte) {
            Step::Pending => Decoded::Pending,
            Step::Frame { length } => Decoded::Frame(self.body(length)),
            Step::Oversized => Decoded::Oversized,
            Step::Malformed(error) => Decoded::Malformed(error),
        }
    }

    pub(crate) fn step(&mut self, byte: u8) -> Step {
        if byte == 0 {
            return self.end_frame();
        }
        if self.skipping {
            return Step::Pending;
        }
        match self.buffer.get_mut(self.length) {
            Some(slot) => {
                *slot = byte;
                self.length += 1;
            }
            None => self.skipping = true,
        }
        Step::Pending
    }

    /// The body that [`Step::Frame`] announced; valid until the next step.
    pub(crate) fn body(&self, length: usize) -> &[u8] {
        &self.buffer[..length]
    }

    fn end_frame(&mut self) -> Step {
        let length = core::mem::take(&mut self.length);
        if core::mem::take(&mut self.skipping) {
            return Step::Oversized;
        }
        if length == 0 {
            return Step::Pending;
        }
        match cobs::decode_in_place(&mut self.buffer[..length]) {
            Ok(length) => Step::Frame { length },
            Err(error) => Step::Malformed(error),
        }
    }
}

impl<const CAPACITY: usize> Default for FrameDecoder<CAPACITY> {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use std::vec;
    use std::vec::Vec;

    use super::*;

    #[test]
    fn tail_of_an_oversized_frame_is_never_taken_for_a_frame() {
        check(
            &[9, 9, 9, 9, 9, 2, 42, 0, 2, 7, 0],
            &[Err("oversized"), Ok(vec![7])],
        );
    }

    #[test]
    fn a_frame_as_long_as_the_capacity_is_good_and_one_byte_more_is_oversized() {
        check(&[4, 1, 2, 3, 0], &[Ok(vec![1, 2, 3])]);
        check(&[5, 1, 2, 3, 4, 0], &[Err("oversized")]);
    }

    #[test]
    fn delimiters_in_a_row_are_no_frame() {
        check(&[0, 0, 0, 2, 7, 0, 0], &[Ok(vec![7])]);
    }

    #[test]
    fn an_empty_body_is_a_frame() {
        check(&[1, 0], &[Ok(vec![])]);
    }

    #[test]
    fn bytes_that_are_not_stuffed_are_malformed_and_the_next_frame_is_good() {
        check(&[65, 84, 0, 2, 7, 0], &[Err("malformed"), Ok(vec![7])]);
    }

    #[test]
    fn what_never_meets_a_delimiter_stays_pending() {
        check(&[7; 1_000], &[]);
    }

    #[track_caller]
    fn check(bytes: &[u8], expected: &[Result<Vec<u8>, &str>]) {
        let mut decoder = FrameDecoder::<4>::new();
        let mut outcomes = Vec::new();
        for &byte in bytes {
            match decoder.push(byte) {
                Decoded::Pending => {}
                Decoded::Frame(body) => outcomes.push(Ok(body.to_vec())),
                Decoded::Oversized => outcomes.push(Err("oversized")),
                Decoded::Malformed(_) => outcomes.push(Err("malformed")),
            }
        }
        assert_eq!(outcomes, expected);
    }
}
