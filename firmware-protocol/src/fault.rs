//! What can go wrong with a frame, in words for the person at the bench.
//!
//! A [`Fault`] is about bytes that arrived, a [`FieldError`] about a value that breaks
//! a limit (arrived or about to be sent), an [`EncodeError`] about a sender's buffer.

use core::error::Error;
use core::fmt;

use crate::MAX_CHANNELS;
use crate::MAX_COUNTS;
use crate::MAX_ENCODED_BYTES;
use crate::MAX_SAMPLE_RATE_MILLIHERTZ;
use crate::PROTOCOL_VERSION;
use crate::cobs::CobsError;
use crate::message::Kind;

/// Why bytes between two delimiters did not become a message. Each is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// Not a body, or a payload that version 1 does not allow.
    Malformed(Malformed),
    /// Longer than [`MAX_ENCODED_BYTES`]; all of it was dropped.
    Oversized,
    /// The checksum does not fit; nothing else of the body was looked at.
    BadCrc {
        /// Checksum of the bytes that arrived.
        computed: u32,
        /// Checksum that came with them.
        found: u32,
    },
    /// A whole frame of another protocol version.
    UnknownVersion {
        /// The version byte.
        found: u8,
    },
    /// A whole frame of version 1 of a kind this side does not know.
    UnknownKind {
        /// The kind byte.
        found: u8,
    },
}

/// What is wrong with a malformed frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Malformed {
    /// Not COBS.
    Cobs(CobsError),
    /// Too short for version, kind and checksum.
    BodyTooShort {
        /// Length of the body in bytes.
        length: usize,
    },
    /// The payload ends before its last field.
    PayloadTooShort {
        /// Kind of the message.
        kind: Kind,
        /// Bytes missing for the field that could not be read.
        n_missing: usize,
    },
    /// The payload goes on after its last field.
    PayloadTooLong {
        /// Kind of the message.
        kind: Kind,
        /// Bytes after the last field.
        n_surplus: usize,
    },
    /// A field has a value that version 1 does not allow.
    Field {
        /// Kind of the message.
        kind: Kind,
        /// Which, and why.
        error: FieldError,
    },
}

/// A value that breaks a limit of the protocol.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FieldError {
    /// A text longer than its field.
    TextTooLong {
        /// Length in bytes.
        length: usize,
        /// Most bytes allowed.
        limit: usize,
    },
    /// A byte that is not printable ASCII.
    TextNotPrintable {
        /// The byte.
        byte: u8,
    },
    /// A sample rate of zero or above the limit.
    RateOutOfRange {
        /// The rate in millihertz.
        millihertz: u32,
    },
    /// No channel, or too many.
    ChannelCount {
        /// How many.
        n_channels: usize,
    },
    /// A code without a channel kind.
    ChannelKindCode {
        /// The code.
        code: u8,
    },
    /// A code without a unit.
    UnitCode {
        /// The code.
        code: u8,
    },
    /// `code_low` is not below `code_high`.
    CodeRange {
        /// Channel from 0.
        channel_index: usize,
    },
    /// An end value is not finite, or both are the same.
    ValueRange {
        /// Channel from 0.
        channel_index: usize,
    },
    /// The lowest good code is above the highest.
    GoodBand {
        /// Channel from 0.
        channel_index: usize,
    },
    /// A resolution outside 1 to 32 bits.
    Resolution {
        /// Channel from 0.
        channel_index: usize,
    },
    /// Counts that do not make whole samples, or too many of them.
    BlockShape {
        /// Number of channels.
        n_channels: usize,
        /// Number of counts.
        n_counts: usize,
    },
    /// An interval of zero, or a block longer than a second.
    BlockInterval {
        /// Interval in microseconds.
        interval_us: u32,
        /// Number of samples.
        n_samples: u8,
    },
    /// A flag bit without a name.
    ReservedFlags {
        /// All flag bits.
        bits: u8,
    },
    /// A code without a reason.
    ReasonCode {
        /// The code.
        code: u8,
    },
}

/// Why a frame could not be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EncodeError {
    /// The frame does not fit.
    BufferTooSmall {
        /// Size of the buffer in bytes.
        available: usize,
    },
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Malformed(reason) => write!(f, "{reason}"),
            Self::Oversized => write!(
                f,
                "frame longer than {MAX_ENCODED_BYTES} bytes dropped; check the baud rate and that a \
                 stillrod board is on this line"
            ),
            Self::BadCrc { computed, found } => write!(
                f,
                "frame checksum is {computed:#010x}, the frame says {found:#010x}; check cable, shield \
                 and baud rate if this repeats"
            ),
            Self::UnknownVersion { found } => {
                let update = if *found > PROTOCOL_VERSION {
                    "update stillrod on the host"
                } else {
                    "update the firmware of the board"
                };
                write!(
                    f,
                    "board speaks protocol version {found}, this host version {PROTOCOL_VERSION}; {update}"
                )
            }
            Self::UnknownKind { found } => write!(
                f,
                "message of unknown kind {found:#04x} skipped; update stillrod on the host if the board \
                 is newer"
            ),
        }
    }
}

impl Error for Fault {
    fn source(&self) -> Option<&(dyn Error + 'static)> {
        match self {
            Self::Malformed(reason) => reason.source(),
            _ => None,
        }
    }
}

impl fmt::Display for Malformed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Cobs(_) => write!(
                f,
                "bytes between two delimiters are not a frame; ordinary just after the port was opened \
                 or the board restarted, otherwise check cable and baud rate"
            ),
            Self::BodyTooShort { length } => write!(
                f,
                "frame body has {length} bytes, needs at least 6; check cable and baud rate if this repeats"
            ),
            Self::PayloadTooShort { kind, n_missing } => write!(
                f,
                "{} message lacks {n_missing} bytes; update the firmware of the board",
                kind.name()
            ),
            Self::PayloadTooLong { kind, n_surplus } => write!(
                f,
                "{} message has {n_surplus} bytes too many; update the firmware of the board",
                kind.name()
            ),
            Self::Field { kind, .. } => write!(
                f,
                "{} message has a field that protocol version {PROTOCOL_VERSION} does not allow; correct \
                 the configuration or the firmware of the board",
                kind.name()
            ),
        }
    }
}

impl Error for Malformed {
    fn source(&self) -> Option<&(dyn Error + 'static)> {
        match self {
            Self::Cobs(error) => Some(error),
            Self::Field { error, .. } => Some(error),
            _ => None,
        }
    }
}

impl fmt::Display for FieldError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TextTooLong { length, limit } => {
                write!(f, "text has {length} characters; shorten it to {limit}")
            }
            Self::TextNotPrintable { byte } => {
                write!(f, "text has byte {byte:#04x}; use printable ASCII only")
            }
            Self::RateOutOfRange { millihertz } => write!(
                f,
                "sample rate is {millihertz} mHz; choose 1 to {MAX_SAMPLE_RATE_MILLIHERTZ} mHz"
            ),
            Self::ChannelCount { n_channels } => {
                write!(f, "{n_channels} channels; a board has 1 to {MAX_CHANNELS}")
            }
            Self::ChannelKindCode { code } => {
                write!(f, "channel kind {code} is not assigned; use 0 to 3")
            }
            Self::UnitCode { code } => write!(f, "unit {code} is not assigned; use 0 to 5"),
            Self::CodeRange { channel_index } => write!(
                f,
                "channel {channel_index}: code_low is not below code_high; swap both ends of the range"
            ),
            Self::ValueRange { channel_index } => write!(
                f,
                "channel {channel_index}: values at the ends of the range must be finite and differ"
            ),
            Self::GoodBand { channel_index } => {
                write!(
                    f,
                    "channel {channel_index}: lowest good code is above the highest; swap them"
                )
            }
            Self::Resolution { channel_index } => {
                write!(
                    f,
                    "channel {channel_index}: resolution must be 1 to 32 bits"
                )
            }
            Self::BlockShape {
                n_channels,
                n_counts,
            } => write!(
                f,
                "{n_counts} counts for {n_channels} channels; send whole samples of 1 to {MAX_CHANNELS} \
                 channels, at most {MAX_COUNTS} counts in a block"
            ),
            Self::BlockInterval {
                interval_us,
                n_samples,
            } => write!(
                f,
                "{n_samples} samples {interval_us} us apart; the interval is at least 1 us and a block \
                 lasts at most a second"
            ),
            Self::ReservedFlags { bits } => {
                write!(f, "status flags are {bits:#04x}; bits 4 to 7 must be zero")
            }
            Self::ReasonCode { code } => write!(f, "reason {code} is not assigned; use 1 to 4"),
        }
    }
}

impl Error for FieldError {}

impl fmt::Display for EncodeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::BufferTooSmall { available } => write!(
                f,
                "frame does not fit into {available} bytes; hand over MAX_FRAME_BYTES"
            ),
        }
    }
}

impl Error for EncodeError {}
