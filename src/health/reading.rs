//! One reading during the hold, as its rules look at it.

use crate::channel::Channel;
use crate::channel::Role;
use crate::recording::Recording;
use crate::recording::Track;

/// A range wider than this by the reading's largest value was never meant as one.
const UNSTATED_RANGE: f64 = 1e4;

/// Good readings of one channel between two times, with their times in seconds.
pub(super) struct Reading<'a> {
    pub channel: &'a Channel,
    pub time_s: Vec<f64>,
    pub value_si: Vec<f64>,
}

impl<'a> Reading<'a> {
    pub fn of(recording: &Recording, track: &'a Track, window: (f64, f64)) -> Self {
        Self::by(recording, track, window, Track::value)
    }

    /// As the sensor's own code shows it: without the noise of a supply it is read against.
    pub fn as_sent(recording: &Recording, track: &'a Track, window: (f64, f64)) -> Self {
        Self::by(recording, track, window, Track::as_sent)
    }

    fn by(
        recording: &Recording,
        track: &'a Track,
        (from_s, until_s): (f64, f64),
        value: impl Fn(&Track, usize) -> Option<f64>,
    ) -> Self {
        let times = recording.time_s();
        let rows = recording.rows_within(from_s, until_s);
        let (time_s, value_si) = rows
            .filter_map(|row| Some((times[row], value(track, row)?)))
            .unzip();
        Self {
            channel: &track.channel,
            time_s,
            value_si,
        }
    }

    pub fn len(&self) -> usize {
        self.value_si.len()
    }

    /// What a fitter calls it.
    pub fn plain(&self) -> &'static str {
        self.channel.role.plain()
    }

    pub fn is_pressure(&self) -> bool {
        matches!(self.channel.role, Role::CapPressure | Role::RodPressure)
    }

    pub fn is_temperature(&self) -> bool {
        matches!(
            self.channel.role,
            Role::OilTemperature | Role::WallTemperature
        )
    }

    pub fn mean(&self) -> f64 {
        self.value_si.iter().sum::<f64>() / self.len().max(1) as f64
    }

    /// Means over `n_blocks` of equal length, with their mean times; none if a block would
    /// have fewer than four readings.
    pub fn blocks(&self, n_blocks: usize) -> Option<Vec<(f64, f64)>> {
        let per_block = self.len() / n_blocks;
        if per_block < 4 {
            return None;
        }
        let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
        let times = self.time_s.chunks_exact(per_block).map(mean);
        let values = self.value_si.chunks_exact(per_block).map(mean);
        Some(times.zip(values).take(n_blocks).collect())
    }

    /// Width of the sensor's range; none if it was not stated.
    pub fn span(&self) -> Option<f64> {
        let (low, high) = self.channel.range_si;
        let largest = self.value_si.iter().fold(0.0f64, |a, v| a.max(v.abs()));
        let span = (high - low).abs();
        (span > 0.0 && span < UNSTATED_RANGE * largest).then_some(span)
    }

    /// Standard deviation of one reading by its neighbours, and never less than that of its
    /// steps: third differences do not see a slow course.
    pub fn noise(&self) -> f64 {
        let squares: Vec<f64> = self
            .value_si
            .windows(4)
            .map(|w| (w[3] - 3.0 * (w[2] - w[1]) - w[0]).powi(2))
            .collect();
        // Variance of 1 −3 3 −1 is 20. Blocks whose noise is unusual do not count.
        let mut parts: Vec<f64> = squares
            .chunks(squares.len().div_ceil(20).max(1))
            .map(|part| part.iter().sum::<f64>() / part.len() as f64 / 20.0)
            .collect();
        parts.sort_by(f64::total_cmp);
        let usual = parts.get(parts.len() / 2).copied().unwrap_or(0.0).sqrt();
        usual.max(0.29 * self.channel.resolution_si().abs())
    }

    /// A size with its unit, as a fitter reads it.
    pub fn sized(&self, si: f64) -> String {
        if self.is_pressure() {
            return format!("{} bar", digits(si / 1e5));
        }
        match self.channel.role {
            Role::Position => format!("{} mm", digits(si * 1e3)),
            _ => format!("{} K", digits(si)),
        }
    }
}

/// Two digits that count, three at most after the point.
fn digits(value: f64) -> String {
    match value.abs() {
        v if v >= 9.95 => format!("{value:.0}"),
        v if v >= 0.995 => format!("{value:.1}"),
        v if v >= 0.0995 => format!("{value:.2}"),
        _ => format!("{value:.3}"),
    }
}

/// The middle one of a list; zero for none.
pub(super) fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}
