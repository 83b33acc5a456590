//! The answer for each way: leaks, does not leak, cannot be told, was not driven.

use super::phase::Phase;
use super::sums::Sums;
use super::way::Way;
use crate::fit::SharesError;
use crate::fit::Which;
use crate::fit::chi_squared_quantile;
use crate::fit::normal_quantile;

/// A part is named only by an interval that covers 99.5 %: the wrong one costs a day.
const NAMED: f64 = 0.9975;

/// What does not matter: this flow, m³/s (0.03 mL/min), or this part of the largest sum that
/// was measured (common practice of ours, no source).
const SMALL_M3_PER_S: f64 = 0.03e-6 / 60.0;
const SMALL_PART: f64 = 0.15;

/// Sums that no flows explain better than this contradict each other.
const CONTRADICTS: f64 = 0.999;

/// What can be said of one way.
#[derive(Debug, Clone, PartialEq)]
pub enum Standing {
    /// It leaks: its interval lies above zero.
    Leaks,
    /// It does not leak more than what does not matter.
    Tight,
    /// It cannot be told whether it leaks; these others may be what was measured instead.
    Open {
        /// Ways that share its sums.
        with: Vec<Way>,
    },
    /// Nothing drove oil along it in any phase.
    NotDriven,
}

/// What came out for one way.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The way.
    pub way: Way,
    /// What can be said of it.
    pub standing: Standing,
    /// The pressure that its flow is stated at, Pa.
    pub at_pa: f64,
    /// Flow that explains all sums best, m³/s.
    pub best_m3_per_s: f64,
    /// Ends of the 95 % interval, m³/s; the upper is infinite where nothing limits it.
    pub lower_m3_per_s: f64,
    /// See `lower_m3_per_s`.
    pub upper_m3_per_s: f64,
    /// Numbers of the phases in which it was driven.
    pub driven_in: Vec<usize>,
}

/// What an investigation showed.
#[derive(Debug, Clone, PartialEq)]
pub struct Attribution {
    /// An answer for each way, sorted.
    pub answers: Vec<Answer>,
    /// Flow below which a leak does not matter here, m³/s.
    pub small_m3_per_s: f64,
    /// Why nothing is said, if the phases contradict each other.
    pub contradiction: Option<String>,
}

impl Attribution {
    /// The answer for a way.
    pub fn of(&self, way: Way) -> Option<&Answer> {
        self.answers.iter().find(|a| a.way == way)
    }
}

/// A way's range for one coverage.
struct Range {
    lower: f64,
    upper: f64,
    /// All flows at the upper end.
    at_upper: Option<Vec<f64>>,
    at_lower: Option<Vec<f64>>,
}

/// Finds which ways leak. None if no phase has a sum that could tell of it.
///
/// # Errors
/// If the sums cannot be solved: a fault of the program.
pub fn attribute(phases: &[Phase<'_>]) -> Result<Option<Attribution>, SharesError> {
    let sums = Sums::of(phases);
    if sums.n_rows() == 0 {
        return Ok(None);
    }
    attribution(&sums).map(Some)
}

pub(super) fn attribution(sums: &Sums) -> Result<Attribution, SharesError> {
    let (best, chi_squared) = best(sums)?;
    let n_free = best.iter().filter(|flow| **flow > 0.0).count();
    let freedom = sums.n_rows().saturating_sub(n_free).max(1);
    let contradicts = chi_squared > chi_squared_quantile(CONTRADICTS, freedom as f64);
    let small = sums.small();
    let mut answers = Vec::new();
    for (index, way) in sums.ways.iter().enumerate() {
        let usual = range(sums, &best, index, normal_quantile(0.975))?;
        let sure = range(sums, &best, index, normal_quantile(NAMED))?;
        let standing = if sums.driven_in[index].is_empty() {
            Standing::NotDriven
        } else if sure.upper <= small {
            Standing::Tight
        } else if sure.lower > 0.05 * small {
            Standing::Leaks
        } else {
            Standing::Open {
                with: instead(sums, index, &sure),
            }
        };
        answers.push(Answer {
            way: *way,
            standing,
            at_pa: sums.at_pa[index],
            best_m3_per_s: best[index],
            lower_m3_per_s: usual.lower,
            upper_m3_per_s: usual.upper,
            driven_in: sums.driven_in[index].clone(),
        });
    }
    Ok(Attribution {
        answers,
        small_m3_per_s: small,
        contradiction: contradicts.then(|| {
            "no leaks that stay the same explain all phases: a leak changed between them, or a recording deceives"
                .to_owned()
        }),
    })
}

/// The flows that explain all sums best, with χ² at them; how wide the sums are depends on
/// the flows themselves.
fn best(sums: &Sums) -> Result<(Vec<f64>, f64), SharesError> {
    let mut flows = vec![0.0; sums.ways.len()];
    let mut chi_squared = 0.0;
    for _ in 0..4 {
        let found = sums.shares(&flows)?.best()?;
        flows = found.parts;
        chi_squared = found.chi_squared;
    }
    // What is below a thousandth of a millilitre a minute is the solver's zero.
    let least = 1e-4 * SMALL_M3_PER_S;
    flows
        .iter_mut()
        .filter(|f| **f < least)
        .for_each(|f| *f = 0.0);
    Ok((flows, chi_squared))
}

fn range(sums: &Sums, best: &[f64], index: usize, factor: f64) -> Result<Range, SharesError> {
    let end = |which| {
        let mut flows = best.to_vec();
        let mut found = None;
        for _ in 0..3 {
            let shares = sums.shares(&flows)?;
            let least = shares.best()?.chi_squared;
            let end = shares.end(index, which, least + factor.powi(2))?;
            match &end.parts {
                Some(parts) => flows.clone_from(parts),
                None => return Ok(end),
            }
            found = Some(end);
        }
        Ok(found.expect("three rounds were made"))
    };
    let (low, high) = (end(Which::Least)?, end(Which::Most)?);
    Ok(Range {
        lower: low.value,
        upper: high.value,
        at_lower: low.parts,
        at_upper: high.parts,
    })
}

/// Ways that carry more where this one carries least.
fn instead(sums: &Sums, index: usize, range: &Range) -> Vec<Way> {
    let (Some(low), Some(high)) = (&range.at_lower, &range.at_upper) else {
        return Vec::new();
    };
    let moved = 0.2 * (high[index] - low[index]);
    let others = (0..sums.ways.len()).filter(|other| *other != index);
    others
        .filter(|other| (low[*other] - high[*other]).abs() > moved)
        .map(|other| sums.ways[other])
        .collect()
}

impl Sums {
    /// Flow below which a leak does not matter in this investigation, m³/s.
    fn small(&self) -> f64 {
        SMALL_M3_PER_S.max(SMALL_PART * self.largest())
    }
}
