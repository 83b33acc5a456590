//! A ratiometric sensor read against the measured supply.
//!
//! Such a sensor sends a part of its supply. Where the board has a reference of its own, a
//! supply of 4.92 V makes every one of them read wrong by 1.6 %; where it reads the supply on one
//! more channel, the part is known: V · (5 V / supply), of the same row.
//!
//! Invariants: raw codes stay raw; the supply is never smoothed, so none of its sags is hidden;
//! a row without a plausible supply has no value.

use super::Channel;
use super::Role;
use std::ops::RangeInclusive;

/// Supply for which a ratiometric signal is stated, V.
pub const NOMINAL_SUPPLY_V: f64 = 5.0;

/// Supplies on which a sensor of 5 V works, V: 5 V ± 10 % (common practice, no source).
pub const PLAUSIBLE_SUPPLY_V: RangeInclusive<f64> = 4.5..=5.5;

/// How the codes of a ratiometric sensor are referred to 5 V.
///
/// The supply of the same row counts as it was read, so its noise and its steps pass into the
/// value: p = span·(V/V_s − 0.1)/0.8 moves by −(p + span/8) times the relative movement of V_s.
/// At the top of the range that is 1.125 of the span: a step of 1 mV in 5 V is 0.0225 % of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AgainstSupply {
    /// Code that stands for 0 V; need not be whole.
    pub code_at_zero_volt: f64,
    /// Lowest and highest code, referred to 5 V, between the fault bands of the signal.
    pub signal_codes: (i32, i32),
    /// One step of the supply's own code by 5 V.
    pub supply_step_relative: f64,
}

impl AgainstSupply {
    /// The code as it would be at 5 V; None if the supply is not plausible, or the signal is in
    /// a fault band by its part of the supply.
    pub fn referred(&self, code: i32, supply_v: f64) -> Option<f64> {
        if !PLAUSIBLE_SUPPLY_V.contains(&supply_v) {
            return None;
        }
        let zero = self.code_at_zero_volt;
        let at_5_v = zero + (f64::from(code) - zero) * (NOMINAL_SUPPLY_V / supply_v);
        let (low, high) = self.signal_codes;
        (f64::from(low)..=f64::from(high))
            .contains(&at_5_v)
            .then_some(at_5_v)
    }

    /// What one step of the supply does to a code at the top of the signal, in codes.
    pub(super) fn supply_step_codes(&self) -> f64 {
        let from_zero = |code: i32| (f64::from(code) - self.code_at_zero_volt).abs();
        let (low, high) = self.signal_codes;
        self.supply_step_relative * from_zero(low).max(from_zero(high))
    }
}

/// SI values of the codes of one row, each with its channel; None where there is none.
pub fn row_values<'a>(
    channels: &'a [Channel],
    codes: &'a [i32],
) -> impl Iterator<Item = (&'a Channel, Option<f64>)> {
    let supply = channels
        .iter()
        .zip(codes)
        .find(|(channel, _)| channel.role == Role::Supply);
    let supply_v = supply.and_then(|(channel, code)| channel.value(*code));
    let all = channels.iter().zip(codes);
    all.map(move |(channel, code)| (channel, channel.value_at(*code, supply_v)))
}

#[cfg(test)]
mod tests;
