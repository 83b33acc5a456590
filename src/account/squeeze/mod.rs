//! How much air is in a shut rod end, from how it gives way to the rod.
//!
//! With the rod port shut the rod squeezes what is in the rod end: its way times the area of
//! that end is what the oil, its air, the tube and a hose give way by, as the pressure rises
//! (V·Δp = K·A·Δx over small steps; the whole course is used, not its ends). What oil, tube and
//! hose take by themselves is known; air is what is left. What else gives way, gland and guide
//! under load or a hose that nobody measured, looks like air: the share found is the most that
//! is there.
//!
//! Law of oil with air: as in [`AeratedOil`], the share counted at the atmosphere.
//!
//! Memory: readings go into 64 bins of pressure, however long it takes.

mod fit;

use super::Conditions;
use super::Contribution;
use super::Figure;
use super::FigureName;
use super::Fluid;
use super::Measured;
use super::Subject;
use super::strokes::StrokeRow;
use crate::channel::SensorErrors;
use crate::circuit::Enclosure;
use crate::circuit::HOSE_STIFFNESS_PA;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::oil::AIR_IN_A_HOLD;
use crate::oil::AIR_IN_A_STROKE;
use crate::oil::AeratedOil;
use crate::quantity::ATMOSPHERE_PA;
use crate::quantity::Length;
use crate::quantity::Pressure;
use crate::quantity::Temperature;
use crate::quantity::unit::meter;
use crate::quantity::unit::pascal;
use fit::Given;
use fit::Point;
use fit::share;

const N_BINS: usize = 64;

/// Readings below this count for nothing, Pa gauge: a zero that is off by a tenth of a bar
/// would make or hide as much air there (common practice, no source).
const FROM_PA: f64 = 1e5;

/// A squeeze that takes this long, s, is slow; by how much the exponent of its air may lie above
/// that of a hold then.
const SLOW_S: f64 = 10.0;
const LAGS_AT_MOST: f64 = 0.1;

/// Fewest bins, and least pressure at the last of them, Pa gauge.
const BINS_LEAST: usize = 4;
const UP_TO_LEAST_PA: f64 = 8e5;

/// One sigma of what a data sheet says of stiffness, relative: as the oil account has it.
const OIL_RELATIVE: f64 = 0.07;
/// One sigma of a hose's stiffness, relative: 0.07 to 0.35 GPa are usual (from memory).
const HOSE_RELATIVE: f64 = 0.5;
/// One sigma of the volume by the drawing, relative (common practice, no source).
const VOLUME_RELATIVE: f64 = 0.02;
/// Rise of the oil's stiffness with pressure (textbooks, from memory: 10 to 12).
const STIFFENING: f64 = 10.0;

/// A rod end while it is squeezed. Its size does not grow with the time it takes.
#[derive(Debug, Clone, PartialEq)]
pub struct SqueezeWatch {
    cylinder: Cylinder,
    top_pa: f64,
    bins: [(f64, f64, u32); N_BINS],
    start: Option<(f64, f64)>,
    latest_s: f64,
    n_rows: u32,
    n_lost: u32,
}

/// What is known of the rod end beside its readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Squeezed<'a> {
    /// Piece, oil and hoses.
    pub subject: &'a Subject,
    /// Oil temperature, K; None if it was not measured.
    pub t_oil_k: Option<f64>,
    /// What the papers of the rod-end pressure allow.
    pub pressure: SensorErrors,
    /// What the papers of the position allow.
    pub position: SensorErrors,
}

/// How far a pressure, Pa gauge, lies above where bins begin, in logarithms.
fn above(pa: f64) -> f64 {
    ((pa + ATMOSPHERE_PA) / (FROM_PA + ATMOSPHERE_PA)).ln()
}

impl SqueezeWatch {
    /// Of a cylinder whose rod end comes to a pressure, Pa gauge.
    pub fn new(cylinder: &Cylinder, top_pa: f64) -> Self {
        Self {
            cylinder: *cylinder,
            top_pa,
            bins: [(0.0, 0.0, 0); N_BINS],
            start: None,
            latest_s: 0.0,
            n_rows: 0,
            n_lost: 0,
        }
    }

    /// Takes what was read at an instant.
    pub fn push(&mut self, row: &StrokeRow) {
        self.n_rows += 1;
        let read = row.rod_pa.zip(row.x_m);
        let Some((pa, x_m)) = read.filter(|(p, x)| p.is_finite() && x.is_finite()) else {
            self.n_lost += 1;
            return;
        };
        if pa < FROM_PA {
            return;
        }
        let (_, start_m) = *self.start.get_or_insert((row.time_s, x_m));
        self.latest_s = row.time_s;
        // Air gives way most where the pressure is low: bins grow with the absolute pressure.
        let part = above(pa) / above(self.top_pa);
        let index = ((part * N_BINS as f64) as usize).min(N_BINS - 1);
        let (sum_pa, sum_m, n) = &mut self.bins[index];
        *sum_pa += pa;
        *sum_m += x_m - start_m;
        *n += 1;
    }

    /// The apparent share of free air with its uncertainty.
    ///
    /// # Errors
    /// With why it cannot be stated.
    pub fn figure(&self, known: &Squeezed<'_>) -> Result<Figure, String> {
        if 100 * self.n_lost > self.n_rows || self.n_rows == 0 {
            return Err(
                "rod-end pressure or position was lost while the rod end was squeezed".into(),
            );
        }
        let points = self.points();
        let top_pa = points.last().map_or(0.0, |p| p.pressure_pa);
        if points.len() < BINS_LEAST || top_pa < UP_TO_LEAST_PA {
            return Err(format!(
                "the rod-end pressure was read at {} steps up to {:.0} bar only: is the rod port shut and the rod end full? \
                 Raise the cap end more slowly",
                points.len(),
                top_pa / 1e5
            ));
        }
        let given = self.given(known)?;
        let value = share(&points, &given);
        let (_, lags) = self.exponent();
        let budget = budget(&points, (&given, lags), known, value);
        let squares: f64 = budget.iter().map(|part| part.standard_si.powi(2)).sum();
        let measured = Measured {
            value_si: value,
            standard_si: squares.sqrt(),
        };
        let at = Conditions {
            t_oil_k: known.t_oil_k,
            ..Conditions::default()
        };
        Ok(Figure::measured(FigureName::FreeAir, measured, budget, at))
    }

    /// Exponent of its air, and one sigma of that. In a slow squeeze air keeps nearly the
    /// temperature of the oil around it: a bubble of radius R evens out in R²/(π²·a), with
    /// 2·10⁻⁵ m²/s of air half a second for 10 mm (own estimate); what lags makes it more, up to
    /// a little, and never less. In a quick one it may be anything between both (a rectangle).
    fn exponent(&self) -> (f64, f64) {
        let took_s = self.start.map_or(0.0, |start| self.latest_s - start.0);
        match took_s >= SLOW_S {
            true => (AIR_IN_A_HOLD, LAGS_AT_MOST / 3.0_f64.sqrt()),
            false => (
                0.5 * (AIR_IN_A_HOLD + AIR_IN_A_STROKE),
                (AIR_IN_A_STROKE - AIR_IN_A_HOLD) / 12.0_f64.sqrt(),
            ),
        }
    }

    fn points(&self) -> Vec<Point> {
        let read = self.bins.iter().filter(|(_, _, n)| *n > 0);
        read.map(|(sum_pa, sum_m, n)| Point {
            pressure_pa: sum_pa / f64::from(*n),
            way_m: sum_m / f64::from(*n),
        })
        .collect()
    }

    fn given(&self, known: &Squeezed<'_>) -> Result<Given, String> {
        let Fluid::Oil(oil) = &known.subject.fluid else {
            return Err("a gas has no free air".into());
        };
        let start = Length::new::<meter>(self.start.map_or(0.0, |start| start.1));
        let enclosure = Enclosure {
            chamber: self.cylinder.volume(Chamber::Rod, start),
            wall: self.cylinder.wall_stiffness(),
            hose: known.subject.circuit.rod_hose,
            hose_stiffness: Pressure::new::<pascal>(HOSE_STIFFNESS_PA),
        };
        let volume_m3 = enclosure.volume().value;
        let hose = enclosure.hose.value / HOSE_STIFFNESS_PA / volume_m3;
        let stiffness = match known.t_oil_k {
            Some(k) => oil.stiffness_at(Temperature::new::<crate::quantity::unit::kelvin>(k)),
            None => oil.stiffness(),
        };
        Ok(Given {
            area_m2: self.cylinder.area(Chamber::Rod).value,
            volume_m3,
            wall_per_pa: enclosure.softness_per_pa() - hose,
            hose_per_pa: hose,
            law: AeratedOil {
                stiffness_pa: stiffness.value,
                stiffening: STIFFENING,
                air: 0.0,
                air_exponent: self.exponent().0,
            },
            zero_pa: 0.0,
            span: 0.0,
        })
    }
}

/// What each input that is not known exactly does to the share: found by moving it by its own
/// uncertainty (JCGM 100, 5.1.3 note 2).
fn budget(
    points: &[Point],
    (given, lags): (&Given, f64),
    known: &Squeezed<'_>,
    value: f64,
) -> Vec<Contribution> {
    let moved = |change: &dyn Fn(&mut Given)| {
        let mut other = *given;
        change(&mut other);
        (share(points, &other) - value).abs()
    };
    let parts: [(&'static str, f64, &'static str); 6] = [
        (
            "stiffness of the oil",
            moved(&|g| g.law.stiffness_pa *= 1.0 - OIL_RELATIVE),
            "measure it on oil without air",
        ),
        (
            "stiffness of the hose",
            moved(&|g| g.hose_per_pa *= 1.0 + HOSE_RELATIVE),
            "shut the rod end at its port, without a hose",
        ),
        (
            "volume of the rod end",
            moved(&|g| g.volume_m3 *= 1.0 + VOLUME_RELATIVE),
            "measure the dead volume",
        ),
        (
            "whether the air kept its temperature",
            moved(&|g| g.law.air_exponent += lags),
            "raise the pressure more slowly",
        ),
        (
            "zero of the rod-end sensor",
            moved(&|g| g.zero_pa += known.pressure.zero_si),
            "calibrate the sensor",
        ),
        (
            "spans of pressure and position",
            moved(&|g| g.span += known.pressure.span_relative)
                .hypot(value.abs() * known.position.span_relative),
            "calibrate the sensors",
        ),
    ];
    let mut budget: Vec<Contribution> = parts
        .into_iter()
        .map(|(source, standard_si, remedy)| Contribution {
            source,
            standard_si,
            degrees_of_freedom: None,
            remedy,
        })
        .collect();
    let (standard_si, freedom) = fit::scatter(points, given, value);
    budget.push(Contribution {
        source: "scatter of the readings",
        standard_si,
        degrees_of_freedom: Some(freedom),
        remedy: "raise the pressure more slowly",
    });
    budget
}

#[cfg(test)]
mod tests;
