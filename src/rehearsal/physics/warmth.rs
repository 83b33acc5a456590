//! Heat of a chamber with time: from fresh or pressed oil into its steel, and from there into
//! the air.
//!
//! Two modes of heat leave the oil. What the present pressure adds by compression is not in
//! them, so that no derivative of a pressure is needed.

use crate::cylinder::Chamber;
use crate::rehearsal::physics::specimen::Heat;
use crate::rehearsal::physics::specimen::OilNature;

/// Heat of one chamber, or its change by second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Warmth {
    /// Slow and fast mode: oil above its wall, less what the present pressure adds, K.
    pub oil_k: [f64; 2],
    /// What the oil has warmed its wall by, K.
    pub wall_k: f64,
}

impl Warmth {
    /// Oil so much warmer than its wall, K, that was not warmed yet.
    pub fn fresh(oil_k: f64) -> Self {
        Self {
            oil_k: [oil_k; 2],
            wall_k: 0.0,
        }
    }

    /// Oil above its wall, less what the present pressure adds, K.
    pub fn heat_k(&self, heat: &Heat) -> f64 {
        let share = heat.fast_share;
        (1.0 - share) * self.oil_k[0] + share * self.oil_k[1]
    }

    /// So far along a change, with its length in s.
    pub fn along(&self, by_second: &Self, length_s: f64) -> Self {
        Self {
            oil_k: std::array::from_fn(|i| self.oil_k[i] + length_s * by_second.oil_k[i]),
            wall_k: self.wall_k + length_s * by_second.wall_k,
        }
    }
}

/// Change by second of a chamber's heat at a pressure, K/s.
pub(super) fn warming(
    heat: &Heat,
    oil: &OilNature,
    side: Chamber,
    own: &Warmth,
    p_pa: f64,
) -> Warmth {
    let (slow_s, oil_by_steel) = match side {
        Chamber::Cap => (heat.cap_slow_s, heat.cap_oil_by_steel),
        Chamber::Rod => (heat.rod_slow_s, heat.rod_oil_by_steel),
    };
    let pressed_k = oil.pressing_k_per_pa * p_pa;
    let modes = [
        (own.oil_k[0], slow_s, 1.0 - heat.fast_share),
        (own.oil_k[1], slow_s / heat.slow_by_fast, heat.fast_share),
    ]
    .map(|(mode_k, constant_s, share)| ((mode_k + pressed_k) / constant_s, share));
    // What leaves the oil goes into the steel, and from there into the air.
    let left_k_per_s: f64 = modes.iter().map(|(loss, share)| share * loss).sum();
    let wall_k = oil_by_steel * left_k_per_s - own.wall_k / heat.air_s;
    Warmth {
        oil_k: modes.map(|(loss_k_per_s, _)| -loss_k_per_s - heat.wall_k_per_s - wall_k),
        wall_k,
    }
}
