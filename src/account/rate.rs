//! Drift and leak-down: rates read from one channel alone.
//!
//! Drift is the movement over the hold by its time. Leak-down is the slope of a
//! line through the pressure; its uncertainty knows that residuals are correlated
//! and that a decay is seldom a line.

use super::figure::Measured;
use super::series::HoldSeries;
use super::series::Signal;
use crate::fit::hac_standard_error;
use crate::fit::line;

/// A rate with how straight the course was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rate {
    /// Rate over the hold, SI per second, positive upwards.
    pub measured: Measured,
    /// Slopes of the first and the second half, SI per second.
    pub halves: (f64, f64),
    /// Whether the halves differ by more than scatter explains.
    pub is_curved: bool,
}

/// How far the air round the sensors may warm or cool in a time, K (one sigma): 0.065 K/min,
/// 5 K at most.
pub(super) fn ambient_k(time_s: f64) -> f64 {
    (0.065 / 60.0 * time_s).min(5.0)
}

/// Movement by time from the first to the last block.
pub(super) fn end_to_end(series: &HoldSeries, signal: &Signal) -> Measured {
    let means = series.block_means(&signal.raw);
    let times = series.block_times();
    let last = means.len() - 1;
    let span_s = times[last] - times[0];
    let noise = series.noise_covariance(signal, None);
    let variance = noise[(0, 0)] + noise[(last, last)] - 2.0 * noise[(0, last)];
    let moved = means[last] - means[0];
    // The sensor's zero follows the air around it.
    let drift = signal.errors.zero_si_per_k * ambient_k(span_s);
    let standard =
        (not_negative(variance) + (moved * signal.errors.span_relative).powi(2) + drift.powi(2))
            .sqrt();
    Measured {
        value_si: moved / span_s,
        standard_si: standard / span_s,
    }
}

/// Slope of a line through the whole hold.
pub(super) fn slope(series: &HoldSeries, signal: &Signal) -> Option<Rate> {
    let (t, y) = (&series.t, &signal.raw);
    let whole = line(t, y).ok()?;
    let half = t.len() / 2;
    let part = |range: std::ops::Range<usize>| {
        let fitted = line(&t[range.clone()], &y[range.clone()]).ok()?;
        let error = hac_standard_error(
            &fitted,
            &t[range.clone()],
            &y[range.clone()],
            n_lags(range.len()),
        );
        Some((fitted.slope, error))
    };
    let (first, second) = (part(0..half)?, part(half..t.len())?);
    let scatter = hac_standard_error(&whole, t, y, n_lags(t.len()));
    // Any slope between those of the halves could be called the slope of a curved
    // course: a rectangular distribution over their distance (GUM 4.3.7).
    let curvature = (first.0 - second.0).abs() / 12f64.sqrt();
    let quantum = end_to_end(series, signal).standard_si;
    let span = whole.slope * signal.errors.span_relative;
    let standard_si = (scatter.powi(2) + curvature.powi(2) + quantum.powi(2) + span.powi(2)).sqrt();
    let is_curved = (first.0 - second.0).abs() > 3.0 * first.1.hypot(second.1).max(quantum);
    Some(Rate {
        measured: Measured {
            value_si: whole.slope,
            standard_si,
        },
        halves: (first.0, second.0),
        is_curved,
    })
}

/// Lags of the Bartlett weights: a tenth of the points, so that slow scatter counts.
fn n_lags(n_points: usize) -> usize {
    (n_points / 10).max(1)
}

/// A variance that rounding made slightly negative is zero; one that is no number stays none.
pub(super) fn not_negative(variance: f64) -> f64 {
    if variance < 0.0 { 0.0 } else { variance }
}
