//! The bytes between a stillrod board and its host, protocol version 1.
//!
//! `PROTOCOL.md` beside this crate is the specification; its byte examples are
//! tests. A sender calls [`encode_frame`]; a receiver pushes every byte it reads
//! into a [`Receiver`] and gets [`Event`]s: messages, or faults that were counted.
//! [`SampleClock`] turns wrapping ticks into a time line and names what is missing.
//!
//! Invariants: no input or output, no clock, no allocation, no `std`, no `unsafe`;
//! no bytes from outside can panic; everything has a limit, listed as constants here.
//!
//! ```
//! use firmware_protocol::{encode_frame, Event, Message, Receiver, MAX_FRAME_BYTES};
//!
//! let mut frame = [0; MAX_FRAME_BYTES];
//! let length = encode_frame(&Message::Identify, &mut frame)?;
//!
//! let mut receiver = Receiver::new();
//! let mut arrived = &frame[..length];
//! while let Some(event) = receiver.next_event(&mut arrived) {
//!     assert_eq!(event, Event::Message(Message::Identify));
//! }
//! assert_eq!(receiver.counters().frames_good, 1);
//! # Ok::<(), firmware_protocol::EncodeError>(())
//! ```
#![no_std]
#![forbid(unsafe_code)]

#[cfg(test)]
extern crate std;

mod message;

mod hello;
mod samples;
mod status;
mod text;

mod fault;
mod stream;

mod clock;
mod wire;

mod cobs;
mod crc32c;
mod decoder;

pub use clock::{Continuity, Placement, SampleClock};
pub use cobs::{CobsError, decode_in_place as cobs_decode_in_place, encode as cobs_encode};
pub use crc32c::{Crc32c, crc32c};
pub use decoder::{Decoded, FrameDecoder};
pub use fault::{EncodeError, Fault, FieldError, Malformed};
pub use hello::{
    Channel, ChannelKind, ChannelTable, FirmwareVersion, Hello, RangeUnit, SampleRate,
};
pub use message::{Kind, Message, decode_body, encode_frame};
pub use samples::Samples;
pub use status::{BoardFlags, Reason, Refused, Status};
pub use stream::{Event, LinkCounters, Receiver};
pub use text::{BoardName, Label, Text};

/// The version byte this crate sends, and the only one it understands.
pub const PROTOCOL_VERSION: u8 = 1;

/// Longest frame on the line in bytes, both delimiters counted. A buffer of this
/// size holds every message; a receiver drops anything longer.
pub const MAX_FRAME_BYTES: usize = 512;

/// Longest frame between its delimiters in bytes (COBS encoded).
pub const MAX_ENCODED_BYTES: usize = MAX_FRAME_BYTES - 2;

/// Longest body in bytes: version, kind, payload, checksum. COBS adds two at most.
pub const MAX_BODY_BYTES: usize = MAX_ENCODED_BYTES - MAX_ENCODED_BYTES.div_ceil(255);

/// Longest payload in bytes: a body without version, kind and checksum.
pub const MAX_PAYLOAD_BYTES: usize = MAX_BODY_BYTES - 6;

/// Most channels of a board. One more is refused by [`ChannelTable::new`].
pub const MAX_CHANNELS: usize = 8;

/// Most raw counts (channels times samples) in one block of samples.
pub const MAX_COUNTS: usize = (MAX_PAYLOAD_BYTES - samples::HEAD_BYTES) / 4;

/// Longest time from the first to the last sample of one block, in microseconds.
pub const MAX_BLOCK_SPAN_US: u32 = 1_000_000;

/// Fastest sample rate in millihertz (1 kHz); the slowest is 1 mHz.
pub const MAX_SAMPLE_RATE_MILLIHERTZ: u32 = 1_000_000;

/// A board that sent no good frame for this many milliseconds is lost. It promises a
/// status at least once a second, and samples every 500 ms at rates from 2 Hz up.
pub const SILENCE_LIMIT_MS: u32 = 2_000;
