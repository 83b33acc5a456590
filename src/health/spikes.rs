//! Single readings far from their neighbours, and the place where they come.
//!
//! A loose contact or a worn track throws readings out for a moment; a cylinder does not.
//! Where the rod moves, the place in mm is named: the same place again is a worn spot.

use super::Flag;
use super::reading::Reading;
use super::reading::median;
use crate::channel::Role;
use crate::recording::Recording;
use crate::recording::Track;

/// Distance from the middle of five neighbours, in usual noise and in steps.
const TIMES_NOISE: f64 = 8.0;
const STEPS: f64 = 4.0;

/// From so many on it is a sign …
const N_SPIKES: usize = 8;
/// … and from this part of the readings on nothing is believed.
const PART_VOIDS: f64 = 5e-3;

/// A rod that moved less than this passed no place, m.
const MOVED_M: f64 = 0.05e-3;

/// Readings beyond this part of the way are no one place.
const ONE_PLACE: f64 = 0.4;

/// Spikes of one reading.
pub(super) fn spikes(reading: &Reading<'_>) -> Option<Flag> {
    let rests: Vec<f64> = reading
        .value_si
        .windows(5)
        .map(|w| w[2] - median(w.to_vec()))
        .collect();
    // Half of them are the middle one themselves, so zero says nothing of the noise.
    let limit = (TIMES_NOISE * reading.noise()).max(STEPS * reading.channel.resolution_si().abs());
    let n_spikes = rests.iter().filter(|rest| rest.abs() > limit).count();
    if n_spikes < N_SPIKES {
        return None;
    }
    let largest = rests.iter().fold(0.0f64, |a, r| a.max(r.abs()));
    let part = n_spikes as f64 / rests.len() as f64;
    let where_to_look = match reading.channel.role {
        Role::Position => "plug, cable and the sensor's track",
        _ => "plug, cable and terminals",
    };
    let evidence = format!(
        "{} jumped away for single readings {n_spikes} times in the hold, by up to {}: a loose contact or a worn track; \
         check {where_to_look}",
        reading.plain(),
        reading.sized(largest)
    );
    Some(if part > PART_VOIDS {
        Flag::voids(evidence)
    } else {
        Flag::remark(evidence)
    })
}

/// Where a moving rod stood when its position was lost.
pub(super) fn worn_spot(recording: &Recording, track: &Track) -> Option<Flag> {
    if track.channel.role != Role::Position {
        return None;
    }
    let values = track.values();
    let good = || values.iter().copied().filter(|v| v.is_finite());
    let (lowest, highest) = (
        good().fold(f64::INFINITY, f64::min),
        good().fold(f64::NEG_INFINITY, f64::max),
    );
    let way = highest - lowest;
    if way.is_nan() || way < MOVED_M {
        return None;
    }
    let mut places = Vec::new();
    let mut before = None;
    let mut is_lost = false;
    for value in &values {
        match (value.is_finite(), before) {
            (true, Some(from)) if is_lost => places.push((from, *value)),
            _ => {}
        }
        is_lost = !value.is_finite();
        before = if is_lost { before } else { Some(*value) };
    }
    let low = places
        .iter()
        .map(|(a, b)| a.min(*b))
        .fold(f64::INFINITY, f64::min);
    let high = places
        .iter()
        .map(|(a, b)| a.max(*b))
        .fold(f64::NEG_INFINITY, f64::max);
    let is_one_place = !places.is_empty() && high - low < ONE_PLACE * way;
    let is_recorded_whole = recording.time_s().len() == values.len();
    (is_one_place && is_recorded_whole).then(|| {
        Flag::remark(format!(
            "position was lost only between {:.2} and {:.2} mm, while the rod moved {:.2} mm: a worn spot of the sensor, \
             or its cable; move the rod past there again and see whether it is lost again",
            low * 1e3,
            high * 1e3,
            way * 1e3
        ))
    })
}
