//! Limits on single paths, judged by what an investigation told apart.
//!
//! The flow of a way is judged like any figure. Where the rig's own leak was measured, and
//! takes up too much of a limit, nothing is decided: it would be the rig that is judged.

use super::DecisionRule;
use super::Judged;
use super::Limit;
use super::Outcome;
use super::choose::Question;
use super::choose::questions;
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
/// rig alone loses on the cap side, m³/s, if a hold with capped hoses measured it. `oil_k` is
/// the mean oil temperature of each phase, as far as it was measured.
pub fn judge_ways(
    attribution: &Attribution,
    limits: &[Limit],
    rule: DecisionRule,
    rig: Option<f64>,
    oil_k: &[Option<f64>],
) -> Vec<Judged> {
    let judged = questions(limits).into_iter().filter_map(|question| {
        let of_rig = rig.filter(|_| is_moved_by_rig(question.figure()));
        let strictest = question.strictest();
        let part = RIG_PART * strictest.number * strictest.si_per_unit;
        if let Some(rig) = of_rig.filter(|rig| *rig > part) {
            return Some(rig_alone(strictest, rig));
        }
        worst_of(attribution, &question, rule, oil_k)
    });
    judged.collect()
}

/// Whether the rig's leak would count in a figure that no investigation separates from it.
fn is_moved_by_rig(name: FigureName) -> bool {
    matches!(name, FigureName::CapLoss | FigureName::CapPortLeakage)
}

fn rig_alone(limit: &Limit, rig_si: f64) -> Judged {
    let rig = rig_si / limit.si_per_unit;
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
fn worst_of(
    attribution: &Attribution,
    question: &Question<'_>,
    rule: DecisionRule,
    oil_k: &[Option<f64>],
) -> Option<Judged> {
    let of_figure =
        |answer: &&Answer| !answer.way.is_put_in() && answer.way.word() == question.figure().word();
    let answers = attribution.answers.iter().filter(of_figure);
    let judged = answers.map(|answer| {
        let in_phases = answer.driven_in.iter().map(|phase| Conditions {
            p_holding_pa: Some(answer.at_pa),
            t_oil_k: oil_k.get(*phase).copied().flatten(),
            ..Conditions::default()
        });
        let in_phases: Vec<Conditions> = in_phases.collect();
        match (&answer.standing, question.chosen(&in_phases)) {
            (Standing::NotDriven, _) => of_answer(answer, &question.open(), rule),
            (_, Ok(limit)) => {
                let judged = of_answer(answer, limit, rule);
                // Holds are as long as they are: a path has no length of its own to compare.
                let clauses = limit.basis.clauses(f64::INFINITY);
                Judged {
                    reason: format!("{}{clauses}", judged.reason),
                    ..judged
                }
            }
            (_, Err(undecided)) => *undecided,
        }
    });
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
    use crate::verdict::Band;
    use crate::verdict::Basis;
    use crate::verdict::Row;

    const ML_MIN: f64 = 1e-6 / 60.0;

    fn limit(figure: FigureName, number: f64) -> Limit {
        Limit {
            id: "l".into(),
            figure,
            number,
            unit: "mL/min".into(),
            si_per_unit: ML_MIN,
            text: format!("{number} mL/min"),
            at_pressure: None,
            at_temperature: None,
            source: "invented".into(),
            basis: Basis::default(),
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
        let judged = judge_ways(attribution, &limits, DecisionRule::Simple, None, &[]);
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

    /// Rows for two bands of oil: the phases that drove a path must all be in one of them.
    #[test]
    fn a_path_has_the_row_of_the_phases_that_drove_it() {
        let row = |number: f64, from: f64, to: f64| Limit {
            basis: Basis {
                row: Some(Row {
                    words: format!("row of {number}"),
                    oil: Some(Band {
                        from_si: from + 273.15,
                        to_si: to + 273.15,
                        text: format!("{from} to {to}"),
                    }),
                    pressure: None,
                }),
                ..Basis::default()
            },
            ..limit(FigureName::GlandLeakage, number)
        };
        let limits = [row(0.5, 20.0, 30.0), row(2.0, 30.0, 40.0)];
        let mut found = attribution(Standing::Leaks, 0.9, 1.0, 1.1);
        found.answers[0].driven_in = vec![0, 2];
        let judged = |oil: [Option<f64>; 3]| {
            let kelvin = oil.map(|t| t.map(|t: f64| t + 273.15));
            let judged = judge_ways(&found, &limits, DecisionRule::Simple, None, &kelvin);
            assert_eq!(judged.len(), 1);
            (judged[0].outcome, judged[0].reason.clone())
        };
        assert_eq!(judged([Some(25.0), None, Some(29.0)]).0, Outcome::Fail);
        assert_eq!(judged([Some(31.0), None, Some(39.0)]).0, Outcome::Pass);
        for (oil, says) in [
            ([Some(25.0), None, Some(35.0)], "different rows"),
            ([Some(35.0), None, None], "not measured"),
            ([Some(45.0), None, Some(35.0)], "no row"),
        ] {
            let (outcome, reason) = judged(oil);
            assert_eq!(outcome, Outcome::Undecided);
            assert!(reason.contains(says), "{reason}");
        }
    }

    /// Baseline 0.35 mL/min of a limit of 0.40, common practice: the rig is 88 % of it.
    #[test]
    fn a_rig_that_takes_up_the_limit_is_not_judged_as_the_cylinder() {
        let limits = [limit(FigureName::CapLoss, 0.40)];
        let found = attribution(Standing::Tight, 0.0, 0.05, 0.1);
        let judged = judge_ways(
            &found,
            &limits,
            DecisionRule::Simple,
            Some(0.35 * ML_MIN),
            &[],
        );
        assert_eq!(judged[0].outcome, Outcome::Undecided);
        assert!(judged[0].reason.contains("88 % of the limit"), "{judged:?}");
        assert!(
            judge_ways(
                &found,
                &limits,
                DecisionRule::Simple,
                Some(0.05 * ML_MIN),
                &[]
            )
            .is_empty()
        );
    }
}
