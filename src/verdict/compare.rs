//! One figure against one limit, in the unit the limit was typed in.
//!
//! A value is compared by the decision rule; a path that can only be bounded decides
//! when it lies wholly on one side.
//!
//! Invariant: a number that is not finite is never a pass.

use super::Band;
use super::DecisionRule;
use super::Judged;
use super::Limit;
use super::Outcome;
use super::rule::Spread;
use super::rule::Tolerance;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::account::FigureName;
use crate::quantity::number;

/// A figure stated this close to the limit's pressure counts as stated at it.
const PRESSURE_MATCH: f64 = 0.03;
/// The same for temperature, K.
const TEMPERATURE_MATCH_K: f64 = 2.0;

/// A limit that nothing can be compared with.
pub(super) fn not_valid(limit: &Limit, reason: String) -> Judged {
    Judged {
        outcome: Outcome::NotValid,
        reason,
        ..numbers(None, limit)
    }
}

/// The figure's numbers in the limit's unit, not yet decided.
pub(super) fn numbers(figure: Option<&Figure>, limit: &Limit) -> Judged {
    let measured = figure.and_then(|f| f.measured.map(|m| (m, f.coverage_factor)));
    Judged {
        limit: limit.clone(),
        outcome: Outcome::Undecided,
        number: measured.map(|(m, _)| in_unit(leak(limit.figure, m.value_si), limit)),
        expanded: measured.map(|(m, k)| k * m.standard_si / limit.si_per_unit),
        probability_within: None,
        acceptance: None,
        reason: String::new(),
    }
}

/// Whether a figure counts in both directions: movement, a stroke that is too long or too
/// short, and oil that passes the piston either way. Pressure can only be lost, and outside paths can only lose.
fn counts_both_ways(name: FigureName) -> bool {
    use FigureName::{CapLoss, Drift, PistonBypass, RodGain, StrokeLength};
    matches!(
        name,
        Drift | CapLoss | RodGain | PistonBypass | StrokeLength
    )
}

/// A size in the limit's unit. Rounding never takes it to the other side of the limit: what
/// is over the limit as typed stays over it, what is exactly at it stays at it.
fn in_unit(si: f64, limit: &Limit) -> f64 {
    let number = si / limit.si_per_unit;
    if !number.is_finite() {
        return number;
    }
    let product = limit.number * limit.si_per_unit;
    let cut_off = limit.number.mul_add(limit.si_per_unit, -product);
    let is_over = si > product || (si == product && cut_off < 0.0);
    if is_over {
        number.max(limit.number.next_up())
    } else {
        number.min(limit.number)
    }
}

/// The size of a leak.
fn leak(name: FigureName, si: f64) -> f64 {
    if counts_both_ways(name) { si.abs() } else { si }
}

/// Compares a figure of the evaluation with its limit.
pub(super) fn one(
    evaluation: &Evaluation,
    limit: &Limit,
    rule: DecisionRule,
    misfits: &[&str],
) -> Judged {
    let Some(figure) = evaluation.figure(limit.figure) else {
        if let Some(why) = misfits.first() {
            return not_valid(limit, format!("not stated: {why}"));
        }
        return not_valid(limit, "this hold gives no such figure".into());
    };
    measured_or_bounded(figure, limit, rule)
}

/// Compares a figure with its limit.
pub(super) fn measured_or_bounded(figure: &Figure, limit: &Limit, rule: DecisionRule) -> Judged {
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
    if let Some(reason) = in_another_row(figure, limit) {
        return Some(reason);
    }
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

/// Why a flow cannot be compared with the row that the means of its hold belong to: it is
/// stated for a state outside of it.
fn in_another_row(figure: &Figure, limit: &Limit) -> Option<String> {
    let row = limit.basis.row.as_ref()?;
    if !figure.name.is_flow() {
        return None;
    }
    let outside = |band: &Option<Band>, si: Option<f64>| {
        let of_band = band.as_ref().zip(si);
        of_band.filter(|(band, si)| !band.holds(*si)).map(|o| o.1)
    };
    let found = match (
        outside(&row.oil, figure.at.t_oil_k),
        outside(&row.pressure, figure.at.p_holding_pa),
    ) {
        (Some(k), _) => format!("{:.1} °C oil", k - 273.15),
        (None, Some(pa)) => format!("{:.1} bar", pa / 1e5),
        (None, None) => return None,
    };
    Some(format!(
        "the mean of the hold belongs to {}, but the flow is stated for {found}, outside of it: settle longer, so that \
         the whole hold is in one row",
        row.words
    ))
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
    let spread = Spread {
        standard: expanded / figure.coverage_factor,
        expanded,
        freedom: figure.degrees_of_freedom,
    };
    let tolerance = Tolerance {
        upper: limit.number,
        is_size: counts_both_ways(limit.figure),
    };
    let within = tolerance.probability(found, spread);
    judged.probability_within = Some(within);
    judged.acceptance = rule.acceptance(tolerance, spread);
    let text = |v: f64| number(v, expanded);
    let what = format!("{} ± {} {}", text(found), text(expanded), limit.unit);
    let accepted = match (rule, judged.acceptance) {
        (DecisionRule::Simple, _) => String::new(),
        (_, Some(most)) if most > 0.0 => format!("accepted up to {} {}", text(most), limit.unit),
        _ => "with this ± no value could be accepted".into(),
    };
    let in_brackets = if accepted.is_empty() {
        String::new()
    } else {
        format!(" ({accepted})")
    };
    (judged.outcome, judged.reason) = match rule.decides(found, tolerance, spread) {
        (true, _) => (
            Outcome::Pass,
            format!("{what} is within the limit of {}{in_brackets}", limit.text),
        ),
        (_, true) => (
            Outcome::Fail,
            format!("{what} is over the limit of {}", limit.text),
        ),
        _ => {
            let side = if found <= limit.number {
                "below"
            } else {
                "above"
            };
            let reason = format!(
                "{what} is {side} the limit of {} but too close to decide ({:.0} % sure to be within; {accepted}); {}",
                limit.text,
                within * 100.0,
                remedy(figure)
            );
            (Outcome::Undecided, reason)
        }
    };
    judged
}

/// What widens a figure most, and what would help.
fn remedy(figure: &Figure) -> String {
    match figure.budget.first() {
        Some(most) => format!("most of the ± is {}: {}", most.source, most.remedy),
        None => "hold longer or settle longer".into(),
    }
}

/// A path that nothing limits on one side fails by its other end, and never passes.
fn one_end(figure: &Figure, limit: &Limit) -> Judged {
    let crosses_zero = figure.lower_si < 0.0 && figure.upper_si > 0.0;
    let nearest = figure.lower_si.abs().min(figure.upper_si.abs());
    let least = in_unit(if crosses_zero { 0.0 } else { nearest }, limit);
    let text = number(least, 0.1 * least.max(limit.number.abs()));
    let (outcome, reason) = if least > limit.number {
        let reason = format!(
            "at least {text} {} is over the limit of {}",
            limit.unit, limit.text
        );
        (Outcome::Fail, reason)
    } else {
        let reason = format!(
            "this path cannot be told apart by what was held: at least {text} {}, and no upper end; the limit is {}",
            limit.unit, limit.text
        );
        (Outcome::Undecided, reason)
    };
    Judged {
        outcome,
        reason,
        ..numbers(Some(figure), limit)
    }
}

/// A path that can only be bounded passes wholly below the limit and fails wholly above.
fn bound(figure: &Figure, limit: &Limit) -> Judged {
    if figure.lower_si.is_nan() || figure.upper_si.is_nan() {
        return not_valid(limit, "the figure has no finite bounds".into());
    }
    if figure.lower_si.is_infinite() || figure.upper_si.is_infinite() {
        return one_end(figure, limit);
    }
    let ends = [figure.lower_si, figure.upper_si].map(|si| in_unit(leak(limit.figure, si), limit));
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
            "this path cannot be told apart by what was held: it is between {} and {most_text} {}, the limit is {}",
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
