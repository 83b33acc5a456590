//! Whether holds that were repeated agree with each other.
//!
//! A seal that does not seat the same way twice passes by luck. So repeats that differ by more
//! than they can by chance, and by enough to matter, pass no limit together.

use super::Judged;
use super::Verdict;

/// Two repeats differ if they lie this many times their joint expanded uncertainty apart: three
/// sigma, as there are several pairs.
const TIMES_EXPANDED: f64 = 1.5;

/// Difference that matters, as a part of the limit (common practice, no source).
const PART_OF_LIMIT: f64 = 0.25;

/// Why repeats do not agree, as a sentence; None if they do, as far as can be said.
pub fn disagreement(repeats: &[&Verdict]) -> Option<String> {
    let first = repeats.first()?;
    first.judged.iter().find_map(|of_first| {
        let same: Vec<&Judged> = repeats
            .iter()
            .filter_map(|verdict| {
                let mut judged = verdict.judged.iter();
                judged.find(|j| j.limit.asks_the_same(&of_first.limit))
            })
            .collect();
        let pairs = same
            .iter()
            .enumerate()
            .flat_map(|(i, a)| same[i + 1..].iter().map(move |b| (*a, *b)));
        let apart = pairs.into_iter().any(|(a, b)| differ(a, b));
        apart.then(|| {
            let figures: Vec<String> = same
                .iter()
                .filter_map(|j| Some((j.number?, j.expanded?)))
                .map(|(number, expanded)| crate::quantity::number(number, expanded))
                .collect();
            format!(
                "repeated holds do not agree: {}, {} {}; what holds once may not hold the next time",
                of_first.limit.figure.plain(),
                figures.join(", "),
                of_first.limit.unit
            )
        })
    })
}

fn differ(a: &Judged, b: &Judged) -> bool {
    let (Some((x, u)), Some((y, v))) = (a.number.zip(a.expanded), b.number.zip(b.expanded)) else {
        return false;
    };
    let apart = (x - y).abs();
    apart > TIMES_EXPANDED * u.hypot(v) && apart > PART_OF_LIMIT * a.limit.number.abs()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::account::FigureName;
    use crate::verdict::Basis;
    use crate::verdict::DecisionRule;
    use crate::verdict::Limit;
    use crate::verdict::Outcome;

    fn found(number: f64, expanded: f64) -> Verdict {
        Verdict {
            outcome: Outcome::Pass,
            judged: vec![Judged {
                limit: Limit {
                    id: "l".into(),
                    figure: FigureName::CapLoss,
                    number: 0.12,
                    unit: "mL/min".into(),
                    si_per_unit: 1e-6 / 60.0,
                    text: "0.12 mL/min".into(),
                    at_pressure: None,
                    at_temperature: None,
                    source: "test".into(),
                    basis: Basis::default(),
                },
                outcome: Outcome::Pass,
                number: Some(number),
                expanded: Some(expanded),
                probability_within: None,
                acceptance: None,
                reason: String::new(),
            }],
            reasons: Vec::new(),
            rule: DecisionRule::Simple,
        }
    }

    fn disagree(figures: &[(f64, f64)]) -> Option<String> {
        let verdicts: Vec<Verdict> = figures.iter().map(|(x, u)| found(*x, *u)).collect();
        disagreement(&verdicts.iter().collect::<Vec<_>>())
    }

    #[test]
    fn repeats_differ_when_chance_does_not_explain_it_and_it_matters() {
        let said = disagree(&[(0.02, 0.01), (0.09, 0.01), (0.03, 0.01)]).expect("differ");
        assert!(
            said.contains("0.02, 0.09, 0.03 mL/min") || said.contains("0.020, 0.090, 0.030"),
            "{said}"
        );
        // Within what their uncertainties allow.
        assert_eq!(disagree(&[(0.02, 0.04), (0.09, 0.04), (0.03, 0.04)]), None);
        // Sure, and of no account.
        assert_eq!(disagree(&[(0.010, 0.001), (0.018, 0.001)]), None);
        assert_eq!(disagree(&[(0.02, 0.01)]), None);
        assert_eq!(disagree(&[]), None);
    }
}
