//! How leaks follow pressure: each a power of the pressure that drives it.
//!
//! Shapes have mean one over the hold, so that what multiplies them is the mean flow.
//! Laminar flow (exponent 1) follows the viscosity of the oil as it warms or cools, an
//! orifice (0.5) does not; between them in proportion. Flows are volumes at the state of
//! the load-holding chamber.

use super::balance::Balance;
use super::balance::State;
use super::heat::Heat;
use super::layout::P;
use crate::fit::Vector;

/// Part of a leak that follows viscosity, by the exponent of its pressure.
pub(super) fn laminar(exponent: f64) -> f64 {
    (2.0 * exponent - 1.0).clamp(0.0, 1.0)
}

/// Shapes of the three ways over the hold by pressure alone.
pub(super) struct Shapes {
    piston: Vec<f64>,
    cap_port: Vec<f64>,
    rod_port: Vec<f64>,
}

/// Flows on the bins, m³/s at the state of the load-holding chamber.
pub(super) struct Flows {
    /// Out of the cap side.
    pub cap: Vec<f64>,
    /// Into the rod side.
    pub rod: Vec<f64>,
}

impl Shapes {
    /// Parameters that the shapes hang on, beside those of the state.
    pub const PARAMETERS: [P; 2] = [P::PistonExponent, P::PortExponent];

    /// The shapes for the pressures of a hold.
    pub fn of(balance: &Balance<'_>, theta: &Vector, state: &State) -> Self {
        let n = balance.layout.get(theta, P::PistonExponent);
        let m = balance.layout.get(theta, P::PortExponent);
        let law = |p: f64, reference: f64, exponent: f64| {
            p.signum() * (p.abs() / reference).powf(exponent)
        };
        let [across, cap, rod] = balance.reference;
        let port = |pressures: &[f64], reference: f64| {
            let shape = pressures.iter().map(|p| law(p.max(0.0), reference, m));
            shape.collect()
        };
        let both = state.p_cap.iter().zip(&state.p_rod);
        // Pressures that have met say nothing of their difference, which is all zero error.
        let piston = match balance.is_met {
            true => vec![1.0; state.p_cap.len()],
            false => both.map(|(c, r)| law(c - r.max(-1e5), across, n)).collect(),
        };
        Self {
            piston,
            cap_port: port(&state.p_cap, cap),
            rod_port: port(&state.p_rod, rod),
        }
    }

    /// The flows of these shapes, with the oil's temperature in the cap and rod chamber.
    pub fn flows(&self, balance: &Balance<'_>, theta: &Vector, heat: [Option<&Heat>; 2]) -> Flows {
        let get = |p: P| balance.layout.get(theta, p);
        let (share, loss, gain) = (get(P::Share), get(P::CapLoss), get(P::RodGain));
        let [cap_heat, rod_heat] = heat;
        let thinned = |shape: &[f64], exponent: f64, heat: Option<&Heat>| {
            let by_kelvin = laminar(exponent) * balance.thinning_per_k;
            let factors = heat.map(|heat| heat.oil.iter().map(|k| (by_kelvin * k).exp()));
            normalised(match factors {
                Some(factors) => shape.iter().zip(factors).map(|(s, f)| s * f).collect(),
                None => shape.to_vec(),
            })
        };
        let own = cap_heat.or(rod_heat);
        let piston = thinned(&self.piston, get(P::PistonExponent), own);
        let cap_port = thinned(&self.cap_port, get(P::PortExponent), cap_heat);
        let rod_port = thinned(&self.rod_port, get(P::PortExponent), rod_heat);
        let mix = |a: f64, x: &[f64], b: f64, y: &[f64]| -> Vec<f64> {
            x.iter().zip(y).map(|(x, y)| a * x + b * y).collect()
        };
        let mut flows = if balance.layout.cap_live {
            let piston_mean = (1.0 - share) * loss;
            Flows {
                cap: mix(piston_mean, &piston, share * loss, &cap_port),
                rod: mix(piston_mean, &piston, gain - piston_mean, &rod_port),
            }
        } else {
            // The rod side alone is live: what it gains is minus what it loses, part of
            // it past the piston towards the cap.
            Flows {
                cap: vec![0.0; piston.len()],
                rod: mix((1.0 - share) * gain, &piston, share * gain, &rod_port),
            }
        };
        self.add_early(balance, theta, &mut flows);
        flows
    }

    /// Adds what flows before a turn only, by the pressure of the side that holds.
    fn add_early(&self, balance: &Balance<'_>, theta: &Vector, flows: &mut Flows) {
        let Some(turn_s) = balance.turn_s else {
            return;
        };
        let get = |p: P| balance.layout.get(theta, p);
        let (cap, rod) = (get(P::EarlyCap), get(P::EarlyRod));
        let shape = match balance.layout.cap_live {
            true => &self.cap_port,
            false => &self.rod_port,
        };
        let n_early = balance.series.t.partition_point(|t| *t < turn_s);
        for (index, shape) in shape.iter().enumerate().take(n_early) {
            flows.cap[index] += cap * shape;
            flows.rod[index] += rod * shape;
        }
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
