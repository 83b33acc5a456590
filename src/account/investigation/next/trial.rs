//! Trials of a phase on paper: what it would tell if this or that were so.

use super::played::played;
use crate::account::investigation::attribution::Range;
use crate::account::investigation::attribution::Standing;
use crate::account::investigation::attribution::best;
use crate::account::investigation::attribution::by_range;
use crate::account::investigation::attribution::end;
use crate::account::investigation::attribution::named_factor;
use crate::account::investigation::attribution::without_range;
use crate::account::investigation::source::Source;
use crate::account::investigation::sums::Sums;
use crate::account::investigation::sums::translated;
use crate::account::investigation::way::Way;
use crate::fit::SharesError;
use crate::fit::Which;
use crate::fit::propagate::Draws;

/// Trials of each phase.
const N_TRIALS: usize = 40;

/// χ² that possible flows may explain the drawn sums worse by than the best ones.
const WORSE: f64 = 1.0;

/// Seed of all draws: the same holds get the same advice.
const SEED: u64 = 1;

/// How often a phase tells of a way in trials.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Told {
    /// In all but one of 40.
    NearlyAlways,
    /// In 28 of 40 at least.
    Mostly,
}

impl Told {
    fn may_fail(self) -> usize {
        match self {
            Self::NearlyAlways => 1,
            Self::Mostly => 12,
        }
    }
}

/// Flows that the sums leave possible, one for each trial.
pub(super) struct Trials<'s, 'a> {
    sources: &'s [Source<'a>],
    sums: &'s Sums,
    open: &'s [Way],
    flows: Vec<Vec<f64>>,
}

impl<'s, 'a> Trials<'s, 'a> {
    /// Draws flows that are possible by the sums so far.
    ///
    /// # Errors
    /// If the sums cannot be solved.
    pub fn of(
        sources: &'s [Source<'a>],
        sums: &'s Sums,
        open: &'s [Way],
    ) -> Result<Self, SharesError> {
        let mut draws = Draws::new(SEED);
        let (likely, _) = best(sums)?;
        let mut flows = Vec::new();
        for number in 0..N_TRIALS {
            flows.push(possible(sums, &likely, open, number, &mut draws));
        }
        Ok(Self {
            sources,
            sums,
            open,
            flows,
        })
    }

    /// Open ways that a phase would tell of so often.
    pub fn told_by(&self, phase: &Source<'_>, often: Told) -> Vec<Way> {
        let may_fail = often.may_fail();
        let mut draws = Draws::new(SEED);
        let mut failed = vec![0; self.open.len()];
        for flows in &self.flows {
            let told = self.told(phase, flows, &mut draws);
            for (failed, told) in failed.iter_mut().zip(told) {
                *failed += usize::from(!told);
            }
            if failed.iter().all(|failed| *failed > may_fail) {
                return Vec::new();
            }
        }
        let counted = self.open.iter().zip(failed);
        let told = counted.filter(|(_, failed)| *failed <= may_fail);
        told.map(|(way, _)| *way).collect()
    }

    /// Which open ways one trial tells of.
    fn told(&self, phase: &Source<'_>, flows: &[f64], draws: &mut Draws) -> Vec<bool> {
        let flow_of = |way: Way| {
            let index = self.sums.ways.iter().position(|w| *w == way);
            index.map(|index| (flows[index], self.sums.at_pa[index]))
        };
        let mut supposed: Vec<Source<'_>> = self.sources.to_vec();
        supposed.push(played(phase, flow_of, draws));
        let mut trial = Sums::of(&supposed);
        let flows = translated(self.sums, flows, &trial);
        trial.suppose(supposed.len() - 1, &flows, draws);
        self.open
            .iter()
            .map(|way| is_told(&trial, &flows, *way))
            .collect()
    }
}

/// Whether sums tell of a way, as wide as these flows make them; what no solver finds is not
/// told.
fn is_told(sums: &Sums, flows: &[f64], way: Way) -> bool {
    let Some(index) = sums.ways.iter().position(|w| *w == way) else {
        return false;
    };
    let standing = without_range(sums, index)
        .or_else(|| Some(by_range(sums, index, &range(sums, flows, index).ok()?)));
    standing.is_some_and(|standing| !matches!(standing, Standing::Open { .. }))
}

/// What a way can be if the sums are as wide as these flows make them.
fn range(sums: &Sums, flows: &[f64], index: usize) -> Result<Range, SharesError> {
    let shares = sums.shares(flows)?;
    let best = shares.best()?;
    let worst = best.chi_squared + named_factor().powi(2);
    let least = shares.end(&best, index, Which::Least, worst)?;
    let most = shares.end(&best, index, Which::Most, worst)?;
    Ok(Range {
        lower: least.value,
        upper: most.value,
        at: [least.parts, most.parts],
    })
}

/// Flows that explain what the sums might as well have been: at an end of what one open way
/// can be, or between there and the best.
fn possible(
    sums: &Sums,
    likely: &[f64],
    open: &[Way],
    number: usize,
    draws: &mut Draws,
) -> Vec<f64> {
    let way = open[(number / 2) % open.len()];
    let which = if number.is_multiple_of(2) {
        Which::Least
    } else {
        Which::Most
    };
    let between = draws.rectangular(-1.0, 1.0).max(0.0);
    let drawn = sums.disturbed(likely, draws);
    let index = sums.ways.iter().position(|w| *w == way).unwrap_or_default();
    // Advice is not worth an answer: where no end is found the best flows stand for it.
    let found = end(&drawn, likely, index, which, WORSE.sqrt());
    let at_end = found.ok().and_then(|(_, parts)| parts);
    let at_end = at_end.unwrap_or_else(|| likely.to_vec());
    let mixed = at_end.iter().zip(likely);
    mixed
        .map(|(end, best)| end + between * (best - end))
        .collect()
}
