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
use crate::channel::Role;
use crate::fit::Vector;
use crate::fit::hac_standard_error;
use crate::fit::line;
use crate::oil::STEEL_EXPANSION_PER_K;

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

/// Part of a change of temperature that parts of a cylinder differ by.
const STEEL_APART: f64 = 0.3;

/// A line of a budget.
pub(super) fn part(
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
pub(super) fn summed(
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

/// How far parts of a cylinder of stroke `stroke_m` go apart when it warms by so much, m.
pub(super) fn steel_apart(stroke_m: f64, warmed_k: f64) -> f64 {
    STEEL_EXPANSION_PER_K * stroke_m * STEEL_APART * warmed_k
}

/// Movement by time of a rod in a cylinder of stroke `stroke_m`, from the start of the hold
/// to its end.
///
/// Rod, tube and the sensor's bracket never have quite one temperature: they go apart by a
/// part of what the air and the oil may have warmed or cooled (common practice, no source).
pub(super) fn movement(
    series: &HoldSeries,
    position: &Signal,
    stroke_m: f64,
) -> (Measured, Vec<Contribution>) {
    let means = series.block_means(&position.raw);
    let span_s = series.length_s;
    let by_block = (means[means.len() - 1] - means[0]) / (means.len() - 1) as f64;
    let start = edge(series, position, End::Start, by_block);
    let finish = edge(series, position, End::Finish, by_block);
    let rate = (finish.value - start.value) / span_s;
    let noise_si = (start.variance + finish.variance).sqrt() / span_s;
    let shape = start.shape.hypot(finish.shape);
    let freedom = Some(series.noise_freedom(position));
    // The sensor's zero follows the air around it.
    let drift = position.errors.zero_si_per_k * ambient_k(span_s) / span_s;
    let oil = series.signal(Role::OilTemperature).map(|s| &s.smooth);
    let warmed = oil.and_then(|oil| Some(oil.last()? - oil.first()?));
    let warmed_k = ambient_k(span_s).hypot(warmed.unwrap_or(0.0));
    let steel = steel_apart(stroke_m, warmed_k) / span_s;
    let span = (rate * position.errors.span_relative).abs();
    summed(
        rate,
        [
            part(NOISE.0, NOISE.1, noise_si, freedom),
            part(BEND.0, BEND.1, shape / span_s, None),
            part(SPAN.0, SPAN.1, span, None),
            part(ZERO.0, ZERO.1, drift, None),
            part(STEEL.0, STEEL.1, steel, None),
        ],
    )
}

pub(super) const STEEL: (&str, &str) = (
    "length of rod, tube and bracket with temperature",
    "hold longer, keep sun and draught away",
);
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
pub(super) const SPAN: (&str, &str) = ("span of the sensor", "a better calibration");
pub(super) const ZERO: (&str, &str) = (
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
    let noise = slope_noise(series, signal);
    // What scatters about the line beyond the sensor's own noise: the course itself.
    let hac = hac_standard_error(&whole, t, y, n_lags(t.len()));
    let scatter = not_negative(hac.powi(2) - noise.powi(2)).sqrt();
    // Any slope between those of the halves could be called the slope of a curved
    // course: a rectangular distribution over their distance (GUM 4.3.7). By noise alone
    // halves differ by four times the whole's uncertainty.
    let apart = not_negative((first.0 - second.0).powi(2) - (4.0 * noise).powi(2)).sqrt();
    let curvature = apart / 12f64.sqrt();
    let drift = signal.errors.zero_si_per_k * ambient_k(series.length_s) / series.length_s;
    let span = (whole.slope * signal.errors.span_relative).abs();
    let freedom = Some(series.noise_freedom(signal));
    let (measured, budget) = summed(
        whole.slope,
        [
            part(NOISE.0, NOISE.1, noise, freedom),
            // Bartlett weights over a tenth of the points leave 1.5 times ten degrees of freedom.
            part("scatter about the line", "hold longer", scatter, Some(15.0)),
            part(CURVED.0, CURVED.1, curvature, None),
            part(SPAN.0, SPAN.1, span, None),
            part(ZERO.0, ZERO.1, drift, None),
        ],
    );
    let known = noise.hypot(span).hypot(drift);
    let is_curved = (first.0 - second.0).abs() > 3.0 * first.1.hypot(second.1).max(known);
    Some(Rate {
        measured,
        budget,
        halves: (first.0, second.0),
        is_curved,
    })
}

/// Standard uncertainty of the slope by noise and steps of the sensor: those of the blocks,
/// by their weights in the slope.
fn slope_noise(series: &HoldSeries, signal: &Signal) -> f64 {
    let t = series.block_times();
    let mean = t.iter().sum::<f64>() / t.len() as f64;
    let about: Vec<f64> = t.iter().map(|t| t - mean).collect();
    let sum: f64 = about.iter().map(|t| t * t).sum();
    let weights = Vector::from_iterator(t.len(), about.iter().map(|t| t / sum));
    let noise = series.noise_covariance(signal, None);
    not_negative((weights.transpose() * noise * &weights)[(0, 0)]).sqrt()
}

/// Lags of the Bartlett weights: a tenth of the points, so that slow scatter counts.
fn n_lags(n_points: usize) -> usize {
    (n_points / 10).max(1)
}

/// A variance that rounding made slightly negative is zero; one that is no number stays none.
pub(super) fn not_negative(variance: f64) -> f64 {
    if variance < 0.0 { 0.0 } else { variance }
}
