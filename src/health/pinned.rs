//! Readings that cannot go further: pressed against an end of the range, or with their
//! peaks cut off.

use super::Flag;
use super::reading::Reading;

/// Part of the hold at an end of the range from which it is a sign.
const PINNED_PART: f64 = 0.05;

/// Near an end of the range: this part of the range.
const NEAR_END: f64 = 1e-3;

/// Part of the readings at one same extreme from which peaks are cut off.
const CUT_PART: f64 = 0.01;

/// And so many readings at least.
const N_CUT: f64 = 25.0;

/// So many times as often as the step next to it.
const CUT_TIMES: f64 = 2.0;

/// A reading that stands at the upper end of what its sensor can send, or a position at the
/// lower end. The lower end of a pressure sensor is where a vented one belongs. `sent` is the
/// same as the sensor's own code shows it: that is what stands, whatever a supply does to the value.
pub(super) fn at_an_end(reading: &Reading<'_>, sent: &Reading<'_>) -> Option<Flag> {
    let span = reading.span()?;
    let (one, other) = reading.channel.range_si;
    let (low, high) = (one.min(other), one.max(other));
    let good = [reading.channel.good_codes.0, reading.channel.good_codes.1]
        .map(|code| reading.channel.calibration.value(code));
    let highest_good = good[0].max(good[1]);
    let near = (NEAR_END * span).max(reading.channel.resolution_si());
    let largest = extreme(sent, 1.0)?;
    let smallest = -extreme(sent, -1.0)?;
    // The same value again and again: live readings that pass an end do not do that.
    let at = |value: f64| sent.value_si.iter().filter(|v| **v == value).count();
    let part = |value: f64| at(value) as f64 / sent.len().max(1) as f64;
    let stands_for = |value: f64| {
        let mut both = sent.value_si.iter().zip(&reading.value_si);
        both.find(|(own, _)| **own == value).map(|(_, read)| *read)
    };
    let is_end = |value: f64, ends: &[f64]| {
        let read = stands_for(value);
        read.is_some_and(|read| ends.iter().any(|end| (read - end).abs() < near))
    };
    let (word, value) = if part(largest) > PINNED_PART && is_end(largest, &[high, highest_good]) {
        ("upper", largest)
    } else if !reading.is_pressure() && part(smallest) > PINNED_PART && is_end(smallest, &[low]) {
        ("lower", smallest)
    } else {
        return None;
    };
    Some(Flag::voids(format!(
        "{} stood at the {word} end of what its sensor can read for {:.0} % of the hold: what it measures may lie \
         beyond; fit a sensor with a range that reaches further, or hold at less",
        reading.plain(),
        100.0 * part(value)
    )))
}

/// Peaks of the noise that all end at the same value.
pub(super) fn cut_off(reading: &Reading<'_>) -> Option<Flag> {
    let step = reading.channel.code_step_si().abs();
    // Where noise is no larger than the steps, many readings share the last one.
    if step <= 0.0 || reading.noise() < 1.2 * step {
        return None;
    }
    for (sign, word) in [(1.0, "upper"), (-1.0, "lower")] {
        let top = extreme(reading, sign)?;
        let levels = |n: f64| {
            let below = top - n * step;
            let is_there = |v: &&f64| (sign * **v - below).abs() < 0.3 * step;
            reading.value_si.iter().filter(is_there).count() as f64
        };
        let (at, next, second) = (levels(0.0), levels(1.0), levels(2.0));
        let part = at / reading.len().max(1) as f64;
        if at >= N_CUT && part > CUT_PART && at > CUT_TIMES * next.max(second) {
            return Some(Flag::voids(format!(
                "the {word} peaks of {} are cut off at one value in {:.0} % of its readings: the loop or its converter \
                 cannot carry more; check the supply of the sensor, its load resistor and its range",
                reading.plain(),
                100.0 * part
            )));
        }
    }
    None
}

/// The largest value times `sign`.
fn extreme(reading: &Reading<'_>, sign: f64) -> Option<f64> {
    let signed = reading.value_si.iter().map(|v| sign * v);
    signed.max_by(f64::total_cmp)
}
