//! What a vented sensor says of its zero, and a rod at a known place of its position, before a
//! hold and after it.
//!
//! A single hold cannot see a sensor that drifts slowly; two looks at what is known can. Taking
//! the looks is a procedure's business. What two looks cannot see is stated, so that figures can
//! allow for it.

use super::Flag;
use crate::channel::Role;
use crate::channel::SensorErrors;

/// So many standard uncertainties are no chance.
const SIGMAS: f64 = 3.0;

/// A vented stretch of one sensor, or one of a rod that stands still.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZeroLook {
    /// Mean of its readings in SI units (Pa gauge, m, K).
    pub mean_si: f64,
    /// Standard uncertainty of that mean by noise and steps, SI units.
    pub standard_si: f64,
    /// Temperature around the sensor, K; None if nobody knows.
    pub ambient_k: Option<f64>,
    /// Standard uncertainty with which what is looked at comes back, SI units: hysteresis, a
    /// breath of air, a stop that is found again.
    pub repeats_si: f64,
}

/// Standard uncertainty with which a vented sensor comes back to its zero, SI units (common
/// practice, no source).
pub fn zero_repeats_si(role: Role) -> f64 {
    match role {
        Role::CapPressure | Role::RodPressure => 0.01e5,
        Role::Position => 5e-6,
        Role::OilTemperature | Role::WallTemperature => 0.05,
        Role::Supply => 0.005,
    }
}

/// Standard uncertainty of a movement that two looks would not be told of, SI units: twice this
/// is what they would be told of. `repeats_si` as in [`ZeroLook`], `step_si` is the step of the
/// sensor's code; noise averages out.
pub fn unseen_si(repeats_si: f64, step_si: f64, errors: &SensorErrors) -> f64 {
    let of_steps = step_si * (2.0_f64 / 12.0).sqrt();
    let by_surroundings = errors.zero_si_per_k * UNKNOWN_AMBIENT_K;
    0.5 * SIGMAS * by_surroundings.hypot(of_steps).hypot(repeats_si)
}

/// Surroundings that nobody measured may have changed by this between two looks, K.
const UNKNOWN_AMBIENT_K: f64 = 3.0;

/// The zero moved between two looks by more than the sensor's papers allow: the figures of
/// what was held between cannot be believed. A movement that noise does not explain but the
/// papers allow is a remark.
///
/// `errors` are one sigma; the zero may stand anywhere within its error, but should stay
/// there, so its error counts in full only for the heavier weight.
pub fn zero_moved(
    role: Role,
    before: &ZeroLook,
    after: &ZeroLook,
    errors: &SensorErrors,
) -> Option<Flag> {
    let moved = after.mean_si - before.mean_si;
    let by_k = match (before.ambient_k, after.ambient_k) {
        (Some(one), Some(other)) => other - one,
        _ => UNKNOWN_AMBIENT_K,
    };
    let own = (before.standard_si.powi(2)
        + after.standard_si.powi(2)
        + (errors.zero_si_per_k * by_k).powi(2)
        + before.repeats_si.max(after.repeats_si).powi(2))
    .sqrt();
    if !moved.is_finite() || !own.is_finite() {
        return Some(Flag::voids(format!(
            "the zero of {} could not be read before and after the hold; look at it again",
            role.plain()
        )));
    }
    if moved.abs() <= SIGMAS * own {
        return None;
    }
    let evidence = format!(
        "the zero of {} moved by {} between the looks before and after the hold, {:.0} times what its noise and its \
         surroundings explain",
        role.plain(),
        signed(role, moved),
        moved.abs() / own
    );
    Some(if moved.abs() > SIGMAS * own.hypot(errors.zero_si) {
        Flag::voids(format!(
            "{evidence}: the hold between them counts for nothing; change or calibrate the sensor, and hold again"
        ))
    } else {
        Flag::remark(format!("{evidence}, though its papers allow as much"))
    })
}

/// How far from zero a vented reading may be: three times what is stated of its zero, SI units.
pub fn zero_allowed_si(look: &ZeroLook, errors: &SensorErrors) -> f64 {
    SIGMAS * (look.standard_si.powi(2) + errors.zero_si.powi(2) + look.repeats_si.powi(2)).sqrt()
}

/// A vented reading further from zero than three times what is stated of its zero.
pub fn zero_off(role: Role, look: &ZeroLook, errors: &SensorErrors) -> Option<Flag> {
    let allowed_si = zero_allowed_si(look, errors);
    let is_within = look.mean_si.abs() <= allowed_si;
    (!is_within).then(|| {
        Flag::voids(format!(
            "vented, {} reads {}, and its papers allow ±{}: it is still under pressure, or its zero is off; vent it \
             again, then calibrate it",
            role.plain(),
            signed(role, look.mean_si),
            signed(role, allowed_si).trim_start_matches('+')
        ))
    })
}

fn signed(role: Role, si: f64) -> String {
    match role {
        Role::CapPressure | Role::RodPressure => format!("{:+.2} bar", si / 1e5),
        Role::Position => format!("{:+.3} mm", si * 1e3),
        Role::OilTemperature | Role::WallTemperature => format!("{si:+.2} K"),
        Role::Supply => format!("{si:+.3} V"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::health::Weight;

    const ERRORS: SensorErrors = SensorErrors {
        zero_si: 0.05e5,
        span_relative: 1e-3,
        zero_si_per_k: 0.005e5,
    };

    fn look(bar: f64) -> ZeroLook {
        ZeroLook {
            mean_si: bar * 1e5,
            standard_si: 0.002e5,
            ambient_k: Some(293.0),
            repeats_si: zero_repeats_si(Role::CapPressure),
        }
    }

    /// Own: √(2·0.002² + 0.01²) = 0.0104 bar, three of it 0.031; with the zero
    /// 3·√(0.0104² + 0.05²) = 0.153 bar.
    #[test]
    fn a_zero_that_stays_is_silent_one_that_moves_is_told_of_and_far_enough_voids() {
        for (bar, expected) in [
            (0.0, None),
            (0.03, None),
            (0.033, Some(Weight::Remark)),
            (-0.14, Some(Weight::Remark)),
            (0.16, Some(Weight::Voids)),
            (-2.0, Some(Weight::Voids)),
            (f64::NAN, Some(Weight::Voids)),
        ] {
            let flag = zero_moved(Role::CapPressure, &look(0.02), &look(0.02 + bar), &ERRORS);
            assert_eq!(flag.map(|f| f.weight), expected, "{bar} bar");
        }
    }

    /// 10 K at 0.005 bar/K explain 0.05 bar: three times √(0.05² + 0.0104²) is 0.153 bar.
    #[test]
    fn warm_surroundings_explain_what_papers_say_they_do() {
        let warm = |bar: f64| ZeroLook {
            ambient_k: Some(303.0),
            ..look(bar)
        };
        let moved = |bar| zero_moved(Role::RodPressure, &look(0.0), &warm(bar), &ERRORS);
        assert_eq!(moved(0.15), None);
        assert!(moved(0.16).is_some());
        let unknown = ZeroLook {
            ambient_k: None,
            ..look(0.05)
        };
        // Three kelvin nobody measured: √(0.015² + 0.0104²) = 0.0183, three of it 0.055 bar.
        assert_eq!(
            zero_moved(Role::RodPressure, &look(0.0), &unknown, &ERRORS),
            None
        );
    }

    /// √(0.05² + 0.01² + 0.002²) = 0.0510 bar, three of it 0.153.
    #[test]
    fn a_vented_reading_beyond_three_sigma_of_its_zero_is_off() {
        for (bar, expected) in [(0.15, false), (-0.15, false), (0.155, true), (-3.0, true)] {
            let flag = zero_off(Role::CapPressure, &look(bar), &ERRORS);
            assert_eq!(flag.is_some(), expected, "{bar} bar");
        }
        assert!(zero_off(Role::CapPressure, &look(f64::NAN), &ERRORS).is_some());
    }
}
