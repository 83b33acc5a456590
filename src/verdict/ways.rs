//! Limits on single paths, judged by what an investigation told apart.
//!
//! The flow of a way is judged like any figure. Where the rig's own leak was measured, and
//! takes up too much of a limit, nothing is decided: it would be the rig that is judged.

use super::DecisionRule;
use super::Judged;
use super::Limit;
use super::Outcome;
use super::compare::measured_or_bounded;
use super::compare::numbers;
use super::decide::rank;
use crate::account::Conditions;
use crate::account::Figure;
use crate::account::FigureName;
use crate::account::Measured;
use crate::account::investigation::Answer;
use crate::account::investigation::Attribution;
use crate::account::investigation::Standing;
use crate::fit::normal_quantile;
use crate::quantity::number;

/// The rig may take up this part of a limit (common practice, no source).
const RIG_PART: f64 = 0.2;

/// Judges the limits that name a single path; others belong to their holds. `rig` is what the
/// rig alone loses on the cap side, m³/s, if a hold with capped hoses measured it.
pub fn judge_ways(
    attribution: &Attribution,
    limits: &[Limit],
    rule: DecisionRule,
    rig: Option<f64>,
) -> Vec<Judged> {
    let judged = limits.iter().filter_map(|limit| {
        let of_rig = rig
            .filter(|_| is_moved_by_rig(limit.figure))
            .map(|rig| rig / limit.si_per_unit);
        if let Some(rig) = of_rig.filter(|rig| *rig > RIG_PART * limit.number) {
            return Some(rig_alone(limit, rig));
        }
        worst_of(attribution, limit, rule)
    });
    judged.collect()
}

/// Whether the rig's leak would count in a figure that no investigation separates from it.
fn is_moved_by_rig(name: FigureName) -> bool {
    matches!(name, FigureName::CapLoss | FigureName::CapPortLeakage)
}

fn rig_alone(limit: &Limit, rig: f64) -> Judged {
    let part = (rig / limit.number * 100.0).ceil();
    Judged {
        outcome: Outcome::Undecided,
        reason: format!(
            "the rig alone loses {} {}, {part:.0} % of the limit of {}: make the rig tighter, then measure again",
            number(rig, 0.1 * rig),
            limit.unit,
            limit.text
        ),
        ..numbers(None, limit)
    }
}

/// Judges the answers that a figure's limit is for: the machine's own valves, not one that
/// was put in their place; the piston either way. The worst counts.
fn worst_of(attribution: &Attribution, limit: &Limit, rule: DecisionRule) -> Option<Judged> {
    let of_figure =
        |answer: &&Answer| !answer.way.is_put_in() && answer.way.word() == limit.figure.word();
    let answers = attribution.answers.iter().filter(of_figure);
    let judged = answers.map(|answer| of_answer(answer, limit, rule));
    // The last of equals: what was driven one way only is asked one way only.
    judged.max_by_key(|judged| rank(judged.outcome))
}

fn of_answer(answer: &Answer, limit: &Limit, rule: DecisionRule) -> Judged {
    let part = answer.way.part();
    let undecided = |reason: String| Judged {
        outcome: Outcome::Undecided,
        reason,
        ..numbers(None, limit)
    };
    match &answer.standing {
        Standing::NotDriven => undecided(format!(
            "nothing drove oil along it in any phase: {part} was not tested"
        )),
        Standing::AtSetting => undecided(format!(
            "{part} stood at its setting, where it opens as it should: hold it below that"
        )),
        Standing::NotValid => Judged {
            outcome: Outcome::NotValid,
            ..undecided("the phases contradict each other".into())
        },
        Standing::Leaks | Standing::Tight | Standing::Open { .. } => {
            measured_or_bounded(&figure(answer, limit.figure), limit, rule)
        }
    }
}

/// The answer as a figure: a value where it leaks and its interval has two ends, else bounds.
fn figure(answer: &Answer, name: FigureName) -> Figure {
    let at = Conditions {
        p_holding_pa: Some(answer.at_pa),
        ..Conditions::default()
    };
    // Oil that passes the piston towards the cap counts as much as the other way.
    let sign = if answer.way.is_backwards() { -1.0 } else { 1.0 };
    let factor = normal_quantile(0.975);
    let (lower, upper) = (answer.lower_m3_per_s, answer.upper_m3_per_s);
    let ends = [sign * lower, sign * upper];
    let bounded = Figure::bounded(name, ends[0].min(ends[1]), ends[0].max(ends[1]), factor, at);
    if answer.standing != Standing::Leaks || !upper.is_finite() {
        return bounded;
    }
    Figure {
        measured: Some(Measured {
            value_si: sign * answer.best_m3_per_s,
            standard_si: (0.5 * (upper - lower) / factor).max(f64::MIN_POSITIVE),
        }),
        ..bounded
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::account::investigation::Way;

    const ML_MIN: f64 = 1e-6 / 60.0;

    fn limit(figure: FigureName, number: f64) -> Limit {
        Limit {
            id: "l".into(),
            figure,
            number,
            unit: "mL/min",
            si_per_unit: ML_MIN,
            text: format!("{number} mL/min"),
            at_pressure: None,
            at_temperature: None,
            source: "invented".into(),
        }
    }

    fn attribution(standing: Standing, lower: f64, best: f64, upper: f64) -> Attribution {
        Attribution {
            answers: vec![Answer {
                way: Way::Gland,
                standing,
                at_pa: 160e5,
                best_m3_per_s: best * ML_MIN,
                lower_m3_per_s: lower * ML_MIN,
                upper_m3_per_s: upper * ML_MIN,
                driven_in: vec![0],
            }],
            small_m3_per_s: 0.03 * ML_MIN,
            contradiction: None,
            noticed: Vec::new(),
            next: None,
        }
    }

    #[track_caller]
    fn check(attribution: &Attribution, number: f64, outcome: Outcome, says: &str) {
        let limits = [limit(FigureName::GlandLeakage, number)];
        let judged = judge_ways(attribution, &limits, DecisionRule::Simple, None);
        assert_eq!(judged[0].outcome, outcome, "{judged:?}");
        assert!(judged[0].reason.contains(says), "{judged:?}");
    }

    #[test]
    fn a_path_that_was_told_apart_is_judged_like_any_figure() {
        let leaks = attribution(Standing::Leaks, 0.9, 1.0, 1.1);
        check(&leaks, 0.5, Outcome::Fail, "over the limit");
        check(&leaks, 2.0, Outcome::Pass, "within the limit");
        let tight = attribution(Standing::Tight, 0.0, 0.0, 0.02);
        check(&tight, 0.12, Outcome::Pass, "at most 0.02");
    }

    #[test]
    fn what_cannot_be_told_is_never_a_pass() {
        let with = Vec::new();
        let open = attribution(Standing::Open { with }, 0.0, 0.4, 1.5);
        check(&open, 0.12, Outcome::Undecided, "cannot be told apart");
        let unlimited = attribution(Standing::Open { with: Vec::new() }, 0.0, 0.4, f64::INFINITY);
        check(&unlimited, 0.12, Outcome::Undecided, "no upper end");
        let not_driven = attribution(Standing::NotDriven, 0.0, 0.0, f64::INFINITY);
        check(&not_driven, 0.12, Outcome::Undecided, "was not tested");
        let contradicting = attribution(Standing::NotValid, 0.0, 0.0, 0.01);
        check(&contradicting, 0.12, Outcome::NotValid, "contradict");
    }

    /// A seal that was seen to let both pressures meet has no upper end, but a lower one.
    #[test]
    fn a_leak_without_an_upper_end_fails_by_its_lower_one() {
        let met = attribution(Standing::Leaks, 3.0, 3.0, f64::INFINITY);
        check(&met, 0.12, Outcome::Fail, "at least 3");
    }

    /// Baseline 0.35 mL/min of a limit of 0.40, common practice: the rig is 88 % of it.
    #[test]
    fn a_rig_that_takes_up_the_limit_is_not_judged_as_the_cylinder() {
        let limits = [limit(FigureName::CapLoss, 0.40)];
        let found = attribution(Standing::Tight, 0.0, 0.05, 0.1);
        let judged = judge_ways(&found, &limits, DecisionRule::Simple, Some(0.35 * ML_MIN));
        assert_eq!(judged[0].outcome, Outcome::Undecided);
        assert!(judged[0].reason.contains("88 % of the limit"), "{judged:?}");
        assert!(judge_ways(&found, &limits, DecisionRule::Simple, Some(0.05 * ML_MIN)).is_empty());
    }
}
