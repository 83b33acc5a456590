//! A leak of a course: a flow that was measured, carried to other pressures.
//!
//! Its law is a power of the pressure that drives it; near zero it goes on as a straight
//! line.

/// Below this pressure a leak law goes on as a straight line, Pa: a root law has no slope
/// at zero.
const STRAIGHT_BELOW_PA: f64 = 0.5e5;

/// A leak as it was at the start of the course.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leak {
    /// Flow at the start, m³/s at the start's pressure of the side it leaves.
    pub flow_m3_s: f64,
    /// Pressure that drove it then, Pa; of its sign.
    pub driven_by_pa: f64,
    /// Exponent of pressure: laminar 1, orifice 0.5.
    pub exponent: f64,
}

/// No leak.
pub const TIGHT: Leak = Leak {
    flow_m3_s: 0.0,
    driven_by_pa: 1.0,
    exponent: 1.0,
};

impl Leak {
    /// Flow at another pressure, of its sign, m³/s.
    pub(super) fn at(&self, pressure_pa: f64) -> f64 {
        if self.flow_m3_s == 0.0 {
            return 0.0;
        }
        let law = |p: f64| {
            let size = p.abs();
            let straight = STRAIGHT_BELOW_PA.min(0.5 * self.driven_by_pa.abs());
            let value = if size < straight {
                straight.powf(self.exponent) * size / straight
            } else {
                size.powf(self.exponent)
            };
            value * p.signum()
        };
        self.flow_m3_s * law(pressure_pa) / law(self.driven_by_pa)
    }
}
