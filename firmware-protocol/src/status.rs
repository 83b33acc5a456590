//! How a board is doing, and what it will not do.
//!
//! What a flag means for a running test is decided by the host.

use crate::fault::{EncodeError, FieldError, Malformed};
use crate::wire::{FrameWriter, PayloadReader};

/// Sent at least once a second, running or not, in answer to `Start` and `Stop`, and
/// at once when a flag or a channel fault changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Status {
    /// Board tick in microseconds when the status was sent; wraps at 2³².
    pub tick_us: u32,
    /// State of the board as a whole.
    pub flags: BoardFlags,
    /// Bit n is set while channel n (from 0) is outside its band of good codes.
    pub channel_faults: u8,
    /// Supply voltage of the sensors in millivolts, 0 to 65 535.
    pub supply_mv: u16,
    /// Samples taken but never sent, counted since the board started; stops at 2³² − 1.
    pub n_dropped: u32,
}

/// A set of flags. Bits without a name are refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BoardFlags(u8);

impl BoardFlags {
    /// No flag.
    pub const NONE: Self = Self(0);
    /// The board takes samples.
    pub const RUNNING: Self = Self(1);
    /// Samples were dropped since the last status because the line was too slow.
    pub const BUFFER_OVERRUN: Self = Self(1 << 1);
    /// The supply of the sensors is below what they need.
    pub const SUPPLY_LOW: Self = Self(1 << 2);
    /// The sample clock missed its time; ticks may be wrong.
    pub const CLOCK_FAULT: Self = Self(1 << 3);

    const ALL: u8 = 0b1111;

    /// From the byte on the wire.
    ///
    /// # Errors
    /// [`FieldError::ReservedFlags`] when a bit without a name is set.
    pub const fn from_bits(bits: u8) -> Result<Self, FieldError> {
        if bits & !Self::ALL != 0 {
            return Err(FieldError::ReservedFlags { bits });
        }
        Ok(Self(bits))
    }

    /// The byte on the wire.
    #[must_use]
    pub const fn bits(self) -> u8 {
        self.0
    }

    /// These flags and those.
    #[must_use]
    pub const fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether all of `other` are set.
    #[must_use]
    pub const fn contains(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }
}

/// A request the board did not carry out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Refused {
    /// Kind byte of the request, which may be one the board does not know.
    pub request: u8,
    /// Why.
    pub reason: Reason,
}

/// Why a board refuses a request.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reason {
    /// The board does not know this kind of request.
    UnknownRequest,
    /// The rate is beyond what the board or its line can do.
    RateUnsupported,
    /// The rate can be changed only while the board is stopped.
    Running,
    /// The board is not ready to measure: converter or supply at fault.
    NotReady,
}

impl Status {
    pub(crate) fn write(&self, writer: &mut FrameWriter<'_>) -> Result<(), EncodeError> {
        writer.u32(self.tick_us)?;
        writer.u8(self.flags.bits())?;
        writer.u8(self.channel_faults)?;
        writer.u16(self.supply_mv)?;
        writer.u32(self.n_dropped)
    }

    pub(crate) fn read(reader: &mut PayloadReader<'_>) -> Result<Self, Malformed> {
        Ok(Self {
            tick_us: reader.u32()?,
            flags: reader.checked(PayloadReader::u8, BoardFlags::from_bits)?,
            channel_faults: reader.u8()?,
            supply_mv: reader.u16()?,
            n_dropped: reader.u32()?,
        })
    }
}

impl Refused {
    pub(crate) fn write(&self, writer: &mut FrameWriter<'_>) -> Result<(), EncodeError> {
        writer.u8(self.request)?;
        writer.u8(self.reason.code())
    }

    pub(crate) fn read(reader: &mut PayloadReader<'_>) -> Result<Self, Malformed> {
        Ok(Self {
            request: reader.u8()?,
            reason: reader.checked(PayloadReader::u8, Reason::from_code)?,
        })
    }
}

impl Reason {
    /// The code on the wire.
    #[must_use]
    pub const fn code(self) -> u8 {
        match self {
            Self::UnknownRequest => 1,
            Self::RateUnsupported => 2,
            Self::Running => 3,
            Self::NotReady => 4,
        }
    }

    fn from_code(code: u8) -> Result<Self, FieldError> {
        match code {
            1 => Ok(Self::UnknownRequest),
            2 => Ok(Self::RateUnsupported),
            3 => Ok(Self::Running),
            4 => Ok(Self::NotReady),
            _ => Err(FieldError::ReasonCode { code }),
        }
    }
}
