//! Looks at zeros, and at the rod in a known place, before and after what is held.
//!
//! Two looks that agree show that nothing between them moved further than they can see; how far
//! that is, each hold allows for. A reading that nobody looked at before and after is known for
//! nothing.

use super::by_eye::zeros_read;
use crate::account::Unseen;
use crate::channel::ByEye;
use crate::channel::Channel;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::health::Flag;
use crate::health::ZeroLook;
use crate::health::unseen_si;
use crate::health::zero_moved;
use crate::health::zero_off;
use crate::health::zero_repeats_si;
use crate::procedure::Act;
use crate::procedure::VENTED;
use crate::procedure::phase_name;
use crate::quantity::Length;
use crate::recording::Recording;
use crate::settings::Test;

/// Pressures are looked at wherever both sides are open.
const PRESSURES: [Role; 2] = [Role::CapPressure, Role::RodPressure];

/// A sensor with both sides open, or with the rod in a known place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensorZero {
    /// Which.
    pub role: Role,
    /// What it said.
    pub look: ZeroLook,
    /// What its papers allow.
    pub errors: SensorErrors,
}

/// All looks of a recording, and where they stand among the steps.
pub(super) struct Zeros<'a> {
    test: &'a Test,
    channels: Vec<&'a Channel>,
    /// Place among the steps, and what was read.
    looks: Vec<(usize, Vec<SensorZero>)>,
}

impl<'a> Zeros<'a> {
    /// Reads them out of a recording.
    pub(super) fn of(recording: &'a Recording, test: &'a Test) -> Self {
        let steps = test.steps.iter().enumerate();
        let looks = steps.filter_map(|(at, planned)| match planned.step.act {
            Act::Vented { place_within, .. } => Some((
                at,
                looks_of(recording, test.by_eye(), &planned.step.id, place_within),
            )),
            _ => None,
        });
        Self {
            test,
            channels: recording.tracks().iter().map(|t| &t.channel).collect(),
            looks: looks.filter(|(_, all)| !all.is_empty()).collect(),
        }
    }

    /// What they say of the sensors.
    pub(super) fn flags(&self) -> Vec<Flag> {
        let all = self.looks.iter().flat_map(|(_, look)| look);
        let vented = all.filter(|zero| zero.role != Role::Position);
        let mut flags: Vec<Flag> = vented
            .filter_map(|zero| zero_off(zero.role, &zero.look, &zero.errors))
            .collect();
        // Neighbours, and the first with the last: what moved between them voids all that was
        // held.
        let n = self.looks.len();
        let whole = (n > 2).then(|| (&self.looks[0].1, &self.looks[n - 1].1));
        let neighbours = self.looks.windows(2).map(|pair| (&pair[0].1, &pair[1].1));
        for (earlier, later) in neighbours.chain(whole) {
            for before in earlier {
                let after = later.iter().find(|after| after.role == before.role);
                let moved = after.and_then(|after| {
                    zero_moved(before.role, &before.look, &after.look, &before.errors)
                });
                flags.extend(moved);
            }
        }
        flags
    }

    /// How far readings could have crept in the hold of a step without these looks telling.
    pub(super) fn unseen(&self, at: usize) -> Vec<Unseen> {
        let planned = unseen_as_planned(self.test, at, self.channels.iter().copied());
        planned
            .into_iter()
            .map(|unseen| Unseen {
                standard_si: unseen
                    .standard_si
                    .max(self.moved_si(at, unseen.role).unwrap_or(0.0)),
                ..unseen
            })
            .collect()
    }

    /// By how much a reading moved between the looks before and after a step, if that is more
    /// than chance: what its papers allow is no reason to leave it out.
    fn moved_si(&self, at: usize, role: Role) -> Option<f64> {
        let find = |(_, look): &'_ (usize, Vec<SensorZero>)| {
            look.iter().find(|zero| zero.role == role).copied()
        };
        let before = self.looks.iter().rev().filter(|(own, _)| *own < at);
        let after = self.looks.iter().filter(|(own, _)| *own > at);
        let before = before.into_iter().find_map(find)?;
        let after = after.into_iter().find_map(find)?;
        zero_moved(role, &before.look, &after.look, &before.errors)?;
        Some((after.look.mean_si - before.look.mean_si).abs())
    }
}

/// How far readings could creep in the hold of a step without the looks that are planned before
/// and after it telling; nothing of readings that no look is planned at.
pub(in crate::daemon) fn unseen_as_planned<'a>(
    test: &Test,
    at: usize,
    channels: impl Iterator<Item = &'a Channel>,
) -> Vec<Unseen> {
    let repeats_si = |role: Role, act: &Act| match act {
        Act::Vented { place_within, .. } if role == Role::Position => {
            place_within.map(standard_of_place_m)
        }
        Act::Vented { .. } if PRESSURES.contains(&role) => Some(zero_repeats_si(role)),
        _ => None,
    };
    // What a scale is read to is in each of its readings already.
    let step_si = |channel: &Channel| match test.by_eye() {
        Some(_) => 0.0,
        None => channel.resolution_si(),
    };
    // A dial has no electronics that drift: where nobody looks, either reading may be off by all
    // that its papers allow it (common practice, no source).
    let of_dial = |channel: &Channel| {
        let is_dial = test.by_eye().is_some() && channel.role == Role::Position;
        is_dial.then(|| 2f64.sqrt() * channel.errors.zero_si)
    };
    let acts = || test.steps.iter().map(|planned| &planned.step.act);
    channels
        .filter_map(|channel| {
            let role = channel.role;
            let mut before = acts().take(at).filter_map(|act| repeats_si(role, act));
            let mut after = acts().skip(at + 1).filter_map(|act| repeats_si(role, act));
            let looked_si = match (before.next_back(), after.next()) {
                (Some(before), Some(after)) => {
                    let repeats = before.max(after);
                    Some(unseen_si(repeats, step_si(channel), &channel.errors))
                }
                _ => of_dial(channel),
            };
            Some(Unseen {
                role,
                standard_si: looked_si?,
            })
        })
        .collect()
}

/// A rod comes back to its place within a length: two standard uncertainties.
fn standard_of_place_m(within: Length) -> f64 {
    0.5 * within.value
}

/// Whether all readings that a look is for were there.
pub(super) fn are_all_there(
    recording: &Recording,
    by_eye: Option<&ByEye>,
    id: &str,
    place_within: Option<Length>,
) -> bool {
    let position = place_within.map(|_| Role::Position);
    let wanted = PRESSURES.into_iter().chain(position);
    let n = wanted
        .filter(|role| recording.track(*role).is_some())
        .count();
    looks_of(recording, by_eye, id, place_within).len() == n
}

/// What sensors said while a step had both sides open.
pub(super) fn looks_of(
    recording: &Recording,
    by_eye: Option<&ByEye>,
    id: &str,
    place_within: Option<Length>,
) -> Vec<SensorZero> {
    if let Some(by_eye) = by_eye {
        return zeros_read(recording, by_eye, id);
    }
    let Some(mark) = recording.phase(&phase_name(id, VENTED)) else {
        return Vec::new();
    };
    let pressures = PRESSURES.map(|role| (role, zero_repeats_si(role)));
    let place = place_within.map(|within| (Role::Position, standard_of_place_m(within)));
    pressures
        .into_iter()
        .chain(place)
        .filter_map(|(role, repeats_si)| {
            let track = recording.track(role)?;
            // The first third may still be on its way down.
            let from_s = mark.from_s + (mark.until_s - mark.from_s) / 3.0;
            let rows = recording.rows_within(from_s, mark.until_s);
            let values: Vec<f64> = rows.filter_map(|row| track.value(row)).collect();
            let (mean_si, standard_si) = mean_of(&values)?;
            let step = track.channel.resolution_si();
            Some(SensorZero {
                role,
                look: ZeroLook {
                    mean_si,
                    standard_si: standard_si.hypot(step / 12.0_f64.sqrt()),
                    ambient_k: None,
                    repeats_si,
                },
                errors: track.channel.errors,
            })
        })
        .collect()
}

/// Blocks that a mean's uncertainty is taken from: noise with a memory does not average out
/// within one.
const N_BLOCKS: usize = 5;

/// Mean, and its standard uncertainty from the scatter of means of blocks.
pub(in crate::daemon) fn mean_of(values: &[f64]) -> Option<(f64, f64)> {
    let per_block = values.len() / N_BLOCKS;
    if per_block == 0 {
        return None;
    }
    let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
    let blocks: Vec<f64> = values
        .chunks_exact(per_block)
        .take(N_BLOCKS)
        .map(mean)
        .collect();
    let all = mean(&blocks);
    let n = blocks.len() as f64;
    let variance = blocks.iter().map(|b| (b - all).powi(2)).sum::<f64>() / (n - 1.0);
    Some((all, (variance / n).sqrt()))
}
