//! A block of raw counts, equally spaced in time.
//!
//! Counts are borrowed: from a slice when a board sends, from the received frame when
//! a host reads. What a count means stands in the board's `Hello` and in the host's
//! calibration.
//!
//! Invariant: at least one sample of 1 to 8 channels, at most
//! [`MAX_COUNTS`](crate::MAX_COUNTS) counts, spread over at most one second.

use core::fmt;

use crate::MAX_BLOCK_SPAN_US;
use crate::MAX_CHANNELS;
use crate::MAX_COUNTS;
use crate::fault::{EncodeError, FieldError, Malformed};
use crate::wire::{FrameWriter, PayloadReader};

/// Bytes of a samples payload before its counts.
pub(crate) const HEAD_BYTES: usize = 14;

/// A block of samples of all channels.
#[derive(Clone, Copy)]
pub struct Samples<'a> {
    first_sequence: u32,
    first_tick_us: u32,
    interval_us: u32,
    n_channels: u8,
    n_samples: u8,
    counts: Counts<'a>,
}

/// Sample-major counts, ours or still as they came over the line.
#[derive(Clone, Copy)]
enum Counts<'a> {
    Values(&'a [i32]),
    Bytes(&'a [[u8; 4]]),
}

impl<'a> Samples<'a> {
    /// A block to send. `counts` holds all channels of the first sample, then all of
    /// the second, and so on; ticks and interval are in microseconds of the board.
    ///
    /// # Errors
    /// [`FieldError`] when the shape, the interval or the span breaks a limit.
    pub fn new(
        first_sequence: u32,
        first_tick_us: u32,
        interval_us: u32,
        n_channels: usize,
        counts: &'a [i32],
    ) -> Result<Self, FieldError> {
        let n_samples = counts.len().checked_div(n_channels).unwrap_or(0);
        let shape = (n_channels, n_samples, counts.len());
        let (n_channels, n_samples) = checked_shape(shape, interval_us)?;
        Ok(Self {
            first_sequence,
            first_tick_us,
            interval_us,
            n_channels,
            n_samples,
            counts: Counts::Values(counts),
        })
    }

    /// The raw count of one channel in one sample, both from 0. `None` outside the block.
    #[must_use]
    pub fn get(&self, sample_index: usize, channel_index: usize) -> Option<i32> {
        if sample_index >= self.n_samples() || channel_index >= self.n_channels() {
            return None;
        }
        let index = sample_index * self.n_channels() + channel_index;
        match self.counts {
            Counts::Values(values) => values.get(index).copied(),
            Counts::Bytes(bytes) => bytes.get(index).map(|&bytes| i32::from_le_bytes(bytes)),
        }
    }

    /// Sequence number of the first sample; wraps at 2³².
    #[must_use]
    pub const fn first_sequence(&self) -> u32 {
        self.first_sequence
    }

    /// Sequence number of the sample that follows this block; wraps at 2³².
    #[must_use]
    pub fn next_sequence(&self) -> u32 {
        self.first_sequence.wrapping_add(u32::from(self.n_samples))
    }

    /// Board tick of the first sample in microseconds; wraps at 2³² (71.6 minutes).
    #[must_use]
    pub const fn first_tick_us(&self) -> u32 {
        self.first_tick_us
    }

    /// Time from one sample to the next in microseconds, at least 1.
    #[must_use]
    pub const fn interval_us(&self) -> u32 {
        self.interval_us
    }

    /// Time from the first to the last sample in microseconds, at most 1 000 000.
    #[must_use]
    pub fn span_us(&self) -> u32 {
        (u32::from(self.n_samples) - 1) * self.interval_us
    }

    /// Number of channels, 1 to 8.
    #[must_use]
    pub fn n_channels(&self) -> usize {
        usize::from(self.n_channels)
    }

    /// Number of samples, at least 1.
    #[must_use]
    pub fn n_samples(&self) -> usize {
        usize::from(self.n_samples)
    }

    fn counts(&self) -> impl Iterator<Item = i32> + '_ {
        (0..self.n_samples()).flat_map(move |sample| {
            (0..self.n_channels()).filter_map(move |channel| self.get(sample, channel))
        })
    }

    pub(crate) fn write(&self, writer: &mut FrameWriter<'_>) -> Result<(), EncodeError> {
        writer.u32(self.first_sequence)?;
        writer.u32(self.first_tick_us)?;
        writer.u32(self.interval_us)?;
        writer.u8(self.n_channels)?;
        writer.u8(self.n_samples)?;
        self.counts().try_for_each(|count| writer.i32(count))
    }

    pub(crate) fn read(reader: &mut PayloadReader<'a>) -> Result<Self, Malformed> {
        let first_sequence = reader.u32()?;
        let first_tick_us = reader.u32()?;
        let interval_us = reader.u32()?;
        let n_channels = usize::from(reader.u8()?);
        let n_samples = usize::from(reader.u8()?);
        let shape = (n_channels, n_samples, n_channels * n_samples);
        let (n_channels, n_samples) =
            checked_shape(shape, interval_us).map_err(|error| reader.field(error))?;
        Ok(Self {
            first_sequence,
            first_tick_us,
            interval_us,
            n_channels,
            n_samples,
            counts: Counts::Bytes(reader.arrays(shape.2)?),
        })
    }
}

impl PartialEq for Samples<'_> {
    fn eq(&self, other: &Self) -> bool {
        let head = |it: &Self| {
            (
                it.first_sequence,
                it.first_tick_us,
                it.interval_us,
                it.n_channels,
                it.n_samples,
            )
        };
        head(self) == head(other) && self.counts().eq(other.counts())
    }
}

impl fmt::Debug for Samples<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "Samples {{ first_sequence: {}, first_tick_us: {}, interval_us: {}, n_channels: {}, counts: ",
            self.first_sequence, self.first_tick_us, self.interval_us, self.n_channels
        )?;
        f.debug_list().entries(self.counts()).finish()?;
        f.write_str(" }")
    }
}

/// Checks channels, samples and counts against the limits; returns the first two.
fn checked_shape(
    (n_channels, n_samples, n_counts): (usize, usize, usize),
    interval_us: u32,
) -> Result<(u8, u8), FieldError> {
    let is_whole = n_samples >= 1 && n_channels * n_samples == n_counts;
    if !is_whole || n_channels > MAX_CHANNELS || n_counts > MAX_COUNTS {
        return Err(FieldError::BlockShape {
            n_channels,
            n_counts,
        });
    }
    let (Ok(n_channels), Ok(n_samples)) = (u8::try_from(n_channels), u8::try_from(n_samples))
    else {
        return Err(FieldError::BlockShape {
            n_channels,
            n_counts,
        });
    };
    let span_us = (u64::from(n_samples) - 1) * u64::from(interval_us);
    if interval_us == 0 || span_us > u64::from(MAX_BLOCK_SPAN_US) {
        return Err(FieldError::BlockInterval {
            interval_us,
            n_samples,
        });
    }
    Ok((n_channels, n_samples))
}
