//! From figures, flags and limits to one outcome.

use super::DecisionRule;
use super::Judged;
use super::Limit;
use super::Outcome;
use super::Verdict;
use super::choose::questions;
use super::compare::measured_or_bounded;
use super::compare::not_valid;
use super::compare::numbers;
use super::compare::one;
use super::equalised::after_meeting;
use super::shared::of_both;
use super::turning::of_turn;
use super::unshown::by_the_account;
use crate::account::Doubt;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::health::Flag;
use crate::health::Weight;

/// Decides. `evaluation` is the evaluation, or why there is none.
pub fn judge(
    evaluation: Result<&Evaluation, String>,
    flags: &[Flag],
    limits: &[Limit],
    rule: DecisionRule,
) -> Verdict {
    let mut reasons: Vec<String> = flags
        .iter()
        .filter(|f| f.weight == Weight::Voids)
        .map(|f| f.evidence.clone())
        .collect();
    if let Err(why) = &evaluation {
        reasons.push(why.clone());
    }
    let is_void = !reasons.is_empty();
    // An account that does not fit voids what comes from it; movement and pressure loss are
    // read from one sensor each and stand.
    let misfits: Vec<&str> = evaluation
        .iter()
        .flat_map(|e| &e.doubts)
        .filter_map(misfit)
        .collect();
    reasons.extend(misfits.iter().map(|m| (*m).to_owned()));
    let judged: Vec<Judged> = questions(limits)
        .iter()
        .map(|question| match (&evaluation, is_void) {
            (Ok(evaluation), false) => match question.chosen(&[evaluation.over_hold]) {
                Ok(limit) => answered(evaluation, limit, rule, &misfits),
                Err(undecided) => *undecided,
            },
            (Ok(evaluation), true) => {
                let chosen = question.chosen(&[evaluation.over_hold]);
                let limit = chosen.map_or_else(|_| question.open(), Clone::clone);
                Judged {
                    outcome: Outcome::NotValid,
                    reason: "the measurement is not valid".into(),
                    ..numbers(evaluation.figure(limit.figure), &limit)
                }
            }
            (Err(_), _) => not_valid(&question.open(), "there is no figure to compare".into()),
        })
        .collect();
    // A test without limits is as valid as its measurement.
    let nothing_judged = limits.is_empty() && !misfits.is_empty();
    let void = (is_void || nothing_judged).then_some(Outcome::NotValid);
    let worst = judged
        .iter()
        .map(|j| j.outcome)
        .chain(void)
        .max_by_key(|o| rank(*o));
    if limits.is_empty() && reasons.is_empty() {
        reasons.push("no limit was chosen: the figures are stated and nothing is decided".into());
    }
    Verdict {
        outcome: worst.unwrap_or(Outcome::Measured),
        judged,
        reasons,
        rule,
    }
}

/// Decides a figure that a person read, against each limit.
pub fn judge_reading(figure: &Figure, limits: &[Limit], rule: DecisionRule) -> Vec<Judged> {
    limits
        .iter()
        .map(|limit| measured_or_bounded(figure, limit, rule))
        .collect()
}

/// One limit, and what else of the hold speaks for or against it.
fn answered(
    evaluation: &Evaluation,
    limit: &Limit,
    rule: DecisionRule,
    misfits: &[&str],
) -> Judged {
    let judged = believed(one(evaluation, limit, rule, misfits), misfits);
    let judged = by_the_account(judged, evaluation);
    let judged = match &evaluation.met {
        Some(met) => after_meeting(judged, met),
        None => judged,
    };
    let judged = match evaluation.shares_load {
        true => of_both(judged),
        false => judged,
    };
    let judged = match &evaluation.turn {
        Some(turn) => of_turn(judged, turn),
        None => judged,
    };
    let held_s = evaluation.hold_s.1 - evaluation.hold_s.0;
    let clauses = limit.basis.clauses(held_s);
    Judged {
        reason: format!("{}{clauses}", judged.reason),
        ..judged
    }
}

/// While the account finds that something deceives, nothing passes; what is over a limit by
/// its own sensor stays so.
fn believed(judged: Judged, misfits: &[&str]) -> Judged {
    match misfits.first() {
        Some(why) if judged.outcome == Outcome::Pass => Judged {
            outcome: Outcome::NotValid,
            reason: format!("{}, but {why}", judged.reason),
            ..judged
        },
        _ => judged,
    }
}

fn misfit(doubt: &Doubt) -> Option<&str> {
    match doubt {
        Doubt::NoFit { evidence } => Some(evidence),
        Doubt::Note { .. } => None,
    }
}

/// Worst last: pass, measured, undecided, not valid, fail.
pub(super) fn rank(outcome: Outcome) -> u8 {
    match outcome {
        Outcome::Pass => 0,
        Outcome::Measured => 1,
        Outcome::Undecided => 2,
        Outcome::NotValid => 3,
        Outcome::Fail => 4,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::account::Conditions;
    use crate::account::FigureName;
    use crate::account::Measured;
    use crate::verdict::Basis;

    const ML_MIN: f64 = 1e-6 / 60.0;

    fn limit(number: f64) -> Limit {
        Limit {
            id: "l".into(),
            figure: FigureName::CapLoss,
            number,
            unit: "mL/min".into(),
            si_per_unit: ML_MIN,
            text: format!("{number} mL/min"),
            at_pressure: None,
            at_temperature: None,
            source: "test".into(),
            basis: Basis::default(),
        }
    }

    fn evaluation(figures: Vec<Figure>) -> Evaluation {
        Evaluation {
            method_version: 1,
            hold_s: (0.0, 600.0),
            over_hold: Conditions::default(),
            figures,
            lines: Vec::new(),
            findings: Vec::new(),
            doubts: Vec::new(),
            met: None,
            shares_load: false,
            by_heat_m_per_s: None,
            turn: None,
            evened: None,
            counted: None,
            forecast: None,
        }
    }

    fn measured(value: f64, standard: f64) -> Evaluation {
        let m = Measured {
            value_si: value * ML_MIN,
            standard_si: standard * ML_MIN,
        };
        // The worked budget takes k = 2.
        evaluation(vec![Figure {
            coverage_factor: 2.0,
            ..Figure::measured(FigureName::CapLoss, m, Vec::new(), Conditions::default())
        }])
    }

    #[track_caller]
    fn check(
        evaluation: &Evaluation,
        number: f64,
        rule: DecisionRule,
        expected: Outcome,
    ) -> Verdict {
        let verdict = judge(Ok(evaluation), &[], &[limit(number)], rule);
        assert_eq!(verdict.outcome, expected, "{verdict:?}");
        verdict
    }

    /// A worked budget: 0.185585 mL/min, u 0.015765. Accepted at 95 % up to 0.2241 of a
    /// limit of 0.25; against 0.20 the conformance probability is 0.820 (computed).
    #[test]
    fn the_worked_budget_passes_one_limit_and_is_too_close_to_another() {
        let rule = DecisionRule::Guarded { probability: 0.95 };
        let budget = measured(0.185_585, 0.015_765);
        let _ = check(&budget, 0.25, rule, Outcome::Pass);
        let close = check(&budget, 0.20, rule, Outcome::Undecided);
        let within = close.judged[0].probability_within.expect("has a value");
        assert!((within - 0.820).abs() < 5e-4, "{within}");
        let _ = check(&measured(0.2240, 0.015_765), 0.25, rule, Outcome::Pass);
        let _ = check(&measured(0.2242, 0.015_765), 0.25, rule, Outcome::Undecided);
        let _ = check(&budget, 0.20, DecisionRule::Simple, Outcome::Pass);
        let whole = check(&budget, 0.25, DecisionRule::WhollyInside, Outcome::Pass);
        assert_eq!(
            whole.judged[0].reason,
            "0.186 ± 0.032 mL/min is within the limit of 0.25 mL/min (accepted up to 0.218 mL/min)"
        );
        let _ = check(
            &measured(0.2190, 0.015_765),
            0.25,
            DecisionRule::WhollyInside,
            Outcome::Undecided,
        );
        let _ = check(&budget, 0.15, rule, Outcome::Fail);
    }

    #[test]
    fn without_a_limit_nothing_is_decided() {
        let verdict = judge(Ok(&measured(0.01, 0.001)), &[], &[], DecisionRule::Simple);
        assert_eq!(verdict.outcome, Outcome::Measured);
    }

    #[test]
    fn a_voided_measurement_is_never_a_pass_with_or_without_limits() {
        let flag = Flag {
            weight: Weight::Voids,
            evidence: "sensor lost".into(),
        };
        for limits in [vec![], vec![limit(1.0)]] {
            let verdict = judge(
                Ok(&measured(0.01, 0.001)),
                std::slice::from_ref(&flag),
                &limits,
                DecisionRule::Simple,
            );
            assert_eq!(verdict.outcome, Outcome::NotValid);
        }
        let verdict = judge(
            Err("no hold".into()),
            &[],
            &[limit(1.0)],
            DecisionRule::Simple,
        );
        assert_eq!(verdict.outcome, Outcome::NotValid);
    }

    #[test]
    fn a_figure_without_a_finite_uncertainty_is_never_a_pass() {
        for standard in [f64::NAN, f64::INFINITY] {
            let _ = check(
                &measured(0.01, standard),
                1.0,
                DecisionRule::Simple,
                Outcome::NotValid,
            );
        }
    }

    #[test]
    fn a_figure_that_is_no_number_is_never_a_pass() {
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            let _ = check(
                &measured(value, 0.001),
                1.0,
                DecisionRule::Simple,
                Outcome::NotValid,
            );
        }
    }

    #[test]
    fn while_something_deceives_nothing_passes_but_a_fail_stands() {
        let mut found = measured(0.01, 0.001);
        found.doubts.push(Doubt::NoFit {
            evidence: "a sensor deceives".into(),
        });
        let _ = check(&found, 1.0, DecisionRule::Simple, Outcome::NotValid);
        let _ = check(&found, 0.005, DecisionRule::Simple, Outcome::Fail);
    }

    #[test]
    fn a_figure_that_could_not_be_stated_is_never_a_pass() {
        let _ = check(
            &evaluation(Vec::new()),
            1.0,
            DecisionRule::Simple,
            Outcome::NotValid,
        );
    }

    #[test]
    fn a_bound_decides_only_when_it_is_wholly_on_one_side() {
        for (lower, upper, expected) in [
            (0.0, 0.9, Outcome::Pass),
            (0.2, 1.4, Outcome::Undecided),
            (1.1, 1.4, Outcome::Fail),
        ] {
            let figure = Figure::bounded(
                FigureName::CapLoss,
                lower * ML_MIN,
                upper * ML_MIN,
                2.0,
                Conditions::default(),
            );
            let _ = check(
                &evaluation(vec![figure]),
                1.0,
                DecisionRule::Guarded { probability: 0.95 },
                expected,
            );
        }
    }

    #[test]
    fn a_larger_leak_never_has_a_better_outcome() {
        for rule in [
            DecisionRule::Simple,
            DecisionRule::Guarded { probability: 0.95 },
            DecisionRule::WhollyInside,
        ] {
            let mut before = 0;
            for step in 0..200 {
                let verdict = judge(
                    Ok(&measured(f64::from(step) * 0.01, 0.05)),
                    &[],
                    &[limit(1.0)],
                    rule,
                );
                assert!(rank(verdict.outcome) >= before);
                before = rank(verdict.outcome);
            }
            assert_eq!(before, rank(Outcome::Fail));
        }
    }

    /// A size near zero is within ±1.645 u with 90 %, not with 95 % (normal tables).
    #[test]
    fn a_size_near_zero_has_two_ends_to_stay_within() {
        let verdict = check(
            &measured(0.0, 0.1),
            0.1645,
            DecisionRule::Simple,
            Outcome::Pass,
        );
        let within = verdict.judged[0].probability_within.expect("has a value");
        assert!((within - 0.90).abs() < 1e-3, "{within}");
        let _ = check(
            &measured(0.0, 0.1),
            0.1645,
            DecisionRule::Guarded { probability: 0.95 },
            Outcome::Undecided,
        );
        let _ = check(
            &measured(0.0, 0.1),
            0.1961,
            DecisionRule::Guarded { probability: 0.95 },
            Outcome::Pass,
        );
    }

    #[test]
    fn movement_counts_in_both_directions() {
        let m = Measured {
            value_si: -2.0 * ML_MIN,
            standard_si: 0.01 * ML_MIN,
        };
        let found = evaluation(vec![Figure::measured(
            FigureName::RodGain,
            m,
            Vec::new(),
            Conditions::default(),
        )]);
        let mut gained = limit(1.0);
        gained.figure = FigureName::RodGain;
        assert_eq!(
            judge(Ok(&found), &[], &[gained], DecisionRule::Simple).outcome,
            Outcome::Fail
        );
    }
}
