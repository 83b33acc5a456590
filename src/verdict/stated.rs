//! Figures that stand by themselves, each against the shop's limits: those of strokes.
//!
//! A limit that several figures carry the name of, one for each way of the rod, is judged by
//! the worst of them.

use super::DecisionRule;
use super::Judged;
use super::Limit;
use super::choose::questions;
use super::compare::measured_or_bounded;
use super::compare::not_valid;
use super::decide::rank;
use crate::account::Conditions;
use crate::account::Figure;
use crate::account::FigureName;

/// Judges figures, each with what it is called within its name ("out", "in", or nothing).
/// `why_not` says why a figure is not there; what is not there is not valid, never a pass.
pub fn judge_stated(
    figures: &[(&str, &Figure)],
    at: Conditions,
    limits: &[Limit],
    rule: DecisionRule,
    why_not: impl Fn(FigureName) -> Option<String>,
) -> Vec<Judged> {
    questions(limits)
        .iter()
        .map(|question| {
            let name = question.figure();
            let limit = match question.chosen(&[at]) {
                Ok(limit) => limit,
                Err(judged) => return *judged,
            };
            let own = figures.iter().filter(|(_, figure)| figure.name == name);
            let judged = own.map(|(way, figure)| of_way(way, figure, limit, rule));
            let worst = judged.max_by_key(|judged| rank(judged.outcome));
            match (why_not(name), worst) {
                (None, Some(worst)) => worst,
                (Some(why), _) => not_valid(limit, format!("not stated: {why}")),
                (None, None) => not_valid(limit, "the strokes give no such figure".into()),
            }
        })
        .collect()
}

fn of_way(way: &str, figure: &Figure, limit: &Limit, rule: DecisionRule) -> Judged {
    let judged = measured_or_bounded(figure, limit, rule);
    match way {
        "" => judged,
        way => Judged {
            reason: format!("{way}: {}", judged.reason),
            ..judged
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::account::Measured;
    use crate::verdict::Basis;
    use crate::verdict::Outcome;

    fn limit(bar: f64) -> Limit {
        Limit {
            id: "breakaway".into(),
            figure: FigureName::Breakaway,
            number: bar,
            unit: "bar".into(),
            si_per_unit: 1e5,
            text: format!("{bar} bar"),
            at_pressure: None,
            at_temperature: None,
            source: "test".into(),
            basis: Basis::default(),
        }
    }

    fn breakaway(bar: f64) -> Figure {
        let measured = Measured {
            value_si: bar * 1e5,
            standard_si: 0.1e5,
        };
        Figure::measured(
            FigureName::Breakaway,
            measured,
            Vec::new(),
            Conditions::default(),
        )
    }

    fn outcome(out_bar: f64, in_bar: f64, why_not: Option<&str>) -> (Outcome, String) {
        let (out, back) = (breakaway(out_bar), breakaway(in_bar));
        let rule = DecisionRule::Guarded { probability: 0.95 };
        let found = judge_stated(
            &[("out", &out), ("in", &back)],
            Conditions::default(),
            &[limit(5.0)],
            rule,
            |_| why_not.map(str::to_owned),
        );
        (found[0].outcome, found[0].reason.clone())
    }

    #[test]
    fn the_worse_way_decides() {
        assert_eq!(outcome(3.0, 4.0, None).0, Outcome::Pass);
        let (found, reason) = outcome(3.0, 6.0, None);
        assert_eq!(found, Outcome::Fail);
        assert!(reason.starts_with("in: 6.0"), "{reason}");
        assert_eq!(outcome(4.95, 3.0, None).0, Outcome::Undecided);
        assert_eq!(outcome(6.0, 4.95, None).0, Outcome::Fail);
    }

    #[test]
    fn what_is_not_stated_never_passes() {
        assert_eq!(outcome(3.0, 4.0, Some("lost")).0, Outcome::NotValid);
        let none = judge_stated(
            &[],
            Conditions::default(),
            &[limit(5.0)],
            DecisionRule::Simple,
            |_| None,
        );
        assert_eq!(none[0].outcome, Outcome::NotValid);
    }
}
