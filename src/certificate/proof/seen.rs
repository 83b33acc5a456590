//! What was recorded while a step was done: when, at what pressures, where in the stroke.

use crate::account::Conditions;
use crate::certificate::facts::Facts;
use crate::certificate::proof::facts::ProofFacts;
use crate::certificate::proof::facts::StepFacts;
use crate::certificate::proof::facts::StepShown;
use crate::certificate::sentence::Speech;
use crate::channel::Role;
use crate::chart::StepMark;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::procedure::DWELL;
use crate::procedure::HOLD;
use crate::procedure::SETTLE;
use crate::procedure::SQUEEZE;
use crate::procedure::STROKES;
use crate::procedure::VENTED;
use crate::procedure::phase_name;
use crate::quantity::number;
use crate::recording::PhaseMark;
use crate::recording::Recording;

/// The stretch of the recording that is a step's own; None for one that nothing was recorded
/// of. `number` counts from 1.
pub(super) fn mark(
    facts: &ProofFacts<'_>,
    number: usize,
    step: &StepFacts<'_>,
) -> Option<StepMark> {
    let phase = |name: &str| phase_of(facts.recording, &step.id, name);
    let (settle, hold) = (phase(SETTLE), phase(HOLD));
    let other = [VENTED, STROKES, SQUEEZE, DWELL]
        .into_iter()
        .find_map(phase);
    let first = settle.or(hold).or(other)?;
    let last = hold.or(settle).or(other)?;
    Some(StepMark {
        number,
        title: step.title.clone(),
        from_s: first.from_s,
        counts_from_s: hold.map(|mark| mark.from_s),
        until_s: last.until_s,
    })
}

/// All such stretches, in the order of the steps.
pub(super) fn marks(facts: &ProofFacts<'_>) -> Vec<StepMark> {
    let steps = facts.steps.iter().enumerate();
    steps
        .filter_map(|(index, step)| mark(facts, index + 1, step))
        .collect()
}

fn phase_of<'a>(recording: &'a Recording, id: &str, phase: &str) -> Option<&'a PhaseMark> {
    recording.phase(&phase_name(id, phase))
}

/// Means over a stretch of time; what was not measured is not there.
pub(super) fn means(recording: &Recording, from_s: f64, until_s: f64) -> Conditions {
    let mean = |role: Role| {
        let track = recording.track(role)?;
        let rows = recording.rows_within(from_s, until_s);
        let (sum, n) = rows
            .filter_map(|row| track.value(row))
            .fold((0.0, 0_u32), |(sum, n), value| (sum + value, n + 1));
        (n > 0).then(|| sum / f64::from(n))
    };
    Conditions {
        p_cap_pa: mean(Role::CapPressure),
        p_rod_pa: mean(Role::RodPressure),
        t_oil_k: mean(Role::OilTemperature),
        x_m: mean(Role::Position),
        ..Conditions::default()
    }
}

/// Where a hold was: from which end, and how far out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    /// Which end held.
    pub chamber: Chamber,
    /// Extension, m; None if it was not measured.
    pub x_m: Option<f64>,
    /// Whether the piston stood on an end of its stroke.
    pub is_end: bool,
    /// Pressure of that end when the hold began to count, Pa gauge.
    pub pa: Option<f64>,
}

/// Where a hold was.
pub(super) fn place(hold: &Facts<'_>) -> Place {
    let circuit = &hold.subject.circuit;
    let chamber = circuit.holding_chamber();
    let (from, until) = hold.evaluation.map_or_else(
        || {
            let times = hold.recording.time_s();
            let first = times.first().copied().unwrap_or(0.0);
            (first, times.last().copied().unwrap_or(first))
        },
        |e| e.hold_s,
    );
    // The pressure the hold began with: its first tenth.
    let start = means(hold.recording, from, from + 0.1 * (until - from));
    Place {
        chamber,
        x_m: start.x_m,
        is_end: circuit.rod == RodHold::Bottomed,
        pa: match chamber {
            Chamber::Cap => start.p_cap_pa,
            Chamber::Rod => start.p_rod_pa,
        },
    }
}

/// "200 mm (50 %)": extension, and its part of the stroke.
pub(super) fn place_words(x_m: f64, cylinder: &Cylinder, speech: Speech) -> String {
    let part = 100.0 * x_m / cylinder.size().stroke.value;
    format!("{} ({} %)", speech.length(x_m), number(part, 10.0))
}

/// The lowest and the highest oil temperature of all steps that were done, K.
pub(super) fn temperatures(facts: &ProofFacts<'_>) -> Option<(f64, f64)> {
    let done = facts.steps.iter().enumerate();
    let done = done.filter(|(_, step)| step.shown != StepShown::NotDone);
    let seen = done
        .filter_map(|(index, step)| mark(facts, index + 1, step))
        .filter_map(|mark| means(facts.recording, mark.from_s, mark.until_s).t_oil_k);
    seen.fold(None, |range, t| {
        let (low, high) = range.unwrap_or((t, t));
        Some((t.min(low), t.max(high)))
    })
}
