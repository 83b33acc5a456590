//! A pressure that still settles after pumping: it falls fast at first and leaks little.
//!
//! What leaks is driven by the pressure, so its rate falls no faster than the pressure does,
//! or a few times as fast where air is in the oil. Fresh oil that cools and hoses that creep
//! slow down within minutes while the pressure hardly changes. How much of such a loss will
//! last cannot be read from it.

use super::conditions::pressure_role;
use super::figure::Contribution;
use super::figure::Measured;
use super::rate::Rate;
use super::series::HoldSeries;
use crate::channel::Role;
use crate::circuit::Circuit;

/// A loss slows down this many times faster than its pressure falls at most: once for a
/// laminar leak, twice more for the stiffness of air (own computation), and some room.
const FASTER_THAN_LEAKS: f64 = 5.0;

/// What is said of it.
pub(super) const SENTENCE: &str = "the pressure loss slows down much faster than the pressure falls, which no leak \
     does: it is still settling";

/// Whether a falling pressure slows down as no leak lets it.
pub(super) fn is_settling(loss: &Rate, series: &HoldSeries, circuit: &Circuit) -> bool {
    let (first, second) = (-loss.halves.0, -loss.halves.1);
    if !loss.is_curved || first <= 0.0 || second >= first {
        return false;
    }
    let holding = circuit.holding_chamber();
    let mean = |role: Role| {
        let raw = &series.signal(role)?.raw;
        Some(raw.iter().sum::<f64>() / raw.len() as f64)
    };
    let Some(pressure) = mean(pressure_role(holding)) else {
        return false;
    };
    // What drives a leak past the piston is what the pressures differ by.
    let other = mean(pressure_role(holding.other())).unwrap_or(0.0);
    let driving = (pressure - other).min(pressure).max(f64::MIN_POSITIVE);
    let slowing = (first - second) / first;
    let falling = 0.25 * (first + second) * series.length_s / driving;
    slowing > FASTER_THAN_LEAKS * falling
}

/// Lets the interval reach from no loss at all to twice the one that was seen.
pub(super) fn widen(loss: &mut Measured, budget: &mut Vec<Contribution>) {
    let unknown = 0.5 * loss.value_si.abs();
    loss.standard_si = loss.standard_si.hypot(unknown);
    budget.push(Contribution {
        source: "a pressure that is still settling",
        standard_si: unknown,
        degrees_of_freedom: None,
        remedy: "let it settle longer, or hold longer",
    });
    budget.sort_by(|a, b| b.standard_si.total_cmp(&a.standard_si));
}
