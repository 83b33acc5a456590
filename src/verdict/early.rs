//! When a hold may end before its longest: looks at fixed times that share out the risk.
//!
//! Whoever looks often enough at an interval of 95 % sees it miss the truth: six looks at 1.96
//! pass a unit at its limit in 12 of 100 holds, a look each second in 30 (simulated). So the
//! looks stand at fixed times of the counted hold, and half of the shop's risk is divided
//! evenly among them (Bonferroni). That holds however the looks depend on each other, and they
//! depend on heat, air and sensors that they have in common, for which no law is known well
//! enough to share out less carefully. The planned end keeps the other half.
//!
//! Invariants: a hold that ended early is judged by the interval of its look and no other;
//! nothing passes before a minute, nothing fails by a look before two; a doubt that stands, or a
//! path that can only be bounded, never ends a hold.

use super::DecisionRule;
use super::Judged;
use super::Limit;
use super::Outcome;
use super::Verdict;
use super::decide::judge;
use super::decide::rank;
use crate::account::Doubt;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::fit::normal_quantile;
use crate::fit::student_quantile;
use crate::health::Flag;
use crate::health::Weight;
use crate::quantity::number;

/// First look, s of counted hold: earlier ones were found to read too high (measured).
const FIRST_LOOK_S: f64 = 60.0;

/// Before this no look fails a unit, s of counted hold.
const FAILS_FROM_S: f64 = 120.0;

/// Most looks; after the last (some days) there is only the end.
const MOST_LOOKS: usize = 32;

/// No look comes later than this part of the longest hold: the end is as near.
const LAST_LOOK: f64 = 0.95;

/// Part of the risk that all looks together may spend.
const EARLY_PART: f64 = 0.5;

/// Risk of a rule that names none: that of a guard band as wide as the 95 % interval.
const USUAL_RISK: f64 = 0.025;

/// Looks come on the second; a mark of a phase may be off by rounding, s.
const SAME_S: f64 = 1e-6;

/// How a hold that may end early came to its end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HoldEnd {
    /// At a look, after so many seconds of counted hold.
    Decided(f64),
    /// At its longest, or because its pressure had run down.
    Whole,
}

/// The looks of one hold, and what each may spend.
#[derive(Debug, Clone, PartialEq)]
pub struct EarlyRule {
    rule: DecisionRule,
    looks_s: Vec<f64>,
}

impl EarlyRule {
    /// The rule of a shop for a hold of at most `longest_s`, s.
    pub fn new(rule: DecisionRule, longest_s: f64) -> Self {
        // 60, 90, 120, 180, 240, 360, 480 s and so on: each about a third later.
        let steps = [1.0, 1.5];
        let times = (0..MOST_LOOKS).map(|i| {
            let doublings = 2f64.powi(i32::try_from(i / 2).unwrap_or(0));
            FIRST_LOOK_S * doublings * steps[i % 2]
        });
        Self {
            rule,
            looks_s: times
                .take_while(|time| *time <= LAST_LOOK * longest_s)
                .collect(),
        }
    }

    /// The looks, s of counted hold, rising.
    pub fn looks_s(&self) -> &[f64] {
        &self.looks_s
    }

    /// Whether a hold of this length ended at a look, s.
    pub fn is_look(&self, held_s: f64) -> bool {
        self.looks_s.iter().any(|t| (t - held_s).abs() <= SAME_S)
    }

    /// Probability with which the truth must be on one side of a limit, by how the hold ended.
    pub fn confidence(&self, end: HoldEnd) -> f64 {
        let risk = match self.rule {
            DecisionRule::Guarded { probability } => 1.0 - probability,
            DecisionRule::Simple | DecisionRule::WhollyInside => USUAL_RISK,
        };
        let n_looks = self.looks_s.len() as f64;
        let spent = match (end, self.looks_s.is_empty()) {
            (HoldEnd::Whole, true) => risk,
            (HoldEnd::Whole, false) => (1.0 - EARLY_PART) * risk,
            (HoldEnd::Decided(_), _) => EARLY_PART * risk / n_looks.max(1.0),
        };
        1.0 - spent
    }

    /// Judges a hold that may end early. As [`judge`], by the interval that belongs to its end.
    pub fn judge(
        &self,
        evaluation: Result<&Evaluation, String>,
        flags: &[Flag],
        limits: &[Limit],
        end: HoldEnd,
    ) -> Verdict {
        let confidence = self.confidence(end);
        let rule = match (self.rule, end) {
            (DecisionRule::Simple, HoldEnd::Whole) => {
                return judge(evaluation, flags, limits, self.rule);
            }
            (DecisionRule::WhollyInside, _) => DecisionRule::WhollyInside,
            (DecisionRule::Simple | DecisionRule::Guarded { .. }, _) => DecisionRule::Guarded {
                probability: confidence,
            },
        };
        let Ok(found) = evaluation else {
            return judge(evaluation, flags, limits, self.rule);
        };
        let wide = widened(found, confidence);
        let mut verdict = judge(Ok(&wide), flags, limits, rule);
        // What else of a hold speaks against a pass goes by the interval of 95 %, and a wider one
        // may hide it: what is decided has to be so by both.
        let usual = judge(Ok(found), flags, limits, rule);
        for (own, other) in verdict.judged.iter_mut().zip(usual.judged) {
            if own.outcome == Outcome::Pass && other.outcome != Outcome::Pass {
                *own = other;
            }
        }
        if let HoldEnd::Decided(held_s) = end {
            for own in &mut verdict.judged {
                self.at_a_look(own, found, held_s);
            }
        }
        for own in &mut verdict.judged {
            own.reason = format!("{}; {}", own.reason, clause(confidence, end));
        }
        let void =
            (verdict.outcome == Outcome::NotValid && is_void(flags)).then_some(Outcome::NotValid);
        let outcomes = verdict.judged.iter().map(|j| j.outcome).chain(void);
        verdict.outcome = outcomes.max_by_key(|o| rank(*o)).unwrap_or(verdict.outcome);
        verdict.rule = self.rule;
        verdict
    }

    /// What a look may not decide.
    fn at_a_look(&self, judged: &mut Judged, found: &Evaluation, held_s: f64) {
        let is_decided = matches!(judged.outcome, Outcome::Pass | Outcome::Fail);
        let figure = found.figure(judged.limit.figure);
        let why = if !is_decided {
            return;
        } else if !self.is_look(held_s) {
            "the hold ended at no time of a look"
        } else if found.doubts.iter().any(is_misfit) {
            "a doubt stands"
        } else if figure.is_none_or(|f| f.measured.is_none()) {
            "a path that can only be bounded ends no hold"
        } else if judged.outcome == Outcome::Fail && held_s < FAILS_FROM_S - SAME_S {
            "nothing fails so early"
        } else {
            return;
        };
        judged.outcome = Outcome::Undecided;
        judged.reason = format!("{}, but {why}", judged.reason);
    }
}

/// Whether a verdict ends a hold.
pub fn ends_the_hold(verdict: &Verdict) -> bool {
    matches!(verdict.outcome, Outcome::Pass | Outcome::Fail)
}

fn is_misfit(doubt: &Doubt) -> bool {
    matches!(doubt, Doubt::NoFit { .. })
}

fn is_void(flags: &[Flag]) -> bool {
    flags.iter().any(|flag| flag.weight == Weight::Voids)
}

/// Which interval decided, for the sentence of a limit.
fn clause(confidence: f64, end: HoldEnd) -> String {
    let percent = 100.0 * (2.0 * confidence - 1.0);
    let percent = number(percent, 1.0);
    match end {
        HoldEnd::Decided(held_s) => format!(
            "the hold was ended as decided after {} s, and its ± is for {percent} % as that look asks",
            number(held_s, 10.0)
        ),
        HoldEnd::Whole => {
            format!("it could have ended earlier, so the ± is for {percent} %")
        }
    }
}

/// The same figures with the interval that leaves out `1 - confidence` on each side. Figures that
/// are only bounded stay as they are.
fn widened(evaluation: &Evaluation, confidence: f64) -> Evaluation {
    let mut wide = evaluation.clone();
    wide.figures.iter_mut().for_each(|f| widen(f, confidence));
    wide
}

fn widen(figure: &mut Figure, confidence: f64) {
    let Some(measured) = figure.measured else {
        return;
    };
    let factor = match figure.degrees_of_freedom {
        Some(freedom) => student_quantile(confidence, freedom),
        None => normal_quantile(confidence),
    };
    // A factor that was taken larger than the law asks stays as much larger.
    figure.coverage_factor = factor.max(figure.coverage_factor);
    let half = figure.coverage_factor * measured.standard_si;
    figure.lower_si = figure.lower_si.min(measured.value_si - half);
    figure.upper_si = figure.upper_si.max(measured.value_si + half);
}

#[cfg(test)]
mod tests;
