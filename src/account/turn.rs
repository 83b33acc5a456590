//! A loss that turns during the hold: oil is lost up to a moment and none after it, or none
//! before and some from there on.
//!
//! The account lets a leak follow its pressure; it knows no leak that stops. Here it may:
//! a flow of its own until a moment takes part beside those of the whole hold, with all that
//! is unknown of heat, sensors and oil free as before. A turn is told of only where that flow
//! is surely there, the other side of it contains nothing, and the whole then describes the
//! data.
//!
//! Invariant: how sure it must be knows how many moments were tried; intervals that overlap
//! are no difference.

mod gains;

use self::gains::Gain;
use self::gains::between_blocks;
use self::gains::gains;
use self::gains::near;
use super::Contribution;
use super::Measured;
use super::figure::coverage_factor;
use super::figure::effective_freedom;
use super::layout::P;
use super::misfit::misfit;
use super::solution::Solution;
use super::totals::heat_floor;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::fit::Vector;
use crate::fit::chi_squared_quantile;
use crate::fit::normal_quantile;
use crate::fit::student_quantile;
use crate::quantity::number;

/// A turn is told of by intervals that cover 99.5 % together over all moments that were tried.
const MISSED: f64 = 0.005;

/// What is left on the other side of a turn is at most this part of what flowed on this.
const LEFT_PART: f64 = 0.5;

/// How often the moment is sought again with the flows that were found.
const N_SOUGHT: usize = 3;

/// Which way a loss turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TurnKind {
    /// Oil is lost before and none after.
    Stops,
    /// None is lost before and some after.
    Starts,
}

/// Where the loss of the side that holds turns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// Which way.
    pub kind: TurnKind,
    /// The side that holds.
    pub chamber: Chamber,
    /// The moment, s after the start of the hold.
    pub at_s: f64,
    /// First and last moment that the data allow, s.
    pub between_s: (f64, f64),
    /// Mean loss before it, m³/s; 1.96 standard uncertainties cover 95 %.
    pub before: Measured,
    /// Mean loss after it, likewise.
    pub after: Measured,
    /// Pressure of that side at the start of the hold, at the moment, at the end; Pa gauge.
    pub pressures_pa: [f64; 3],
    /// Pressures at the first and the last moment that the data allow, the lower first, Pa.
    pub between_pa: (f64, f64),
}

impl Turn {
    /// Its evidence: "0.42 ± 0.05 mL/min in the first 250 s (118 to 92 bar), …".
    pub fn words(&self) -> String {
        let flow = |flow: Measured| {
            let expanded = 1.96 * flow.standard_si * 60e6;
            format!(
                "{} ± {} mL/min",
                number(flow.value_si * 60e6, expanded),
                number(expanded, expanded)
            )
        };
        let [start, at, end] = self.pressures_pa.map(|pa| pa / 1e5);
        format!(
            "{} was lost in the first {:.0} s of the hold ({start:.0} to {at:.0} bar), {} after that ({at:.0} to \
             {end:.0} bar)",
            flow(self.before),
            self.at_s,
            flow(self.after)
        )
    }
}

/// The turn of a fitted hold, if there is one.
pub(super) fn turn(solution: &Solution<'_>) -> Option<Turn> {
    let first = gains(solution, &between_blocks(solution))?;
    let enough = chi_squared_quantile(1.0 - MISSED / first.len() as f64, 1.0);
    let mut best = most(&first).filter(|gain| gain.chi_squared > enough)?;
    let mut found = turned(solution, best.at_s)?;
    let mut all = Vec::new();
    for _ in 0..N_SOUGHT {
        let tried = near(solution, best.at_s);
        all = gains(&found, &tried)?;
        let again = most(&all)?;
        if again.at_s == best.at_s {
            break;
        }
        best = again;
        found = turned(solution, best.at_s)?;
    }
    if misfit(&found).is_some() {
        return None;
    }
    told(&found, best.at_s, &all)
}

fn most(gains: &[Gain]) -> Option<Gain> {
    let by_size = |a: &&Gain, b: &&Gain| a.chi_squared.total_cmp(&b.chi_squared);
    gains.iter().max_by(by_size).copied()
}

/// The same hold with flows of their own until a moment.
fn turned<'a>(solution: &Solution<'a>, at_s: f64) -> Option<Solution<'a>> {
    Solution::fit(gains::with_turn(&solution.balance, at_s)).ok()
}

/// What the two sides of a turn say, if it is sure.
fn told(solution: &Solution<'_>, at_s: f64, all: &[Gain]) -> Option<Turn> {
    let balance = &solution.balance;
    let (chamber, side, early, sign) = match balance.layout.cap_live {
        true => (Chamber::Cap, P::CapLoss, P::EarlyCap, 1.0),
        false => (Chamber::Rod, P::RodGain, P::EarlyRod, -1.0),
    };
    let t = &balance.series.t;
    let n_before = t.partition_point(|t| *t < at_s);
    let mean = |theta: &Vector, bins: std::ops::Range<usize>| {
        let flow = &solution.flow(theta, side)[bins];
        sign * flow.iter().sum::<f64>() / flow.len().max(1) as f64
    };
    let length_s = balance.series.length_s;
    let floor = |share: f64| heat_floor(solution) / share;
    let one = Surely::of(
        solution.derive(&|theta| mean(theta, 0..n_before)),
        floor(at_s / length_s),
        all.len(),
    );
    let other = Surely::of(
        solution.derive(&|theta| mean(theta, n_before..t.len())),
        floor(1.0 - at_s / length_s),
        all.len(),
    );
    // What no leak that follows its pressure does.
    let own = Surely::of(
        solution.derive(&|theta| sign * balance.layout.get(theta, early)),
        0.0,
        all.len(),
    );
    let kind = match own.measured.value_si > 0.0 {
        true => TurnKind::Stops,
        false => TurnKind::Starts,
    };
    let (loses, stands) = match kind {
        TurnKind::Stops => (one, other),
        TurnKind::Starts => (other, one),
    };
    let is_sure = own.is_beyond_zero()
        && loses.lower() > 0.0
        && stands.lower() <= 0.0
        && stands.upper() < loses.lower()
        && stands.upper() >= 0.0
        && stands.upper() < LEFT_PART * loses.measured.value_si;
    if !is_sure {
        return None;
    }
    let between_s = between(all, length_s / t.len() as f64);
    let role = match chamber {
        Chamber::Cap => Role::CapPressure,
        Chamber::Rod => Role::RodPressure,
    };
    let pressures = &balance.series.signal(role)?.smooth;
    let at = |t_s: f64| {
        let bin = t.partition_point(|t| *t < t_s).min(pressures.len() - 1);
        pressures[bin]
    };
    let ends = (at(between_s.0), at(between_s.1));
    Some(Turn {
        kind,
        chamber,
        at_s,
        between_s,
        before: one.stated(),
        after: other.stated(),
        pressures_pa: [at(0.0), at(at_s), at(length_s)],
        between_pa: (ends.0.min(ends.1), ends.0.max(ends.1)),
    })
}

/// First and last moment that explain the data nearly as well as the best, give or take the
/// bin between those that were tried.
fn between(all: &[Gain], bin_s: f64) -> (f64, f64) {
    let highest = all.iter().map(|g| g.chi_squared).fold(0.0, f64::max);
    let allowed = chi_squared_quantile(1.0 - MISSED, 1.0);
    let alike = all.iter().filter(|g| highest - g.chi_squared < allowed);
    alike.fold((f64::INFINITY, f64::NEG_INFINITY), |ends, gain| {
        let (first, last) = (gain.at_s - bin_s, gain.at_s + bin_s);
        (ends.0.min(first), ends.1.max(last))
    })
}

/// A flow with the factor that it must be known by.
#[derive(Clone, Copy)]
struct Surely {
    measured: Measured,
    factor: f64,
    /// Factor that covers 95 %, by that of a normal distribution.
    wider: f64,
}

impl Surely {
    fn of((measured, budget): (Measured, Vec<Contribution>), floor: f64, n_tried: usize) -> Self {
        let covers = 1.0 - 0.5 * MISSED / n_tried.max(1) as f64;
        let freedom = effective_freedom(&budget);
        Self {
            measured: Measured {
                standard_si: measured.standard_si.max(floor),
                ..measured
            },
            factor: match freedom {
                Some(freedom) => student_quantile(covers, freedom),
                None => normal_quantile(covers),
            },
            wider: coverage_factor(freedom) / coverage_factor(None),
        }
    }

    fn stated(self) -> Measured {
        Measured {
            standard_si: self.measured.standard_si * self.wider,
            ..self.measured
        }
    }

    fn half(self) -> f64 {
        self.factor * self.measured.standard_si
    }

    fn lower(self) -> f64 {
        self.measured.value_si - self.half()
    }

    fn upper(self) -> f64 {
        self.measured.value_si + self.half()
    }

    fn is_beyond_zero(self) -> bool {
        self.measured.value_si.abs() > self.half()
    }
}
