//! What would be decided: a limit is set about the truth, and the verdict is asked.
//!
//! A factor is leak by limit: the limit is the size of the true figure divided by it. At
//! 0.5 a good piece leaks half of what it may, at 1 it leaks exactly what it may, at 2 a
//! bad piece leaks twice as much. A pass at 1 or above is false, a fail below 1 is false.
//! The rule is guarded with probability 0.975: the guard band is the whole 95 % interval.

use super::see::Seen;
use stillrod::account::FigureName;
use stillrod::verdict::Basis;
use stillrod::verdict::DecisionRule;
use stillrod::verdict::Limit;
use stillrod::verdict::Outcome;
use stillrod::verdict::judge;

/// True leak by limit.
pub const FACTORS: [f64; 7] = [0.5, 0.8, 0.9, 1.0, 1.1, 1.25, 2.0];

/// The rule.
const RULE: DecisionRule = DecisionRule::Guarded { probability: 0.975 };

/// Truths smaller than this part of their unit are no leak.
const NO_LEAK: f64 = 1e-9;

/// A letter for each factor: p(ass), f(ail), u(ndecided), n(ot valid); empty without a leak.
pub fn decisions(name: FigureName, truth_si: f64, seen: &Seen) -> String {
    let unit_si = name.si_per_metric_unit();
    let size = truth_si.abs() / unit_si;
    // Pressure is judged by its loss, so a rise has no limit.
    let has_limit = match name {
        FigureName::Drift | FigureName::CapLoss | FigureName::RodGain => size > NO_LEAK,
        FigureName::LeakDown => truth_si > NO_LEAK * unit_si,
        _ => false,
    };
    if !has_limit {
        return String::new();
    }
    let evaluation = seen.evaluation.as_ref().map_err(ToString::to_string);
    FACTORS
        .iter()
        .map(|factor| {
            let limit = limit(name, size / factor);
            let verdict = judge(evaluation.clone(), &seen.flags, &[limit], RULE);
            match verdict.outcome {
                Outcome::Pass => 'p',
                Outcome::Fail => 'f',
                Outcome::Undecided => 'u',
                Outcome::NotValid | Outcome::Measured => 'n',
            }
        })
        .collect()
}

fn limit(name: FigureName, number: f64) -> Limit {
    Limit {
        id: "about the truth".into(),
        figure: name,
        number,
        unit: name.metric_unit().into(),
        si_per_unit: name.si_per_metric_unit(),
        text: format!("{number} {}", name.metric_unit()),
        at_pressure: None,
        at_temperature: None,
        source: "campaign".into(),
        basis: Basis::default(),
    }
}
