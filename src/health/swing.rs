//! A sine in a reading: hum of the mains, also where sampling folds it down to something
//! slow.
//!
//! A folded line may take minutes for a cycle and looks like a drift. What tells it from a
//! trend: it goes up and down three times or more, as far in the first half of the hold as in
//! the second and in step. Periods longer than a third of the hold are not looked for.

use super::Flag;
use super::reading::Reading;
use super::reading::median;
use crate::fit::polynomial;
use std::f64::consts::TAU;

/// Means of the reading that are searched.
const N_MEANS: usize = 400;

/// Fewest and most cycles in the hold.
const FEWEST: f64 = 3.0;
const MOST: f64 = 120.0;

/// Up to so many cycles a swing pretends to be a trend.
const SLOW: f64 = 20.0;

/// Power of a line by the usual power beside it.
const STANDS_OUT: f64 = 60.0;

/// Share of the scatter about the trend that a slow line must make.
const SHARE: f64 = 0.2;

/// Power of a line in the mean spectrum of many short stretches.
const STANDS_OUT_OF_MANY: f64 = 12.0;

/// Part of its size by which both halves may differ from the whole.
const UNSTEADY: f64 = 0.35;

/// A swing is of one reading's noise or more, by this part.
const NOISE_PART: f64 = 0.5;

/// Readings of one short stretch.
const STRETCH: usize = 256;

/// Amplitude and phase of a sine, as cosine and sine part.
type Wave = (f64, f64);

/// A line in the spectrum of a reading.
pub(super) fn swing(reading: &Reading<'_>) -> Option<Flag> {
    slow(reading).or_else(|| fast(reading))
}

fn slow(reading: &Reading<'_>) -> Option<Flag> {
    let means = reading.blocks(N_MEANS)?;
    let (time_s, value): (Vec<f64>, Vec<f64>) = means.into_iter().unzip();
    let trend = polynomial(&time_s, &value, 4).ok()?;
    let rest: Vec<f64> = time_s
        .iter()
        .zip(&value)
        .map(|(t, v)| v - trend.at(*t))
        .collect();
    let cycles: Vec<f64> = (2..=2 * MOST as usize).map(|k| 0.5 * k as f64).collect();
    let powers: Vec<f64> = cycles
        .iter()
        .map(|k| size(wave(&rest, *k)).powi(2))
        .collect();
    let at = (0..cycles.len())
        .filter(|i| cycles[*i] >= FEWEST)
        .max_by(|a, b| powers[*a].total_cmp(&powers[*b]))?;
    let beside =
        (at.saturating_sub(24)..(at + 25).min(cycles.len())).filter(|i| i.abs_diff(at) > 3);
    let usual = median(beside.map(|i| powers[i]).collect());
    let amplitude = powers[at].sqrt();
    let scatter = rest.iter().map(|r| r * r).sum::<f64>() / rest.len() as f64;
    let is_line = powers[at] > STANDS_OUT * usual
        && 0.5 * powers[at] > SHARE * scatter
        && amplitude > 0.7 * reading.channel.resolution_si().abs()
        && amplitude > NOISE_PART * reading.noise()
        && is_steady(&rest, cycles[at]);
    if !is_line {
        return None;
    }
    let length_s = time_s.last()? - time_s.first()?;
    let period_s = length_s / cycles[at];
    let evidence = format!(
        "{} swings by ±{} with a period of {period_s:.1} s all through the hold, as the hum of mains or a motor does \
         once it is sampled; check screen and earth of the sensor's cable, and switch off what is near",
        reading.plain(),
        reading.sized(amplitude)
    );
    // A room whose heating comes and goes is no fault of a sensor.
    let is_trend = cycles[at] <= SLOW && !reading.is_temperature();
    Some(if is_trend {
        Flag::voids(format!(
            "{evidence}; a swing as slow as this cannot be told from a loss"
        ))
    } else {
        Flag::remark(evidence)
    })
}

/// Whether both halves show the same sine.
fn is_steady(rest: &[f64], cycles: f64) -> bool {
    let whole = wave(rest, cycles);
    let half = rest.len() / 2;
    let turned = |part: &[f64], from: usize| {
        let step = TAU * cycles / rest.len() as f64;
        let mut sum = (0.0, 0.0);
        let (mut cc, mut ss) = (0.0, 0.0);
        for (index, value) in part.iter().enumerate() {
            let (sin, cos) = (step * (index + from) as f64).sin_cos();
            sum = (sum.0 + value * cos, sum.1 + value * sin);
            cc += cos * cos;
            ss += sin * sin;
        }
        (sum.0 / cc, sum.1 / ss)
    };
    let halves = [turned(&rest[..half], 0), turned(&rest[half..], half)];
    halves
        .iter()
        .all(|own| size((own.0 - whole.0, own.1 - whole.1)) < UNSTEADY * size(whole))
}

fn size(wave: Wave) -> f64 {
    wave.0.hypot(wave.1)
}

/// The sine of so many cycles in a series, by its largest overlap.
fn wave(series: &[f64], cycles: f64) -> Wave {
    let step = TAU * cycles / series.len() as f64;
    // Turned on from point to point: one sine for the whole series is enough.
    let (turn_sin, turn_cos) = step.sin_cos();
    let (mut cos, mut sin) = (1.0, 0.0);
    let mut sum = (0.0, 0.0);
    for value in series {
        sum = (sum.0 + value * cos, sum.1 + value * sin);
        (cos, sin) = (
            cos * turn_cos - sin * turn_sin,
            sin * turn_cos + cos * turn_sin,
        );
    }
    let by = 2.0 / series.len() as f64;
    (by * sum.0, by * sum.1)
}

/// A line between the readings themselves, in the mean spectrum of short stretches.
fn fast(reading: &Reading<'_>) -> Option<Flag> {
    let stretches: Vec<&[f64]> = reading.value_si.chunks_exact(STRETCH).collect();
    let every = stretches.len().div_ceil(40).max(1);
    let looked_at: Vec<&&[f64]> = stretches.iter().step_by(every).collect();
    if looked_at.len() < 8 {
        return None;
    }
    let mut powers = vec![0.0; STRETCH / 2];
    for stretch in &looked_at {
        let straight = straightened(stretch);
        for (cycles, power) in powers.iter_mut().enumerate().skip(4) {
            *power += size(wave(&straight, cycles as f64)).powi(2) / looked_at.len() as f64;
        }
    }
    // Noise that remembers makes a slope at the slow end.
    let at = (10..powers.len()).max_by(|a, b| powers[*a].total_cmp(&powers[*b]))?;
    let beside =
        (at.saturating_sub(12).max(4)..(at + 13).min(powers.len())).filter(|i| i.abs_diff(at) > 1);
    let usual = median(beside.map(|i| powers[i]).collect());
    let amplitude = powers[at].sqrt();
    if powers[at] < STANDS_OUT_OF_MANY * usual
        || amplitude < 0.7 * reading.channel.resolution_si().abs()
    {
        return None;
    }
    let length_s = reading.time_s.last()? - reading.time_s.first()?;
    let rate_hz = (reading.len() - 1) as f64 / length_s;
    Some(Flag::remark(format!(
        "{} swings by ±{} at {:.2} Hz, as the hum of mains or a motor does once it is sampled; it averages out, but \
         check screen and earth of the sensor's cable",
        reading.plain(),
        reading.sized(amplitude),
        at as f64 / STRETCH as f64 * rate_hz
    )))
}

/// A stretch without its straight line, and let go gently at its ends.
fn straightened(stretch: &[f64]) -> Vec<f64> {
    let n = stretch.len() as f64;
    let mean = stretch.iter().sum::<f64>() / n;
    let middle = 0.5 * (n - 1.0);
    let slope = stretch
        .iter()
        .enumerate()
        .map(|(i, v)| (i as f64 - middle) * (v - mean))
        .sum::<f64>()
        / (n * (n * n - 1.0) / 12.0);
    stretch
        .iter()
        .enumerate()
        .map(|(i, v)| {
            // Hann's window, which halves an amplitude.
            let weight = 1.0 - (TAU * (i as f64 + 0.5) / n).cos();
            weight * (v - mean - slope * (i as f64 - middle))
        })
        .collect()
}
