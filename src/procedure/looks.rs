//! When a person reads the instruments of a hold.
//!
//! Known beforehand, closer together at the start where a course bends most, and never closer
//! than a person can read and type.

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
