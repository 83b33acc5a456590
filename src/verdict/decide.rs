//! From figures, flags and limits to one outcome.

use super::DecisionRule;
use super::Judged;
use super::Limit;
use super::Outcome;
use super::Verdict;
use crate::account::Doubt;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::account::FigureName;
use crate::fit::normal_cdf;
use crate::health::Flag;
use crate::health::Weight;
use crate::quantity::number;

/// A figure stated this close to the limit's pressure counts as stated at it.
const PRESSURE_MATCH: f64 = 0.03;
/// The same for temperature, K.
const TEMPERATURE_MATCH_K: f64 = 2.0;

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
    let judged: Vec<Judged> = limits
        .iter()
        .map(|limit| match (&evaluation, is_void) {
            (Ok(evaluation), false) => believed(one(evaluation, limit, rule, &misfits), &misfits),
            (Ok(evaluation), true) => Judged {
                outcome: Outcome::NotValid,
                reason: "the measurement is not valid".into(),
                ..numbers(evaluation.figure(limit.figure), limit)
            },
            (Err(_), _) => not_valid(limit, "there is no figure to compare".into()),
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
fn rank(outcome: Outcome) -> u8 {
    match outcome {
        Outcome::Pass => 0,
        Outcome::Measured => 1,
        Outcome::Undecided => 2,
        Outcome::NotValid => 3,
        Outcome::Fail => 4,
    }
}

fn not_valid(limit: &Limit, reason: String) -> Judged {
    Judged {
        outcome: Outcome::NotValid,
        reason,
        ..numbers(None, limit)
    }
}

/// The figure's numbers in the limit's unit, not yet decided.
fn numbers(figure: Option<&Figure>, limit: &Limit) -> Judged {
    let measured = figure.and_then(|f| f.measured.map(|m| (m, f.coverage_factor)));
    Judged {
        limit: limit.clone(),
        outcome: Outcome::Undecided,
        number: measured.map(|(m, _)| leak(limit.figure, m.value_si) / limit.si_per_unit),
        expanded: measured.map(|(m, k)| k * m.standard_si / limit.si_per_unit),
        probability_within: None,
        reason: String::new(),
    }
}

/// Whether a figure counts in both directions: movement, and oil that passes the piston
/// either way. Pressure can only be lost, and outside paths can only lose.
fn counts_both_ways(name: FigureName) -> bool {
    use FigureName::{CapLoss, Drift, PistonBypass, RodGain};
    matches!(name, Drift | CapLoss | RodGain | PistonBypass)
}

/// The size of a leak.
fn leak(name: FigureName, si: f64) -> f64 {
    if counts_both_ways(name) { si.abs() } else { si }
}

fn one(evaluation: &Evaluation, limit: &Limit, rule: DecisionRule, misfits: &[&str]) -> Judged {
    let Some(figure) = evaluation.figure(limit.figure) else {
        if let Some(why) = misfits.first() {
            return not_valid(limit, format!("not stated: {why}"));
        }
        return not_valid(limit, "this hold gives no such figure".into());
    };
    if let Some(reason) = stated_elsewhere(figure, limit) {
        return Judged {
            reason,
            ..numbers(Some(figure), limit)
        };
    }
    match figure.measured {
        Some(_) => value(figure, limit, rule),
        None => bound(figure, limit),
    }
}

/// Why a figure cannot be compared with a limit stated for other conditions.
fn stated_elsewhere(figure: &Figure, limit: &Limit) -> Option<String> {
    if let Some(wanted) = limit.at_pressure {
        match figure.at.p_holding_pa {
            Some(found) if (found / wanted.pa() - 1.0).abs() <= PRESSURE_MATCH => {}
            Some(found) => {
                return Some(format!(
                    "the limit is for {:.0} bar, the figure is for {:.0} bar: too far apart to carry over",
                    wanted.bar(),
                    found / 1e5
                ));
            }
            None => return Some("the limit is for a pressure, and none was measured".into()),
        }
    }
    let wanted = limit.at_temperature?.value;
    match figure.at.t_oil_k {
        Some(found) if (found - wanted).abs() <= TEMPERATURE_MATCH_K => None,
        Some(found) => Some(format!(
            "the limit is for {:.0} °C oil, the figure is for {:.0} °C: too far apart to carry over",
            wanted - 273.15,
            found - 273.15
        )),
        None => Some("the limit is for an oil temperature, and none was measured".into()),
    }
}

fn value(figure: &Figure, limit: &Limit, rule: DecisionRule) -> Judged {
    let mut judged = numbers(Some(figure), limit);
    let (Some(found), Some(expanded)) = (judged.number, judged.expanded) else {
        return judged;
    };
    if !(found.is_finite() && expanded.is_finite()) {
        return not_valid(
            limit,
            "the figure has no finite value or uncertainty".into(),
        );
    }
    if limit.figure == FigureName::LeakDown && figure.upper_si < 0.0 {
        let reason = "the pressure rose during the hold: a loss of pressure cannot be judged";
        return Judged {
            reason: reason.into(),
            ..judged
        };
    }
    let standard = (expanded / figure.coverage_factor).max(f64::MIN_POSITIVE);
    // Conformance probability (JCGM 106, 7), normal: of a one-sided limit, or of a size.
    let below = normal_cdf((limit.number - found) / standard);
    let beyond = normal_cdf((-limit.number - found) / standard);
    let within = if counts_both_ways(limit.figure) {
        below - beyond
    } else {
        below
    };
    judged.probability_within = Some(within);
    let (passes, fails) = match rule {
        DecisionRule::Simple => (found <= limit.number, found > limit.number),
        DecisionRule::Guarded { probability } => (
            within >= probability,
            found > limit.number && 1.0 - within >= probability,
        ),
    };
    let text = |v: f64| number(v, expanded);
    let what = format!(
        "{} ± {} {}",
        text(found),
        number(expanded, expanded),
        limit.unit
    );
    (judged.outcome, judged.reason) = if passes {
        (
            Outcome::Pass,
            format!("{what} is within the limit of {}", limit.text),
        )
    } else if fails {
        (
            Outcome::Fail,
            format!("{what} is over the limit of {}", limit.text),
        )
    } else {
        let side = if found <= limit.number {
            "below"
        } else {
            "above"
        };
        let reason = format!(
            "{what} is {side} the limit of {} but too close to decide ({:.0} % sure to be within); hold longer or settle longer",
            limit.text,
            within * 100.0
        );
        (Outcome::Undecided, reason)
    };
    judged
}

/// A path that can only be bounded passes wholly below the limit and fails wholly above.
fn bound(figure: &Figure, limit: &Limit) -> Judged {
    if !(figure.lower_si.is_finite() && figure.upper_si.is_finite()) {
        return not_valid(limit, "the figure has no finite bounds".into());
    }
    let ends =
        [figure.lower_si, figure.upper_si].map(|si| leak(limit.figure, si) / limit.si_per_unit);
    let crosses_zero = figure.lower_si < 0.0 && figure.upper_si > 0.0;
    let least = if crosses_zero {
        0.0
    } else {
        ends[0].min(ends[1])
    };
    let most = ends[0].max(ends[1]);
    let size = (most - least).abs().max(1e-3 * limit.number.abs());
    let most_text = number(most, size);
    let (outcome, reason) = if most <= limit.number {
        (
            Outcome::Pass,
            format!(
                "at most {most_text} {} is within the limit of {}",
                limit.unit, limit.text
            ),
        )
    } else if least > limit.number {
        let least_text = number(least, size);
        (
            Outcome::Fail,
            format!(
                "at least {least_text} {} is over the limit of {}",
                limit.unit, limit.text
            ),
        )
    } else {
        let reason = format!(
            "this path cannot be told apart by this hold alone: it is between {} and {most_text} {}, the limit is {}",
            number(least, size),
            limit.unit,
            limit.text
        );
        (Outcome::Undecided, reason)
    };
    Judged {
        outcome,
        reason,
        ..numbers(Some(figure), limit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::account::Conditions;
    use crate::account::Measured;

    const ML_MIN: f64 = 1e-6 / 60.0;

    fn limit(number: f64) -> Limit {
        Limit {
            id: "l".into(),
            figure: FigureName::CapLoss,
            number,
            unit: "mL/min",
            si_per_unit: ML_MIN,
            text: format!("{number} mL/min"),
            at_pressure: None,
            at_temperature: None,
            source: "test".into(),
        }
    }

    fn evaluation(figures: Vec<Figure>) -> Evaluation {
        Evaluation {
            method_version: 1,
            hold_s: (0.0, 600.0),
            figures,
            lines: Vec::new(),
            findings: Vec::new(),
            doubts: Vec::new(),
        }
    }

    fn measured(value: f64, standard: f64) -> Evaluation {
        let m = Measured {
            value_si: value * ML_MIN,
            standard_si: standard * ML_MIN,
        };
        evaluation(vec![Figure::measured(
            FigureName::CapLoss,
            m,
            2.0,
            Conditions::default(),
        )])
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
        let _ = check(&budget, 0.15, rule, Outcome::Fail);
    }

    /// JCGM 106 example (inputs from memory, arithmetic computed): V ≤ −5.40, −5.47
    /// measured with u 0.05: conformance probability 0.919.
    #[test]
    fn conformance_probability_is_that_of_the_breakdown_voltage() {
        let mut voltage = limit(-5.40);
        voltage.si_per_unit = 1.0;
        voltage.figure = FigureName::GlandLeakage;
        let m = Measured {
            value_si: -5.47,
            standard_si: 0.05,
        };
        let found = evaluation(vec![Figure::measured(
            FigureName::GlandLeakage,
            m,
            2.0,
            Conditions::default(),
        )]);
        let verdict = judge(Ok(&found), &[], &[voltage], DecisionRule::Simple);
        assert!((verdict.judged[0].probability_within.expect("value") - 0.9192).abs() < 5e-5);
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
            2.0,
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
