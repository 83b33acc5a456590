//! What the oil does: viscosity with temperature, expansion, stiffness with air.
//!
//! Leaves the vessel round it to `cylinder`. All laws are closed forms with
//! their source beside them; nothing here is fitted.
//!
//! Invariant: an [`Oil`] that exists has a viscosity that falls with temperature.

use crate::quantity::ATMOSPHERE_PA;
use crate::quantity::Expansion;
use crate::quantity::GaugePressure;
use crate::quantity::Pressure;
use crate::quantity::Temperature;
use crate::quantity::Viscosity;
use crate::quantity::unit::kelvin;
use crate::quantity::unit::pascal;

/// Linear expansion of steel in 1/K (common handbook value, from memory).
pub const STEEL_EXPANSION_PER_K: f64 = 11.5e-6;

/// Warming of oil when it is pressed fast: kelvin per pascal at 40 °C.
///
/// T·α/(ρ·c_p) with T 313 K, α 7e-4 1/K, ρ 870 kg/m³, c_p 1900 J/(kg K):
/// 1.33 K per 100 bar (thermodynamic identity, computed).
pub const PRESSING_HEAT_K_PER_PA: f64 = 1.33e-7;

/// Why properties make no oil.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum OilError {
    /// Viscosities in the wrong order.
    #[error(
        "viscosity at 100 °C ({at_100} mm²/s) must be above 2 and below the one at 40 °C ({at_40} mm²/s); \
         copy both from the oil's data sheet"
    )]
    Viscosities {
        /// mm²/s at 40 °C.
        at_40: f64,
        /// mm²/s at 100 °C.
        at_100: f64,
    },
    /// An expansion no oil has.
    #[error(
        "expansion {per_kelvin} 1/K is outside 6e-4 to 9e-4 1/K, where hydraulic oils are; check the unit"
    )]
    Expansion {
        /// 1/K.
        per_kelvin: f64,
    },
    /// A stiffness no oil has.
    #[error(
        "stiffness {gpa} GPa is outside 0.8 to 2.5 GPa, where hydraulic oils are; check the unit"
    )]
    Stiffness {
        /// GPa.
        gpa: f64,
    },
}

/// An oil by its data sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Oil {
    name: String,
    walther_a: f64,
    walther_b: f64,
    expansion: Expansion,
    stiffness: Pressure,
}

impl Oil {
    /// From the figures of a data sheet: viscosity at 40 and 100 °C, volumetric
    /// expansion, and stiffness (isentropic bulk modulus near the atmosphere, 40 °C).
    ///
    /// # Errors
    /// If a figure is outside what hydraulic oils have.
    pub fn new(
        name: String,
        at_40: Viscosity,
        at_100: Viscosity,
        expansion: Expansion,
        stiffness: Pressure,
    ) -> Result<Self, OilError> {
        let (low, high) = (at_100.mm2_per_s(), at_40.mm2_per_s());
        if !(low > 2.0 && low < high && high.is_finite()) {
            return Err(OilError::Viscosities {
                at_40: high,
                at_100: low,
            });
        }
        if !(6e-4..=9e-4).contains(&expansion.per_kelvin()) {
            return Err(OilError::Expansion {
                per_kelvin: expansion.per_kelvin(),
            });
        }
        if !(0.8e9..=2.5e9).contains(&stiffness.value) {
            return Err(OilError::Stiffness {
                gpa: stiffness.value / 1e9,
            });
        }
        let (t_40, t_100): (f64, f64) = (313.15, 373.15);
        let walther_b = (log_log(high) - log_log(low)) / (t_100.log10() - t_40.log10());
        let walther_a = log_log(high) + walther_b * t_40.log10();
        Ok(Self {
            name,
            walther_a,
            walther_b,
            expansion,
            stiffness,
        })
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Volumetric expansion of the oil alone.
    pub fn expansion(&self) -> Expansion {
        self.expansion
    }

    /// Isentropic bulk modulus of the air-free oil near the atmosphere at 40 °C.
    pub fn stiffness(&self) -> Pressure {
        self.stiffness
    }

    /// Kinematic viscosity by the straight line of ASTM D341 (Walther):
    /// log log(ν + 0.7) = A − B log T, ν in mm²/s and above 2, T in kelvin.
    pub fn viscosity(&self, temperature: Temperature) -> Viscosity {
        let exponent = self.walther_a - self.walther_b * temperature.get::<kelvin>().log10();
        Viscosity::from_mm2_per_s(10f64.powf(10f64.powf(exponent)) - 0.7)
    }

    /// How an oil's volume in a rigid steel chamber follows temperature: α − 3α_steel.
    pub fn trapped_expansion_per_k(&self) -> f64 {
        self.expansion.per_kelvin() - 3.0 * STEEL_EXPANSION_PER_K
    }
}

fn log_log(mm2_per_s: f64) -> f64 {
    (mm2_per_s + 0.7).log10().log10()
}

/// Oil with a share of undissolved air, as a law of density with pressure.
///
/// Compression only (nothing dissolves): V/V0 = (1−a)(1+mP/K)^(−1/m) + a·P0/(P+P0),
/// P gauge. Oil after Tait–Murnaghan with K rising by m per pascal, air isothermal;
/// form as in the survey of Gholizadeh, Burton and Schoenau (2011).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AeratedOil {
    /// Bulk modulus of the oil at the atmosphere in pascal.
    pub stiffness_pa: f64,
    /// Rise of the bulk modulus with pressure, Pa per Pa; zero for a constant one.
    pub stiffening: f64,
    /// Volume of air by volume of mixture at the atmosphere, 0 to 0.2.
    pub air: f64,
}

impl AeratedOil {
    /// ln(ρ(p)/ρ(0)) at the gauge pressure `p_pa`, which must lie above vacuum.
    pub fn log_density(&self, p_pa: f64) -> f64 {
        -self.volume_ratio(p_pa).ln()
    }

    /// Volume at `p_pa` by volume at the atmosphere.
    pub fn volume_ratio(&self, p_pa: f64) -> f64 {
        let p = p_pa.max(-0.995 * ATMOSPHERE_PA);
        (1.0 - self.air) * self.oil_ratio(p) + self.air * ATMOSPHERE_PA / (p + ATMOSPHERE_PA)
    }

    /// Tangent bulk modulus −V·dp/dV at a gauge pressure, isothermal air.
    pub fn tangent(&self, at: GaugePressure) -> Pressure {
        let p = at.pa().max(-0.995 * ATMOSPHERE_PA);
        let oil = (1.0 - self.air) * self.oil_ratio(p) / (self.stiffness_pa + self.stiffening * p);
        let air = self.air * ATMOSPHERE_PA / (p + ATMOSPHERE_PA).powi(2);
        Pressure::new::<pascal>(self.volume_ratio(p) / (oil + air))
    }

    fn oil_ratio(&self, p: f64) -> f64 {
        if self.stiffening.abs() < 1e-9 {
            (-p / self.stiffness_pa).exp()
        } else {
            (1.0 + self.stiffening * p / self.stiffness_pa).powf(-1.0 / self.stiffening)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::unit::degree_celsius;
    use crate::quantity::unit::gigapascal;

    fn oil(at_40: f64, at_100: f64) -> Oil {
        Oil::new(
            "VG".into(),
            Viscosity::from_mm2_per_s(at_40),
            Viscosity::from_mm2_per_s(at_100),
            Expansion::from_per_kelvin(7e-4),
            Pressure::new::<gigapascal>(1.5),
        )
        .expect("an oil")
    }

    /// ASTM D341 straight line through two points, computed with 273.15.
    #[test]
    fn viscosity_follows_the_walther_line() {
        let rows = [
            (46.0, 6.8, 20.0, 133.838),
            (46.0, 6.8, 54.0, 25.655),
            (32.0, 5.4, 60.0, 15.186),
            (68.0, 8.7, 80.0, 14.723),
        ];
        for (at_40, at_100, celsius, expected) in rows {
            let found = oil(at_40, at_100)
                .viscosity(Temperature::new::<degree_celsius>(celsius))
                .mm2_per_s();
            assert!((found - expected).abs() < 6e-4, "{found} is not {expected}");
        }
    }

    /// Engineering Tribology (Stachowiak and Batchelor), table 2.3: dynamic
    /// viscosity of real oils at 30, 60 and 100 °C in mPa·s; a line through 30 and
    /// 100 °C meets the measured 60 °C within the spread of a two-point line.
    #[test]
    fn a_line_through_two_temperatures_meets_a_measured_third() {
        let text = include_str!("../tests/data/fluids/tribology_table2_3.csv");
        let mut n_rows = 0;
        for line in text.lines().filter(|l| !l.starts_with('#')).skip(1) {
            let cells: Vec<f64> = line
                .split(',')
                .skip(1)
                .filter_map(|c| c.trim().parse().ok())
                .collect();
            let [d30, d60, d100, ..] = cells[..] else {
                continue;
            };
            // Dynamic to kinematic at 870 kg/m³, 15 °C, 7e-4 1/K (common practice, no source).
            let nu =
                |mpas: f64, celsius: f64| mpas / (870.0 / (1.0 + 7e-4 * (celsius - 15.0))) * 1e3;
            let (low, high) = (log_log(nu(d30, 30.0)), log_log(nu(d100, 100.0)));
            let b = (low - high) / (373.15f64.log10() - 303.15f64.log10());
            let at_60 = low - b * (333.15f64.log10() - 303.15f64.log10());
            let found = 10f64.powf(10f64.powf(at_60)) - 0.7;
            assert!(
                (found / nu(d60, 60.0) - 1.0).abs() < 0.13,
                "{line}: {found}"
            );
            n_rows += 1;
        }
        assert!(n_rows >= 10, "only {n_rows} oils read");
    }

    /// Compression-only mixture, K 1.5 GPa constant, n = 1: tangent in GPa, computed
    /// independently from the same closed form (p0 = 1.013 bar there).
    #[test]
    fn air_softens_oil_most_at_low_pressure() {
        for (air, bar, expected) in [
            (0.005, 5.0, 0.4823),
            (0.01, 25.0, 1.2228),
            (0.01, 160.0, 1.4912),
            (0.05, 50.0, 1.1477),
        ] {
            let mixture = AeratedOil {
                stiffness_pa: 1.5e9,
                stiffening: 0.0,
                air,
            };
            let found = mixture
                .tangent(GaugePressure::from_bar(bar))
                .get::<gigapascal>();
            assert!(
                (found / expected - 1.0).abs() < 2e-3,
                "{air} {bar}: {found} is not {expected}"
            );
        }
    }

    #[test]
    fn the_tangent_is_the_slope_of_the_density_law() {
        let mixture = AeratedOil {
            stiffness_pa: 1.45e9,
            stiffening: 10.0,
            air: 0.006,
        };
        for bar in [1.0, 20.0, 200.0] {
            let (p, step) = (bar * 1e5, 10.0);
            let slope =
                (mixture.log_density(p + step) - mixture.log_density(p - step)) / (2.0 * step);
            let tangent = mixture.tangent(GaugePressure::from_pa(p)).value;
            assert!((slope * tangent - 1.0).abs() < 1e-5, "{bar}");
        }
    }

    #[test]
    fn an_expansion_four_times_too_low_is_refused() {
        let wrong = Oil::new(
            "x".into(),
            Viscosity::from_mm2_per_s(46.0),
            Viscosity::from_mm2_per_s(6.8),
            Expansion::from_per_kelvin(1.8e-4),
            Pressure::new::<gigapascal>(1.5),
        );
        assert!(matches!(wrong, Err(OilError::Expansion { .. })));
    }
}
