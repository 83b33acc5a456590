//! How long a hold must be for a sensor of coarse steps to tell a rate from none.
//!
//! A reading that moved by less than a step may not have moved at all, and one that moved by
//! one step may have moved by hardly anything or by two.

use crate::quantity::Time;
use crate::quantity::unit::second;

/// Steps that a rate at its limit must cross within a hold (common practice, no source).
pub const STEPS_TO_CROSS: f64 = 5.0;

/// Hold in which a rate at its limit crosses [`STEPS_TO_CROSS`] steps of its sensor; step in
/// SI units, limit in SI units by second, both above zero.
pub fn needed_hold(step_si: f64, limit_si_per_s: f64) -> Time {
    Time::new::<second>(STEPS_TO_CROSS * step_si / limit_si_per_s)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::unit::minute;

    /// 500 mm in 10 bits are 0.488 mm, 18.3 min of 1.6 mm/h; five take 92 min. In 16 bits five
    /// take 1.4 min (computed).
    #[test]
    fn coarse_steps_take_an_hour_and_a_half_and_fine_ones_a_minute() {
        let limit = 1.6e-3 / 3600.0;
        let minutes = |bits: u32| needed_hold(0.5 / f64::from(1u32 << bits), limit).get::<minute>();
        assert!((minutes(10) - 91.55).abs() < 0.01, "{}", minutes(10));
        assert!((minutes(16) - 1.43).abs() < 0.01, "{}", minutes(16));
    }
}
