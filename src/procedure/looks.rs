//! When a person reads the instruments of a hold.
//!
//! Known beforehand, closer together at the start where a course bends most, and never closer
//! than a person can read and type.

use super::Steady;

/// Parts of a hold at which its instruments are read: of 10 min at 0, 1, 2, 3, 5, 7 and 10 min.
const LOOKS: [f64; 7] = [0.0, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0];

/// The same of a hold that is too short for these.
const FEW_LOOKS: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];

/// Least time between two looks, s: three instruments read and typed (common practice, no
/// source).
const APART_S: f64 = 28.0;

/// Least readings of a hold that make a figure.
pub const LEAST_READINGS: usize = 5;

/// Shortest hold that is read by eye, s.
pub const SHORTEST_BY_EYE_S: f64 = 120.0;

/// Windows of a settling rule that must agree by eye, one after the other.
pub const WINDOWS_BY_EYE: f64 = 3.0;

/// Window of a settling rule by eye, s: as the rule says, or as long as it takes for a bend of
/// the rule's size to be twice what the scale hides; `reading_si` is one sigma of a reading, Pa.
///
/// The bend between two windows is a second difference of three readings, √6 of one of them.
pub fn eye_window_s(rule: &Steady, reading_si: f64) -> f64 {
    let hidden = 2.0 * 6f64.sqrt() * reading_si / rule.bend_most.pa_per_s();
    rule.window.value.max(hidden)
}

/// Times of the looks since the start of a hold of a length, s: the first at 0, the last at its
/// end. None of a hold that is too short.
pub fn looks_s(length_s: f64) -> Option<Vec<f64>> {
    if length_s < SHORTEST_BY_EYE_S {
        return None;
    }
    let parts: &[f64] = match 0.1 * length_s < APART_S {
        true => &FEW_LOOKS,
        false => &LOOKS,
    };
    Some(parts.iter().map(|part| part * length_s).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::PressureRate;
    use crate::quantity::Time;
    use crate::quantity::unit::second;

    /// A scale of 1 bar: 0.2887 bar one sigma; 2·√6·0.2887 = 1.414 bar, which at 0.5 bar/min take
    /// 2.828 min (by hand).
    #[test]
    fn a_coarse_scale_makes_the_windows_of_settling_longer() {
        let rule = Steady {
            bend_most: PressureRate::from_pa_per_s(0.5e5 / 60.0),
            window: Time::new::<second>(30.0),
            at_most: Time::new::<second>(900.0),
        };
        let minutes = eye_window_s(&rule, 1e5 / 12f64.sqrt()) / 60.0;
        assert!((minutes - 2.828).abs() < 1e-3, "{minutes}");
        assert!((eye_window_s(&rule, 1e3) - 30.0).abs() < 1e-9);
    }

    #[test]
    fn ten_minutes_are_read_seven_times_and_two_minutes_five_times() {
        let minutes = |s: f64| looks_s(s).map(|l| l.iter().map(|t| t / 60.0).collect::<Vec<_>>());
        let ten = minutes(600.0).expect("long enough");
        for (found, by_hand) in ten.iter().zip([0.0, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0]) {
            assert!((found - by_hand).abs() < 1e-9, "{ten:?}");
        }
        assert_eq!(minutes(120.0), Some(vec![0.0, 0.5, 1.0, 1.5, 2.0]));
        assert_eq!(looks_s(119.0), None);
        assert!(FEW_LOOKS.len() >= LEAST_READINGS);
    }
}
