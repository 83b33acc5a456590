//! One chamber: the pressure that a mass of oil has in a volume.
//!
//! Density falls with temperature and rises with pressure *isothermally*; that oil
//! pressed fast is stiffer comes from its warming, not from a second modulus. Below
//! vapour pressure a void opens, so a chamber can grow without limit.
//!
//! Invariant: mass and pressure determine each other, one rising with the other.

use crate::oil::AIR_IN_A_HOLD;
use crate::oil::AeratedOil;
use crate::oil::STEEL_EXPANSION_PER_K;
use crate::quantity::GaugePressure;
use crate::rehearsal::physics::specimen::ChamberOil;
use crate::rehearsal::physics::specimen::OilNature;

/// Temperature at which [`REFERENCE_KG_PER_M3`] holds, K (40 °C).
pub(super) const REFERENCE_K: f64 = 313.15;

/// Density of the oil at the atmosphere and 40 °C, kg/m³ (common practice, no source).
/// It cancels from every figure in volume.
pub(super) const REFERENCE_KG_PER_M3: f64 = 870.0;

/// Pressure at which a void opens, Pa gauge (common practice, no source): hydraulic
/// oil gives off vapour and gas a little above vacuum.
pub(super) const VOID_OPENS_PA: f64 = -0.96e5;

/// Void by oil volume for each pascal below [`VOID_OPENS_PA`]: a void as large as
/// the oil costs 5 Pa.
const VOID_PER_PA: f64 = 0.2;

/// Width of the bend where a void opens, Pa.
const VOID_BEND_PA: f64 = 10.0;

/// Pressures between which a chamber's state is sought, Pa gauge.
const SOUGHT_PA: (f64, f64) = (-1.0e5, 2.0e9);

/// Newton steps before bisection alone would have found any pressure.
const MOST_STEPS: usize = 200;

/// A chamber apart from its geometry.
#[derive(Debug, Clone, Copy)]
pub(super) struct Chamber {
    oil: AeratedOil,
    expansion_per_k: f64,
    pressing_k_per_pa: f64,
    wall_pa: f64,
    hose_m3: f64,
    hose_pa: f64,
}

/// What surrounds the oil at an instant.
#[derive(Debug, Clone, Copy)]
pub(super) struct Around {
    /// Volume swept and dead, without hose, at the reference temperature, m³.
    pub rigid_m3: f64,
    /// Wall, K.
    pub wall_k: f64,
    /// Oil above wall, less what the present pressure adds by compression, K.
    pub heat_k: f64,
}

impl Chamber {
    /// A chamber of this oil inside a tube of a stiffness (infinite for a rigid one).
    pub(super) fn new(oil: &OilNature, own: &ChamberOil, wall_pa: f64) -> Self {
        // K_T = K_s / (1 + α·K_s·(∂T/∂p)_s), a thermodynamic identity.
        let gamma = 1.0 + oil.expansion_per_k * oil.isentropic_pa * oil.pressing_k_per_pa;
        Self {
            oil: AeratedOil {
                stiffness_pa: oil.isentropic_pa / gamma,
                stiffening: oil.stiffening,
                air: own.air,
                air_exponent: AIR_IN_A_HOLD,
            },
            expansion_per_k: oil.expansion_per_k,
            pressing_k_per_pa: oil.pressing_k_per_pa,
            wall_pa,
            hose_m3: own.hose_m3,
            hose_pa: own.hose_pa,
        }
    }

    /// Temperature of the oil, K.
    pub(super) fn oil_k(&self, p_pa: f64, around: &Around) -> f64 {
        around.wall_k + around.heat_k + self.pressing_k_per_pa * p_pa
    }

    /// Density of the oil with its air, without void, kg/m³.
    pub(super) fn density(&self, p_pa: f64, oil_k: f64) -> f64 {
        let log = self.oil.log_density(p_pa) - self.expansion_per_k * (oil_k - REFERENCE_K);
        REFERENCE_KG_PER_M3 * log.exp()
    }

    /// Volume of the chamber, hose included, m³.
    pub(super) fn volume(&self, p_pa: f64, around: &Around) -> f64 {
        let warmed = 1.0 + 3.0 * STEEL_EXPANSION_PER_K * (around.wall_k - REFERENCE_K);
        around.rigid_m3 * warmed * (1.0 + p_pa / self.wall_pa)
            + self.hose_m3 * (1.0 + p_pa / self.hose_pa)
    }

    /// Mass of oil at a pressure, kg.
    pub(super) fn mass(&self, p_pa: f64, around: &Around) -> f64 {
        let oil_k = self.oil_k(p_pa, around);
        self.volume(p_pa, around) * self.density(p_pa, oil_k) / (1.0 + void(p_pa).0)
    }

    /// Pressure of a mass of oil, Pa gauge: a Newton iteration kept inside a bracket.
    pub(super) fn pressure(&self, mass_kg: f64, around: &Around, guess_pa: f64) -> f64 {
        let wanted = mass_kg.max(f64::MIN_POSITIVE).ln();
        let (mut low, mut high) = SOUGHT_PA;
        let mut p = guess_pa.clamp(low, high);
        for _ in 0..MOST_STEPS {
            let excess = self.mass(p, around).ln() - wanted;
            if excess > 0.0 {
                high = p;
            } else {
                low = p;
            }
            let newton = p - excess / self.log_mass_slope(p, around);
            let next = if newton > low && newton < high {
                newton
            } else {
                0.5 * (low + high)
            };
            let step = (next - p).abs();
            p = next;
            if step < 1e-6 {
                break;
            }
        }
        p
    }

    /// Room that a pressure makes in it, oil and enclosure together, m³/Pa.
    pub(super) fn give_m3_per_pa(&self, p_pa: f64, around: &Around) -> f64 {
        self.volume(p_pa, around) * self.log_mass_slope(p_pa, around)
    }

    /// d ln(mass)/dp, 1/Pa.
    fn log_mass_slope(&self, p_pa: f64, around: &Around) -> f64 {
        let (open, slope) = void(p_pa);
        let stretch = around.rigid_m3 / self.wall_pa + self.hose_m3 / self.hose_pa;
        let tangent_pa = self.oil.tangent(GaugePressure::from_pa(p_pa)).value;
        1.0 / tangent_pa - self.expansion_per_k * self.pressing_k_per_pa
            + stretch / self.volume(p_pa, around)
            - slope / (1.0 + open)
    }
}

/// Void by oil volume, and its slope in 1/Pa.
fn void(p_pa: f64) -> (f64, f64) {
    let bends = (VOID_OPENS_PA - p_pa) / VOID_BEND_PA;
    // ln(1 + e^b) written so that it neither overflows nor loses small values.
    let soft = bends.max(0.0) + (-bends.abs()).exp().ln_1p();
    let open = 1.0 / (1.0 + (-bends).exp());
    (VOID_PER_PA * VOID_BEND_PA * soft, -VOID_PER_PA * open)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::physics::specimen::Creep;

    fn chamber(air: f64, pressing: f64) -> Chamber {
        let oil = OilNature {
            isentropic_pa: 1.5e9,
            stiffening: 10.0,
            expansion_per_k: 7e-4,
            pressing_k_per_pa: pressing,
            viscosity: None,
        };
        let own = ChamberOil {
            air,
            hose_m3: 50e-6,
            hose_pa: 0.2e9,
            fresh_heat_k: 0.0,
            creep: Creep::NONE,
        };
        Chamber::new(&oil, &own, 14.43e9)
    }

    const AROUND: Around = Around {
        rigid_m3: 955e-6,
        wall_k: 318.0,
        heat_k: 0.7,
    };

    #[test]
    fn pressure_and_mass_lead_back_to_each_other() {
        for air in [0.0, 0.006, 0.05] {
            for p in [-0.9e5, 0.0, 1e5, 96e5, 295e5] {
                let chamber = chamber(air, 1.33e-7);
                let found = chamber.pressure(chamber.mass(p, &AROUND), &AROUND, 10e5);
                assert!((found - p).abs() < 1e-3, "{air} {p}: {found}");
            }
        }
    }

    #[test]
    fn half_the_oil_leaves_a_void_near_vacuum() {
        let chamber = chamber(0.005, 1.33e-7);
        let p = chamber.pressure(0.5 * chamber.mass(0.0, &AROUND), &AROUND, 50e5);
        assert!((-0.97e5..-0.955e5).contains(&p), "{p}");
    }

    /// Thermodynamic identity: warming by compression makes the fast modulus the
    /// isentropic one, here 1.5 GPa at the atmosphere.
    #[test]
    fn oil_pressed_fast_has_its_isentropic_stiffness() {
        let stiff = Chamber {
            hose_m3: 0.0,
            wall_pa: f64::INFINITY,
            ..chamber(0.0, 1.33e-7)
        };
        let slope = (stiff.mass(1e3, &AROUND) / stiff.mass(-1e3, &AROUND)).ln() / 2e3;
        assert!((slope * 1.5e9 - 1.0).abs() < 1e-4, "{}", 1.0 / slope);
    }
}
