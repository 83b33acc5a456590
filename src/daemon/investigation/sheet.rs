//! What the isolation sheet of an investigation is made from.

use super::Held;
use super::one_question::name;
use crate::account::Doubt;
use crate::account::Evaluation;
use crate::account::Fluid;
use crate::account::investigation::Attribution;
use crate::account::investigation::Phase;
use crate::certificate::IsolationFacts;
use crate::certificate::PhaseFacts;
use crate::certificate::QuestionAnswer;
use crate::circuit::Beside;
use crate::circuit::Circuit;
use crate::circuit::HoldingValve;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::daemon::clock;
use crate::daemon::letterhead::letterhead;
use crate::daemon::paper::sha256_hex;
use crate::quantity::UnitSystem;
use crate::settings::Asked;
use crate::verdict::Outcome;
use anyhow::Context;

pub(super) fn facts(
    held: &[Held<'_>],
    phases: &[Phase<'_>],
    asked: &Asked,
    cylinder: &Cylinder,
    attribution: Option<Attribution>,
) -> anyhow::Result<IsolationFacts> {
    // The rig alone has another oil volume, and perhaps other words for itself.
    let is_cylinder = |h: &&Held<'_>| {
        h.file
            .judged
            .judgement
            .setup
            .subject
            .piece
            .cylinder()
            .is_some()
    };
    let first = held
        .iter()
        .find(is_cylinder)
        .context("an investigation needs a cylinder")?;
    let heading = first.file.judged.recording.heading();
    let judgement = &first.file.judged.judgement;
    let shop = judgement.shop.as_ref();
    // Holds without an evaluation come last: the attribution numbers the others.
    let (evaluated, lost): (Vec<&Held<'_>>, Vec<&Held<'_>>) =
        held.iter().partition(|h| h.evaluation.is_some());
    let mut described = Vec::new();
    for (held, phase) in evaluated.iter().zip(phases) {
        described.push(described_by(held, PhaseFacts::from_phase(phase))?);
    }
    for held in lost {
        described.push(described_by(
            held,
            PhaseFacts::without_evaluation(
                &held.label,
                held.file.judged.judgement.setup.subject.circuit,
            ),
        )?);
    }
    Ok(IsolationFacts {
        shop_name: shop.map(|s| s.name.clone()).unwrap_or_default(),
        letterhead: shop.map(letterhead).unwrap_or_default(),
        units: shop.map_or(UnitSystem::Metric, |s| s.units),
        date: clock::local(heading.started_utc_ms, &heading.time_zone).0,
        started_utc_ms: heading.started_utc_ms,
        investigation_id: heading.run_id.clone(),
        identity: judgement.setup.unit.clone(),
        cylinder: *cylinder,
        fluid: match &judgement.setup.subject.fluid {
            Fluid::Oil(oil) => oil.name().to_owned(),
            Fluid::Gas => "gas".into(),
        },
        asked: questions(asked),
        phases: described,
        patterns: attribution
            .iter()
            .flat_map(|a| a.noticed.iter().map(|n| n.sentence.clone()))
            .collect(),
        next_steps: mend(held)
            .into_iter()
            .chain(next_steps(attribution.as_ref(), phases))
            .collect(),
        attribution,
        also_not_tested: beside(held),
        practice: held
            .iter()
            .map(|h| h.file.judged.recording.heading().practice.clone())
            .find(|practice| !practice.is_empty()),
        judged: Vec::new(),
        outcome: Outcome::Measured,
        software: env!("CARGO_PKG_VERSION").into(),
    })
}

fn described_by(held: &Held<'_>, facts: PhaseFacts) -> anyhow::Result<PhaseFacts> {
    let judgement = &held.file.judged.judgement;
    let is_rig = judgement.setup.subject.piece.cylinder().is_none();
    let void = held
        .void
        .clone()
        .or_else(|| judgement.evaluation.as_ref().err().cloned())
        .or_else(|| no_fit(held.evaluation.as_ref()?));
    Ok(PhaseFacts {
        plumbed: match is_rig {
            true => "The rig alone: its hoses are capped.".into(),
            false => plumbed(&judgement.setup.subject.circuit),
        },
        file_name: name(held.file.path).unwrap_or_default().to_owned(),
        sha256_hex: sha256_hex(held.file.path)?,
        seen: held.seen,
        void,
        ..facts
    })
}

/// Why no flow of a hold is believed, if it is not; that pressures met is believed without.
fn no_fit(evaluation: &Evaluation) -> Option<String> {
    let doubts = evaluation
        .doubts
        .iter()
        .filter(|_| evaluation.met.is_none());
    doubts.into_iter().find_map(|doubt| match doubt {
        Doubt::NoFit { evidence } => Some(evidence.clone()),
        Doubt::Note { .. } => None,
    })
}

/// The other one of two cylinders on the load, if there is one.
fn beside(held: &[Held<'_>]) -> Vec<String> {
    let of = |h: &Held<'_>| h.file.judged.judgement.setup.subject.circuit.beside;
    let is_there = held.iter().any(|h| of(h).is_some());
    let words = "the other cylinder on the same load: hold it plugged by itself too";
    is_there.then(|| words.to_owned()).into_iter().collect()
}

/// The plumbing as a sentence.
fn plumbed(circuit: &Circuit) -> String {
    if circuit.joined {
        return "Both ports joined, pumped up and shut; the rod locked.".into();
    }
    let port = |chamber: Chamber| {
        let valve = match circuit.holding_valve(chamber) {
            HoldingValve::Absent => "",
            HoldingValve::InPlace => " behind its load-holding valve",
            HoldingValve::Swapped => " behind a swapped-in load-holding valve",
        };
        let word = match circuit.port(chamber) {
            Port::Blocked => "plugged",
            Port::OnValve => "on its valve",
            Port::OpenToVessel => "open to a vessel",
            Port::Supplied => "supplied",
        };
        format!("{word}{valve}")
    };
    let rod = match circuit.rod {
        RodHold::PushedIn { .. } => "a load pushes the rod in",
        RodHold::PulledOut { .. } => "a load pulls the rod out",
        RodHold::Locked => "the rod is locked",
        RodHold::Bottomed => "the piston stands on its end",
    };
    let beside = match circuit.beside {
        None => "",
        Some(Beside::Apart) => ", and another cylinder carries it too, its oil apart",
        Some(Beside::OnLine) => ", and another cylinder on the same line carries it too",
    };
    format!(
        "Cap port {}, rod port {}; {rod}{beside}.",
        port(Chamber::Cap),
        port(Chamber::Rod)
    )
}

fn questions(asked: &Asked) -> Vec<QuestionAnswer> {
    [
        ("Asked", &asked.question),
        ("Oil outside", &asked.external_oil),
        ("Damage", &asked.damage),
        ("Sinks", &asked.sinks),
        ("Should hold the load", &asked.holds_by),
    ]
    .into_iter()
    .filter(|(_, answer)| !answer.is_empty())
    .map(|(question, answer)| QuestionAnswer {
        question: question.into(),
        answer: answer.clone(),
    })
    .collect()
}

/// What is to be done first about phases that do not count.
fn mend(held: &[Held<'_>]) -> Option<String> {
    let labels: Vec<&str> = held
        .iter()
        .filter(|h| h.void.is_some())
        .map(|h| h.label.as_str())
        .collect();
    (!labels.is_empty()).then(|| {
        format!(
            "Put right what voids phase {}, and hold it again, before anything else is opened.",
            labels.join(" and ")
        )
    })
}

fn next_steps(attribution: Option<&Attribution>, phases: &[Phase<'_>]) -> Vec<String> {
    let Some(attribution) = attribution else {
        return Vec::new();
    };
    let label = |phase: usize| {
        phases
            .get(phase)
            .map_or_else(String::new, |p| p.label.into())
    };
    match &attribution.next {
        Some(next) => {
            let parts: Vec<&str> = next.tells.iter().map(|way| way.part()).collect();
            let tells = match next.is_sure {
                true => format!("It tells whether this leaks: {}.", parts.join(", ")),
                false => format!(
                    "It may tell whether this leaks: {}. In trials on paper it did in most, not in nearly all, and no \
                     other phase did better.",
                    parts.join(", ")
                ),
            };
            let mut steps = vec![
                next.instruction(label),
                format!("{tells} {}", next.step.reason(&next.tells)),
            ];
            steps.push(next.caution().to_owned());
            steps
        }
        None if !attribution.open().is_empty() => {
            vec!["No further phase that is known here is likely to tell what is open.".into()]
        }
        None => Vec::new(),
    }
}
