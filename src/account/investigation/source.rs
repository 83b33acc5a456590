//! A phase as the joint fit sees it: sums, what drove them, what was seen. Measured phases
//! become one; so do phases that nobody has held yet, to see what they would tell.

use super::pattern::is_at_setting;
use super::phase::Phase;
use super::way::Way;
use super::way::WaySum;
use super::way::chambers;
use super::way::has_piston;
use super::way::outlets;
use super::way::sum_of;
use crate::account::Drive;
use crate::account::FigureName;
use crate::account::leaks::laminar;
use crate::circuit::Circuit;
use crate::circuit::Look;
use crate::circuit::Seen;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Kind;
use crate::fit::Matrix;
use crate::oil::AIR_IN_A_HOLD;
use crate::oil::AeratedOil;
use crate::oil::Oil;
use crate::quantity::Length;
use crate::quantity::Temperature;
use crate::quantity::unit::kelvin;
use crate::quantity::unit::meter;

/// What oil in a glass may differ by from the same oil in the chamber that holds beyond what
/// its density says: it holds bubbles, and some stays on the walls (common practice, no
/// source).
const GLASS_PART: f64 = 0.02;

/// How much more the oil of one chamber warms over a hold than that of the other, one sigma,
/// K; as in the account of one hold.
pub(super) const APART_K: f64 = 0.5;

/// Below this mean pressure, or three standard uncertainties of the sensors' zeros, nothing is
/// driven that could be told of, Pa.
const DRIVEN_PA: f64 = 0.5e5;

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
    /// Oil of cap and rod side, m³; nothing of a piece that is no cylinder.
    pub volume_m3: [f64; 2],
    /// Their areas, m².
    pub areas_m2: [f64; 2],
    /// Whether the valve that holds stood at its setting.
    pub at_setting: bool,
    /// Whether the rig was held by itself in another phase.
    pub rig_known: bool,
    /// What heat that one chamber has and the other has not swells the oil of cap and rod
    /// side by, one sigma, m³.
    pub swells_m3: [f64; 2],
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
            volume_m3: volume_m3(phase, counted.drive.x_m),
            areas_m2: areas_m2(phase),
            at_setting: is_at_setting(phase),
            rig_known: false,
            swells_m3: swells_m3(phase, counted.drive.x_m),
        })
    }

    /// Whether a way is driven by more than its sensors' zeros could make up.
    pub fn drives(&self, way: Way) -> bool {
        let [cap, rod] = self.drive.zero_pa;
        let zero = match way {
            Way::Piston(_) => cap.hypot(rod),
            Way::Gland if !has_piston(self.kind) => cap,
            Way::Gland | Way::Plug(Chamber::Rod) | Way::Valve(Chamber::Rod, _) => rod,
            Way::Opened(Chamber::Rod) | Way::Rig(Chamber::Rod) => rod,
            Way::Plug(Chamber::Cap) | Way::Valve(Chamber::Cap, _) => cap,
            Way::Opened(Chamber::Cap) | Way::Rig(Chamber::Cap) => cap,
        };
        let mean = self.mean_drive(way);
        mean.is_some_and(|mean| mean > DRIVEN_PA.max(3.0 * zero))
    }

    /// A way as it counts in this phase: a valve at its setting is none that holds, and hoses
    /// count by themselves where they were held by themselves.
    fn counts_as(&self, way: Way) -> Option<Way> {
        let holding = self.circuit.holding_chamber();
        match way {
            Way::Valve(chamber, _) if self.at_setting && chamber == holding => {
                Some(Way::Opened(chamber))
            }
            Way::Rig(_) => self.rig_known.then_some(way),
            _ => Some(way),
        }
    }

    /// What a chamber's sum consists of in this phase.
    pub fn sum_of(&self, chamber: Chamber) -> WaySum {
        let sum = sum_of(&self.circuit, self.kind, chamber);
        let counted = |ways: Vec<Way>| ways.into_iter().filter_map(|w| self.counts_as(w)).collect();
        WaySum {
            gains: counted(sum.gains),
            losses: counted(sum.losses),
        }
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
        ways.retain_mut(|way| match self.counts_as(*way) {
            Some(counted) => {
                *way = counted;
                true
            }
            None => false,
        });
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

    /// Takes a chamber's sum away.
    pub fn forget(&mut self, chamber: Chamber) {
        if let Some(index) = self.chambers.iter().position(|c| *c == chamber) {
            self.chambers.remove(index);
            self.measured.remove(index);
            self.covariance = self
                .covariance
                .clone()
                .remove_row(index)
                .remove_column(index);
        }
    }

    /// What was seen of a way.
    pub fn look(&self, way: Way) -> Option<Look> {
        match way {
            Way::Gland => self.seen.gland,
            Way::Plug(Chamber::Cap) => self.seen.cap_port,
            Way::Plug(Chamber::Rod) => self.seen.rod_port,
            // Oil seen at a port that is on its valve is that of its fitting; a dry one says
            // nothing of what passes inside.
            Way::Valve(chamber, _) => {
                let seen = match chamber {
                    Chamber::Cap => self.seen.cap_port,
                    Chamber::Rod => self.seen.rod_port,
                };
                seen.filter(|look| *look == Look::Wet)
            }
            Way::Piston(_) | Way::Opened(_) | Way::Rig(_) => None,
        }
    }
}

/// Oil past the piston into a chamber that is open, by what was collected there, how far the
/// rod moved and how the oil there swelled, with its standard uncertainty, m³/s.
fn past_piston(phase: &Phase<'_>) -> Option<(Chamber, f64, f64)> {
    let collected = phase.seen.collected?;
    let cylinder = phase.cylinder()?;
    let chamber = collected.chamber;
    if !phase.shows_piston(chamber) {
        return None;
    }
    let (from, until) = phase.evaluation.hold_s;
    let flow = collected.volume_m3 / (until - from);
    let of_flow = collected.standard_m3 / (until - from);
    // A vented side is full of air: nothing is drawn in that would be missed.
    if !cylinder.kind().chambers().contains(&chamber) {
        return Some((
            chamber,
            flow / denser(phase),
            of_flow.hypot(GLASS_PART * flow),
        ));
    }
    let moved = phase.evaluation.figure(FigureName::Drift)?.measured?;
    let (swelling, of_swelling) = swelling(phase, cylinder, chamber)?;
    let area = signed_area(cylinder, chamber);
    let passed = (flow + area * moved.value_si - swelling) / denser(phase);
    let of_passed = of_flow
        .hypot(area * moved.standard_si)
        .hypot(of_swelling)
        .hypot(GLASS_PART * passed);
    Some((chamber, passed, of_passed))
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

/// Area that a chamber grows by when the rod extends.
fn signed_area(cylinder: &Cylinder, chamber: Chamber) -> f64 {
    match chamber {
        Chamber::Cap => cylinder.cap_area().value,
        Chamber::Rod => -cylinder.annulus_area().value,
    }
}

/// Oil of cap and rod side at an extension, m³.
fn volume_m3(phase: &Phase<'_>, x_m: f64) -> [f64; 2] {
    let x = Length::new::<meter>(x_m);
    let of = |chamber| phase.cylinder().map_or(0.0, |c| c.volume(chamber, x).value);
    [of(Chamber::Cap), of(Chamber::Rod)]
}

/// Areas of cap and rod side, m²; nothing of a piece that is no cylinder.
fn areas_m2(phase: &Phase<'_>) -> [f64; 2] {
    let of = |chamber| {
        phase
            .cylinder()
            .map_or(0.0, |c| signed_area(c, chamber).abs())
    };
    [of(Chamber::Cap), of(Chamber::Rod)]
}

/// What half a kelvin swells the oil of cap and rod side by, m³; nothing of a piece that is
/// no cylinder.
fn swells_m3(phase: &Phase<'_>, x_m: f64) -> [f64; 2] {
    let (Some(cylinder), Some(oil)) = (phase.cylinder(), phase.oil()) else {
        return [0.0; 2];
    };
    [Chamber::Cap, Chamber::Rod].map(|chamber| {
        let volume = cylinder.volume(chamber, Length::new::<meter>(x_m)).value;
        volume * oil.expansion().per_kelvin() * APART_K
    })
}

/// How the oil of an open chamber swells as it warms, with its standard uncertainty, m³/s.
fn swelling(phase: &Phase<'_>, cylinder: &Cylinder, open: Chamber) -> Option<(f64, f64)> {
    let drive = &phase.evaluation.counted.as_ref()?.drive;
    let volume = |chamber| {
        let x = Length::new::<meter>(drive.x_m);
        cylinder.volume(chamber, x).value
    };
    let holding = open.other();
    let by_heat = phase.evaluation.by_heat_m_per_s.map_or(0.0, |m| m.value_si);
    let own = swells_m3(phase, drive.x_m)[usize::from(open == Chamber::Rod)];
    Some(alike(
        by_heat * signed_area(cylinder, holding),
        volume(open) / volume(holding),
        own / drive.length_s,
    ))
}

/// Swelling of an open chamber's oil as that of the chamber that holds, in m³/s, give or take
/// half of it and the heat that only one of them has.
fn alike(held: f64, open_by_holding: f64, apart: f64) -> (f64, f64) {
    let swelling = held * open_by_holding;
    (swelling, (0.5 * swelling).hypot(apart))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 L that holds swells by 0.06 mL/min; beside it 1.5 L stand open.
    #[test]
    fn oil_in_an_open_chamber_swells_as_that_which_holds() {
        let ml_min = 1e-6 / 60.0;
        let (swelling, standard) = alike(0.06 * ml_min, 1.5, 0.06 * ml_min);
        assert!((swelling / ml_min - 0.09).abs() < 1e-12, "{swelling}");
        assert!((standard / ml_min - 0.075).abs() < 1e-12, "{standard}");
    }
}
