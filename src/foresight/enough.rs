//! Whether a hold of one length is enough for a limit: a tight unit passes, and a unit at twice
//! the limit fails, by the very judgement that real holds get.

use super::Intended;
use super::curve::half_width;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::account::FigureName;
use crate::account::expected_softness;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::verdict::EarlyRule;
use crate::verdict::HoldEnd;
use crate::verdict::Judged;
use crate::verdict::Limit;
use crate::verdict::Outcome;
use crate::verdict::judge;

/// A unit so many times over its limit has to fail.
const OVER: f64 = 2.0;

/// Whether a tight unit passes whose measured value lies `luck` standard uncertainties on the wrong
/// side; else what comes out of it.
pub(super) fn passes(
    intended: &Intended,
    question: &[Limit],
    evaluation: &Evaluation,
    length_s: f64,
    luck: f64,
) -> Result<(), Box<Judged>> {
    let tight = judged(intended, question, evaluation, length_s, (0.0, luck));
    match tight.outcome {
        Outcome::Pass => Ok(()),
        _ => Err(Box::new(tight)),
    }
}

/// Whether a tight unit passes and one at twice the limit fails, each with a measured value
/// `luck` standard uncertainties on the wrong side; else what comes out of the one in doubt.
pub(super) fn tells(
    intended: &Intended,
    question: &[Limit],
    evaluation: &Evaluation,
    length_s: f64,
    luck: f64,
) -> Result<(), Box<Judged>> {
    let tight = judged(intended, question, evaluation, length_s, (0.0, luck));
    if tight.outcome != Outcome::Pass {
        return Err(Box::new(tight));
    }
    let leak_si = OVER * tight.limit.number * tight.limit.si_per_unit;
    let leaking = judged(intended, question, evaluation, length_s, (leak_si, -luck));
    match leaking.outcome {
        Outcome::Fail => Ok(()),
        _ => Err(Box::new(leaking)),
    }
}

/// Why not even a figure without any ± would pass, if so.
pub(super) fn never(
    intended: &Intended,
    question: &[Limit],
    evaluation: &Evaluation,
    length_s: f64,
) -> Option<String> {
    let mut sure = evaluation.clone();
    for figure in &mut sure.figures {
        narrow(figure);
    }
    let tight = judged(intended, question, &sure, length_s, (0.0, 0.0));
    (tight.outcome != Outcome::Pass).then_some(tight.reason)
}

/// How a hold would be judged that shows a leak of `leak_si` in the figure of a question, `luck`
/// standard uncertainties off.
fn judged(
    intended: &Intended,
    question: &[Limit],
    evaluation: &Evaluation,
    length_s: f64,
    (leak_si, luck): (f64, f64),
) -> Judged {
    let mut made = evaluation.clone();
    // A doubt about paper is none about a real hold.
    made.doubts.clear();
    let name = question[0].figure;
    for figure in &mut made.figures {
        if figure.name == name {
            show(figure, leak_si, luck);
        } else if let Some(flow) = flow_of(intended, name, leak_si, figure.name) {
            show(figure, flow, 0.0);
        }
    }
    let verdict = match intended.plan.ends_as_decided() {
        true => {
            let early = EarlyRule::new(intended.rule, length_s);
            early.judge(Ok(&made), &[], question, HoldEnd::Whole)
        }
        false => judge(Ok(&made), &[], question, intended.rule),
    };
    let mut all = verdict.judged.into_iter();
    all.next().expect("each question is answered")
}

/// Lets a figure show a leak, off by its luck. Movement and pressure keep what heat does to them.
fn show(figure: &mut Figure, leak_si: f64, luck: f64) {
    let keeps = matches!(figure.name, FigureName::Drift | FigureName::LeakDown);
    let standard = half_width(figure) / figure.coverage_factor;
    match figure.measured.as_mut() {
        Some(measured) => {
            let own = if keeps { measured.value_si } else { 0.0 };
            let sign = if own < 0.0 && figure.name == FigureName::Drift {
                -1.0
            } else {
                1.0
            };
            measured.value_si = own + sign * (leak_si + luck * standard);
            let half = figure.coverage_factor * standard;
            figure.lower_si = measured.value_si - half;
            figure.upper_si = measured.value_si + half;
        }
        None => {
            figure.lower_si += leak_si;
            figure.upper_si += leak_si;
        }
    }
}

/// A figure with hardly any ±.
fn narrow(figure: &mut Figure) {
    let (middle, half) = match figure.measured.as_mut() {
        Some(measured) => {
            if matches!(figure.name, FigureName::Drift | FigureName::LeakDown) {
                measured.value_si = 0.0;
            }
            measured.standard_si *= 1e-9;
            (
                measured.value_si,
                figure.coverage_factor * measured.standard_si,
            )
        }
        None => (0.0, 1e-9 * half_width(figure)),
    };
    figure.lower_si = middle - half;
    figure.upper_si = middle + half;
}

/// What the account would show beside a leak that moves the rod or lets the pressure fall: m³/s
/// out of the side that holds.
fn flow_of(intended: &Intended, name: FigureName, leak_si: f64, other: FigureName) -> Option<f64> {
    let subject = &intended.subject;
    let cylinder = subject.piece.cylinder()?;
    let holding = subject.circuit.holding_chamber();
    let side = match holding {
        Chamber::Cap => FigureName::CapLoss,
        Chamber::Rod => FigureName::RodGain,
    };
    let is_free = matches!(
        subject.circuit.rod,
        RodHold::PushedIn { .. } | RodHold::PulledOut { .. }
    );
    if other != side || leak_si == 0.0 {
        return None;
    }
    match name {
        FigureName::Drift => Some(leak_si * cylinder.area(holding).value),
        // What a free rod's pressure loses says nothing of how much oil left.
        FigureName::LeakDown if is_free => None,
        FigureName::LeakDown => {
            let (softness, _) = expected_softness(subject, intended.start, holding)?;
            Some(leak_si * softness)
        }
        _ => None,
    }
}
