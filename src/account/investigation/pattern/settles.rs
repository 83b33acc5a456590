//! Losses that stop or start during a hold: at a pressure, or with time.
//!
//! Settling and a leak that stops at a pressure both fall early. Settling comes again after
//! each new loading, at any pressure, and follows time; a leak that stops at a pressure
//! follows pressure. One hold alone cannot tell them apart and says both; two holds of one
//! plumbing from different pressures can.

use super::Noticed;
use super::Pattern;
use super::is_at_setting;
use super::same_plumbing;
use crate::account::Evened;
use crate::account::Measured;
use crate::account::Turn;
use crate::account::TurnKind;
use crate::account::investigation::phase::Phase;
use crate::cylinder::Chamber;
use crate::quantity::number;

/// Standard uncertainties that cover 99.5 %, as a part is named by.
const SURELY: f64 = 2.81;

/// What does not matter, m³/s (0.03 mL/min). What only seemed lost is worth words above it,
/// where what is left of that in the end, and what was lost beside it, are at most these parts
/// of it (common practice of ours, no source).
const SMALL_M3_PER_S: f64 = 0.03e-6 / 60.0;
const LATE_PART: f64 = 0.5;
const LOST_PART: f64 = 0.5;

/// Pressures nearer than this part of themselves are one pressure.
const ONE_PRESSURE: f64 = 0.03;

/// Two loadings to pressures further apart than this part are two.
const OTHER_LOADING: f64 = 0.15;

/// Of what should have been lost if a guess were right, less than this part denies it; a leak
/// goes on if more than that part of it is lost.
const DENIES: f64 = 0.5;
const GOES_ON: f64 = 0.3;

/// A hold that counts after a longer wait than so many times that of another, and a minute,
/// may have settled before.
const AS_FRESH: f64 = 1.5;
const AS_FRESH_S: f64 = 60.0;

/// What tells the two apart.
const TELLS: &str = "Settling comes again after each new loading, at any pressure, and follows time; a leak that stops at a \
                     pressure follows pressure";

/// All of them.
pub(super) fn noticed(phases: &[Phase<'_>]) -> Vec<Noticed> {
    let mut found = Vec::new();
    for (index, phase) in phases.iter().enumerate() {
        let others: Vec<&Phase<'_>> = phases
            .iter()
            .enumerate()
            .filter(|(other, _)| *other != index)
            .map(|(_, other)| other)
            .filter(|other| same_plumbing(phase.circuit(), other.circuit()))
            .collect();
        found.extend(turned(phase, &others).or_else(|| settled(phase, &others)));
    }
    found
}

/// Whether what fell in a hold was settling, as far as it can tell alone.
pub(super) fn has_settled(phase: &Phase<'_>) -> bool {
    seeming(phase).is_some()
}

/// What only seemed lost, if the account needs that and nothing is lost beside it.
fn seeming(phase: &Phase<'_>) -> Option<Evened> {
    let evened = phase.evaluation.evened?;
    let lost = lost(phase)?;
    let early = evened.early.value_si;
    let is_needed = lower(evened.early) > SMALL_M3_PER_S && lower(evened.difference) > 0.0;
    let is_over = upper(evened.late) < LATE_PART * early;
    let has_zero = lost.value_si.abs() < 1.96 * lost.standard_si;
    let is_nothing = has_zero || upper(lost) < SMALL_M3_PER_S;
    let is_all = is_nothing && upper(lost) < LOST_PART * early;
    let is_turned = phase.evaluation.turn.is_some() || phase.evaluation.met.is_some();
    (is_needed && is_over && is_all && !is_turned).then_some(evened)
}

/// What the side that holds lost, mean over the hold.
fn lost(phase: &Phase<'_>) -> Option<Measured> {
    let chamber = phase.circuit().holding_chamber();
    let (sum, standard_si) = phase.evaluation.counted.as_ref()?.sum(chamber)?;
    let value_si = match chamber {
        Chamber::Cap => sum,
        Chamber::Rod => -sum,
    };
    Some(Measured {
        value_si,
        standard_si,
    })
}

fn lower(measured: Measured) -> f64 {
    measured.value_si - SURELY * measured.standard_si
}

fn upper(measured: Measured) -> f64 {
    measured.value_si + SURELY * measured.standard_si
}

fn flow(measured: Measured) -> String {
    let expanded = 1.96 * measured.standard_si * 60e6;
    format!(
        "{} ± {} mL/min",
        number(measured.value_si * 60e6, expanded),
        number(expanded, expanded)
    )
}

/// Pressures of the side that holds over a hold, Pa.
struct Course {
    start: f64,
    lowest: f64,
    highest: f64,
}

fn course(phase: &Phase<'_>) -> Option<Course> {
    let all = match (&phase.evaluation.turn, &phase.evaluation.counted) {
        (Some(turn), _) => turn.pressures_pa.to_vec(),
        (None, Some(counted)) => match phase.circuit().holding_chamber() {
            Chamber::Cap => counted.drive.p_cap_pa.clone(),
            Chamber::Rod => counted.drive.p_rod_pa.clone()?,
        },
        (None, None) => return None,
    };
    Some(Course {
        start: *all.first()?,
        lowest: all.iter().copied().fold(f64::INFINITY, f64::min),
        highest: all.iter().copied().fold(f64::NEG_INFINITY, f64::max),
    })
}

/// Whether two holds were loaded to pressures that are not one.
fn is_other_loading(one: &Phase<'_>, other: &Phase<'_>) -> bool {
    let (Some(a), Some(b)) = (course(one), course(other)) else {
        return false;
    };
    (a.start - b.start).abs() > OTHER_LOADING * a.start.max(b.start)
}

/// Whether `other` counts from as soon after its loading as `phase`.
fn is_as_fresh(other: &Phase<'_>, phase: &Phase<'_>) -> bool {
    other.evaluation.hold_s.0 <= AS_FRESH * phase.evaluation.hold_s.0 + AS_FRESH_S
}

fn settled(phase: &Phase<'_>, others: &[&Phase<'_>]) -> Option<Noticed> {
    let evened = seeming(phase)?;
    let lost = lost(phase)?;
    let again = others
        .iter()
        .find(|other| has_settled(other) && is_other_loading(phase, other));
    let denies = others.iter().find(|other| denies(phase, &evened, other));
    let named = |other: &&Phase<'_>| {
        let from = course(other).map_or(f64::NAN, |course| course.start / 1e5);
        format!("phase {}, loaded to {from:.0} bar", other.label)
    };
    let (pattern, says) = match (again, denies) {
        (_, Some(other)) => (
            Pattern::LossStops,
            format!(
                "but {}, did nothing of the kind: either the oil was warmer here, or a small leak stopped during the hold. \
                 {TELLS}: load again to this pressure and hold.",
                named(other)
            ),
        ),
        (Some(other), None) => (
            Pattern::Settling,
            format!(
                "{}, did so again, so it follows time and no pressure: it settled, and no leak is shown.",
                named(other)
            ),
        ),
        (None, None) => (
            Pattern::Settling,
            format!(
                "it settled, and no leak is shown. One hold alone cannot exclude a small leak that stopped during it. \
                 {TELLS}: to be sure, load again to another pressure and hold."
            ),
        ),
    };
    Some(Noticed {
        pattern,
        sentence: format!(
            "Phase {}: in the first third of the hold {} only seemed lost, in the last third {}, by heat that evened out or \
             hose and seals that gave way; what was lost beside that is {}: {says}",
            phase.label,
            flow(evened.early),
            flow(evened.late),
            flow(lost)
        ),
    })
}

/// Whether another hold, as fresh from another loading, did not settle as it should have if
/// this one did.
fn denies(phase: &Phase<'_>, evened: &Evened, other: &Phase<'_>) -> bool {
    let (Some(here), Some(there)) = (course(phase), course(other)) else {
        return false;
    };
    let (Some(seemed), Some(lost)) = (other.evaluation.evened, lost(other)) else {
        return false;
    };
    let least = DENIES * evened.early.value_si * (there.start / here.start);
    let most = upper(seemed.early).max(0.0) + upper(lost).max(0.0);
    is_other_loading(phase, other) && is_as_fresh(other, phase) && most < least
}

fn turned(phase: &Phase<'_>, others: &[&Phase<'_>]) -> Option<Noticed> {
    let turn = phase.evaluation.turn?;
    // A valve that shuts at its setting does as it should.
    if is_at_setting(phase) {
        return None;
    }
    let decided = match turn.kind {
        TurnKind::Stops => others.iter().find_map(|other| stops(phase, &turn, other)),
        TurnKind::Starts => others.iter().find_map(|other| starts(&turn, other)),
    };
    let (pattern, sentence) = decided.unwrap_or_else(|| alone(&turn));
    Some(Noticed {
        pattern,
        sentence: format!("Phase {}: {}: {sentence}", phase.label, turn.words()),
    })
}

/// Whether the pressure fell before a turn, so that it can be why.
fn fell(turn: &Turn) -> bool {
    turn.between_pa.1 < (1.0 - ONE_PRESSURE) * turn.pressures_pa[0]
}

/// What one hold says.
fn alone(turn: &Turn) -> (Pattern, String) {
    let at = turn.pressures_pa[1] / 1e5;
    match (turn.kind, fell(turn)) {
        (TurnKind::Stops, true) => (
            Pattern::LossStops,
            format!(
                "either the leak stops at about {at:.0} bar, or it only settled. {TELLS}: hold again with the same plumbing, \
                 once from well above and once from below {at:.0} bar."
            ),
        ),
        (TurnKind::Stops, false) => (
            Pattern::LossStops,
            "the pressure hardly changed, so the loss stopped with time: it settled, or something closed by itself. Load \
             again and hold: settling comes again, what closed stays closed."
                .into(),
        ),
        (TurnKind::Starts, true) => (
            Pattern::LossStarts,
            format!(
                "either it leaks only below about {at:.0} bar, as a lip does that its pressure no longer presses on, or \
                 something changed at that moment. Hold again with the same plumbing and stay above {at:.0} bar."
            ),
        ),
        (TurnKind::Starts, false) => (
            Pattern::LossStarts,
            "the pressure hardly changed, so something else did at that moment: a part opened, or heat came that nobody saw. \
             Hold again."
                .into(),
        ),
    }
}

/// What another hold decides of a loss that stopped.
fn stops(phase: &Phase<'_>, turn: &Turn, other: &Phase<'_>) -> Option<(Pattern, String)> {
    if let Some(again) = other.evaluation.turn {
        return both_stop(turn, &again, other);
    }
    let course = course(other).filter(|_| fell(turn))?;
    let lost = lost(other)?;
    let at = turn.pressures_pa[1] / 1e5;
    let (label, before) = (other.label, turn.before.value_si);
    if course.highest < turn.between_pa.0 {
        // Settling would have come again, less by the lower pressure.
        let seemed = upper(other.evaluation.evened?.early).max(0.0);
        let least = DENIES * before * (course.start / turn.pressures_pa[0]);
        let is_denied = seemed + upper(lost).max(0.0) < least && is_as_fresh(other, phase);
        return is_denied.then(|| {
            let sentence = format!(
                "the leak stops at about {at:.0} bar. It is no settling: that would have come again in phase {label}, which \
                 was loaded to {:.0} bar and lost {}. From above {at:.0} bar it should leak again.",
                course.start / 1e5,
                flow(lost)
            );
            (Pattern::StopsAtPressure, sentence)
        });
    }
    let length_s = other.evaluation.counted.as_ref()?.drive.length_s;
    let goes_on = lower(lost) > GOES_ON * before && length_s > 2.0 * turn.between_s.1;
    (course.lowest > turn.between_pa.1 && goes_on).then(|| {
        let sentence = format!(
            "the leak stops at about {at:.0} bar. It is no settling: phase {label}, which stayed above {:.0} bar, lost {} \
             all the time.",
            course.lowest / 1e5,
            flow(lost)
        );
        (Pattern::StopsAtPressure, sentence)
    })
}

/// Two losses that stop: at one pressure, or after one time.
fn both_stop(turn: &Turn, again: &Turn, other: &Phase<'_>) -> Option<(Pattern, String)> {
    let overlap = |a: (f64, f64), b: (f64, f64)| a.0 <= b.1 && b.0 <= a.1;
    let one_pressure = overlap(turn.between_pa, again.between_pa);
    let one_time = overlap(turn.between_s, again.between_s);
    let at = |turn: &Turn| turn.pressures_pa[1] / 1e5;
    let both = turn.kind == again.kind && fell(turn) && fell(again);
    match (one_pressure, one_time) {
        (true, false) if both => Some((
            Pattern::StopsAtPressure,
            format!(
                "the leak stops at about {:.0} bar. In phase {} it stopped at the same pressure, after {:.0} s: it follows \
                 pressure.",
                at(turn),
                other.label,
                again.at_s
            ),
        )),
        (false, true) if both => Some((
            Pattern::Settling,
            format!(
                "in phase {} it stopped after the same time, at {:.0} bar: it follows time and no pressure, so it settled.",
                other.label,
                at(again)
            ),
        )),
        _ => None,
    }
}

/// What another hold decides of a loss that started.
fn starts(turn: &Turn, other: &Phase<'_>) -> Option<(Pattern, String)> {
    let course = course(other).filter(|_| fell(turn))?;
    let lost = lost(other)?;
    let length_s = other.evaluation.counted.as_ref()?.drive.length_s;
    let stayed_shut = course.lowest > turn.between_pa.1
        && length_s > turn.between_s.1
        && upper(lost) < DENIES * turn.after.value_si;
    stayed_shut.then(|| {
        let sentence = format!(
            "it leaks only below about {:.0} bar, as a lip does that its pressure no longer presses on: phase {}, which \
             stayed above {:.0} bar for longer, lost {}.",
            turn.pressures_pa[1] / 1e5,
            other.label,
            course.lowest / 1e5,
            flow(lost)
        );
        (Pattern::StartsAtPressure, sentence)
    })
}
