//! What is odd in the course of a reading: out of range, an end of stroke, a pressure above the
//! rating, a code that stands still.

use super::Flag;
use super::load;
use super::reading::Reading;
use crate::channel::Role;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Piece;
use crate::cylinder::Ratings;
use crate::quantity::unit::meter;
use crate::recording::Codes;
use crate::recording::Recording;
use crate::recording::Track;

/// Closer than this to an end of the stroke the piston may stand on its seat, m.
const END_OF_STROKE_M: f64 = 2e-3;

/// No gauge pressure lies below this, Pa.
const VACUUM_PA: f64 = -1.013_25e5;

/// What a sensor of pressure may be off there, Pa, if its papers do not say more.
const NEAR_VACUUM_PA: f64 = 0.3e5;

/// An open port carries no more than this, Pa gauge.
const OPEN_PA: f64 = 2e5;

/// A vessel and its hose keep a pressure from zero by this at most, Pa.
const OPEN_ZERO_PA: f64 = 0.2e5;

/// A held rod moves no more than this, m.
const HELD_M: f64 = 0.2e-3;

/// Fewer equal readings than this are no sign.
const N_STUCK: usize = 32;

/// Equal readings over this part of the hold are a sign.
const STUCK_PART: f64 = 0.2;

/// So many readings after a stand within so many steps of it are no jump.
const N_FREE: usize = 20;
const FREE_STEPS: f64 = 2.5;

pub(super) fn values(
    recording: &Recording,
    track: &Track,
    (from_s, until_s): (f64, f64),
) -> Vec<f64> {
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
    let readings = values(recording, track, window);
    if let Some(flag) = below_vacuum(track, &readings) {
        return Some(flag);
    }
    let floor = match track.channel.role {
        Role::CapPressure | Role::RodPressure => vacuum_floor_pa(track).max(low - margin),
        _ => low - margin,
    };
    let beyond = readings.into_iter().any(|v| v < floor || v > high + margin);
    beyond.then(|| {
        Flag::voids(format!(
            "{} left the range of its sensor, or the span it was calibrated over, during the hold",
            track.channel.role.plain()
        ))
    })
}

/// The lowest that a sensor of pressure may read, Pa.
fn vacuum_floor_pa(track: &Track) -> f64 {
    VACUUM_PA - NEAR_VACUUM_PA.max(3.0 * track.channel.errors.zero_si)
}

/// A pressure that is below vacuum for a while.
fn below_vacuum(track: &Track, readings: &[f64]) -> Option<Flag> {
    if !matches!(track.channel.role, Role::CapPressure | Role::RodPressure) {
        return None;
    }
    let floor_pa = vacuum_floor_pa(track);
    let n_below = readings.iter().filter(|v| **v < floor_pa).count();
    let lowest = readings.iter().copied().fold(f64::INFINITY, f64::min);
    (100 * n_below > readings.len()).then(|| {
        Flag::voids(format!(
            "{} read {:.1} bar, which is below vacuum, in {:.0} % of the hold: its zero is off, it measures against \
             another zero, or its wires are changed over; check it vented",
            track.channel.role.plain(),
            lowest / 1e5,
            100.0 * n_below as f64 / readings.len() as f64
        ))
    })
}

/// A needed reading that never changes by a single step: live sensors show some noise, unless
/// their steps are coarse or wider than it.
pub(super) fn stuck(recording: &Recording, track: &Track, window: (f64, f64)) -> Option<Flag> {
    // The noise of a supply that it is read against must not make a dead code look alive.
    let values: Vec<f64> = recording
        .rows_within(window.0, window.1)
        .filter_map(|row| track.as_sent(row))
        .collect();
    let runs: Vec<usize> = values.chunk_by(|a, b| a == b).map(<[f64]>::len).collect();
    let longest = runs.iter().copied().max().unwrap_or(0);
    if longest < N_STUCK.max((STUCK_PART * values.len() as f64) as usize) {
        return None;
    }
    let plain = track.channel.role.plain();
    let (low, high) = track.channel.range_si;
    let part = 100.0 * longest as f64 / values.len() as f64;
    let evidence = format!(
        "{plain} did not change by a single step over {part:.0} % of the hold: the sensor may be stuck or \
         unplugged; move it and see whether the reading follows"
    );
    // A code of few bits may stand still on a live sensor; its steps then widen the interval.
    let scale = match track.codes {
        Codes::Raw(_) | Codes::AgainstSupply { .. } => high - low,
        Codes::Si(_) => 2.0 * values.iter().fold(0.0f64, |a, v| a.max(v.abs())),
    };
    let step_si = track.channel.code_step_si();
    let is_coarse = step_si > scale / 4096.0
        || goes_by_steps(&values, &runs)
        || goes_on_from_there(&values, step_si)
        || was_as_quiet(&before(recording, track, window), longest);
    Some(if is_coarse {
        Flag::remark(evidence)
    } else {
        Flag::voids(evidence)
    })
}

/// Whether a live reading goes from step to step, each wider than its noise: it comes to other
/// steps and stays on each, on none of them much longer than on the others.
fn goes_by_steps(values: &[f64], runs: &[usize]) -> bool {
    let mut lengths = runs.to_vec();
    lengths.sort_unstable();
    let [.., second, longest] = lengths[..] else {
        return false;
    };
    let elsewhere = values.len() - longest;
    let differ = |value: &f64| Some(value) != values.first();
    let goes_on = values.last().is_some_and(differ);
    goes_on && longest < 4 * second && 4 * (runs.len() - 1) < elsewhere
}

/// Readings before a hold.
fn before(recording: &Recording, track: &Track, (from_s, _): (f64, f64)) -> Vec<f64> {
    let rows = recording.time_s().partition_point(|t| *t < from_s);
    (0..rows).filter_map(|row| track.value(row)).collect()
}

/// Whether a sensor stood as still before the hold, as long as in it or for as large a part, and
/// then moved on: its steps are wider than its noise, and a rod that stands is no sign of a fault.
/// How it stood when the hold began tells nothing: what stuck before the hold stands so as well.
fn was_as_quiet(before: &[f64], in_hold: usize) -> bool {
    let runs: Vec<usize> = before.chunk_by(|a, b| a == b).map(<[f64]>::len).collect();
    let Some((_, moved_on)) = runs.split_last() else {
        return false;
    };
    let stood = moved_on.iter().copied().max().unwrap_or(0);
    let part = (STUCK_PART * before.len() as f64) as usize;
    stood >= N_STUCK.max(part.min(in_hold))
}

/// Whether a reading goes on from where it stood, within the hold: a sensor that had been stuck
/// while its truth went elsewhere jumps when it comes free, and one that did not has hidden
/// nothing.
fn goes_on_from_there(values: &[f64], step_si: f64) -> bool {
    let mut at = 0;
    let runs = values.chunk_by(|a, b| a == b).map(|run| {
        at += run.len();
        (run.len(), at)
    });
    let Some((_, end)) = runs.max_by_key(|(length, _)| *length) else {
        return false;
    };
    let Some(stood) = end.checked_sub(1).and_then(|i| values.get(i)) else {
        return false;
    };
    let after = values[end..].iter().take(N_FREE);
    after.len() == N_FREE
        && after
            .into_iter()
            .all(|v| (v - stood).abs() <= FREE_STEPS * step_si)
}

/// A pressure is read to 2 % (instruments of SAE J1336, from a secondary summary): a test at the
/// rated pressure is not above it.
const RATING_READ: f64 = 1.02;

/// Pressure above a rating at any time of the recording.
pub(super) fn over_rating(recording: &Recording, ratings: &Ratings) -> Vec<Flag> {
    let sides = [
        (Role::CapPressure, ratings.of(Chamber::Cap)),
        (Role::RodPressure, ratings.of(Chamber::Rod)),
    ];
    sides
        .into_iter()
        .filter_map(|(role, rating)| {
            let (track, rating) = (recording.track(role)?, rating?);
            let highest = (0..track.len()).filter_map(|i| track.value(i)).fold(f64::NEG_INFINITY, f64::max);
            (highest > RATING_READ * rating.pa()).then(|| {
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

/// A free piston on or near an end of its stroke, or one that stands on the cap end: it
/// may seal there by its seat. Standing on the rod end it is meant to, and tells.
pub(super) fn end_of_stroke(
    recording: &Recording,
    piece: &Piece,
    circuit: &Circuit,
    window: (f64, f64),
) -> Option<Flag> {
    let cylinder = piece.cylinder()?;
    let stroke = cylinder.size().stroke.get::<meter>();
    let x = values(recording, recording.track(Role::Position)?, window);
    let lowest = x.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = x.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if matches!(circuit.rod, RodHold::Bottomed | RodHold::Locked) {
        let on_seat = !x.is_empty() && highest < END_OF_STROKE_M;
        return (on_seat && cylinder.kind().has_piston_seal()).then(|| {
            Flag::voids(
                "the piston stands on its seat at the cap end, which can hide what passes it; hold with the rod out"
                    .into(),
            )
        });
    }
    (lowest < END_OF_STROKE_M || highest > stroke - END_OF_STROKE_M).then(|| {
        Flag::voids(
            "the piston came to an end of its stroke during the hold, where it may seal by its seat; \
             hold in mid-stroke"
                .into(),
        )
    })
}

/// Readings that contradict what the setup says of ports, rod and load.
pub(super) fn contradictions(
    recording: &Recording,
    piece: &Piece,
    circuit: &Circuit,
    window: (f64, f64),
) -> Vec<Flag> {
    let mean = |role| {
        let values = values(recording, recording.track(role)?, window);
        (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
    };
    let (cap, rod) = (mean(Role::CapPressure), mean(Role::RodPressure));
    let mut flags = Vec::new();
    for (chamber, pressure) in [(Chamber::Cap, cap), (Chamber::Rod, rod)] {
        if let Some(pressure) =
            pressure.filter(|p| circuit.port(chamber) == Port::OpenToVessel && *p > OPEN_PA)
        {
            flags.push(Flag::voids(format!(
                "the {} port is said to be open to a vessel, but its end carries {:.1} bar; correct the setup",
                chamber.word(),
                pressure / 1e5
            )));
        }
    }
    flags.extend(open_ports(recording, circuit, window));
    flags.extend(
        piece
            .cylinder()
            .and_then(|cylinder| load::not_carried(cylinder, circuit, cap, rod)),
    );
    if circuit.port(circuit.holding_chamber()) == Port::Supplied {
        flags.push(Flag::voids(format!(
            "the {} port is supplied, and the supply makes up what leaks from the side that holds; \
             shut the port off for the hold",
            circuit.holding_chamber().word()
        )));
    }
    flags.extend(held_but_moving(recording, piece, circuit, window));
    flags
}

/// A sensor on an open port is as good as vented: its reading is its zero.
fn open_ports(recording: &Recording, circuit: &Circuit, window: (f64, f64)) -> Vec<Flag> {
    let ends = [
        (Chamber::Cap, Role::CapPressure),
        (Chamber::Rod, Role::RodPressure),
    ];
    ends.into_iter()
        .filter(|(chamber, _)| circuit.port(*chamber) == Port::OpenToVessel)
        .filter_map(|(chamber, role)| {
            let reading = Reading::of(recording, recording.track(role)?, window);
            let allowed = OPEN_ZERO_PA + 3.0 * reading.channel.errors.zero_si;
            let mean = reading.mean();
            (reading.len() > 0 && mean.abs() > allowed && mean <= OPEN_PA).then(|| {
                Flag::remark(format!(
                    "the {} port is open, yet its pressure reads {:+.1} bar: the zero of that sensor is off, or the \
                     vessel's hose is pinched",
                    chamber.word(),
                    mean / 1e5
                ))
            })
        })
        .collect()
}

/// A rod that is said to be held and is seen to move, or to stand elsewhere.
fn held_but_moving(
    recording: &Recording,
    piece: &Piece,
    circuit: &Circuit,
    window: (f64, f64),
) -> Option<Flag> {
    if !matches!(circuit.rod, RodHold::Locked | RodHold::Bottomed) {
        return None;
    }
    let track = recording.track(Role::Position)?;
    let x = values(recording, track, window);
    let tenth = (x.len() / 10).max(1);
    let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len().max(1) as f64;
    let stroke = piece.cylinder()?.size().stroke.get::<meter>();
    let at = mean(&x);
    if circuit.rod == RodHold::Bottomed && at > END_OF_STROKE_M && at < stroke - END_OF_STROKE_M {
        return Some(Flag::voids(format!(
            "the piston is said to stand on an end of its stroke, but it stands at {:.0} mm of {:.0} mm; \
             correct the setup",
            at * 1e3,
            stroke * 1e3
        )));
    }
    let moved = mean(&x[x.len().saturating_sub(tenth)..]) - mean(&x[..tenth.min(x.len())]);
    (moved.abs() > HELD_M + 2.0 * track.channel.resolution_si()).then(|| {
        Flag::voids(format!(
            "the rod is said to be held, but it moved {:.2} mm during the hold; correct the setup or the stop",
            moved * 1e3
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 400 readings of a code that stands for 200 of them, and then goes on from `next` steps
    /// away, a step more every 40th reading.
    fn stood(next: f64, n_after: usize) -> Vec<f64> {
        let before = (0..100).map(|i| f64::from(i / 50));
        let after = (0..n_after).map(|i| 2.0 + next + (i / 40) as f64);
        before.chain([2.0; 200]).chain(after).collect()
    }

    #[test]
    fn a_reading_that_goes_on_from_where_it_stood_has_hidden_nothing() {
        assert!(goes_on_from_there(&stood(1.0, 100), 1.0));
        assert!(goes_on_from_there(&stood(-1.0, 100), 1.0));
        // Came free with a jump; or never came free; or only just before the end.
        assert!(!goes_on_from_there(&stood(3.0, 100), 1.0));
        assert!(!goes_on_from_there(&stood(1.0, 0), 1.0));
        assert!(!goes_on_from_there(&stood(1.0, 19), 1.0));
        assert!(!goes_on_from_there(&[1.0; 400], 1.0));
        assert!(!goes_on_from_there(&[], 1.0));
    }

    #[test]
    fn a_sensor_that_stood_before_the_hold_too_and_moved_is_alive() {
        // Lively, then still, then a step on.
        let stood = |n: usize, live: usize| -> Vec<f64> {
            let live = (0..live).map(|i| (i * 7 % 11) as f64);
            live.chain(std::iter::repeat_n(3.0, n))
                .chain([4.0])
                .collect()
        };
        assert!(was_as_quiet(&stood(100, 300), 600));
        assert!(was_as_quiet(&stood(100, 500), 100));
        // Stuck since before the hold, whatever it did before.
        let stuck = |n: usize, live: usize| stood(n, live)[..n + live].to_vec();
        assert!(!was_as_quiet(&stuck(100, 300), 600));
        assert!(!was_as_quiet(&stuck(3000, 300), 600));
        // Mostly lively; or never moved; or nothing was seen of it.
        assert!(!was_as_quiet(&stood(31, 100), 20));
        assert!(!was_as_quiet(&stood(100, 500), 101));
        assert!(!was_as_quiet(&[3.0; 400], 400));
        assert!(!was_as_quiet(&[], 0));
    }
}
