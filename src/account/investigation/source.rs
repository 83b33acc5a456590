//! A phase as the joint fit sees it: sums, what drove them, what was seen. Measured phases
//! become one; so do phases that nobody has held yet, to see what they would tell.

use super::phase::Look;
use super::phase::Phase;
use super::phase::Seen;
use super::way::Way;
use super::way::chambers;
use super::way::has_piston;
use super::way::outlets;
use crate::account::Drive;
use crate::account::FigureName;
use crate::account::leaks::laminar;
use crate::circuit::Circuit;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;
use crate::fit::Matrix;
use crate::oil::AIR_IN_A_HOLD;
use crate::oil::AeratedOil;
use crate::oil::Oil;
use crate::quantity::Temperature;
use crate::quantity::unit::kelvin;

/// How well the density of oil in a vessel is known against that under pressure: air that it
/// holds there, and what comes out of solution (common practice of ours, no source).
const DENSITY_PART: f64 = 0.005;

/// Rise of the oil's stiffness with pressure, as in the account of one hold.
const STIFFENING: f64 = 10.0;

/// The sums of one phase.
#[derive(Clone)]
pub(super) struct Source<'a> {
    pub circuit: Circuit,
    pub kind: Option<Kind>,
    pub oil: Option<&'a Oil>,
    pub drive: Drive,
    /// Chambers with a sum, cap before rod.
    pub chambers: Vec<Chamber>,
    /// Their means, m³/s.
    pub measured: Vec<f64>,
    /// Covariance of their errors, (m³/s)².
    pub covariance: Matrix,
    /// Oil past the piston into an open chamber, with its standard uncertainty, m³/s.
    pub past_piston: Option<(Chamber, f64, f64)>,
    pub seen: Seen,
}

impl<'a> Source<'a> {
    /// The sums of a phase; None if its hold gave none.
    pub fn of(phase: &Phase<'a>) -> Option<Self> {
        let counted = phase.evaluation.counted.as_ref()?;
        Some(Self {
            circuit: phase.subject.circuit,
            kind: phase.kind(),
            oil: phase.oil(),
            drive: counted.drive.clone(),
            chambers: counted.chambers.clone(),
            measured: counted.mean_m3_per_s.clone(),
            covariance: counted.covariance.clone(),
            past_piston: past_piston(phase),
            seen: phase.seen,
        })
    }

    /// Ways that oil can take in this phase.
    pub fn ways(&self) -> Vec<Way> {
        let mut ways = Vec::new();
        if has_piston(self.kind) {
            ways.extend([Way::Piston(Chamber::Cap), Way::Piston(Chamber::Rod)]);
        }
        for chamber in chambers(self.kind) {
            ways.extend(outlets(&self.circuit, self.kind, *chamber));
        }
        ways
    }

    /// Mean pressure that drives a way, Pa; None where it was not measured.
    pub fn mean_drive(&self, way: Way) -> Option<f64> {
        let driven = way.driven_by(self.kind, &self.drive)?;
        Some(driven.iter().sum::<f64>() / driven.len().max(1) as f64)
    }

    /// A way's mean flow over the phase by its flow at a pressure and at an oil temperature
    /// (that of this phase without one).
    pub fn carried(&self, way: Way, at_pa: f64, at_k: Option<f64>, exponent: f64) -> f64 {
        let Some(driven) = way.driven_by(self.kind, &self.drive) else {
            return 0.0;
        };
        let shape = driven.iter().map(|p| (p / at_pa.max(1.0)).powf(exponent));
        let mean = shape.sum::<f64>() / driven.len().max(1) as f64;
        mean * self.thinner(at_k).powf(laminar(exponent))
    }

    /// Viscosity at a temperature by that in this phase.
    fn thinner(&self, at_k: Option<f64>) -> f64 {
        let (Some(at), Some(now), Some(oil)) = (at_k, self.drive.oil_k, self.oil) else {
            return 1.0;
        };
        let viscosity = |k: f64| oil.viscosity(Temperature::new::<kelvin>(k)).mm2_per_s();
        viscosity(at) / viscosity(now)
    }

    /// What was seen of a way.
    pub fn look(&self, way: Way) -> Option<Look> {
        match way {
            Way::Gland => self.seen.gland,
            Way::Plug(Chamber::Cap) => self.seen.cap_port,
            Way::Plug(Chamber::Rod) => self.seen.rod_port,
            Way::Piston(_) | Way::Valve(..) => None,
        }
    }
}

/// Oil past the piston into a chamber that is open, by what was collected there and how far
/// the rod moved, with its standard uncertainty, m³/s.
fn past_piston(phase: &Phase<'_>) -> Option<(Chamber, f64, f64)> {
    let collected = phase.seen.collected?;
    let cylinder = phase.cylinder()?;
    let chamber = collected.chamber;
    let (from, until) = phase.evaluation.hold_s;
    let flow = collected.volume_m3 / (until - from);
    let of_flow = collected.standard_m3 / (until - from);
    let denser = denser(phase);
    // A vented side is full of air: nothing is drawn in that would be missed.
    if !cylinder.kind().chambers().contains(&chamber) {
        let standard = of_flow.hypot(DENSITY_PART * flow.abs());
        return Some((chamber, flow / denser, standard));
    }
    let moved = phase.evaluation.figure(FigureName::Drift)?.measured?;
    let area = match chamber {
        Chamber::Cap => cylinder.cap_area().value,
        Chamber::Rod => -cylinder.annulus_area().value,
    };
    let passed = flow + area * moved.value_si;
    let of_moved = area * moved.standard_si;
    let standard = of_flow.hypot(of_moved).hypot(DENSITY_PART * passed.abs());
    Some((chamber, passed / denser, standard))
}

/// By which oil under the pressure of the holding side is denser than in a vessel: squeezed
/// oil, and air that takes no room there.
fn denser(phase: &Phase<'_>) -> f64 {
    let counted = phase.evaluation.counted.as_ref();
    let (Some(counted), Some(oil)) = (counted, phase.oil()) else {
        return 1.0;
    };
    let pressures = match phase.circuit().holding_chamber() {
        Chamber::Cap => Some(&counted.drive.p_cap_pa),
        Chamber::Rod => counted.drive.p_rod_pa.as_ref(),
    };
    let mean = pressures.map_or(0.0, |p| p.iter().sum::<f64>() / p.len().max(1) as f64);
    let law = AeratedOil {
        stiffness_pa: oil.stiffness().value,
        stiffening: STIFFENING,
        air: counted.air.value_si.clamp(0.0, 0.1),
        air_exponent: AIR_IN_A_HOLD,
    };
    law.log_density(mean.max(0.0)).exp()
}
