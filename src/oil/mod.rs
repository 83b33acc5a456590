//! What the oil does: viscosity with temperature, expansion, stiffness with air.
//!
//! Leaves the vessel round it to `cylinder` and hoses to `circuit`. All laws are closed
//! forms with their source beside them; nothing here is fitted to a bench.
//!
//! Invariant: an [`Oil`] that exists has a viscosity that falls with temperature, and
//! its figures are ones that hydraulic oils have, alone and together.

mod aerated;
mod viscosity;

pub use aerated::AIR_IN_A_HOLD;
pub use aerated::AIR_IN_A_STROKE;
pub use aerated::AeratedOil;
pub use viscosity::WaltherLine;
pub use viscosity::viscosity_index;

use crate::quantity::Expansion;
use crate::quantity::MassDensity;
use crate::quantity::Pressure;
use crate::quantity::PressurePerKelvin;
use crate::quantity::Temperature;
use crate::quantity::Viscosity;
use crate::quantity::unit::degree_celsius;
use crate::quantity::unit::kelvin;
use crate::quantity::unit::kilogram_per_cubic_meter;

/// Linear expansion of steel in 1/K (common handbook value, from memory).
pub const STEEL_EXPANSION_PER_K: f64 = 11.5e-6;

/// Warming of oil when it is pressed fast: kelvin per pascal at 40 °C.
///
/// T·α/(ρ·c_p) with T 313 K, α 7e-4 1/K, ρ 870 kg/m³, c_p 1900 J/(kg K):
/// 1.33 K per 100 bar (thermodynamic identity, computed).
pub const PRESSING_HEAT_K_PER_PA: f64 = 1.33e-7;

/// Density of a mineral oil at 15 °C whose data sheet does not say it, kg/m³ (common
/// practice, no source).
const USUAL_DENSITY: f64 = 870.0;

/// Specific heat of mineral oil, J/(kg K) (from memory).
const HEAT_CAPACITY: f64 = 1900.0;

/// Relative fall of the stiffness by kelvin: the middle of 0.5 to 0.8 % (textbooks, from
/// memory). n-Dodecane has 0.68 to 0.69 % (reference equation of state).
pub const SOFTENING_PER_K: f64 = 0.0065;

/// Pressure rise of trapped oil by kelvin that hydraulic oils can have, bar/K. Published
/// rules of thumb say 11; 90 would be psi by °F taken for bar by °C.
const WARMING_BAR_PER_K: std::ops::RangeInclusive<f64> = 5.0..=15.0;

/// Viscosity indices that hydraulic oils have; aircraft oils come to 400 and above.
const INDEX: std::ops::RangeInclusive<f64> = 0.0..=500.0;

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
    /// Viscosities that no oil has together.
    #[error(
        "viscosities of {at_40} mm²/s at 40 °C and {at_100} mm²/s at 100 °C give a viscosity index of {index:.0}, \
         hydraulic oils have 0 to 500; copy both from the oil's data sheet"
    )]
    Index {
        /// mm²/s at 40 °C.
        at_40: f64,
        /// mm²/s at 100 °C.
        at_100: f64,
        /// Viscosity index.
        index: f64,
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
    /// Stiffness and expansion that no oil has together.
    #[error(
        "stiffness and expansion together let trapped oil rise by {bar_per_k:.1} bar for each kelvin, hydraulic oils \
         have 5 to 15 bar/K; check both"
    )]
    Warming {
        /// bar/K.
        bar_per_k: f64,
    },
    /// A density no oil has.
    #[error("density {kg_per_m3} kg/m³ is outside 700 to 1300 kg/m³; check the unit")]
    Density {
        /// kg/m³ at 15 °C.
        kg_per_m3: f64,
    },
}

/// Figures of a data sheet, before they are checked.
#[derive(Debug, Clone, PartialEq)]
pub struct DataSheet {
    /// Name of the oil.
    pub name: String,
    /// Kinematic viscosity at 40 °C.
    pub viscosity_40: Viscosity,
    /// Kinematic viscosity at 100 °C, above 2 mm²/s.
    pub viscosity_100: Viscosity,
    /// Volumetric expansion, 6e-4 to 9e-4 1/K.
    pub expansion: Expansion,
    /// Isentropic bulk modulus near the atmosphere at 40 °C, 0.8 to 2.5 GPa.
    pub stiffness: Pressure,
    /// Density at 15 °C, 700 to 1300 kg/m³; 870 where it is not known.
    pub density_15: Option<MassDensity>,
}

/// An oil by its data sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Oil {
    name: String,
    line: WaltherLine,
    viscosity_index: f64,
    expansion: Expansion,
    stiffness: Pressure,
    density_15: MassDensity,
}

impl Oil {
    /// From viscosity at 40 and 100 °C, volumetric expansion, and stiffness (isentropic
    /// bulk modulus near the atmosphere, 40 °C), with the usual density.
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
        Self::of(DataSheet {
            name,
            viscosity_40: at_40,
            viscosity_100: at_100,
            expansion,
            stiffness,
            density_15: None,
        })
    }

    /// From all figures of a data sheet.
    ///
    /// # Errors
    /// If a figure, or two of them together, are outside what hydraulic oils have.
    pub fn of(sheet: DataSheet) -> Result<Self, OilError> {
        let (at_100, at_40) = (
            sheet.viscosity_100.mm2_per_s(),
            sheet.viscosity_40.mm2_per_s(),
        );
        if !(at_100 > 2.0 && at_100 < at_40 && at_40.is_finite()) {
            return Err(OilError::Viscosities { at_40, at_100 });
        }
        let index = viscosity_index(sheet.viscosity_40, sheet.viscosity_100);
        if !INDEX.contains(&index) {
            return Err(OilError::Index {
                at_40,
                at_100,
                index,
            });
        }
        let per_kelvin = sheet.expansion.per_kelvin();
        if !(6e-4..=9e-4).contains(&per_kelvin) {
            return Err(OilError::Expansion { per_kelvin });
        }
        if !(0.8e9..=2.5e9).contains(&sheet.stiffness.value) {
            return Err(OilError::Stiffness {
                gpa: sheet.stiffness.value / 1e9,
            });
        }
        let density_15 = sheet
            .density_15
            .unwrap_or_else(|| MassDensity::new::<kilogram_per_cubic_meter>(USUAL_DENSITY));
        if !(700.0..=1300.0).contains(&density_15.value) {
            return Err(OilError::Density {
                kg_per_m3: density_15.value,
            });
        }
        let celsius = Temperature::new::<degree_celsius>;
        let oil = Self {
            name: sheet.name,
            line: WaltherLine::through(
                (celsius(40.0), sheet.viscosity_40),
                (celsius(100.0), sheet.viscosity_100),
            ),
            viscosity_index: index,
            expansion: sheet.expansion,
            stiffness: sheet.stiffness,
            density_15,
        };
        let bar_per_k = oil.trapped_warming(oil.stiffness).bar_per_k();
        if !WARMING_BAR_PER_K.contains(&bar_per_k) {
            return Err(OilError::Warming { bar_per_k });
        }
        Ok(oil)
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

    /// The same at another temperature: 0.65 % less for each kelvin above 40 °C. Grades
    /// differ by 0.15 % for each kelvin.
    pub fn stiffness_at(&self, temperature: Temperature) -> Pressure {
        let above = temperature.get::<kelvin>() - 313.15;
        self.stiffness * (-SOFTENING_PER_K * above).exp()
    }

    /// Isothermal bulk modulus of the air-free oil near the atmosphere: what counts when
    /// the heat of compression has gone. The isentropic one by 1 + T·α²·K/(ρ·c_p), which
    /// is 1.14 at 40 °C (thermodynamic identity).
    pub fn isothermal_stiffness_at(&self, temperature: Temperature) -> Pressure {
        let isentropic = self.stiffness_at(temperature);
        let warming = self.pressing_heat_k_per_pa(temperature) * isentropic.value;
        isentropic / (1.0 + self.expansion.per_kelvin() * warming)
    }

    /// Warming of this oil when it is pressed fast, T·α/(ρ·c_p), K/Pa: about 1.33 K for
    /// each 100 bar (thermodynamic identity).
    pub fn pressing_heat_k_per_pa(&self, temperature: Temperature) -> f64 {
        temperature.get::<kelvin>() * self.expansion.per_kelvin()
            / (self.density(temperature).value * HEAT_CAPACITY)
    }

    /// Density at the atmosphere: ρ15/(1 + α(T − 15 °C)).
    pub fn density(&self, temperature: Temperature) -> MassDensity {
        let above = temperature.get::<kelvin>() - 288.15;
        self.density_15 / (1.0 + self.expansion.per_kelvin() * above)
    }

    /// Kinematic viscosity by the straight line of ASTM D341 through the data sheet.
    pub fn viscosity(&self, temperature: Temperature) -> Viscosity {
        self.line.at(temperature)
    }

    /// Viscosity index by ASTM D2270, 0 to 500.
    pub fn viscosity_index(&self) -> f64 {
        self.viscosity_index
    }

    /// How an oil's volume in a rigid steel chamber follows temperature: α − 3α_steel, 1/K.
    pub fn trapped_expansion_per_k(&self) -> f64 {
        self.expansion.per_kelvin() - 3.0 * STEEL_EXPANSION_PER_K
    }

    /// How the length of an oil column under a piston that is free to move follows
    /// temperature: α − 2α_steel, 1/K.
    pub fn column_expansion_per_k(&self) -> f64 {
        self.expansion.per_kelvin() - 2.0 * STEEL_EXPANSION_PER_K
    }

    /// How the pressure of trapped oil follows temperature where oil and everything round
    /// it have the stiffness `effective` together: K·(α − 3α_steel).
    pub fn trapped_warming(&self, effective: Pressure) -> PressurePerKelvin {
        let expansion = Expansion::from_per_kelvin(self.trapped_expansion_per_k());
        warming(effective, expansion)
    }
}

/// Rise of pressure with temperature at one volume: (∂p/∂T)_V = K·α (thermodynamic identity).
pub fn warming(stiffness: Pressure, expansion: Expansion) -> PressurePerKelvin {
    PressurePerKelvin::from_pa_per_k(stiffness.value * expansion.per_kelvin())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::unit::gigapascal;

    fn sheet() -> DataSheet {
        DataSheet {
            name: "ISO VG 46".into(),
            viscosity_40: Viscosity::from_mm2_per_s(46.0),
            viscosity_100: Viscosity::from_mm2_per_s(6.8),
            expansion: Expansion::from_per_kelvin(7e-4),
            stiffness: Pressure::new::<gigapascal>(1.5),
            density_15: None,
        }
    }

    fn oil() -> Oil {
        Oil::of(sheet()).expect("an oil")
    }

    fn near(found: f64, expected: f64, relative: f64) {
        assert!(
            (found / expected - 1.0).abs() < relative,
            "{found} is not {expected}"
        );
    }

    /// K·(α − 3α_steel) with α 7e-4: 8.0, 10.0 and 11.3 bar/K at 1.2, 1.5 and 1.7 GPa
    /// (computed); a published rule of thumb says 11 bar/K, 90 psi/°F.
    #[test]
    fn trapped_oil_rises_by_about_ten_bar_for_each_kelvin() {
        for (gpa, bar_per_k) in [(1.2, 8.0), (1.5, 10.0), (1.7, 11.3)] {
            let found = oil().trapped_warming(Pressure::new::<gigapascal>(gpa));
            assert!((found.bar_per_k() - bar_per_k).abs() < 0.05, "{found:?}");
        }
    }

    /// A held column of 300 mm shortens by 0.20 mm for each kelvin; two crane manuals
    /// print 1 % and 4 % for 100 °F, of which 4 % is right (7e-4 × 55.6 K).
    #[test]
    fn a_held_column_follows_temperature_by_four_per_cent_in_a_hundred_fahrenheit() {
        let oil = oil();
        let mm = 300.0 * oil.column_expansion_per_k();
        assert!((mm - 0.20).abs() < 0.005, "{mm}");
        let hundred_fahrenheit = 100.0 / 1.8 * oil.column_expansion_per_k();
        assert!((hundred_fahrenheit - 0.04).abs() < 0.003);
    }

    /// A column of 500 mm of an oil with 7.2e-4 1/K that cools from 60 to 50 °C: a manual
    /// says −3.6 mm, the steel round it takes 0.1 mm of that.
    #[test]
    fn ten_kelvin_of_cooling_shorten_half_a_metre_by_three_and_a_half_millimetres() {
        let oil = Oil::of(DataSheet {
            expansion: Expansion::from_per_kelvin(7.2e-4),
            ..sheet()
        })
        .expect("an oil");
        let mm = 500.0 * oil.column_expansion_per_k() * -10.0;
        assert!((mm + 3.6).abs() < 0.2, "{mm}");
    }

    /// 1 + T·α²·K/(ρ·c_p) = 1.139 at 40 °C with α 7e-4, K 1.5 GPa, ρ 870, c_p 1900
    /// (computed there with the density of 15 °C).
    #[test]
    fn oil_without_its_heat_of_compression_is_softer_by_a_seventh() {
        let at = Temperature::new::<degree_celsius>(40.0);
        let found = oil().stiffness_at(at) / oil().isothermal_stiffness_at(at);
        assert!((found.value - 1.139).abs() < 0.004, "{found:?}");
        near(
            oil().pressing_heat_k_per_pa(at),
            PRESSING_HEAT_K_PER_PA,
            0.02,
        );
    }

    #[test]
    fn warm_oil_is_lighter_and_softer() {
        let celsius = Temperature::new::<degree_celsius>;
        assert!((oil().density(celsius(15.0)).value - 870.0).abs() < 1e-9);
        // ρ15/(1 + α(T − 15)), computed.
        near(oil().density(celsius(60.0)).value, 843.432, 1e-6);
        let ratio = oil().stiffness_at(celsius(50.0)) / oil().stiffness();
        // 0.5 to 0.8 % by kelvin (textbooks, from memory).
        assert!((0.92..0.95).contains(&ratio.value), "{ratio:?}");
    }

    #[track_caller]
    fn refused(change: impl FnOnce(&mut DataSheet), part: &str) {
        let mut wrong = sheet();
        change(&mut wrong);
        let message = Oil::of(wrong).expect_err(part).to_string();
        assert!(message.contains(part), "{message}");
    }

    /// Published manuals differ by four between 1 % and 4 % for 100 °F; 1.8e-4 is the former.
    #[test]
    fn figures_that_no_oil_has_are_refused() {
        refused(
            |s| s.expansion = Expansion::from_per_kelvin(1.8e-4),
            "6e-4 to 9e-4",
        );
        refused(
            |s| s.stiffness = Pressure::new::<gigapascal>(15.0),
            "0.8 to 2.5 GPa",
        );
        refused(
            |s| s.viscosity_100 = Viscosity::from_mm2_per_s(68.0),
            "below the one at 40",
        );
        refused(
            |s| s.viscosity_100 = Viscosity::from_mm2_per_s(2.5),
            "viscosity index",
        );
        refused(
            |s| s.density_15 = Some(MassDensity::new::<kilogram_per_cubic_meter>(0.87)),
            "700 to 1300",
        );
        refused(
            |s| {
                s.stiffness = Pressure::new::<gigapascal>(2.4);
                s.expansion = Expansion::from_per_kelvin(8.9e-4);
            },
            "5 to 15 bar/K",
        );
        assert!(Oil::of(sheet()).is_ok());
    }
}
