//! A judged procedure as facts for its paper.

use super::Held;
use super::Proof;
use super::Shown;
use super::zeros::SensorZero;
use crate::account::Fluid;
use crate::certificate::Facts;
use crate::certificate::ProofFacts;
use crate::certificate::Standing;
use crate::certificate::StepFacts;
use crate::certificate::StepShown;
use crate::certificate::StrokesTold;
use crate::certificate::ZeroRead;
use crate::daemon::clock;
use crate::daemon::letterhead::letterhead;
use crate::daemon::paper::facts;
use crate::procedure::HOLD;
use crate::procedure::SETTLE;
use crate::procedure::phase_name;
use crate::quantity::UnitSystem;
use crate::recording::Recording;
use anyhow::Context;
use std::path::Path;

/// Everything that paper and record of a procedure say.
///
/// # Errors
/// If there is no cylinder, which a test with a procedure always has.
pub fn proof_facts<'a>(
    recording: &'a Recording,
    proof: &'a Proof,
    file: &Path,
    sha256_hex: &str,
    number: Option<&str>,
) -> anyhow::Result<ProofFacts<'a>> {
    let shop = proof.shop.as_ref();
    let heading = recording.heading();
    let setup = proof.test.first_setup();
    let cylinder = setup.subject.piece.cylinder();
    let name = file.file_name().map(|n| n.to_string_lossy().into_owned());
    let steps = proof.test.steps.iter().zip(&proof.parts);
    let steps: Vec<StepFacts<'a>> = steps
        .map(|(planned, part)| StepFacts {
            id: planned.step.id.clone(),
            title: planned.step.title.clone(),
            source: planned.step.source.clone(),
            shown: step_shown(
                recording,
                &planned.step.id,
                &part.shown,
                (file, sha256_hex, number),
            ),
            outcome: part.outcome,
            reason: part.reason.clone(),
        })
        .collect();
    let deciding = proof.deciding().and_then(|(planned, _)| {
        let id = &planned.step.id;
        steps.iter().position(|step| step.id == *id)
    });
    Ok(ProofFacts {
        certificate_number: number.map(str::to_owned),
        standing: Standing::Original,
        shop_name: shop.map(|s| s.name.clone()).unwrap_or_default(),
        letterhead: shop.map(letterhead).unwrap_or_default(),
        units: shop.map_or(UnitSystem::Metric, |s| s.units),
        role: String::new(),
        date: clock::local(heading.started_utc_ms, &heading.time_zone).0,
        identity: setup.unit.clone(),
        cylinder: *cylinder.context("a test with a procedure is of a cylinder")?,
        oil: match &setup.subject.fluid {
            Fluid::Oil(oil) => oil.name().to_owned(),
            Fluid::Gas => "gas".into(),
        },
        title: proof.test.title.clone(),
        procedure: proof.test.procedure.clone().unwrap_or_default(),
        by_eye: proof.test.by_eye().cloned(),
        recording,
        file_name: name.unwrap_or_default(),
        sha256_hex: sha256_hex.into(),
        steps,
        deciding,
        outcome: proof.outcome,
        reasons: &proof.reasons,
        flags: &proof.flags,
        rule: proof.rule,
        software: env!("CARGO_PKG_VERSION").into(),
    })
}

fn step_shown<'a>(
    recording: &Recording,
    id: &str,
    shown: &'a Shown,
    (file, sha256_hex, number): (&Path, &str, Option<&str>),
) -> StepShown<'a> {
    match shown {
        Shown::NotDone => StepShown::NotDone,
        Shown::Done { at_s } => StepShown::Done { at_s: *at_s },
        Shown::Vented(zeros) => StepShown::Vented(zeros.iter().map(zero_read).collect()),
        Shown::Strokes(stroked) => StepShown::Strokes {
            count: stroked.count,
            seen_m: stroked.seen_m,
            nominal_m: stroked.nominal_m,
            told: Some(StrokesTold {
                summary: &stroked.summary,
                judged: &stroked.judged,
            }),
        },
        Shown::Squeezed(end) => StepShown::Squeezed {
            asked_pa: end.asked_pa,
            highest_pa: end.highest_pa,
            air: &end.air,
            judged: &end.judged,
        },
        Shown::Kept {
            chamber,
            asked_pa,
            between_pa,
            length_s,
        } => StepShown::Kept {
            chamber: *chamber,
            asked_pa: *asked_pa,
            between_pa: *between_pa,
            length_s: *length_s,
        },
        Shown::Held(held) => {
            let Held {
                recording: part,
                judgement,
            } = held.as_ref();
            let own: Facts<'a> = facts(part, judgement, file, sha256_hex, number);
            let mark = [SETTLE, HOLD]
                .iter()
                .find_map(|phase| recording.phase(&phase_name(id, phase)));
            StepShown::Held {
                facts: Box::new(own),
                from_s: mark.map_or(0.0, |mark| mark.from_s),
            }
        }
        Shown::Read(read) => StepShown::Read {
            typed: read.typed.clone(),
            said_back: read.said(),
        },
    }
}

fn zero_read(zero: &SensorZero) -> ZeroRead {
    ZeroRead {
        role: zero.role,
        mean_si: zero.look.mean_si,
        standard_si: zero.look.standard_si,
    }
}
