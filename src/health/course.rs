//! What is odd in the course of a reading: out of range, a jump, an end of stroke,
//! a pressure above the rating.

use super::Flag;
use crate::channel::Role;
use crate::circuit::Circuit;
use crate::circuit::RodHold;
use crate::cylinder::Piece;
use crate::cylinder::Ratings;
use crate::quantity::unit::meter;
use crate::recording::Codes;
use crate::recording::Recording;
use crate::recording::Track;

/// Closer than this to an end of the stroke the piston may stand on its seat, m.
const END_OF_STROKE_M: f64 = 2e-3;

/// A jump this many times the usual second difference is no movement.
const STEP_TIMES: f64 = 6.0;

/// Fewer equal readings than this are no sign.
const N_STUCK: usize = 100;

/// Blocks that a hold is cut into to look for jumps.
const N_BLOCKS: usize = 40;

fn values(recording: &Recording, track: &Track, (from_s, until_s): (f64, f64)) -> Vec<f64> {
    let times = recording.time_s();
    let rows = times.partition_point(|t| *t < from_s)..times.partition_point(|t| *t <= until_s);
    rows.filter_map(|row| track.value(row)).collect()
}

/// A reading beyond its sensor's range during the hold.
pub(super) fn out_of_range(
    recording: &Recording,
    track: &Track,
    window: (f64, f64),
) -> Option<Flag> {
    let (low, high) = track.channel.range_si;
    // Sensors of every kind read a little beyond their range (a slight vacuum is real).
    let margin = 0.02 * (high - low);
    let beyond = values(recording, track, window)
        .into_iter()
        .any(|v| v < low - margin || v > high + margin);
    beyond.then(|| {
        Flag::voids(format!(
            "{} left the range of its sensor during the hold",
            track.channel.role.plain()
        ))
    })
}

/// A needed reading that never changes by a single step: live sensors show some noise,
/// unless their steps are coarse.
pub(super) fn stuck(recording: &Recording, track: &Track, window: (f64, f64)) -> Option<Flag> {
    let values = values(recording, track, window);
    let first = *values.first()?;
    if values.len() < N_STUCK || values.iter().any(|v| *v != first) {
        return None;
    }
    let plain = track.channel.role.plain();
    let (low, high) = track.channel.range_si;
    let evidence = format!(
        "{plain} did not change by a single step during the hold: the sensor may be stuck or unplugged; \
         move it and see whether the reading follows"
    );
    // A code of few bits may stand still on a live sensor; the resolution then widens the interval.
    let is_coarse = matches!(track.codes, Codes::Raw(_))
        && track.channel.resolution_si() > (high - low) / 4096.0;
    Some(if is_coarse {
        Flag::remark(evidence)
    } else {
        Flag::voids(evidence)
    })
}

/// A jump of one reading between neighbouring blocks that the rest of the hold does
/// not show: a slipped sensor or a stick-slip of the seal.
pub(super) fn step(recording: &Recording, track: &Track, window: (f64, f64)) -> Option<Flag> {
    if track.channel.role != Role::Position {
        return None;
    }
    let values = values(recording, track, window);
    let per_block = values.len() / N_BLOCKS;
    if per_block < 4 {
        return None;
    }
    let means: Vec<f64> = values
        .chunks_exact(per_block)
        .map(|c| c.iter().sum::<f64>() / c.len() as f64)
        .collect();
    let bends: Vec<f64> = means.windows(3).map(|w| w[2] - 2.0 * w[1] + w[0]).collect();
    let at = (0..bends.len()).max_by(|a, b| bends[*a].abs().total_cmp(&bends[*b].abs()))?;
    let mut sizes: Vec<f64> = bends.iter().map(|b| b.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let usual = (1.48 * sizes[sizes.len() / 2]).max(0.5 * track.channel.resolution_si());
    // A jump bends the course up and straight down again; a leak that changes bends it once.
    let bends_back = [at.checked_sub(1), Some(at + 1)]
        .into_iter()
        .flatten()
        .filter_map(|i| bends.get(i))
        .any(|neighbour| -neighbour * bends[at].signum() > 0.3 * bends[at].abs());
    (bends[at].abs() > STEP_TIMES * usual && bends_back).then(|| {
        let t = (at + 1) as f64 / means.len() as f64 * (window.1 - window.0);
        Flag::voids(format!(
            "position jumps by about {:.3} mm, {t:.0} s into the hold: the sensor slipped or the rod stuck; \
             fasten the sensor and hold again",
            bends[at].abs() * 1e3
        ))
    })
}

/// Pressure above a rating at any time of the recording.
pub(super) fn over_rating(recording: &Recording, ratings: &Ratings) -> Vec<Flag> {
    let sides = [
        (Role::CapPressure, ratings.cap),
        (Role::RodPressure, ratings.rod),
    ];
    sides
        .into_iter()
        .filter_map(|(role, rating)| {
            let (track, rating) = (recording.track(role)?, rating?);
            let highest = (0..track.len()).filter_map(|i| track.value(i)).fold(f64::NEG_INFINITY, f64::max);
            (highest > rating.pa()).then(|| {
                Flag::remark(format!(
                    "{} reached {:.0} bar, above the rating of {:.0} bar; have the piece looked at before it works again",
                    role.plain(),
                    highest / 1e5,
                    rating.bar()
                ))
            })
        })
        .collect()
}

/// A free piston on or near an end of its stroke: it may seal there by itself.
pub(super) fn end_of_stroke(
    recording: &Recording,
    piece: &Piece,
    circuit: &Circuit,
    window: (f64, f64),
) -> Option<Flag> {
    let stroke = piece.cylinder()?.size().stroke.get::<meter>();
    if matches!(circuit.rod, RodHold::Bottomed | RodHold::Locked) {
        return None;
    }
    let x = values(recording, recording.track(Role::Position)?, window);
    let lowest = x.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = x.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (lowest < END_OF_STROKE_M || highest > stroke - END_OF_STROKE_M).then(|| {
        Flag::voids(
            "the piston came to an end of its stroke during the hold, where it may seal by its seat; \
             hold in mid-stroke"
                .into(),
        )
    })
}
