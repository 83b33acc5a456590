//! How fast the rod moves under a force it was not balanced by.
//!
//! Quasi-static: a loaded cylinder on a bench has no motion in which its inertia
//! could be seen. Coulomb friction is a dead zone with softened edges, so a stuck
//! rod really stands still instead of creeping.

use crate::rehearsal::physics::specimen::RodNature;

/// Stiffness of the end stops, N/m.
const STOP_N_PER_M: f64 = 5e8;

/// Softness of the edges of the dead zone by friction.
const EDGE: f64 = 0.001;

/// Speed of the rod, m/s, positive when it extends.
///
/// `push_n` is what the two pressures do, positive outwards.
pub(super) fn speed(rod: &RodNature, push_n: f64, x_m: f64, stroke_m: f64) -> f64 {
    match *rod {
        RodNature::Held => 0.0,
        RodNature::Free {
            load_n,
            friction_n,
            viscous_n_s_per_m,
        } => {
            let stops = STOP_N_PER_M * ((-x_m).max(0.0) - (x_m - stroke_m).max(0.0));
            beyond_dead_zone(push_n - load_n + stops, friction_n) / viscous_n_s_per_m
        }
    }
}

/// Rods on one rigid beam: what loads them, rubs and brakes adds up; held if one is.
pub(super) fn on_one_beam(one: &RodNature, other: &RodNature) -> RodNature {
    let (
        RodNature::Free {
            load_n,
            friction_n,
            viscous_n_s_per_m,
        },
        RodNature::Free {
            load_n: other_load_n,
            friction_n: other_friction_n,
            viscous_n_s_per_m: other_viscous,
        },
    ) = (*one, *other)
    else {
        return RodNature::Held;
    };
    RodNature::Free {
        load_n: load_n + other_load_n,
        friction_n: friction_n + other_friction_n,
        viscous_n_s_per_m: viscous_n_s_per_m + other_viscous,
    }
}

/// What is left of a force after friction took its part.
fn beyond_dead_zone(force_n: f64, friction_n: f64) -> f64 {
    if friction_n <= 0.0 {
        return force_n;
    }
    let edge_n = EDGE * friction_n;
    let soft = |f: f64| edge_n * ((f / edge_n).max(0.0) + (-(f / edge_n).abs()).exp().ln_1p());
    soft(force_n - friction_n) - soft(-force_n - friction_n)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROD: RodNature = RodNature::Free {
        load_n: 30e3,
        friction_n: 1.5e3,
        viscous_n_s_per_m: 2e4,
    };

    #[test]
    fn a_rod_inside_its_friction_stands_still() {
        // A micrometre in thirty years is standing still.
        assert!(speed(&ROD, 31.4e3, 0.1, 0.4).abs() < 1e-15);
    }

    #[test]
    fn friction_is_taken_off_in_both_directions() {
        for (push, expected) in [(33.5e3, 2e3 / 2e4), (26.5e3, -2e3 / 2e4)] {
            let found = speed(&ROD, push, 0.1, 0.4);
            assert!((found - expected).abs() < 1e-6, "{found}");
        }
    }

    #[test]
    fn an_end_stop_carries_what_the_oil_does_not() {
        assert!(speed(&ROD, 0.0, -31e3 / STOP_N_PER_M, 0.4).abs() < 1e-3);
        assert_eq!(speed(&RodNature::Held, 1e6, 0.1, 0.4), 0.0);
    }
}
