//! The oil balances of the two chambers as a model with priors.
//!
//! Oil in a chamber, referred to its state at the start of the hold, changes by what
//! flows; air, stiffness, heat, probe and sensors are nuisances with stated priors.
//! Only relaxation of temperature enters, because the stiffness is isentropic.
//! Friction enters nowhere: forces are not used.
//!
//! Invariant: residuals are in cubic metre (chambers) and kelvin (probe).

use super::layout::Layout;
use super::layout::P;
use super::series::HoldSeries;
use crate::channel::Role;
use crate::circuit::Circuit;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::fit::Matrix;
use crate::fit::Prior;
use crate::fit::Problem;
use crate::fit::Vector;
use crate::fit::by_differences;
use crate::oil::AIR_IN_A_HOLD;
use crate::oil::AeratedOil;
use crate::oil::Oil;
use crate::oil::PRESSING_HEAT_K_PER_PA;
use crate::oil::STEEL_EXPANSION_PER_K;
use crate::quantity::Length;
use crate::quantity::unit::meter;

/// Second conduction mode of a round column relaxes 5.3 times faster than the first
/// (squares of the first two zeros of J0; 5.27).
const SECOND_MODE: f64 = 5.3;

/// Stiffness of a rubber hose, Pa (from memory, 0.07 to 0.35 GPa).
const HOSE_STIFFNESS_PA: f64 = 0.2e9;

/// Everything the balance needs that is not a parameter.
pub(super) struct Balance<'a> {
    pub cylinder: &'a Cylinder,
    pub oil: &'a Oil,
    pub circuit: &'a Circuit,
    pub series: &'a HoldSeries,
    pub layout: Layout,
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

/// Flows on the fine bins, m³/s at the state of the load-holding chamber.
pub(super) struct Flows {
    /// Out of the cap side.
    pub cap: Vec<f64>,
    /// Into the rod side.
    pub rod: Vec<f64>,
}

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

    /// Leak flows by their laws on the fine bins.
    pub fn flows(&self, theta: &Vector, state: &State) -> Flows {
        let n = self.layout.get(theta, P::PistonExponent);
        let m = self.layout.get(theta, P::PortExponent);
        let across: Vec<f64> = state
            .p_cap
            .iter()
            .zip(&state.p_rod)
            .map(|(c, r)| c - r.max(-1e5))
            .collect();
        let law = |p: f64, reference: f64, exponent: f64| {
            p.signum() * (p.abs() / reference).powf(exponent)
        };
        let piston = normalised(
            across
                .iter()
                .map(|p| law(*p, self.reference[0], n))
                .collect(),
        );
        let cap_port = normalised(
            state
                .p_cap
                .iter()
                .map(|p| law(p.max(0.0), self.reference[1], m))
                .collect(),
        );
        let rod_port = normalised(
            state
                .p_rod
                .iter()
                .map(|p| law(p.max(0.0), self.reference[2], m))
                .collect(),
        );
        let share = self.layout.get(theta, P::Share);
        let (loss, gain) = (
            self.layout.get(theta, P::CapLoss),
            self.layout.get(theta, P::RodGain),
        );
        let mix = |a: f64, x: &[f64], b: f64, y: &[f64]| -> Vec<f64> {
            x.iter().zip(y).map(|(x, y)| a * x + b * y).collect()
        };
        if self.layout.cap_live {
            let piston_mean = (1.0 - share) * loss;
            Flows {
                cap: mix(piston_mean, &piston, share * loss, &cap_port),
                rod: mix(piston_mean, &piston, gain - piston_mean, &rod_port),
            }
        } else {
            // The rod side alone is live: what it gains is minus what it loses, part of
            // it past the piston towards the cap.
            Flows {
                cap: vec![0.0; across.len()],
                rod: mix((1.0 - share) * gain, &piston, share * gain, &rod_port),
            }
        }
    }

    /// Temperatures of a chamber.
    fn heat(&self, theta: &Vector, chamber: Chamber, pressure: &[f64]) -> Heat {
        let get = |p: P| self.layout.get(theta, p);
        let rod = chamber == Chamber::Rod;
        let hot = get(P::Hot) + if rod { get(P::HotRod) } else { 0.0 };
        let tau = (get(P::LnTau) + if rod { get(P::LnTauRod) } else { 0.0 }).exp();
        let (weight, rate, bend) = (get(P::SecondMode), get(P::WallRate), get(P::WallBend));
        let wall = |t: f64| rate * t + bend * t * t / self.series.length_s;
        let modes = [(1.0 - weight, tau), (weight, tau / SECOND_MODE)];
        let mut y = [hot, hot * get(P::HotSecond)];
        let mut before = (0.0, pressure.first().copied().unwrap_or(0.0));
        let first = before.1;
        let start: f64 = y.iter().zip(&modes).map(|(y, (w, _))| y * w).sum();
        let (mut relaxed, mut oil) = (
            Vec::with_capacity(pressure.len()),
            Vec::with_capacity(pressure.len()),
        );
        for (t, p) in self.series.t.iter().zip(pressure) {
            let step = t - before.0;
            let pressing = PRESSING_HEAT_K_PER_PA * (p - before.1);
            for (value, (_, tau)) in y.iter_mut().zip(&modes) {
                let keep = (-step / tau).exp();
                *value = wall(*t) + (*value - wall(before.0)) * keep + pressing;
            }
            before = (*t, *p);
            let mean: f64 = y.iter().zip(&modes).map(|(y, (w, _))| y * w).sum();
            oil.push(mean);
            relaxed.push(mean - start - PRESSING_HEAT_K_PER_PA * (p - first));
        }
        let wall = self.series.t.iter().map(|t| wall(*t)).collect();
        Heat { relaxed, oil, wall }
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

    /// Oil of a chamber in m³ at its state at the start: what is there now less what
    /// was there first, and of that the parts by squeeze and by heat.
    pub fn oil(&self, theta: &Vector, chamber: Chamber, state: &State) -> ChamberOil {
        let (p, hose) = match chamber {
            Chamber::Cap => (&state.p_cap, self.circuit.cap_hose.value),
            Chamber::Rod => (&state.p_rod, self.circuit.rod_hose.value),
        };
        let (area, dead) = match chamber {
            Chamber::Cap => (
                self.cylinder.cap_area().value,
                self.layout.get(theta, P::DeadCap),
            ),
            Chamber::Rod => (
                -self.cylinder.annulus_area().value,
                self.layout.get(theta, P::DeadRod),
            ),
        };
        let law = self.aerated(theta, chamber);
        let wall = (-self.layout.get(theta, P::LnWall)).exp();
        let hose_stiffness = HOSE_STIFFNESS_PA * self.layout.get(theta, P::LnHose).exp();
        let alpha =
            self.oil.expansion().per_kelvin() * (1.0 + self.layout.get(theta, P::Expansion));
        let heat = self.heat(theta, chamber, p);
        let volume_at = |x: f64| {
            let x = Length::new::<meter>(x);
            self.cylinder.volume(chamber, x).value + dead + hose
        };
        let first = (p[0], law.log_density(p[0]), volume_at(state.x[0]));
        let mut out = ChamberOil {
            change: Vec::new(),
            squeeze: Vec::new(),
            heat: Vec::new(),
            density: Vec::new(),
        };
        for (index, pressure) in p.iter().enumerate() {
            let pressed = law.log_density(*pressure) - first.1 + (pressure - first.0) * wall;
            let volume = first.2 + area * (state.x[index] - state.x[0]);
            let swollen = volume + hose * (pressure - first.0) / hose_stiffness;
            // The oil swells with its own temperature, the steel round it with the wall's.
            let swelling =
                alpha * heat.relaxed[index] - 3.0 * STEEL_EXPANSION_PER_K * heat.wall[index];
            let density = (pressed - swelling).exp();
            out.change.push(swollen * density - first.2);
            out.squeeze.push(swollen * pressed.exp() - volume);
            out.heat.push(volume * (density - pressed.exp()));
            out.density.push(density);
        }
        out
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

    fn evaluate(&self, theta: &Vector, copy: Copy) -> Vector {
        let state = self.state(theta, copy);
        let flows = self.flows(theta, &state);
        let mut residuals: Vec<f64> = Vec::new();
        let cap = self
            .layout
            .cap_live
            .then(|| self.oil(theta, Chamber::Cap, &state));
        let rod = self
            .layout
            .rod_live
            .then(|| self.oil(theta, Chamber::Rod, &state));
        // Flows are volumes at the holding chamber's state; what arrives in the other
        // chamber is the same mass at another density.
        let holding = if self.layout.cap_live {
            cap.as_ref()
        } else {
            rod.as_ref()
        };
        if let Some(oil) = &cap {
            let out = self.cumulated(&flows.cap, |i| oil.density[i]);
            let fine: Vec<f64> = oil.change.iter().zip(&out).map(|(m, q)| m + q).collect();
            let offset = self.layout.get(theta, P::OffsetCap);
            residuals.extend(self.series.block_means(&fine).iter().map(|r| r - offset));
        }
        if let (Some(oil), Some(holding)) = (&rod, holding) {
            let ratio = if self.layout.cap_live {
                self.density_ratio(theta, &state)
            } else {
                1.0
            };
            let gained = self.cumulated(&flows.rod, |i| holding.density[i] * ratio);
            let fine: Vec<f64> = oil.change.iter().zip(&gained).map(|(m, q)| m - q).collect();
            let offset = self.layout.get(theta, P::OffsetRod);
            residuals.extend(self.series.block_means(&fine).iter().map(|r| r - offset));
        }
        if let Some((probe, chamber)) = self
            .layout
            .probe
            .and_then(|c| Some((self.series.signal(Role::OilTemperature)?, c)))
        {
            let pressure = if chamber == Chamber::Cap {
                &state.p_cap
            } else {
                &state.p_rod
            };
            let oil = self.heat(theta, chamber, pressure).oil;
            let data = probe.copy(copy);
            let seen = self.probe(theta, &oil);
            let offset = self.layout.get(theta, P::OffsetProbe);
            // Relative to the first value, so that the offset stays small.
            let fine: Vec<f64> = data
                .iter()
                .zip(&seen)
                .map(|(d, s)| d - data[0] - s + seen[0])
                .collect();
            residuals.extend(self.series.block_means(&fine).iter().map(|r| r - offset));
        }
        Vector::from_vec(residuals)
    }

    /// Density at the start, cap side by rod side, of the air-free oil.
    fn density_ratio(&self, theta: &Vector, state: &State) -> f64 {
        let law = AeratedOil {
            air: 0.0,
            ..self.aerated(theta, Chamber::Cap)
        };
        (law.log_density(state.p_cap[0]) - law.log_density(state.p_rod[0])).exp()
    }

    /// What the probe shows: part oil, part wall, with a first-order lag.
    fn probe(&self, theta: &Vector, oil: &[f64]) -> Vec<f64> {
        let get = |p: P| self.layout.get(theta, p);
        let (part, lag) = (get(P::ProbePart), get(P::LnLag).exp());
        let wall = |t: f64| get(P::WallRate) * t + get(P::WallBend) * t * t / self.series.length_s;
        let mut shown = part * oil.first().copied().unwrap_or(0.0) + get(P::ProbeStart);
        let mut before = 0.0;
        self.series
            .t
            .iter()
            .zip(oil)
            .map(|(t, oil)| {
                let target = part * oil + (1.0 - part) * wall(*t);
                shown = target + (shown - target) * (-(t - before) / lag).exp();
                before = *t;
                shown
            })
            .collect()
    }
}

/// Temperatures of a chamber on the fine bins, K.
struct Heat {
    /// Oil over its isentropic course, relative to the start.
    relaxed: Vec<f64>,
    /// Oil over the wall's temperature at the start.
    oil: Vec<f64>,
    /// Wall over its temperature at the start.
    wall: Vec<f64>,
}

/// Oil of one chamber over the hold, m³ at its state at the start.
pub(super) struct ChamberOil {
    /// Oil now less oil at the start.
    pub change: Vec<f64>,
    /// Part of it by pressure.
    pub squeeze: Vec<f64>,
    /// Part of it by temperature.
    pub heat: Vec<f64>,
    /// Density by density at the start.
    pub density: Vec<f64>,
}

impl Problem for Balance<'_> {
    fn residuals(&self, theta: &Vector) -> Vector {
        self.evaluate(theta, Copy::Raw)
    }

    /// From smoothed data: noise in the data must not count as information.
    fn jacobian(&self, theta: &Vector, priors: &[Prior]) -> Matrix {
        by_differences(&|theta| self.evaluate(theta, Copy::Broad), theta, priors)
    }
}

/// A shape with mean one over the hold, also where the pressure acts backwards; with mean
/// size one where it reverses during the hold.
fn normalised(mut shape: Vec<f64>) -> Vec<f64> {
    let n = shape.len().max(1) as f64;
    let mean = shape.iter().sum::<f64>() / n;
    let size = shape.iter().map(|v| v.abs()).sum::<f64>() / n;
    let by = if mean.abs() > 0.3 * size { mean } else { size };
    if by.abs() > 1e-6 {
        shape.iter_mut().for_each(|v| *v /= by);
    } else {
        shape.fill(1.0);
    }
    shape
}
