//! What one step of a procedure showed.

use super::asked::not_as_asked;
use super::by_eye::strokes_counted;
use super::let_off::OilLetOff;
use super::moved::SqueezedEnd;
use super::moved::Stroked;
use super::moved::squeeze;
use super::moved::strokes;
use super::zeros::SensorZero;
use super::zeros::are_all_there;
use super::zeros::looks_of;
use crate::account::Conditions;
use crate::account::Figure;
use crate::account::Measured;
use crate::account::Unseen;
use crate::channel::ByEye;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::daemon::judgement::Judgement;
use crate::daemon::judgement::Known;
use crate::daemon::judgement::judged_as;
use crate::daemon::judgement::rule_of;
use crate::daemon::screen::worst;
use crate::health::Flag;
use crate::health::Weight;
use crate::procedure::Act;
use crate::procedure::Asked;
use crate::procedure::DWELL;
use crate::procedure::ENDS_BELOW;
use crate::procedure::HOLD;
use crate::procedure::HoldPlan;
use crate::procedure::REACHED_FROM;
use crate::procedure::REACHED_TO;
use crate::procedure::Reach;
use crate::procedure::SETTLE;
use crate::procedure::SHORTEST_HOLD_S;
use crate::procedure::Understood;
use crate::procedure::VENTED;
use crate::procedure::phase_name;
use crate::quantity::Time;
use crate::quantity::UnitSystem;
use crate::recording::Entry;
use crate::recording::EntryKind;
use crate::recording::PhaseMark;
use crate::recording::Recording;
use crate::settings::PlannedStep;
use crate::settings::Shop;
use crate::verdict::EarlyRule;
use crate::verdict::Judged;
use crate::verdict::Outcome;
use crate::verdict::judge_outside;
use crate::verdict::judge_reading;

/// A time that was planned is over when this part of it is: rows do not come on the second.
const WHOLE: f64 = 0.999;

/// What one step showed, and what it comes to.
#[derive(Debug, Clone)]
pub struct Part {
    /// What it showed.
    pub shown: Shown,
    /// Its outcome; None for a step that decides nothing.
    pub outcome: Option<Outcome>,
    /// Why, in one sentence; empty where the hold's own verdict says it.
    pub reason: String,
}

/// What a step showed.
#[derive(Debug, Clone)]
pub enum Shown {
    /// It was not done to its end.
    NotDone,
    /// A person said that it is done.
    Done {
        /// When, s of bench time.
        at_s: f64,
    },
    /// What the sensors said with both sides open and the rod at a known place.
    Vented(Vec<SensorZero>),
    /// Full strokes.
    Strokes(Box<Stroked>),
    /// A rod end that was squeezed.
    Squeezed(Box<SqueezedEnd>),
    /// A pressure that was kept.
    Kept {
        /// At which end.
        chamber: Chamber,
        /// What was asked for, Pa gauge.
        asked_pa: f64,
        /// Lowest and highest while it was kept, Pa gauge.
        between_pa: (f64, f64),
        /// How long, s.
        length_s: f64,
    },
    /// A side that was shut and left alone.
    Held(Box<Held>),
    /// What a person read or saw.
    Read(Read),
}

/// A hold of a procedure, cut out and judged.
#[derive(Debug, Clone)]
pub struct Held {
    /// The hold as a recording of its own.
    pub recording: Recording,
    /// What came of it.
    pub judgement: Judgement,
}

/// A reading of a person.
#[derive(Debug, Clone, PartialEq)]
pub struct Read {
    /// What was asked for.
    pub asked: Asked,
    /// As it was typed.
    pub typed: String,
    /// What was understood.
    pub understood: Understood,
    /// What it tells beside what else is known; None where it stands for itself.
    pub told: Option<String>,
}

impl Read {
    /// What was read, in words with units.
    pub fn said(&self) -> String {
        let plain = || self.understood.said_back();
        self.told.clone().unwrap_or_else(plain)
    }
}

/// What other steps say of a hold.
pub(super) struct Beside<'a> {
    /// What makes it worthless.
    pub voiding: &'a [Flag],
    /// How far its readings could have crept unseen.
    pub unseen: Vec<Unseen>,
    /// The oil that was let off, where the step says how much.
    pub let_off: Option<&'a OilLetOff>,
}

impl Part {
    /// What the data say about the measurement of strokes, where it voids nothing.
    pub(super) fn remarks(&self) -> impl Iterator<Item = &Flag> {
        let flags = match &self.shown {
            Shown::Strokes(stroked) => stroked.flags.as_slice(),
            Shown::Squeezed(end) => end.flags.as_slice(),
            _ => &[],
        };
        flags.iter().filter(|flag| flag.weight == Weight::Remark)
    }

    pub(super) fn plain(shown: Shown) -> Self {
        Self {
            shown,
            outcome: None,
            reason: String::new(),
        }
    }

    pub(super) fn not_done() -> Self {
        Self::plain(Shown::NotDone)
    }
}

/// What a step showed; `beside` is what the other steps say of its hold.
pub(super) fn shown(
    recording: &Recording,
    planned: &PlannedStep,
    (shop, by_eye): (Option<&Shop>, Option<&ByEye>),
    beside: &Beside<'_>,
) -> Part {
    let step = &planned.step;
    match &step.act {
        Act::Confirm => match entry(recording, &step.id, EntryKind::Done) {
            Some(entry) => Part::plain(Shown::Done { at_s: entry.at_s }),
            None => Part::not_done(),
        },
        Act::Vented {
            length,
            place_within,
        } => match whole(recording, &step.id, VENTED, *length) {
            // A sensor that said nothing was not looked at.
            Some(_) if are_all_there(recording, by_eye, &step.id, *place_within) => {
                let looks = looks_of(recording, by_eye, &step.id, *place_within);
                Part::plain(Shown::Vented(looks))
            }
            _ => Part::not_done(),
        },
        Act::Strokes { count, stroke } if by_eye.is_some() => {
            let counted = strokes_counted(recording, &step.id).filter(|n| n >= count);
            counted.map_or_else(Part::not_done, |count| {
                Part::plain(Shown::Strokes(Box::new(Stroked::counted(count, *stroke))))
            })
        }
        Act::Strokes { count, stroke } => strokes(
            recording,
            planned,
            (*count, *stroke),
            (shop, beside.voiding),
        ),
        Act::Squeeze { reach } => squeeze(recording, planned, reach, (shop, beside.voiding)),
        Act::Dwell { reach, length } => kept(recording, &step.id, reach, *length),
        Act::Hold(hold) => {
            let is_whole = whole(recording, &step.id, HOLD, hold.plan.length()).is_some()
                || ended_as_decided(recording, &step.id, &hold.plan, shop)
                || has_run_down(recording, &step.id, hold.reach.as_ref());
            let held = is_whole.then(|| held(recording, planned, (shop, by_eye), beside));
            match held.flatten() {
                Some(held) => Part {
                    outcome: Some(held.judgement.verdict.outcome),
                    shown: Shown::Held(Box::new(held)),
                    reason: String::new(),
                },
                None => Part::not_done(),
            }
        }
        Act::Reading(asked @ Asked::LetOff { .. }) => {
            let said = entry(recording, &step.id, EntryKind::Reading);
            let units = shop.map_or(UnitSystem::Metric, |shop| shop.units);
            match said.zip(beside.let_off) {
                Some((said, found)) => found.part(*asked, &said.text, units),
                None => Part::not_done(),
            }
        }
        Act::Reading(asked) => reading(recording, planned, *asked, shop),
    }
}

pub(super) fn entry<'a>(recording: &'a Recording, id: &str, kind: EntryKind) -> Option<&'a Entry> {
    let mut entries = recording.entries().iter();
    entries.find(|entry| entry.step == id && entry.kind == kind)
}

/// The phase of a step, if it lasted as long as was planned.
fn whole<'a>(
    recording: &'a Recording,
    id: &str,
    phase: &str,
    length: Time,
) -> Option<&'a PhaseMark> {
    let mark = recording.phase(&phase_name(id, phase))?;
    (mark.until_s - mark.from_s >= WHOLE * length.value).then_some(mark)
}

/// Whether a hold was ended by a look that decided it, as the recording says, at a time of a look.
fn ended_as_decided(recording: &Recording, id: &str, plan: &HoldPlan, shop: Option<&Shop>) -> bool {
    let Some(mark) = recording.phase(&phase_name(id, HOLD)) else {
        return false;
    };
    let entry = entry(recording, id, EntryKind::Decided);
    let is_said = entry.is_some_and(|entry| (entry.at_s - mark.until_s).abs() < 1e-6);
    let early = EarlyRule::new(rule_of(shop), plan.length().value);
    plan.ends_as_decided() && is_said && early.is_look(mark.until_s - mark.from_s)
}

/// Whether a hold was ended because its pressure had run down, as the bench does.
fn has_run_down(recording: &Recording, id: &str, reach: Option<&Reach>) -> bool {
    let (Some(reach), Some(mark)) = (reach, recording.phase(&phase_name(id, HOLD))) else {
        return false;
    };
    let Some(track) = recording.track(pressure_role(reach.chamber)) else {
        return false;
    };
    let mut rows = recording.rows_within(mark.from_s, mark.until_s);
    let last = rows.next_back().and_then(|row| track.value(row));
    let is_long = mark.until_s - mark.from_s >= SHORTEST_HOLD_S;
    is_long && last.is_some_and(|pa| pa < ENDS_BELOW * reach.pressure.pa())
}

pub(super) fn pressure_role(chamber: Chamber) -> Role {
    match chamber {
        Chamber::Cap => Role::CapPressure,
        Chamber::Rod => Role::RodPressure,
    }
}

fn kept(recording: &Recording, id: &str, reach: &Reach, length: Time) -> Part {
    let role = pressure_role(reach.chamber);
    let mark = whole(recording, id, DWELL, length);
    let (Some(mark), Some(track)) = (mark, recording.track(role)) else {
        return Part::not_done();
    };
    let rows = recording.rows_within(mark.from_s, mark.until_s);
    let n_rows = rows.len();
    let values: Vec<f64> = rows.filter_map(|row| track.value(row)).collect();
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let asked_pa = reach.pressure.pa();
    let reason = if values.len() < n_rows || values.is_empty() {
        "its pressure was lost while it was to be kept".to_owned()
    } else if low < REACHED_FROM * asked_pa {
        format!(
            "fell to {:.1} bar while {:.1} bar was to be kept",
            low / 1e5,
            asked_pa / 1e5
        )
    } else if high > REACHED_TO * asked_pa {
        format!(
            "rose to {:.1} bar where {:.1} bar was asked for; have the piece looked at before it works again",
            high / 1e5,
            asked_pa / 1e5
        )
    } else {
        String::new()
    };
    Part {
        shown: Shown::Kept {
            chamber: reach.chamber,
            asked_pa,
            between_pa: (low, high),
            length_s: mark.until_s - mark.from_s,
        },
        outcome: (!reason.is_empty()).then_some(Outcome::NotValid),
        reason,
    }
}

fn held(
    recording: &Recording,
    planned: &PlannedStep,
    (shop, by_eye): (Option<&Shop>, Option<&ByEye>),
    beside: &Beside<'_>,
) -> Option<Held> {
    let (text, setup) = planned.setup.as_ref()?;
    let names = [SETTLE, HOLD].map(|phase| phase_name(&planned.step.id, phase));
    let (settle, hold) = (recording.phase(&names[0])?, recording.phase(&names[1])?);
    let window = (settle.from_s, hold.until_s);
    let phases = [(names[0].as_str(), SETTLE), (names[1].as_str(), HOLD)];
    let part = recording.part(window, text, &phases, true)?;
    let mut flags = beside.voiding.to_vec();
    flags.extend(unsettled(planned, settle));
    let reach = planned.step.reach().filter(|_| by_eye.is_none());
    flags.extend(reach.and_then(|reach| not_as_asked(recording, reach, settle)));
    let known = Known {
        flags,
        unseen: &beside.unseen,
    };
    let judgement = judged_as(&part, setup.clone(), shop.cloned(), known);
    Some(Held {
        recording: part,
        judgement,
    })
}

/// A side that was counted because the waiting had an end, and not because it had settled.
pub(in crate::daemon) fn unsettled(planned: &PlannedStep, settle: &PhaseMark) -> Option<Flag> {
    let Act::Hold(hold) = &planned.step.act else {
        return None;
    };
    let at_most_s = hold.steady?.at_most.value;
    (settle.until_s - settle.from_s >= WHOLE * at_most_s).then(|| Flag {
        weight: Weight::Voids,
        evidence: format!(
            "the pressure had not settled after {:.0} min of waiting: its rate still changed. Look for what warms, cools or \
             gives way, and hold again",
            at_most_s / 60.0
        ),
    })
}

fn reading(
    recording: &Recording,
    planned: &PlannedStep,
    asked: Asked,
    shop: Option<&Shop>,
) -> Part {
    let found = entry(recording, &planned.step.id, EntryKind::Reading);
    let Some((typed, understood)) =
        found.and_then(|e| Some((e.text.clone(), asked.understood(&e.text).ok()?)))
    else {
        return Part::not_done();
    };
    let (outcome, reason) = match &understood {
        Understood::Flow {
            m3_per_s,
            standard_m3_per_s,
        } => {
            let measured = Measured {
                value_si: *m3_per_s,
                standard_si: *standard_m3_per_s,
            };
            flow_against_limits(planned, measured, shop)
        }
        Understood::Class(class) => {
            let limit = shop.and_then(|shop| shop.outside.as_ref());
            let (outcome, reason) = judge_outside(*class, limit);
            (outcome, reason)
        }
        Understood::Oil { .. } | Understood::Note(_) => (None, String::new()),
    };
    Part {
        shown: Shown::Read(Read {
            asked,
            typed,
            understood,
            told: None,
        }),
        outcome,
        reason,
    }
}

/// A flow that a person read, against the limits of its figure.
fn flow_against_limits(
    planned: &PlannedStep,
    measured: Measured,
    shop: Option<&Shop>,
) -> (Option<Outcome>, String) {
    let (Some(name), Some(setup)) = (planned.figure, planned.own_setup()) else {
        return (None, String::new());
    };
    let figure = Figure::measured(name, measured, Vec::new(), Conditions::default());
    let rule = rule_of(shop);
    let judged: Vec<Judged> = judge_reading(&figure, &setup.limits, rule);
    let Some(outcome) = worst(judged.iter().map(|j| j.outcome)) else {
        return (None, String::new());
    };
    let reasons: Vec<String> = judged.into_iter().map(|j| j.reason).collect();
    (Some(outcome), reasons.join("; "))
}
