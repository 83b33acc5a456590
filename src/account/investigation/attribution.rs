//! The answer for each way: leaks, does not leak, cannot be told, was not driven.

use super::next::Next;
use super::next::next;
use super::pattern::Noticed;
use super::pattern::noticed;
use super::phase::Phase;
use super::source::Source;
use super::sums::Sums;
use super::way::Way;
use super::wet::Unexplained;
use super::wet::at_fittings;
use super::wet::wet;
use crate::cylinder::Chamber;
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

/// The solver's zero, as a part of what does not matter.
const ZERO_PART: f64 = 1e-3;

/// Mean of a difference that falls exponentially to its twentieth, as part of its start:
/// 0.95 / ln 20.
const MEAN_WHILE_MEETING: f64 = 0.317;

/// Sums that no flows explain better than this contradict each other.
const CONTRADICTS: f64 = 0.999;

/// What can be said of one way.
#[derive(Debug, Clone, PartialEq)]
pub enum Standing {
    /// It leaks: its interval lies above zero.
    Leaks,
    /// It does not leak more than what does not matter.
    Tight,
    /// It cannot be told whether it leaks.
    Open {
        /// Ways that what was measured may have taken instead; none if it is too small for
        /// what these holds can see.
        with: Vec<Way>,
    },
    /// Nothing drove oil along it in any phase.
    NotDriven,
    /// A valve that was held at its setting: that it opens there says nothing against it.
    AtSetting,
    /// The phases contradict each other.
    NotValid,
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
    /// What the pattern of pressures and movement says.
    pub noticed: Vec<Noticed>,
    /// The next phase that would tell most of what is open, if any would.
    pub next: Option<Next>,
}

impl Attribution {
    /// The answer for a way.
    pub fn of(&self, way: Way) -> Option<&Answer> {
        self.answers.iter().find(|a| a.way == way)
    }

    /// Ways that cannot be told.
    pub fn open(&self) -> Vec<Way> {
        let open = self
            .answers
            .iter()
            .filter(|a| matches!(a.standing, Standing::Open { .. }));
        open.map(|a| a.way).collect()
    }
}

impl Attribution {
    /// Lets no part be tight at a place where oil was seen and nothing explains it.
    fn doubt(&mut self, unexplained: &Unexplained) {
        let answers = self.answers.iter_mut();
        let doubted = answers.filter(|a| unexplained.place.is_of(a.way));
        doubted
            .filter(|answer| answer.standing == Standing::Tight)
            .for_each(|answer| answer.standing = Standing::Open { with: Vec::new() });
    }

    /// Lets a leak that was seen at work stand where no sum shows it.
    fn take(&mut self, seen: Answer) {
        match self.answers.iter_mut().find(|a| a.way == seen.way) {
            Some(own) if own.standing == Standing::Leaks => {}
            Some(own) => *own = seen,
            None => self.answers.push(seen),
        }
        self.answers.sort_by_key(|a| a.way);
    }
}

/// The piston's answer where both pressures met: oil has passed it, at least so much. What
/// it passes now cannot be measured.
fn by_meeting((index, phase): (usize, &Phase<'_>)) -> Option<Answer> {
    let seen = phase.evaluation.met?.seen?;
    let least = seen.passed_m3 / seen.time_s;
    Some(Answer {
        way: Way::Piston(Chamber::Cap),
        standing: Standing::Leaks,
        at_pa: MEAN_WHILE_MEETING * seen.from_apart_pa,
        best_m3_per_s: least,
        lower_m3_per_s: least,
        upper_m3_per_s: f64::INFINITY,
        driven_in: vec![index],
    })
}

/// What one way can be, for one coverage.
pub(super) struct Range {
    pub lower: f64,
    pub upper: f64,
    /// All flows at the two ends, where there are such.
    pub at: [Option<Vec<f64>>; 2],
}

/// Finds which ways leak; no answers, but what was noticed, where no phase has a sum that could
/// tell of it. None if nothing was noticed either.
///
/// # Errors
/// If the sums cannot be solved: a fault of the program.
pub fn attribute(phases: &[Phase<'_>]) -> Result<Option<Attribution>, SharesError> {
    let found = phases.iter().enumerate();
    let found = found.filter_map(|(index, phase)| Some((index, Source::of(phase)?)));
    let (numbers, mut sources): (Vec<usize>, Vec<Source<'_>>) = found.unzip();
    let rig_known = sources.iter().any(|source| source.kind.is_none());
    sources
        .iter_mut()
        .for_each(|source| source.rig_known = rig_known);
    let sums = Sums::of(&sources);
    let met: Option<Answer> = phases.iter().enumerate().find_map(by_meeting);
    if sums.n_rows() == 0 {
        let (answers, noticed) = (Vec::from_iter(met), noticed(phases));
        let is_mute = answers.is_empty() && noticed.is_empty();
        return Ok((!is_mute).then_some(Attribution {
            answers,
            small_m3_per_s: SMALL_M3_PER_S,
            contradiction: None,
            noticed,
            next: None,
        }));
    }
    let mut attribution = answered(&sums)?;
    for answer in &mut attribution.answers {
        answer
            .driven_in
            .iter_mut()
            .for_each(|index| *index = numbers[*index]);
    }
    attribution.noticed = noticed(phases);
    if attribution.contradiction.is_some() {
        let answers = attribution.answers.iter_mut();
        answers.for_each(|answer| answer.standing = Standing::NotValid);
        return Ok(Some(attribution));
    }
    if let Some(met) = met {
        attribution.take(met);
    }
    attribution.noticed.extend(at_fittings(phases));
    for unexplained in wet(phases, &attribution) {
        attribution.doubt(&unexplained);
        attribution.noticed.push(unexplained.noticed());
    }
    let found = next(&sources, &sums, &attribution.open())?;
    attribution.next = found.map(|next| Next {
        step: next.step.renumbered(|source| numbers[source]),
        ..next
    });
    Ok(Some(attribution))
}

/// The answers that sums give by themselves.
fn answered(sums: &Sums) -> Result<Attribution, SharesError> {
    let (best, chi_squared) = best(sums)?;
    let n_free = best.iter().filter(|flow| **flow > 0.0).count();
    let freedom = sums.n_rows().saturating_sub(n_free).max(1);
    let contradicts = chi_squared > chi_squared_quantile(CONTRADICTS, freedom as f64);
    let mut answers = Vec::new();
    for index in (0..sums.ways.len()).filter(|index| is_asked(sums, *index)) {
        let usual = range(sums, &best, index, normal_quantile(0.975))?;
        answers.push(Answer {
            way: sums.ways[index],
            standing: standing(sums, &best, index, named_factor())?,
            at_pa: sums.at_pa[index],
            best_m3_per_s: match sums.driven_in[index].is_empty() {
                true => 0.0,
                false => best[index].clamp(usual.lower, usual.upper),
            },
            lower_m3_per_s: usual.lower,
            upper_m3_per_s: usual.upper,
            driven_in: sums.driven_in[index].clone(),
        });
    }
    let why = "no leaks that stay the same explain all phases: a leak changed between them, or a recording deceives";
    Ok(Attribution {
        answers,
        small_m3_per_s: sums.small(),
        contradiction: contradicts.then(|| why.to_owned()),
        noticed: Vec::new(),
        next: None,
    })
}

/// Whether a way is worth an answer: a piston seal that was driven one way only is not
/// asked about the other.
fn is_asked(sums: &Sums, index: usize) -> bool {
    let driven = |way: Way| {
        let found = sums.ways.iter().position(|w| *w == way);
        found.is_some_and(|index| !sums.driven_in[index].is_empty())
    };
    match sums.ways[index] {
        way @ Way::Piston(from) => {
            driven(way) || (from == Chamber::Cap && !driven(Way::Piston(Chamber::Rod)))
        }
        _ => true,
    }
}

/// What can be said of one way by an interval of so many standard uncertainties.
fn standing(sums: &Sums, best: &[f64], index: usize, factor: f64) -> Result<Standing, SharesError> {
    if let Some(standing) = without_range(sums, index) {
        return Ok(standing);
    }
    Ok(by_range(sums, index, &range(sums, best, index, factor)?))
}

/// What can be said of one way whatever its range is.
pub(super) fn without_range(sums: &Sums, index: usize) -> Option<Standing> {
    if sums.driven_in[index].is_empty() {
        Some(Standing::NotDriven)
    } else if matches!(sums.ways[index], Way::Opened(_)) {
        Some(Standing::AtSetting)
    } else {
        sums.is_wet(index).then_some(Standing::Leaks)
    }
}

/// What can be said of one way by its range.
pub(super) fn by_range(sums: &Sums, index: usize, sure: &Range) -> Standing {
    let small = sums.small();
    if sure.lower > SMALL_M3_PER_S {
        Standing::Leaks
    } else if sure.upper <= small {
        Standing::Tight
    } else if sure.lower > ZERO_PART * small {
        Standing::Leaks
    } else {
        Standing::Open {
            with: instead(sums, index, sure),
        }
    }
}

/// How many standard uncertainties a part is named by.
pub(super) fn named_factor() -> f64 {
    normal_quantile(NAMED)
}

/// The flows that explain all sums best, with χ² at them; how wide the sums are depends on
/// the flows themselves.
pub(super) fn best(sums: &Sums) -> Result<(Vec<f64>, f64), SharesError> {
    let mut flows = vec![0.0; sums.ways.len()];
    let mut chi_squared = 0.0;
    for _ in 0..4 {
        let found = sums.shares(&flows)?.best()?;
        flows = found.parts;
        chi_squared = found.chi_squared;
    }
    let least = ZERO_PART * sums.small();
    let ways = flows.iter_mut().zip(&sums.driven_in);
    ways.filter(|(flow, driven_in)| **flow < least || driven_in.is_empty())
        .for_each(|(flow, _)| *flow = 0.0);
    Ok((flows, chi_squared))
}

/// What one way can be within so many standard uncertainties.
fn range(sums: &Sums, best: &[f64], index: usize, factor: f64) -> Result<Range, SharesError> {
    if sums.driven_in[index].is_empty() {
        return Ok(Range {
            lower: 0.0,
            upper: f64::INFINITY,
            at: [None, None],
        });
    }
    let (lower, low) = end(sums, best, index, Which::Least, factor)?;
    let (upper, high) = end(sums, best, index, Which::Most, factor)?;
    Ok(Range {
        lower,
        // Sums that contradict each other are as wide as the flows of either end make them;
        // then the ends need not come in order.
        upper: upper.max(lower),
        at: [low, high],
    })
}

/// One end of it, with all flows there; None where nothing limits it.
pub(super) fn end(
    sums: &Sums,
    best: &[f64],
    index: usize,
    which: Which,
    factor: f64,
) -> Result<(f64, Option<Vec<f64>>), SharesError> {
    let mut flows = best.to_vec();
    let mut value = 0.0;
    for _ in 0..3 {
        let shares = sums.shares(&flows)?;
        let best = shares.best()?;
        let found = shares.end(&best, index, which, best.chi_squared + factor.powi(2))?;
        match found.parts {
            Some(parts) => flows = parts,
            None => return Ok((found.value, None)),
        }
        value = found.value;
    }
    Ok((value, Some(flows)))
}

/// Ways that carry more where this one carries less.
fn instead(sums: &Sums, index: usize, range: &Range) -> Vec<Way> {
    let [Some(low), Some(high)] = &range.at else {
        return Vec::new();
    };
    let moved = 0.3 * (high[index] - low[index]);
    let others = (0..sums.ways.len()).filter(|other| *other != index);
    others
        .filter(|other| low[*other] - high[*other] > moved)
        .map(|other| sums.ways[other])
        .collect()
}

impl Sums {
    /// Flow below which a leak does not matter in this investigation, m³/s.
    pub(super) fn small(&self) -> f64 {
        SMALL_M3_PER_S.max(SMALL_PART * self.largest())
    }
}

#[cfg(test)]
mod tests;
