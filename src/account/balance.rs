//! The oil balances of the two chambers as a model with priors.
//!
//! Oil in a chamber, referred to its state at the start of the hold, changes by what
//! flows; air, stiffness, heat, probe and sensors are nuisances with stated priors.
//! Only relaxation of temperature enters, because the stiffness is isentropic.
//! Friction enters nowhere: forces are not used.
//!
//! Invariant: residuals are in cubic metre (chambers) and kelvin (probe); a stiffness that
//! was measured before is one more, in ln of oil by volume.

use super::heat::Heat;
use super::layout::Layout;
use super::layout::P;
use super::leaks::Flows;
use super::leaks::Shapes;
use super::series::HoldSeries;
use crate::channel::Role;
use crate::circuit::Circuit;
use crate::circuit::HOSE_STIFFNESS_PA;
use crate::circuit::MeasuredStiffness;
use crate::circuit::Pace;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::fit::Matrix;
use crate::fit::Prior;
use crate::fit::Problem;
use crate::fit::Vector;
use crate::fit::by_differences;
use crate::oil::AIR_IN_A_HOLD;
use crate::oil::AIR_IN_A_STROKE;
use crate::oil::AeratedOil;
use crate::oil::Oil;
use crate::oil::STEEL_EXPANSION_PER_K;
use crate::quantity::Length;
use crate::quantity::Temperature;
use crate::quantity::Uncertain;
use crate::quantity::unit::kelvin;
use crate::quantity::unit::meter;
use std::rc::Rc;

/// Everything the balance needs that is not a parameter.
#[derive(Clone)]
pub(super) struct Balance<'a> {
    pub cylinder: &'a Cylinder,
    pub oil: &'a Oil,
    pub circuit: &'a Circuit,
    pub series: &'a HoldSeries,
    pub layout: Layout,
    /// Whether the pressures across the piston cannot be told apart.
    pub is_met: bool,
    /// Until when flows of their own take part, s; None for leaks that stay what they are.
    pub turn_s: Option<f64>,
    /// By which the oil's viscosity falls, ln by kelvin, at the hold's temperature.
    pub thinning_per_k: f64,
    /// Fixed reference pressures of the leak laws: across the piston, cap, rod; Pa.
    pub reference: [f64; 3],
}

/// Which copy of the data to use.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Copy {
    /// As measured.
    Raw,
    /// Lightly smoothed: for what is stated.
    Smooth,
    /// Smoothed over half the hold: for derivatives, where noise must not count.
    Broad,
}

/// Corrected data on the fine bins.
pub(super) struct State {
    pub p_cap: Vec<f64>,
    pub p_rod: Vec<f64>,
    pub x: Vec<f64>,
}

/// What is computed on the way from parameters to residuals. A change of one parameter
/// leaves most of it as it is: derivatives by differences share it.
#[derive(Clone)]
struct Pieces {
    state: Rc<State>,
    shapes: Rc<Shapes>,
    /// Cap and rod chamber, if they are accounted for.
    sides: [Option<Side>; 2],
    /// The probe's chamber.
    probed: Option<Rc<Heat>>,
}

/// One chamber on the bins.
#[derive(Clone)]
struct Side {
    /// Logarithm of the oil's density by pressure alone.
    log_density: Rc<Vec<f64>>,
    heat: Rc<Heat>,
}

/// Parameters of the measured courses.
const STATE: [P; 7] = [
    P::ZeroCap,
    P::SpanCap,
    P::DriftCap,
    P::ZeroRod,
    P::SpanRod,
    P::DriftRod,
    P::SpanX,
];

/// Parameters of the density law.
const DENSITY: [P; 4] = [P::LnStiffness, P::Stiffening, P::Air, P::AirRod];

impl Balance<'_> {
    /// Data corrected by the sensor nuisances.
    pub fn state(&self, theta: &Vector, copy: Copy) -> State {
        let n = self.series.t.len();
        let pressure = |role: Role, zero: P, span: P, drift: P| -> Vec<f64> {
            let Some(signal) = self.series.signal(role) else {
                return vec![0.0; n];
            };
            let data = signal.copy(copy);
            let (zero, span) = (self.layout.get(theta, zero), self.layout.get(theta, span));
            let drift = self.layout.get(theta, drift) / self.series.length_s;
            data.iter()
                .zip(&self.series.t)
                .map(|(p, t)| p * (1.0 - span) - zero - drift * t)
                .collect()
        };
        let x = match self.series.signal(Role::Position) {
            None => vec![0.0; n],
            Some(signal) => {
                let data = signal.copy(copy);
                let span = self.layout.get(theta, P::SpanX);
                data.iter().map(|x| x * (1.0 - span)).collect()
            }
        };
        State {
            p_cap: pressure(Role::CapPressure, P::ZeroCap, P::SpanCap, P::DriftCap),
            p_rod: pressure(Role::RodPressure, P::ZeroRod, P::SpanRod, P::DriftRod),
            x,
        }
    }

    /// Density law of a chamber's oil.
    pub fn aerated(&self, theta: &Vector, chamber: Chamber) -> AeratedOil {
        let extra = if chamber == Chamber::Rod {
            self.layout.get(theta, P::AirRod)
        } else {
            0.0
        };
        AeratedOil {
            stiffness_pa: self.layout.get(theta, P::LnStiffness).exp(),
            stiffening: self.layout.get(theta, P::Stiffening),
            air: (self.layout.get(theta, P::Air) + extra).clamp(0.0, 0.2),
            air_exponent: AIR_IN_A_HOLD,
        }
    }

    /// How much oil goes into `volume` and hose of a chamber by pascal, m³/Pa; `oil` is
    /// the softness of the oil itself, 1/Pa.
    pub fn softness(&self, theta: &Vector, chamber: Chamber, volume: f64, oil: f64) -> f64 {
        let hose = match chamber {
            Chamber::Cap => self.circuit.cap_hose.value,
            Chamber::Rod => self.circuit.rod_hose.value,
        };
        let wall = (-self.layout.get(theta, P::LnWall)).exp();
        let hose_stiffness = HOSE_STIFFNESS_PA * self.layout.get(theta, P::LnHose).exp();
        (volume + hose) * (oil + wall) + hose / hose_stiffness
    }

    /// Cumulated volume of a flow on the fine bins, weighted by `weight`, from the start.
    pub fn cumulated(&self, flow: &[f64], weight: impl Fn(usize) -> f64) -> Vec<f64> {
        let t = &self.series.t;
        let mut sum = flow.first().map_or(0.0, |q| q * weight(0) * t[0]);
        let mut out = Vec::with_capacity(flow.len());
        for index in 0..flow.len() {
            if index > 0 {
                let mean =
                    0.5 * (flow[index] * weight(index) + flow[index - 1] * weight(index - 1));
                sum += mean * (t[index] - t[index - 1]);
            }
            out.push(sum);
        }
        out
    }

    /// Density at the start, cap side by rod side, of the air-free oil.
    fn density_ratio(&self, theta: &Vector, state: &State) -> f64 {
        let law = AeratedOil {
            air: 0.0,
            ..self.aerated(theta, Chamber::Cap)
        };
        (law.log_density(state.p_cap[0]) - law.log_density(state.p_rod[0])).exp()
    }
}

impl Balance<'_> {
    /// Pieces at `theta`, taking from `known` what its parameters share.
    fn pieces(&self, theta: &Vector, copy: Copy, known: Option<(&Vector, &Pieces)>) -> Pieces {
        let alike = |parameters: &[P]| {
            known.filter(|(at, _)| {
                let same = |p: &P| self.layout.get(at, *p) == self.layout.get(theta, *p);
                parameters.iter().all(same)
            })
        };
        let same_state = alike(&STATE);
        let state = match same_state {
            Some((_, known)) => known.state.clone(),
            None => Rc::new(self.state(theta, copy)),
        };
        let alike = |parameters: &[P]| same_state.and_then(|_| alike(parameters));
        let shapes = match alike(&Shapes::PARAMETERS) {
            Some((_, known)) => known.shapes.clone(),
            None => Rc::new(Shapes::of(self, theta, &state)),
        };
        let (same_heat, same_density) = (alike(&Heat::PARAMETERS), alike(&DENSITY));
        let pressure = |chamber: Chamber| match chamber {
            Chamber::Cap => &state.p_cap,
            Chamber::Rod => &state.p_rod,
        };
        let heat = |chamber: Chamber| Rc::new(Heat::of(self, theta, chamber, pressure(chamber)));
        let side = |place: usize, chamber: Chamber| {
            let before = |same: Option<(&Vector, &Pieces)>| {
                same.and_then(|(_, known)| known.sides[place].clone())
            };
            Side {
                log_density: match before(same_density) {
                    Some(side) => side.log_density,
                    None => {
                        let law = self.aerated(theta, chamber);
                        let at = pressure(chamber).iter().map(|p| law.log_density(*p));
                        Rc::new(at.collect())
                    }
                },
                heat: match before(same_heat) {
                    Some(side) => side.heat,
                    None => heat(chamber),
                },
            }
        };
        let sides = [
            self.layout.cap_live.then(|| side(0, Chamber::Cap)),
            self.layout.rod_live.then(|| side(1, Chamber::Rod)),
        ];
        let probed = self.layout.probe.map(|chamber| {
            let own = &sides[usize::from(chamber == Chamber::Rod)];
            let before = same_heat.and_then(|(_, known)| known.probed.clone());
            match (own, before) {
                (Some(side), _) => side.heat.clone(),
                (None, Some(before)) => before,
                (None, None) => heat(chamber),
            }
        });
        Pieces {
            state,
            shapes,
            sides,
            probed,
        }
    }

    /// Oil of a chamber in m³ at its state at the start: what is there now less what
    /// was there first, and its density.
    fn oil_of(&self, theta: &Vector, chamber: Chamber, pieces: &Pieces) -> Option<ChamberOil> {
        let side = pieces.sides[usize::from(chamber == Chamber::Rod)].as_ref()?;
        let place = self.place(theta, chamber, &pieces.state);
        let p = match chamber {
            Chamber::Cap => &pieces.state.p_cap,
            Chamber::Rod => &pieces.state.p_rod,
        };
        let (p0, first_density) = (p[0], side.log_density[0]);
        let mut out = ChamberOil {
            change: Vec::with_capacity(p.len()),
            density: Vec::with_capacity(p.len()),
        };
        for (index, pressure) in p.iter().enumerate() {
            let pressed = side.log_density[index] - first_density + (pressure - p0) * place.wall;
            // The oil swells with its own temperature, the steel round it with the wall's.
            let swelling = place.alpha * side.heat.relaxed[index]
                - 3.0 * STEEL_EXPANSION_PER_K * side.heat.wall[index];
            let density = (pressed - swelling).exp();
            let volume = place.volume + place.area * (pieces.state.x[index] - pieces.state.x[0]);
            let swollen = volume + place.hose_by_pa * (pressure - p0);
            out.change.push(swollen * density - place.volume);
            out.density.push(density);
        }
        Some(out)
    }

    /// The chamber as a vessel at `theta`.
    fn place(&self, theta: &Vector, chamber: Chamber, state: &State) -> Place {
        let get = |p: P| self.layout.get(theta, p);
        let (hose, area, dead) = match chamber {
            Chamber::Cap => (
                self.circuit.cap_hose.value,
                self.cylinder.cap_area().value,
                get(P::DeadCap),
            ),
            Chamber::Rod => (
                self.circuit.rod_hose.value,
                -self.cylinder.annulus_area().value,
                get(P::DeadRod),
            ),
        };
        let x = Length::new::<meter>(state.x[0]);
        Place {
            volume: self.cylinder.volume(chamber, x).value + dead + hose,
            area,
            hose_by_pa: hose / (HOSE_STIFFNESS_PA * get(P::LnHose).exp()),
            wall: (-get(P::LnWall)).exp(),
            alpha: self.oil.expansion().per_kelvin() * (1.0 + get(P::Expansion)),
        }
    }

    /// Oil of a chamber over the hold, for what is derived after the fit.
    ///
    /// # Panics
    /// If the chamber is not accounted for.
    pub fn oil(&self, theta: &Vector, chamber: Chamber, copy: Copy) -> ChamberOil {
        let pieces = self.pieces(theta, copy, None);
        self.oil_of(theta, chamber, &pieces)
            .expect("only chambers that are accounted for are asked about")
    }

    /// Oil of a chamber that only seems lost, m³ on the bins: by pressure, and by heat.
    pub fn seeming(&self, theta: &Vector, chamber: Chamber) -> (Vec<f64>, Vec<f64>) {
        let pieces = self.pieces(theta, Copy::Raw, None);
        let oil = self.oil_of(theta, chamber, &pieces);
        let side = &pieces.sides[usize::from(chamber == Chamber::Rod)];
        let (Some(oil), Some(side)) = (oil, side) else {
            return (Vec::new(), Vec::new());
        };
        let (state, place) = (&pieces.state, self.place(theta, chamber, &pieces.state));
        let p = match chamber {
            Chamber::Cap => &state.p_cap,
            Chamber::Rod => &state.p_rod,
        };
        let parts = (0..p.len()).map(|index| {
            let rise = p[index] - p[0];
            let pressed = side.log_density[index] - side.log_density[0] + rise * place.wall;
            let volume = place.volume + place.area * (state.x[index] - state.x[0]);
            let squeezed = (volume + place.hose_by_pa * rise) * pressed.exp() - volume;
            (squeezed, volume * (oil.density[index] - pressed.exp()))
        });
        parts.unzip()
    }

    /// Leak flows on the bins.
    pub fn flows(&self, theta: &Vector, copy: Copy) -> Flows {
        let pieces = self.pieces(theta, copy, None);
        self.flows_of(theta, &pieces)
    }

    fn flows_of(&self, theta: &Vector, pieces: &Pieces) -> Flows {
        let heat = [0, 1].map(|side| pieces.sides[side].as_ref().map(|side| &*side.heat));
        pieces.shapes.flows(self, theta, heat)
    }

    fn residuals_of(&self, theta: &Vector, copy: Copy, pieces: &Pieces) -> Vector {
        let flows = self.flows_of(theta, pieces);
        let cap = self.oil_of(theta, Chamber::Cap, pieces);
        let rod = self.oil_of(theta, Chamber::Rod, pieces);
        let mut residuals: Vec<f64> = Vec::with_capacity(3 * self.series.n_blocks);
        let mut add = |fine: Vec<f64>, offset: f64| {
            residuals.extend(self.series.block_means(&fine).iter().map(|r| r - offset));
        };
        // Flows are volumes at the holding chamber's state; what arrives in the other
        // chamber is the same mass at another density.
        let holding = cap.as_ref().or(rod.as_ref());
        if let Some(oil) = &cap {
            let out = self.cumulated(&flows.cap, |i| oil.density[i]);
            let fine = oil.change.iter().zip(&out).map(|(m, q)| m + q);
            add(fine.collect(), self.layout.get(theta, P::OffsetCap));
        }
        if let (Some(oil), Some(holding)) = (&rod, holding) {
            let ratio = match cap {
                Some(_) => self.density_ratio(theta, &pieces.state),
                None => 1.0,
            };
            let gained = self.cumulated(&flows.rod, |i| holding.density[i] * ratio);
            let fine = oil.change.iter().zip(&gained).map(|(m, q)| m - q);
            add(fine.collect(), self.layout.get(theta, P::OffsetRod));
        }
        let signal = self.series.signal(Role::OilTemperature);
        if let (Some(heat), Some(signal)) = (&pieces.probed, signal) {
            let (seen, data) = (heat.probe(self, theta), signal.copy(copy));
            // Relative to the first value, so that the offset stays small.
            let fine = data.iter().zip(&seen);
            let fine = fine.map(|(d, s)| d - data[0] - s + seen[0]);
            add(fine.collect(), self.layout.get(theta, P::OffsetProbe));
        }
        residuals.extend(
            self.squeezed(theta, AIR_IN_A_TEST)
                .map(|(_, residual)| residual),
        );
        Vector::from_vec(residuals)
    }
}

/// Exponent of the air in a quick test of stiffness: bubbles of any size lie between those
/// that keep the oil's temperature and those that have no time to.
const AIR_IN_A_TEST: f64 = 0.5 * (AIR_IN_A_HOLD + AIR_IN_A_STROKE);

impl Balance<'_> {
    /// The stiffness that was measured before, if its chamber is accounted for: what was
    /// pressed in by volume, and what the model says beyond it; `exponent` is that of the air
    /// in a quick test.
    fn squeezed(&self, theta: &Vector, exponent: f64) -> Option<(Uncertain<f64>, f64)> {
        let measured = self.measured_stiffness()?;
        let step = measured.step();
        let mut law = self.aerated(theta, step.chamber);
        law.air_exponent = exponent;
        if step.pace == Pace::Slow {
            let at = Temperature::new::<kelvin>(self.series.oil_k().0);
            law.stiffness_pa *=
                self.oil.isothermal_stiffness_at(at).value / self.oil.stiffness_at(at).value;
            law.air_exponent = AIR_IN_A_HOLD;
        }
        let (from, to) = (step.from.pa(), step.to.pa());
        let trapped = self.cylinder.volume(step.chamber, step.at).value;
        let whole = trapped + self.circuit.hose(step.chamber).value;
        let softness = self.softness(theta, step.chamber, trapped, 0.0) / whole;
        let model = law.log_density(to) - law.log_density(from) + (to - from) * softness;
        let squeeze = measured.squeeze();
        Some((squeeze, model - squeeze.value))
    }

    /// The stiffness that was measured before, if it takes part.
    pub fn measured_stiffness(&self) -> Option<&MeasuredStiffness> {
        let live = |chamber| match chamber {
            Chamber::Cap => self.layout.cap_live,
            Chamber::Rod => self.layout.rod_live,
        };
        let measured = self.circuit.stiffness.as_ref();
        measured.filter(|m| live(m.step().chamber))
    }

    /// Variance of the measured stiffness round the model: that of the measurement, and of
    /// where between both exponents the air was (rectangular, JCGM 100 4.3.7).
    pub fn squeeze_variance(&self, theta: &Vector) -> Option<f64> {
        let (squeeze, quick) = self.squeezed(theta, AIR_IN_A_STROKE)?;
        let (_, slow) = self.squeezed(theta, AIR_IN_A_HOLD)?;
        Some(squeeze.standard.powi(2) + (quick - slow).powi(2) / 12.0)
    }
}

/// A chamber as a vessel.
struct Place {
    /// At the start, m³.
    volume: f64,
    /// By which it grows with the extension, m²; negative on the rod side.
    area: f64,
    /// What its hose takes up, m³/Pa.
    hose_by_pa: f64,
    /// Softness of its wall, 1/Pa.
    wall: f64,
    /// Expansion of its oil, 1/K.
    alpha: f64,
}

/// Oil of one chamber over the hold.
pub(super) struct ChamberOil {
    /// Oil now less oil at the start, m³ at its state at the start.
    pub change: Vec<f64>,
    /// Density by density at the start.
    pub density: Vec<f64>,
}

impl Problem for Balance<'_> {
    fn residuals(&self, theta: &Vector) -> Vector {
        let pieces = self.pieces(theta, Copy::Raw, None);
        self.residuals_of(theta, Copy::Raw, &pieces)
    }

    /// From smoothed data: noise in the data must not count as information.
    fn jacobian(&self, theta: &Vector, priors: &[Prior]) -> Matrix {
        let known = self.pieces(theta, Copy::Broad, None);
        let residuals = |near: &Vector| {
            let pieces = self.pieces(near, Copy::Broad, Some((theta, &known)));
            self.residuals_of(near, Copy::Broad, &pieces)
        };
        by_differences(&residuals, theta, priors)
    }
}
