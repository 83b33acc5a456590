//! Temperatures during a hold: oil that relaxes towards a wall that drifts, and a probe
//! that sees part of both, late.
//!
//! Two modes of conduction in a round column. Pressing warms the oil at once; that part
//! is in the isentropic stiffness already, so only its relaxation enters the balance.

use super::balance::Balance;
use super::layout::P;
use crate::cylinder::Chamber;
use crate::fit::Vector;
use crate::oil::PRESSING_HEAT_K_PER_PA;

/// Second conduction mode of a round column relaxes 5.3 times faster than the first
/// (squares of the first two zeros of J0; 5.27).
pub(super) const SECOND_MODE: f64 = 5.3;

/// Temperatures of a chamber on the bins, K.
pub(super) struct Heat {
    /// Oil over its isentropic course, relative to the start.
    pub relaxed: Vec<f64>,
    /// Oil over the wall's temperature at the start.
    pub oil: Vec<f64>,
    /// Wall over its temperature at the start.
    pub wall: Vec<f64>,
}

impl Heat {
    /// Parameters that it hangs on, beside the chamber's pressure.
    pub const PARAMETERS: [P; 8] = [
        P::LnTau,
        P::LnTauRod,
        P::SecondMode,
        P::Hot,
        P::HotRod,
        P::HotSecond,
        P::WallRate,
        P::WallBend,
    ];

    /// Temperatures of a chamber whose pressure takes the course `pressure`.
    pub fn of(balance: &Balance<'_>, theta: &Vector, chamber: Chamber, pressure: &[f64]) -> Self {
        let get = |p: P| balance.layout.get(theta, p);
        let rod = chamber == Chamber::Rod;
        let hot = get(P::Hot) + if rod { get(P::HotRod) } else { 0.0 };
        let tau = (get(P::LnTau) + if rod { get(P::LnTauRod) } else { 0.0 }).exp();
        let weight = get(P::SecondMode);
        let wall = wall(balance, theta);
        let modes = [(1.0 - weight, tau), (weight, tau / SECOND_MODE)];
        let times = &balance.series.t;
        let keep = |step: f64| modes.map(|(_, tau)| (-step / tau).exp());
        // The first middle is half a bin after the start, the others one bin apart.
        let first_keep = keep(times[0]);
        let next_keep = keep(2.0 * times[0]);
        let mean = |y: &[f64; 2]| y[0] * modes[0].0 + y[1] * modes[1].0;
        let mut y = [hot, hot * get(P::HotSecond)];
        let start = mean(&y);
        let first = pressure.first().copied().unwrap_or(0.0);
        let mut before = (0.0, first);
        let mut heat = Self {
            relaxed: Vec::with_capacity(times.len()),
            oil: Vec::with_capacity(times.len()),
            wall: Vec::with_capacity(times.len()),
        };
        for (index, (t, p)) in times.iter().zip(pressure).enumerate() {
            let keep = if index == 0 { first_keep } else { next_keep };
            let pressing = PRESSING_HEAT_K_PER_PA * (p - before.1);
            let at_wall = wall(*t);
            for (value, keep) in y.iter_mut().zip(keep) {
                *value = at_wall + (*value - before.0) * keep + pressing;
            }
            before = (at_wall, *p);
            let oil = mean(&y);
            heat.oil.push(oil);
            heat.relaxed
                .push(oil - start - PRESSING_HEAT_K_PER_PA * (p - first));
            heat.wall.push(at_wall);
        }
        heat
    }

    /// What the probe shows: part oil, part wall, with a first-order lag.
    pub fn probe(&self, balance: &Balance<'_>, theta: &Vector) -> Vec<f64> {
        let get = |p: P| balance.layout.get(theta, p);
        let (part, lag) = (get(P::ProbePart), get(P::LnLag).exp());
        let times = &balance.series.t;
        let keep = |step: f64| (-step / lag).exp();
        let (first_keep, next_keep) = (keep(times[0]), keep(2.0 * times[0]));
        let mut shown = part * self.oil.first().copied().unwrap_or(0.0) + get(P::ProbeStart);
        self.oil
            .iter()
            .zip(&self.wall)
            .enumerate()
            .map(|(index, (oil, wall))| {
                let target = part * oil + (1.0 - part) * wall;
                let keep = if index == 0 { first_keep } else { next_keep };
                shown = target + (shown - target) * keep;
                shown
            })
            .collect()
    }
}

/// The wall's course over its temperature at the start, K.
fn wall(balance: &Balance<'_>, theta: &Vector) -> impl Fn(f64) -> f64 {
    let rate = balance.layout.get(theta, P::WallRate);
    let bend = balance.layout.get(theta, P::WallBend) / balance.series.length_s;
    move |t: f64| rate * t + bend * t * t
}
