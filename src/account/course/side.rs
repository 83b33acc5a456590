//! One chamber of a course: how much oil it holds at which pressure.
//!
//! Oil with its air, the give of tube and hose. A chamber that is drawn empty keeps the
//! pressure of one.

use crate::oil::AeratedOil;
use crate::quantity::GaugePressure;

/// Gauge pressure of a chamber that is drawn empty, Pa: little is left of the atmosphere
/// once air comes out of the oil (common practice, no source).
pub const EMPTY_PA: f64 = -0.96e5;

/// What is known of one chamber.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Side {
    /// Pressure at the start, Pa gauge.
    pub pressure_pa: f64,
    /// Law of its oil's density.
    pub oil: AeratedOil,
    /// Give of tube and hose, in parts of the chamber's volume, 1/Pa.
    pub give_per_pa: f64,
    /// Volume beside what the cylinder itself holds (hose), m³.
    pub extra_m3: f64,
    /// Open to a vessel at the atmosphere: its pressure stays zero.
    pub is_open: bool,
    /// A valve on its port lets oil out above this pressure, Pa gauge; None without one.
    pub opens_at_pa: Option<f64>,
    /// How much warmer its oil is at the start than what is round it, K.
    pub warmer_k: f64,
}

/// ln of oil in a unit of volume, against that at zero gauge pressure.
pub(super) fn pressed(side: &Side, p_pa: f64) -> f64 {
    side.oil.log_density(p_pa) + side.give_per_pa * p_pa
}

/// Its slope, 1/Pa.
pub(super) fn softness(side: &Side, p_pa: f64) -> f64 {
    1.0 / side.oil.tangent(GaugePressure::from_pa(p_pa)).value + side.give_per_pa
}

/// The pressure with that much oil; that of an empty chamber if there is less.
pub(super) fn unpressed(side: &Side, wanted: f64) -> f64 {
    if wanted <= pressed(side, EMPTY_PA) {
        return EMPTY_PA;
    }
    let (mut low, mut high) = (EMPTY_PA, 1e8);
    while pressed(side, high) < wanted && high < 1e12 {
        high *= 4.0;
    }
    let mut p = (wanted * side.oil.stiffness_pa).clamp(low, high);
    for _ in 0..60 {
        let over = pressed(side, p) - wanted;
        if over > 0.0 {
            high = p;
        } else {
            low = p;
        }
        let next = p - over / softness(side, p);
        let next = if next > low && next < high {
            next
        } else {
            0.5 * (low + high)
        };
        if (next - p).abs() < 1e-4 {
            return next;
        }
        p = next;
    }
    p
}
