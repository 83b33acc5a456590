//! How stiff a chamber is with everything round it, by sum and by measurement.
//!
//! Measured beats calculated: air, wall, hose and oil are all in it. A known volume of
//! oil pressed in, or a known movement of the rod, against the rise of pressure gives
//! the stiffness of the whole, K = V·dp/dV, here over a step of pressure.
//!
//! Invariant: a [`MeasuredStiffness`] that exists is one that oil in a cylinder can
//! have, over a step wide enough to be read, with an uncertainty that is not zero.

use crate::cylinder::Chamber;
use crate::quantity::Area;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Pressure;
use crate::quantity::Share;
use crate::quantity::Uncertain;
use crate::quantity::Volume;
use crate::quantity::unit::pascal;

/// Stiffness of a rubber hose against its oil, Pa: usual is 0.07 to 0.35 GPa (from memory).
pub const HOSE_STIFFNESS_PA: f64 = 0.2e9;

/// What gives way round the oil of one chamber.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Enclosure {
    /// Oil in the chamber itself.
    pub chamber: Volume,
    /// Stiffness of the tube against its oil; None for a rigid one or an unknown one.
    pub wall: Option<Pressure>,
    /// Oil in the hose at its port; zero without a hose.
    pub hose: Volume,
    /// Stiffness of the hose against its oil.
    pub hose_stiffness: Pressure,
}

impl Enclosure {
    /// Oil in chamber and hose.
    pub fn volume(&self) -> Volume {
        self.chamber + self.hose
    }

    /// How much the enclosure grows for each pascal by the oil in it, 1/Pa; 0 if rigid.
    pub fn softness_per_pa(&self) -> f64 {
        let wall = self.wall.map_or(0.0, |k| self.chamber.value / k.value);
        (wall + self.hose.value / self.hose_stiffness.value) / self.volume().value
    }

    /// Stiffness of oil and enclosure together:
    /// 1/K_eff = 1/K_oil + (V_chamber/V)/K_wall + (V_hose/V)/K_hose (as in Merritt, Hydraulic
    /// Control Systems).
    pub fn effective(&self, oil: Pressure) -> Pressure {
        Pressure::new::<pascal>(1.0 / (1.0 / oil.value + self.softness_per_pa()))
    }
}

/// How fast a stiffness was measured: what became of the heat of compression.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    /// In seconds: the heat stayed in the oil (isentropic), air had no time either.
    Quick,
    /// With minutes of waiting at each pressure: the heat was gone (isothermal).
    Slow,
}

/// The step of pressure over which a stiffness was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Which chamber.
    pub chamber: Chamber,
    /// Extension of the rod at the start of the step.
    pub at: Length,
    /// Pressure at the start.
    pub from: GaugePressure,
    /// Pressure at the end, above that at the start.
    pub to: GaugePressure,
    /// How fast.
    pub pace: Pace,
}

/// Why readings make no stiffness.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StiffnessError {
    /// The step is too small, negative or not from above the atmosphere.
    #[error(
        "a step from {from_bar:.1} to {to_bar:.1} bar is no measurement of stiffness; \
         raise the pressure by 5 bar or more, from 0 bar or more"
    )]
    Step {
        /// Start, bar.
        from_bar: f64,
        /// End, bar.
        to_bar: f64,
    },
    /// A volume or movement that is not positive, or is more than the chamber has.
    #[error(
        "{what} must be above zero and a small part of the chamber's oil; check its unit and `rod_at`"
    )]
    Reading {
        /// Which reading.
        what: &'static str,
    },
    /// The result is none that oil in a cylinder can have.
    #[error(
        "a stiffness of {gpa:.3} GPa is outside 0.02 to 4 GPa, where oil in cylinders is; check the units"
    )]
    Value {
        /// GPa.
        gpa: f64,
    },
    /// Nothing is known that well, or so badly.
    #[error(
        "an uncertainty of {percent:.2} % is outside 0.1 to 50 %; state one sigma of the stiffness"
    )]
    Uncertainty {
        /// Per cent of the stiffness.
        percent: f64,
    },
}

/// Stiffness of one chamber's oil with its air, wall and hose, as it was measured: the
/// mean over a step of pressure, with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredStiffness {
    step: Step,
    value: Pressure,
    standard: Share,
}

impl MeasuredStiffness {
    /// From a stiffness with its relative standard uncertainty, found elsewhere.
    ///
    /// # Errors
    /// If step, value or uncertainty are out of reason.
    pub fn stated(step: Step, value: Pressure, standard: Share) -> Result<Self, StiffnessError> {
        if !(step.from.pa() >= 0.0
            && step.to.pa() - step.from.pa() >= 5e5
            && step.to.pa().is_finite())
        {
            return Err(StiffnessError::Step {
                from_bar: step.from.bar(),
                to_bar: step.to.bar(),
            });
        }
        if !(0.02e9..=4e9).contains(&value.value) {
            return Err(StiffnessError::Value {
                gpa: value.value / 1e9,
            });
        }
        if !(0.001..=0.5).contains(&standard.part()) {
            return Err(StiffnessError::Uncertainty {
                percent: standard.percent(),
            });
        }
        Ok(Self {
            step,
            value,
            standard,
        })
    }

    /// From a volume pressed into the shut chamber with the rod held: K = Δp/ln(1 + ΔV/V),
    /// which is V·dp/dV for small steps. `trapped` is the oil in chamber and hose at the
    /// start; `injected` is counted at the pressure of the start; `pressure_standard` is
    /// that of the difference. First order of the GUM (JCGM 100, 5.1).
    ///
    /// # Errors
    /// If a reading or the result is out of reason.
    pub fn by_injection(
        step: Step,
        trapped: Uncertain<Volume>,
        injected: Uncertain<Volume>,
        pressure_standard: Pressure,
    ) -> Result<Self, StiffnessError> {
        let (v, dv) = (trapped.value.value, injected.value.value);
        small(dv, v, "the injected volume")?;
        let grown = v + dv;
        let spread =
            (injected.standard.value / grown).hypot(trapped.standard.value * dv / (v * grown));
        Self::over(step, (dv / v).ln_1p(), spread, pressure_standard)
    }

    /// From a rod pushed in by a known way with the chamber shut: K = Δp/ln(V/(V − A·Δx)).
    /// `area` is the one that the rod's movement sweeps in this chamber. As
    /// [`Self::by_injection`] otherwise.
    ///
    /// # Errors
    /// If a reading or the result is out of reason.
    pub fn by_rod(
        step: Step,
        trapped: Uncertain<Volume>,
        area: Area,
        moved: Uncertain<Length>,
        pressure_standard: Pressure,
    ) -> Result<Self, StiffnessError> {
        let (v, dv) = (trapped.value.value, (area * moved.value).value);
        small(dv, v, "the movement of the rod")?;
        let left = v - dv;
        let swept = (area * moved.standard).value;
        let spread = (swept / left).hypot(trapped.standard.value * dv / (v * left));
        Self::over(step, -(-dv / v).ln_1p(), spread, pressure_standard)
    }

    fn over(
        step: Step,
        squeeze: f64,
        spread: f64,
        pressure_standard: Pressure,
    ) -> Result<Self, StiffnessError> {
        let difference = step.to.pa() - step.from.pa();
        let relative = (spread / squeeze).hypot(pressure_standard.value / difference);
        let value = Pressure::new::<pascal>(difference / squeeze);
        Self::stated(step, value, Share::from_part(relative))
    }

    /// The step it was measured over.
    pub fn step(&self) -> &Step {
        &self.step
    }

    /// The stiffness, 0.02 to 4 GPa.
    pub fn value(&self) -> Pressure {
        self.value
    }

    /// Its standard uncertainty as a part of it, 0.001 to 0.5.
    pub fn standard(&self) -> Share {
        self.standard
    }

    /// What was measured in itself: ln of oil by volume at the end less that at the start,
    /// with its standard uncertainty. A model of oil and enclosure predicts it as
    /// ln ρ(to) − ln ρ(from) + (to − from)·softness.
    pub fn squeeze(&self) -> Uncertain<f64> {
        let value = (self.step.to.pa() - self.step.from.pa()) / self.value.value;
        Uncertain {
            value,
            standard: value * self.standard.part(),
        }
    }
}

/// A fifth of the chamber is far beyond what oil gives way to.
fn small(part: f64, whole: f64, what: &'static str) -> Result<(), StiffnessError> {
    let fits = part > 0.0 && whole > 0.0 && part < 0.2 * whole;
    fits.then_some(()).ok_or(StiffnessError::Reading { what })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::unit::gigapascal;
    use crate::quantity::unit::milliliter;
    use crate::quantity::unit::millimeter;
    use crate::quantity::unit::square_millimeter;

    fn gpa(value: f64) -> Pressure {
        Pressure::new::<gigapascal>(value)
    }

    fn ml(value: f64) -> Volume {
        Volume::new::<milliliter>(value)
    }

    fn step(from_bar: f64, to_bar: f64) -> Step {
        Step {
            chamber: Chamber::Cap,
            at: Length::new::<millimeter>(300.0),
            from: GaugePressure::from_bar(from_bar),
            to: GaugePressure::from_bar(to_bar),
            pace: Pace::Quick,
        }
    }

    fn near(found: f64, expected: f64, relative: f64) {
        assert!(
            (found / expected - 1.0).abs() < relative,
            "{found} is not {expected}"
        );
    }

    /// Bare tubes with oil of 1.5 GPa (computed): 40/50, 50/60, 63/73, 80/92, 100/115.
    #[test]
    fn a_steel_tube_takes_seven_to_ten_per_cent_of_the_stiffness() {
        for (wall, expected) in [
            (21.21, 1.401),
            (17.62, 1.382),
            (14.43, 1.359),
            (13.73, 1.352),
        ] {
            let tube = Enclosure {
                chamber: ml(955.174),
                wall: Some(gpa(wall)),
                hose: ml(0.0),
                hose_stiffness: gpa(0.2),
            };
            assert!((tube.effective(gpa(1.5)).value / 1e9 - expected).abs() < 6e-4);
        }
    }

    /// 955 cm³ in a 63/73 tube and 1 m of 10 mm hose of 0.2 GPa: 0.900 GPa (computed).
    #[test]
    fn a_metre_of_hose_takes_a_third_of_the_stiffness() {
        let with_hose = Enclosure {
            chamber: ml(955.174),
            wall: Some(gpa(14.43)),
            hose: ml(78.540),
            hose_stiffness: gpa(0.2),
        };
        assert!((with_hose.effective(gpa(1.5)).value / 1e9 - 0.900).abs() < 6e-4);
    }

    /// K = V·dp/dV by hand: 955 mL, 50 bar, 3.41 mL give 1.400 GPa; uncertainties of 1 % of
    /// the volume, 2 % of what was pressed in and 1 % of the pressure add up to √6 %.
    #[test]
    fn a_known_volume_pressed_in_gives_the_stiffness_with_its_uncertainty() {
        let injected = Uncertain {
            value: ml(3.4107),
            standard: ml(0.02 * 3.4107),
        };
        let trapped = Uncertain {
            value: ml(955.0),
            standard: ml(9.55),
        };
        let found =
            MeasuredStiffness::by_injection(step(0.0, 50.0), trapped, injected, gpa(0.5e-4))
                .expect("a stiffness");
        near(found.value().value, 1.400e9, 0.003);
        near(found.standard().part(), 6f64.sqrt() * 0.01, 0.005);
        near(found.squeeze().value * found.value().value, 50e5, 1e-12);
    }

    /// Oil that follows V = V0·exp(−p/K) exactly gives its K back, whatever the step.
    #[test]
    fn a_known_movement_gives_back_the_stiffness_that_made_it() {
        let area = Area::new::<square_millimeter>(3117.25);
        let trapped = Uncertain {
            value: ml(955.174),
            standard: ml(5.0),
        };
        for to_bar in [10.0, 60.0, 250.0] {
            let swept = trapped.value * (1.0 - f64::exp(-to_bar * 1e5 / 1.3e9));
            let moved = Uncertain {
                value: swept / area,
                standard: Length::new::<millimeter>(0.01),
            };
            let found =
                MeasuredStiffness::by_rod(step(0.0, to_bar), trapped, area, moved, gpa(1e-5))
                    .expect("a stiffness");
            near(found.value().value, 1.3e9, 1e-9);
        }
    }

    #[test]
    fn readings_that_cannot_be_are_refused_with_what_to_check() {
        let refused = |found: Result<MeasuredStiffness, StiffnessError>, part: &str| {
            let message = found.expect_err(part).to_string();
            assert!(message.contains(part), "{message}");
        };
        let two = Share::from_part(0.02);
        refused(
            MeasuredStiffness::stated(step(50.0, 52.0), gpa(1.3), two),
            "5 bar",
        );
        refused(
            MeasuredStiffness::stated(step(0.0, f64::NAN), gpa(1.3), two),
            "5 bar",
        );
        refused(
            MeasuredStiffness::stated(step(0.0, 50.0), gpa(13.0), two),
            "units",
        );
        let zero = Share::from_part(0.0);
        refused(
            MeasuredStiffness::stated(step(0.0, 50.0), gpa(1.3), zero),
            "one sigma",
        );
        let all = Uncertain {
            value: ml(955.0),
            standard: ml(1.0),
        };
        let found = MeasuredStiffness::by_injection(step(0.0, 50.0), all, all, gpa(1e-5));
        refused(found, "injected volume");
    }
}
