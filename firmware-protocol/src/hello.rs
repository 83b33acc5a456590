//! What a board says about itself: identity, sample rate, channel table.
//!
//! Whether a channel fits a setup, and what its counts mean after calibration, is
//! decided by the host. Here only what can never be right is refused.
//!
//! Invariant: a [`ChannelTable`] holds 1 to 8 channels, each with a rising code
//! range, finite and different end values and a band of good codes.

use crate::MAX_CHANNELS;
use crate::MAX_SAMPLE_RATE_MILLIHERTZ;
use crate::fault::{EncodeError, FieldError, Malformed};
use crate::text::{BoardName, Label};
use crate::wire::{FrameWriter, PayloadReader};

/// Sent by a board once after it started, and in answer to `Identify` and `SetRate`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hello {
    /// Sixteen bytes no other board has, the same for its whole life.
    pub board_id: [u8; 16],
    /// Version of the firmware that runs on the board.
    pub firmware: FirmwareVersion,
    /// Name of the board.
    pub name: BoardName,
    /// Sample rate the board uses when it runs.
    pub sample_rate: SampleRate,
    /// Channels in the order of the counts in each sample.
    pub channels: ChannelTable,
}

/// Version of a firmware, `major.minor.patch`, each 0 to 65 535.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct FirmwareVersion {
    /// Raised when a board behaves differently for its user.
    pub major: u16,
    /// Raised for additions.
    pub minor: u16,
    /// Raised for repairs.
    pub patch: u16,
}

/// A sample rate from 1 mHz to 1 kHz.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct SampleRate(u32);

impl SampleRate {
    /// From millihertz (10 Hz is 10 000).
    ///
    /// # Errors
    /// [`FieldError::RateOutOfRange`] outside 1 to [`MAX_SAMPLE_RATE_MILLIHERTZ`].
    pub const fn from_millihertz(millihertz: u32) -> Result<Self, FieldError> {
        if millihertz == 0 || millihertz > MAX_SAMPLE_RATE_MILLIHERTZ {
            return Err(FieldError::RateOutOfRange { millihertz });
        }
        Ok(Self(millihertz))
    }

    /// In millihertz, 1 to 1 000 000.
    #[must_use]
    pub const fn as_millihertz(self) -> u32 {
        self.0
    }

    /// Nearest whole tick interval in microseconds, 1 000 to 1 000 000 000.
    #[must_use]
    pub const fn interval_us(self) -> u32 {
        (1_000_000_000 + self.0 / 2) / self.0
    }
}

/// One channel as the board is wired.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Channel {
    /// Text printed beside the terminal.
    pub label: Label,
    /// What is measured.
    pub kind: ChannelKind,
    /// Unit of `value_low` and `value_high`.
    pub unit: RangeUnit,
    /// Resolution of the converter in bits, 1 to 32.
    pub resolution_bits: u8,
    /// Raw count that stands for `value_low`; below `code_high`.
    pub code_low: i32,
    /// Raw count that stands for `value_high`.
    pub code_high: i32,
    /// Engineering value at `code_low`, in `unit`.
    pub value_low: f32,
    /// Engineering value at `code_high`, in `unit`.
    pub value_high: f32,
    /// Lowest raw count of a healthy sensor; one below it is a fault.
    pub good_lowest: i32,
    /// Highest raw count of a healthy sensor; one above it is a fault.
    pub good_highest: i32,
}

/// What a channel measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChannelKind {
    /// Anything else; recorded, never evaluated.
    Other,
    /// Pressure.
    Pressure,
    /// Position of the rod.
    Position,
    /// Temperature of oil or wall.
    Temperature,
}

/// Unit of the engineering values of a channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RangeUnit {
    /// A bare number.
    None,
    /// Gauge pressure in pascal (Pa).
    PascalGauge,
    /// Metre (m).
    Metre,
    /// Degree Celsius (°C).
    DegreeCelsius,
    /// Volt (V), where the sensor's own range is known to the host only.
    Volt,
    /// Ampere (A), likewise.
    Ampere,
}

/// One to eight channels, each checked.
#[derive(Clone, Copy, PartialEq)]
pub struct ChannelTable {
    channels: [Channel; MAX_CHANNELS],
    n_channels: usize,
}

impl ChannelTable {
    /// Takes the channels of a board, in the order of its counts.
    ///
    /// # Errors
    /// [`FieldError`] for no or too many channels, or one that cannot be right.
    pub fn new(channels: &[Channel]) -> Result<Self, FieldError> {
        let n_channels = channels.len();
        let Some(&first) = channels.first().filter(|_| n_channels <= MAX_CHANNELS) else {
            return Err(FieldError::ChannelCount { n_channels });
        };
        for (channel_index, channel) in channels.iter().enumerate() {
            channel.check(channel_index)?;
        }
        let mut table = Self {
            channels: [first; MAX_CHANNELS],
            n_channels,
        };
        table.channels[..n_channels].copy_from_slice(channels);
        Ok(table)
    }

    /// The channels, 1 to 8.
    #[must_use]
    pub fn as_slice(&self) -> &[Channel] {
        &self.channels[..self.n_channels]
    }
}

impl core::fmt::Debug for ChannelTable {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_list().entries(self.as_slice()).finish()
    }
}

impl Channel {
    fn check(&self, channel_index: usize) -> Result<(), FieldError> {
        if self.code_low >= self.code_high {
            return Err(FieldError::CodeRange { channel_index });
        }
        let ends_are_finite = self.value_low.is_finite() && self.value_high.is_finite();
        if !ends_are_finite || self.value_low == self.value_high {
            return Err(FieldError::ValueRange { channel_index });
        }
        if self.good_lowest > self.good_highest {
            return Err(FieldError::GoodBand { channel_index });
        }
        if !(1..=32).contains(&self.resolution_bits) {
            return Err(FieldError::Resolution { channel_index });
        }
        Ok(())
    }

    fn write(&self, writer: &mut FrameWriter<'_>) -> Result<(), EncodeError> {
        writer.u8(self.kind.code())?;
        writer.u8(self.unit.code())?;
        writer.u8(self.resolution_bits)?;
        writer.i32(self.code_low)?;
        writer.i32(self.code_high)?;
        writer.f32(self.value_low)?;
        writer.f32(self.value_high)?;
        writer.i32(self.good_lowest)?;
        writer.i32(self.good_highest)?;
        writer.text(self.label.as_bytes())
    }

    fn read(reader: &mut PayloadReader<'_>) -> Result<Self, Malformed> {
        Ok(Self {
            kind: reader.checked(PayloadReader::u8, ChannelKind::from_code)?,
            unit: reader.checked(PayloadReader::u8, RangeUnit::from_code)?,
            resolution_bits: reader.u8()?,
            code_low: reader.i32()?,
            code_high: reader.i32()?,
            value_low: reader.f32()?,
            value_high: reader.f32()?,
            good_lowest: reader.i32()?,
            good_highest: reader.i32()?,
            label: reader.checked(PayloadReader::text, Label::from_bytes)?,
        })
    }
}

impl Hello {
    pub(crate) fn write(&self, writer: &mut FrameWriter<'_>) -> Result<(), EncodeError> {
        writer.bytes(&self.board_id)?;
        writer.u16(self.firmware.major)?;
        writer.u16(self.firmware.minor)?;
        writer.u16(self.firmware.patch)?;
        writer.u32(self.sample_rate.as_millihertz())?;
        writer.text(self.name.as_bytes())?;
        let channels = self.channels.as_slice();
        writer.u8(u8::try_from(channels.len()).expect("a table has at most 8 channels"))?;
        channels
            .iter()
            .try_for_each(|channel| channel.write(writer))
    }

    pub(crate) fn read(reader: &mut PayloadReader<'_>) -> Result<Self, Malformed> {
        Ok(Self {
            board_id: reader.array()?,
            firmware: FirmwareVersion {
                major: reader.u16()?,
                minor: reader.u16()?,
                patch: reader.u16()?,
            },
            sample_rate: reader.checked(PayloadReader::u32, SampleRate::from_millihertz)?,
            name: reader.checked(PayloadReader::text, BoardName::from_bytes)?,
            channels: ChannelTable::read(reader)?,
        })
    }
}

impl ChannelTable {
    fn read(reader: &mut PayloadReader<'_>) -> Result<Self, Malformed> {
        let n_channels = usize::from(reader.u8()?);
        if !(1..=MAX_CHANNELS).contains(&n_channels) {
            return Err(reader.field(FieldError::ChannelCount { n_channels }));
        }
        let mut channels = [Channel::read(reader)?; MAX_CHANNELS];
        for channel in &mut channels[1..n_channels] {
            *channel = Channel::read(reader)?;
        }
        Self::new(&channels[..n_channels]).map_err(|error| reader.field(error))
    }
}

impl ChannelKind {
    /// The code on the wire.
    #[must_use]
    pub const fn code(self) -> u8 {
        match self {
            Self::Other => 0,
            Self::Pressure => 1,
            Self::Position => 2,
            Self::Temperature => 3,
        }
    }

    fn from_code(code: u8) -> Result<Self, FieldError> {
        match code {
            0 => Ok(Self::Other),
            1 => Ok(Self::Pressure),
            2 => Ok(Self::Position),
            3 => Ok(Self::Temperature),
            _ => Err(FieldError::ChannelKindCode { code }),
        }
    }
}

impl RangeUnit {
    /// The code on the wire.
    #[must_use]
    pub const fn code(self) -> u8 {
        match self {
            Self::None => 0,
            Self::PascalGauge => 1,
            Self::Metre => 2,
            Self::DegreeCelsius => 3,
            Self::Volt => 4,
            Self::Ampere => 5,
        }
    }

    fn from_code(code: u8) -> Result<Self, FieldError> {
        match code {
            0 => Ok(Self::None),
            1 => Ok(Self::PascalGauge),
            2 => Ok(Self::Metre),
            3 => Ok(Self::DegreeCelsius),
            4 => Ok(Self::Volt),
            5 => Ok(Self::Ampere),
            _ => Err(FieldError::UnitCode { code }),
        }
    }
}
