//! Drift and leak-down: rates read from one channel alone.
//!
//! Drift is the movement over the hold by its time. Leak-down is the slope of a
//! line through the pressure; its uncertainty knows that residuals are correlated
//! and that a decay is seldom a line.

use super::edge::End;
use super::edge::edge;
use super::figure::Contribution;
use super::figure::Measured;
use super::series::HoldSeries;
use super::series::Signal;
use crate::fit::hac_standard_error;
use crate::fit::line;

/// A rate with how straight the course was.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Rate {
    /// Rate over the hold, SI per second, positive upwards.
    pub measured: Measured,
    /// What its uncertainty is made of.
    pub budget: Vec<Contribution>,
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

/// A line of a budget.
fn part(
    source: &'static str,
    remedy: &'static str,
    standard_si: f64,
    degrees_of_freedom: Option<f64>,
) -> Contribution {
    Contribution {
        source,
        standard_si,
        degrees_of_freedom,
        remedy,
    }
}

/// Contributions that are there, and their sum.
fn summed(
    value_si: f64,
    parts: impl IntoIterator<Item = Contribution>,
) -> (Measured, Vec<Contribution>) {
    let mut budget: Vec<Contribution> = parts
        .into_iter()
        .filter(|part| part.standard_si != 0.0)
        .collect();
    budget.sort_by(|a, b| b.standard_si.total_cmp(&a.standard_si));
    let variance: f64 = budget.iter().map(|part| part.standard_si.powi(2)).sum();
    let measured = Measured {
        value_si,
        standard_si: variance.sqrt(),
    };
    (measured, budget)
}

/// Change by time from the start of the hold to its end.
pub(super) fn end_to_end(series: &HoldSeries, signal: &Signal) -> (Measured, Vec<Contribution>) {
    let means = series.block_means(&signal.raw);
    let span_s = series.length_s;
    let by_block = (means[means.len() - 1] - means[0]) / (means.len() - 1) as f64;
    let start = edge(series, signal, End::Start, by_block);
    let finish = edge(series, signal, End::Finish, by_block);
    let rate = (finish.value - start.value) / span_s;
    let noise_si = (start.variance + finish.variance).sqrt() / span_s;
    let shape = start.shape.hypot(finish.shape);
    let freedom = Some(series.noise_freedom(signal));
    // The sensor's zero follows the air around it.
    let drift = signal.errors.zero_si_per_k * ambient_k(span_s) / span_s;
    let span = (rate * signal.errors.span_relative).abs();
    summed(
        rate,
        [
            part(NOISE.0, NOISE.1, noise_si, freedom),
            part(BEND.0, BEND.1, shape / span_s, None),
            part(SPAN.0, SPAN.1, span, None),
            part(ZERO.0, ZERO.1, drift, None),
        ],
    )
}

const BEND: (&str, &str) = (
    "a course that bends at its ends",
    "let it settle longer, or hold longer",
);
/// The part of a slope's budget whose distribution is rectangular.
pub(super) const CURVED: (&str, &str) = (
    "a course that is no straight line",
    "let it settle longer, or hold longer",
);
const NOISE: (&str, &str) = ("sensor noise and steps", "hold longer");
const SPAN: (&str, &str) = ("span of the sensor", "a better calibration");
const ZERO: (&str, &str) = (
    "zero of the sensor with the air round it",
    "keep sun and draught away, or hold longer",
);

/// Slope of a line through the whole hold.
pub(super) fn slope(series: &HoldSeries, signal: &Signal) -> Option<Rate> {
    let (t, y) = (&series.t, &signal.raw);
    let whole = line(t, y).ok()?;
    let half = t.len() / 2;
    let through = |range: std::ops::Range<usize>| {
        let fitted = line(&t[range.clone()], &y[range.clone()]).ok()?;
        let error = hac_standard_error(
            &fitted,
            &t[range.clone()],
            &y[range.clone()],
            n_lags(range.len()),
        );
        Some((fitted.slope, error))
    };
    let (first, second) = (through(0..half)?, through(half..t.len())?);
    let scatter = hac_standard_error(&whole, t, y, n_lags(t.len()));
    // Any slope between those of the halves could be called the slope of a curved
    // course: a rectangular distribution over their distance (GUM 4.3.7).
    let curvature = (first.0 - second.0).abs() / 12f64.sqrt();
    // What is true of the sensor is true of the slope; the edges of the hold are not in it.
    let (_, ends) = end_to_end(series, signal);
    let ends: Vec<Contribution> = ends.into_iter().filter(|e| e.source != BEND.0).collect();
    let quantum = ends
        .iter()
        .map(|e| e.standard_si.powi(2))
        .sum::<f64>()
        .sqrt();
    // Bartlett weights over a tenth of the points leave 1.5 times ten degrees of freedom.
    let scattered = part("scatter about the line", "hold longer", scatter, Some(15.0));
    let (measured, budget) = summed(
        whole.slope,
        ends.into_iter()
            .chain([scattered, part(CURVED.0, CURVED.1, curvature, None)]),
    );
    let is_curved = (first.0 - second.0).abs() > 3.0 * first.1.hypot(second.1).max(quantum);
    Some(Rate {
        measured,
        budget,
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
