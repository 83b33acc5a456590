//! What the pattern of pressures and movement says, in plain sentences.
//!
//! Each sentence names the evidence it rests on. None decides anything.

use super::Evaluation;
use super::Subject;
use super::figure::Figure;
use super::figure::FigureName;
use super::figure::Measured;
use super::figure::coverage_factor;
use super::forecast::forecast;
use super::hand_check;
use super::layout::P;
use super::rate;
use super::solution::Solution;
use crate::channel::Role;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::quantity::Length;
use crate::quantity::number;
use crate::quantity::unit::meter;

/// Below this gauge pressure a shut chamber counts as drawn empty, Pa.
const VACUUM_PA: f64 = -0.3e5;

/// Rise of pressure from which a load is said to go over from another cylinder, Pa. Oil that
/// warms raises it too, but moves the rod against the load.
const TAKEN_OVER_PA: f64 = 1e5;

/// Adds what a loss that turns says, also where nothing else can be said.
pub(super) fn of_turn(evaluation: &mut Evaluation) {
    if let Some(turn) = &evaluation.turn {
        let at = turn.pressures_pa[1] / 1e5;
        evaluation.findings.push(format!(
            "The loss is not the same all through the hold: {}. Hold again with the same plumbing, once from above and once \
             from below {at:.0} bar: that tells what follows pressure from what follows time.",
            turn.words()
        ));
    }
}

/// Adds what can be said of a fitted hold.
pub(super) fn add(solution: &Solution<'_>, subject: &Subject, evaluation: &mut Evaluation) {
    let mut findings = Vec::new();
    findings.extend(piston(solution, evaluation));
    findings.extend(drawn_empty(solution, subject, evaluation));
    findings.extend(outside(evaluation));
    findings.extend(taken_over(solution, subject, evaluation));
    findings.extend(by_hand(solution, subject));
    evaluation.findings = findings;
    evaluation.forecast = forecast(solution, subject, evaluation);
}

fn ends(solution: &Solution<'_>, role: Role) -> Option<(f64, f64)> {
    let smooth = &solution.balance.series.signal(role)?.smooth;
    Some((*smooth.first()?, *smooth.last()?))
}

/// A flow with its expanded uncertainty, both in m³/s.
fn flow_text(value_si: f64, expanded_si: f64) -> String {
    let ml_min = 60e6;
    let expanded = expanded_si * ml_min;
    format!(
        "{} ± {} mL/min",
        number(value_si * ml_min, expanded),
        number(expanded, expanded)
    )
}

/// The flow of a figure, towards leaking or against it, with the figure's own uncertainty.
fn figure_text(figure: &Figure, sign: f64) -> String {
    let text = |m: Measured| flow_text(sign * m.value_si, figure.coverage_factor * m.standard_si);
    figure.measured.map(text).unwrap_or_default()
}

fn piston(solution: &Solution<'_>, evaluation: &Evaluation) -> Option<String> {
    let loss = evaluation.figure(FigureName::CapLoss);
    if let Some(loss) = loss.filter(|l| l.upper_si < 0.0) {
        let text = figure_text(loss, -1.0);
        return Some(format!(
            "The cap side gains oil ({text}): oil passes the piston from the rod side."
        ));
    }
    let gain = evaluation.figure(FigureName::RodGain)?;
    (solution.balance.layout.cap_live && gain.lower_si > 0.0).then(|| {
        let text = figure_text(gain, 1.0);
        format!("The rod side gains oil ({text}): oil passes the piston.")
    })
}

/// What the meeting of both pressures says; true whether or not an account can be stated.
pub(super) fn of_met(evaluation: &mut Evaluation) {
    if let Some(met) = evaluation.met {
        let clause = met.clause();
        let mut letters = clause.chars();
        let first = letters.next().map(|c| c.to_uppercase().to_string());
        let sentence = format!("{}{}.", first.unwrap_or_default(), letters.as_str());
        evaluation.findings.insert(0, sentence);
    }
}

fn drawn_empty(
    solution: &Solution<'_>,
    subject: &Subject,
    evaluation: &Evaluation,
) -> Option<String> {
    let (_, rod) = ends(solution, Role::RodPressure)?;
    let loss = evaluation.figure(FigureName::CapLoss)?;
    (subject.circuit.rod_port != Port::OpenToVessel && rod < VACUUM_PA && loss.lower_si > 0.0).then(|| {
        let cylinder = solution.balance.cylinder;
        let by_port = 1.0 - cylinder.annulus_area().value / cylinder.cap_area().value;
        format!(
            "The rod side is at vacuum while the rod sinks: no more can pass the piston than that side grows by, so at least \
             {:.0} % of what the cap side loses leaves by its port (plug, fitting, valve or hose). The piston seal is not \
             shown to leak.",
            (by_port * 100.0).floor()
        )
    })
}

fn outside(evaluation: &Evaluation) -> Option<String> {
    let (loss, gain) = (
        evaluation.figure(FigureName::CapLoss)?,
        evaluation.figure(FigureName::RodGain)?,
    );
    let out = loss.measured?.value_si - gain.measured?.value_si;
    let expanded = |f: &Figure| f.measured.map(|m| f.coverage_factor * m.standard_si);
    let expanded = expanded(loss)?.hypot(expanded(gain)?);
    (out > expanded).then(|| {
        let text = flow_text(out, expanded);
        format!("More oil leaves the cap side than arrives on the rod side ({text} more): oil leaves the cylinder.")
    })
}

/// A load that goes over from one of two cylinders to the other: the rod sinks, the pressure
/// rises, and what was lost is less than half of what the rod swept.
fn taken_over(
    solution: &Solution<'_>,
    subject: &Subject,
    evaluation: &Evaluation,
) -> Option<String> {
    subject.circuit.beside?;
    let holding = subject.circuit.holding_chamber();
    let drift = evaluation.figure(FigureName::Drift)?;
    let (role, sinks_m_per_s, most_lost) = match holding {
        Chamber::Cap => {
            let loss = evaluation.figure(FigureName::CapLoss)?;
            (Role::CapPressure, -drift.upper_si, loss.upper_si)
        }
        Chamber::Rod => {
            let gain = evaluation.figure(FigureName::RodGain)?;
            (Role::RodPressure, drift.lower_si, -gain.lower_si)
        }
    };
    let swept = sinks_m_per_s * solution.balance.cylinder.area(holding).value;
    let (from, until) = ends(solution, role)?;
    (swept > 0.0 && until - from > TAKEN_OVER_PA && most_lost < 0.5 * swept).then(|| {
        format!(
            "The pressure that holds the load rose by {:.1} bar while the rod sank, and this cylinder lost less than half of \
             the oil that would explain it: it takes over what the other one lets go. Hold the other one by itself.",
            (until - from) / 1e5
        )
    })
}

/// Area and movement by hand, as a check that anybody can repeat.
fn by_hand(solution: &Solution<'_>, subject: &Subject) -> Option<String> {
    let RodHold::PushedIn { .. } = subject.circuit.rod else {
        return None;
    };
    let series = solution.balance.series;
    let position = series.signal(Role::Position)?;
    let (from, until) = ends(solution, Role::Position)?;
    let warming = ends(solution, Role::OilTemperature).map_or((0.0, 2.0), |(a, b)| (b - a, 0.2));
    let known = |value_si: f64, standard_si: f64| Measured {
        value_si,
        standard_si,
    };
    let cylinder = solution.balance.cylinder;
    let area = cylinder.cap_area().value;
    let column = cylinder
        .volume(Chamber::Cap, Length::new::<meter>(from))
        .value
        / area;
    let movement = rate::movement(series, position, cylinder.size().stroke.value);
    let expansion = solution.balance.oil.column_expansion_per_k();
    let flow = hand_check::by_hand(&hand_check::Readings {
        diameter: known((area / std::f64::consts::FRAC_PI_4).sqrt(), 13e-6),
        sink: known(from - until, movement.0.standard_si * series.length_s),
        column: known(column, 1e-3),
        warming: known(warming.0, warming.1),
        expansion: known(expansion, 0.07 * expansion),
        time: known(series.length_s, 0.5),
    });
    let fitted = solution
        .derive(&|theta| solution.mean_flow(theta, P::CapLoss))
        .0;
    let far = (fitted.value_si - flow.value_si).abs()
        > coverage_factor(None) * fitted.standard_si.hypot(flow.standard_si);
    let remark = if far {
        "; it leaves out the squeeze, which matters here"
    } else {
        ""
    };
    Some(format!(
        "By hand, area × movement with heat taken off: {} on the mean of the hold{remark}.",
        flow_text(flow.value_si, coverage_factor(None) * flow.standard_si)
    ))
}
