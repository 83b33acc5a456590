//! From bytes as they arrive to messages and counted faults.
//!
//! Takes bytes in pieces of any size and never asks where they came from. Foreign
//! text ends as a fault, never as a message. Whether a fault matters is decided by
//! whoever reads the counters.
//!
//! Invariants: every non-empty run of bytes between delimiters adds one to exactly one
//! counter; "not yet" is `None`, not an error.

use crate::MAX_ENCODED_BYTES;
use crate::decoder::{FrameDecoder, Step};
use crate::fault::{Fault, Malformed};
use crate::message::{Message, decode_body};

/// What arrived.
#[derive(Debug, Clone, Copy, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "there is no allocator to box a message with"
)]
pub enum Event<'a> {
    /// A whole message with the right checksum.
    Message(Message<'a>),
    /// Bytes that are no message. Already counted.
    Fault(Fault),
}

/// How many frames came, and what became of them. Counted since the receiver was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LinkCounters {
    /// Frames that became messages.
    pub frames_good: u64,
    /// Frames whose checksum did not fit.
    pub bad_crc: u64,
    /// Bytes that are no frame, or frames with a payload that is not allowed.
    pub malformed: u64,
    /// Frames longer than the limit.
    pub oversized: u64,
    /// Frames of another protocol version.
    pub unknown_version: u64,
    /// Frames of version 1 of an unknown kind.
    pub unknown_kind: u64,
}

/// Receives one side of a line. Make a new one when the port is opened again.
#[derive(Debug, Clone, Default)]
pub struct Receiver {
    decoder: FrameDecoder<MAX_ENCODED_BYTES>,
    counters: LinkCounters,
}

impl Receiver {
    /// Begins with nothing received and all counters at zero.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            decoder: FrameDecoder::new(),
            counters: LinkCounters {
                frames_good: 0,
                bad_crc: 0,
                malformed: 0,
                oversized: 0,
                unknown_version: 0,
                unknown_kind: 0,
            },
        }
    }

    /// Takes the next byte. `None`: nothing ends here.
    pub fn push(&mut self, byte: u8) -> Option<Event<'_>> {
        let step = self.decoder.step(byte);
        self.event(step)
    }

    /// Takes bytes until an event ends, and moves `bytes` past what it took.
    /// `None`: all were taken and nothing ends there. Call again until then.
    pub fn next_event(&mut self, bytes: &mut &[u8]) -> Option<Event<'_>> {
        while let Some((&byte, rest)) = bytes.split_first() {
            *bytes = rest;
            match self.decoder.step(byte) {
                Step::Pending => {}
                step => return self.event(step),
            }
        }
        None
    }

    /// What became of all frames so far.
    #[must_use]
    pub const fn counters(&self) -> LinkCounters {
        self.counters
    }

    fn event(&mut self, step: Step) -> Option<Event<'_>> {
        let received = match step {
            Step::Pending => return None,
            Step::Frame { length } => decode_body(self.decoder.body(length)),
            Step::Oversized => Err(Fault::Oversized),
            Step::Malformed(error) => Err(Fault::Malformed(Malformed::Cobs(error))),
        };
        self.counters.count(&received);
        Some(match received {
            Ok(message) => Event::Message(message),
            Err(fault) => Event::Fault(fault),
        })
    }
}

impl LinkCounters {
    /// All runs of bytes that became no message.
    #[must_use]
    pub const fn n_faults(&self) -> u64 {
        self.bad_crc + self.malformed + self.oversized + self.unknown_version + self.unknown_kind
    }

    fn count(&mut self, received: &Result<Message<'_>, Fault>) {
        let counter = match received {
            Ok(_) => &mut self.frames_good,
            Err(Fault::BadCrc { .. }) => &mut self.bad_crc,
            Err(Fault::Malformed(_)) => &mut self.malformed,
            Err(Fault::Oversized) => &mut self.oversized,
            Err(Fault::UnknownVersion { .. }) => &mut self.unknown_version,
            Err(Fault::UnknownKind { .. }) => &mut self.unknown_kind,
        };
        *counter += 1;
    }
}
