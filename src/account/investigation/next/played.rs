//! A phase that nobody has held, played on paper: pressures over its hold, sums that it then
//! has, and what eyes then see.
//!
//! Both sides as springs of oil: shut ones lose what leaks, gain what passes the piston and
//! breathe with heat; a free rod keeps their forces in balance. Rough beside the account of a
//! hold, and enough to know whether a side runs empty or a place stays dry.

use crate::account::investigation::source::Source;
use crate::account::investigation::sums::EXPONENT;
use crate::account::investigation::sums::SEEN_M3;
use crate::account::investigation::way::Way;
use crate::account::investigation::way::chambers;
use crate::circuit::Look;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::circuit::Seen;
use crate::cylinder::Chamber;
use crate::fit::propagate::Draws;

/// Stiffness of oil in steel, Pa, as near as it matters here.
const STIFF_PA: f64 = 1.2e9;

/// How fast oil warms or cools during a hold, one sigma, K/s (common practice, no source).
const WARMS_K_PER_S: f64 = 0.06 / 60.0;

/// How long a phase may settle before it is counted, s: it leaks then too.
const SETTLES_S: (f64, f64) = (60.0, 600.0);

/// A side that ends lower has no sum, Pa: what air is in it hides what leaks.
const SUMMED_PA: f64 = 2.5e5;

/// An empty side, Pa.
const EMPTY_PA: f64 = -0.9e5;

/// Part of two drops below which a place is dry for sure.
const DRY_PART: f64 = 0.5;

/// How much less sure than hoped a hold may turn out: median and one sigma of the logarithm.
const WIDER: f64 = 0.0;
const WIDER_SIGMA: f64 = 0.35;

/// Steps of a hold for each block of its drive.
const STEPS: usize = 8;

/// A phase as it goes with these flows (m³/s, each with its pressure in Pa).
pub(super) fn played<'a>(
    phase: &Source<'a>,
    flow_of: impl Fn(Way) -> Option<(f64, f64)>,
    draws: &mut Draws,
) -> Source<'a> {
    let mut found = phase.clone();
    let mut sides = Sides::of(phase);
    let warms = draws.normal(0.0, WARMS_K_PER_S);
    let settles_s = draws.rectangular(SETTLES_S.0, SETTLES_S.1);
    for _ in 0..STEPS {
        sides.step(phase, &flow_of, warms, settles_s / STEPS as f64);
    }
    let n = phase.drive.p_cap_pa.len().max(1);
    let step_s = phase.drive.length_s / (n * STEPS) as f64;
    let mut blocks = [Vec::new(), Vec::new()];
    let mut out_m3 = [0.0; 3];
    for _ in 0..n {
        let mut sum = [0.0; 2];
        for _ in 0..STEPS {
            let out = sides.step(phase, &flow_of, warms, step_s);
            out_m3
                .iter_mut()
                .zip(out)
                .for_each(|(sum, out)| *sum += out * step_s);
            sum.iter_mut()
                .zip(sides.pa)
                .for_each(|(sum, pa)| *sum += pa / STEPS as f64);
        }
        blocks
            .iter_mut()
            .zip(sum)
            .for_each(|(blocks, sum)| blocks.push(sum));
    }
    let [cap, rod] = blocks;
    found.drive.p_cap_pa = cap;
    if found.drive.p_rod_pa.is_some() {
        found.drive.p_rod_pa = Some(rod);
    }
    for chamber in [Chamber::Cap, Chamber::Rod] {
        if sides.pa[index(chamber)] < SUMMED_PA {
            found.forget(chamber);
        }
    }
    let wider = draws.normal(WIDER, WIDER_SIGMA).exp();
    found.covariance *= wider * wider;
    if let Some((_, _, standard)) = &mut found.past_piston {
        *standard *= wider;
    }
    found.seen = seen(&found, out_m3);
    found
}

fn index(chamber: Chamber) -> usize {
    usize::from(chamber == Chamber::Rod)
}

/// What eyes see of so much oil out of gland, cap and rod port.
fn seen(phase: &Source<'_>, [gland, cap, rod]: [f64; 3]) -> Seen {
    let ways = phase.ways();
    let look = |way: Way, out_m3: f64| match out_m3 {
        _ if !ways.contains(&way) => None,
        out if out < DRY_PART * SEEN_M3 => Some(Look::Dry),
        out if out > SEEN_M3 => Some(Look::Wet),
        _ => None,
    };
    Seen {
        gland: look(Way::Gland, gland),
        cap_port: look(Way::Plug(Chamber::Cap), cap),
        rod_port: look(Way::Plug(Chamber::Rod), rod),
        collected: None,
    }
}

/// Both sides of a cylinder, cap before rod.
struct Sides {
    pa: [f64; 2],
    is_shut: [bool; 2],
    /// Oil by its stiffness, m³/Pa.
    springs: [f64; 2],
    areas_m2: [f64; 2],
    is_held: bool,
}

impl Sides {
    fn of(phase: &Source<'_>) -> Self {
        let first = |p: Option<&Vec<f64>>| p.and_then(|p| p.first().copied()).unwrap_or(0.0);
        let is_shut = |chamber| {
            let is_there = chambers(phase.kind).contains(&chamber);
            let port = phase.circuit.port(chamber);
            is_there && matches!(port, Port::Blocked | Port::OnValve)
        };
        Self {
            pa: [
                first(Some(&phase.drive.p_cap_pa)),
                first(phase.drive.p_rod_pa.as_ref()),
            ],
            is_shut: [Chamber::Cap, Chamber::Rod].map(is_shut),
            springs: phase.volume_m3.map(|v| v / STIFF_PA),
            areas_m2: phase.areas_m2,
            is_held: matches!(phase.circuit.rod, RodHold::Locked | RodHold::Bottomed),
        }
    }

    /// One step; what goes out at gland, cap and rod port, m³/s.
    fn step(
        &mut self,
        phase: &Source<'_>,
        flow_of: &impl Fn(Way) -> Option<(f64, f64)>,
        warms: f64,
        step_s: f64,
    ) -> [f64; 3] {
        let [cap_pa, rod_pa] = self.pa;
        let driven = |way: Way, pa: f64| {
            let (flow, at_pa) = flow_of(way).unwrap_or((0.0, 1.0));
            flow * (pa.max(0.0) / at_pa.max(1.0)).powf(EXPONENT)
        };
        let piston = driven(Way::Piston(Chamber::Cap), cap_pa - rod_pa)
            - driven(Way::Piston(Chamber::Rod), rod_pa - cap_pa);
        let (mut lost, mut out) = ([piston, -piston], [0.0; 3]);
        for chamber in chambers(phase.kind).iter().copied() {
            let sum = phase.sum_of(chamber);
            let of_side = sum.gains.into_iter().chain(sum.losses);
            for way in of_side.filter(|way| !matches!(way, Way::Piston(_))) {
                let flow = driven(way, self.pa[index(chamber)]);
                lost[index(chamber)] += flow;
                match way {
                    Way::Gland => out[0] += flow,
                    Way::Plug(at) => out[1 + index(at)] += flow,
                    Way::Piston(_) | Way::Valve(..) | Way::Opened(_) | Way::Rig(_) => {}
                }
            }
        }
        let swelling = phase
            .swells_m3
            .map(|v| v / crate::account::investigation::source::APART_K * warms);
        for (lost, swelling) in lost.iter_mut().zip(swelling) {
            *lost -= swelling;
        }
        self.move_on(phase.circuit.holding_chamber(), lost, step_s);
        out
    }

    /// Lets the sides lose so much a second for a step.
    fn move_on(&mut self, holding: Chamber, lost: [f64; 2], step_s: f64) {
        let (own, other) = (index(holding), index(holding.other()));
        let ratio = self.areas_m2[other] / self.areas_m2[own].max(f64::MIN_POSITIVE);
        let is_full = |side: usize, pa: f64| self.is_shut[side] && pa > EMPTY_PA;
        let mut rates = [0.0; 2];
        if self.is_held {
            for side in [own, other] {
                if is_full(side, self.pa[side]) {
                    rates[side] = -lost[side] / self.springs[side].max(f64::MIN_POSITIVE);
                }
            }
        } else if is_full(other, self.pa[other]) {
            // What the loaded side loses, the rod follows, and the other side grows by its
            // part; a change of its pressure is carried by the loaded side too.
            let spring = self.springs[other] + ratio * ratio * self.springs[own];
            rates[other] = -(lost[other] + ratio * lost[own]) / spring.max(f64::MIN_POSITIVE);
            rates[own] = ratio * rates[other];
        }
        for side in [own, other] {
            self.pa[side] = (self.pa[side] + rates[side] * step_s).max(EMPTY_PA);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ML_MIN: f64 = 1e-6 / 60.0;

    /// 955 mL on 31.17 cm², 230 mL on 16.02 cm².
    fn sides(cap_bar: f64, rod_bar: f64, is_held: bool) -> Sides {
        Sides {
            pa: [cap_bar * 1e5, rod_bar * 1e5],
            is_shut: [true; 2],
            springs: [955e-6 / STIFF_PA, 230e-6 / STIFF_PA],
            areas_m2: [31.17e-4, 16.02e-4],
            is_held,
        }
    }

    #[track_caller]
    fn near(found: f64, expected: f64) {
        assert!(
            (found - expected).abs() < 1e-9 * expected.abs(),
            "{found} instead of {expected}"
        );
    }

    /// A locked rod: Δp = − K Q t / V, on its own side only.
    #[test]
    fn a_side_of_a_locked_rod_falls_by_its_own_spring() {
        let mut sides = sides(160.0, 15.0, true);
        sides.move_on(Chamber::Cap, [0.1 * ML_MIN, 0.0], 300.0);
        near(160e5 - sides.pa[0], STIFF_PA * 0.5e-6 / 955e-6);
        near(sides.pa[1], 15e5);
    }

    /// A free rod that carries a load sinks by Q/A: with r = a/A the rod side's oil stretches
    /// by r Q less what the loaded side's spring gives back, and A Δp_cap = a Δp_rod.
    #[test]
    fn a_free_rod_keeps_its_forces_in_balance() {
        let mut sides = sides(160.0, 15.0, false);
        sides.move_on(Chamber::Cap, [0.1 * ML_MIN, 0.0], 60.0);
        let ratio = 16.02 / 31.17;
        let falls = ratio * 0.1e-6 * STIFF_PA / (230e-6 + ratio * ratio * 955e-6);
        near(15e5 - sides.pa[1], falls);
        near(160e5 - sides.pa[0], ratio * falls);
    }

    /// A piston seal that leaks as much on as off: what the cap side loses, the rod side
    /// gains; the rod side rises by what the rod displaces.
    #[test]
    fn oil_past_the_piston_raises_the_rod_side() {
        let mut sides = sides(160.0, 15.0, false);
        sides.move_on(Chamber::Cap, [0.1 * ML_MIN, -0.1 * ML_MIN], 60.0);
        let ratio = 16.02 / 31.17;
        let rises = (1.0 - ratio) * 0.1e-6 * STIFF_PA / (230e-6 + ratio * ratio * 955e-6);
        near(sides.pa[1] - 15e5, rises);
    }

    #[test]
    fn no_side_falls_below_an_empty_one() {
        let mut sides = sides(160.0, 15.0, false);
        sides.move_on(Chamber::Cap, [5.0 * ML_MIN, 0.0], 600.0);
        near(sides.pa[1], EMPTY_PA);
    }
}
