//! What readings by eye say of themselves: too few, too late, mistyped, without papers.

use super::Flag;
use super::course;
use super::loss;
use super::needed;
use crate::channel::ByEye;
use crate::channel::EyeInstrument;
use crate::channel::Role;
use crate::circuit::Circuit;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Piece;
use crate::cylinder::Ratings;
use crate::procedure::HOLD;
use crate::procedure::LEAST_READINGS;
use crate::recording::EntryKind;
use crate::recording::Recording;

/// A reading that stands further from its neighbours than this many divisions, and what the
/// course itself bends, was mistyped or the piece was touched.
const STANDS_OUT_DIVISIONS: f64 = 3.0;

/// Part of the hold that the first reading may come late and the last early.
const ENDS_WITHIN: f64 = 0.1;

/// Pressures that do more than this part of all they do before the second reading went faster
/// than they were read: what flowed at the start is then any size.
const BEFORE_THE_SECOND: f64 = 0.4;

/// What they do counts from so many standard uncertainties of one reading.
const SURELY_MOVED: f64 = 6.0;

/// A look that took longer than this part of the hold is said to be late.
const LATE: f64 = 0.05;

/// Looks the readings of a hold over.
pub fn examine_by_eye(
    recording: &Recording,
    by_eye: &ByEye,
    (piece, circuit): (&Piece, &Circuit),
    ratings: &Ratings,
) -> Vec<Flag> {
    let mut flags = loss::interruption(recording);
    let Some(hold) = recording.phase(HOLD) else {
        return flags;
    };
    let window = (hold.from_s, hold.until_s);
    // A rod that is held needs no dial.
    let is_held = matches!(circuit.rod, RodHold::Locked | RodHold::Bottomed);
    let holding = circuit.holding_chamber();
    for role in needed(piece, circuit) {
        if !(is_held && role == Role::Position) {
            flags.extend(few(recording, role, role == pressure_role(holding), window));
        }
    }
    for instrument in &by_eye.instruments {
        flags.extend(stands_out(recording, instrument, window));
        flags.extend(at_the_end_of_its_scale(recording, instrument, window));
        flags.extend(without_papers(instrument));
    }
    flags.extend(outran(recording, by_eye, window));
    flags.extend(missed(recording, window));
    flags.extend(late(recording, window));
    flags.extend(course::over_rating(recording, ratings));
    flags
}

fn pressure_role(chamber: Chamber) -> Role {
    match chamber {
        Chamber::Cap => Role::CapPressure,
        Chamber::Rod => Role::RodPressure,
    }
}

/// Times and values of an instrument in the hold.
fn readings(recording: &Recording, role: Role, (from_s, until_s): (f64, f64)) -> Vec<(f64, f64)> {
    let Some(track) = recording.track(role) else {
        return Vec::new();
    };
    let rows = recording.rows_within(from_s, until_s);
    rows.filter_map(|row| Some((recording.time_s()[row], track.value(row)?)))
        .collect()
}

/// Too few readings of a role; of the side that holds the account says that itself.
fn few(recording: &Recording, role: Role, is_said: bool, window: (f64, f64)) -> Option<Flag> {
    let read = readings(recording, role, window);
    let plain = role.plain();
    if recording.track(role).is_none() {
        return Some(Flag::voids(format!(
            "{plain} was not read: nothing reads it"
        )));
    }
    if read.len() < LEAST_READINGS && is_said {
        return None;
    }
    if read.len() < LEAST_READINGS {
        return Some(Flag::voids(format!(
            "only {} readings of the {plain} in the hold; by eye it needs {LEAST_READINGS}: hold again",
            read.len()
        )));
    }
    let within_s = ENDS_WITHIN * (window.1 - window.0);
    let (first_s, last_s) = (read[0].0, read[read.len() - 1].0);
    (first_s > window.0 + within_s || last_s < window.1 - within_s).then(|| {
        Flag::voids(format!(
            "the {plain} was not read at the start or at the end of the hold, and only what lies between would be known: \
             hold again"
        ))
    })
}

/// A reading beside the course of its two neighbours on either side.
fn stands_out(
    recording: &Recording,
    instrument: &EyeInstrument,
    window: (f64, f64),
) -> Option<Flag> {
    let read = readings(recording, instrument.role, window);
    let odd = read.windows(3).find_map(|three| {
        let [(t0, v0), (t1, v1), (t2, v2)] = three else {
            return None;
        };
        let straight = v0 + (v2 - v0) * (t1 - t0) / (t2 - t0);
        // A course that bends stays between its neighbours; one that was touched does not.
        let room = STANDS_OUT_DIVISIONS * instrument.division_si + 0.5 * (v2 - v0).abs();
        ((v1 - straight).abs() > room).then_some((*t1, *v1, straight))
    });
    odd.map(|(t_s, value, straight)| {
        Flag::voids(format!(
            "{} was read as {} at {:.1} min of the hold, where its neighbours lead to {}: mistyped, or the piece was \
             touched; hold again",
            instrument.role.plain(),
            instrument.typed(value),
            (t_s - window.0) / 60.0,
            instrument.typed((straight / instrument.division_si).round() * instrument.division_si)
        ))
    })
}

/// Pressures, and what lies between them, that went faster than they were read.
fn outran(recording: &Recording, by_eye: &ByEye, window: (f64, f64)) -> Option<Flag> {
    let gauges = [Role::CapPressure, Role::RodPressure].map(|role| {
        let read = readings(recording, role, window);
        (by_eye.instrument(role).map(EyeInstrument::reading_si), read)
    });
    let values = |read: &[(f64, f64)]| read.iter().map(|(_, v)| *v).collect::<Vec<f64>>();
    let mut courses: Vec<(String, f64, Vec<f64>)> = Vec::new();
    for (role, (sigma, read)) in [Role::CapPressure, Role::RodPressure]
        .into_iter()
        .zip(&gauges)
    {
        let sigma = sigma.unwrap_or(f64::INFINITY);
        courses.push((role.plain().to_owned(), sigma, values(read)));
    }
    if let [(Some(a), cap), (Some(b), rod)] = &gauges {
        let apart = cap.iter().zip(rod).map(|((_, c), (_, r))| c - r).collect();
        let plain = "pressure across the piston".to_owned();
        courses.push((plain, a.hypot(*b), apart));
    }
    let (plain, first, all) = courses.into_iter().find_map(|(plain, sigma, values)| {
        let start = *values.first()?;
        let all = values
            .iter()
            .fold(0.0, |far: f64, v| far.max((v - start).abs()));
        let first = (values.get(1)? - start).abs();
        let is_faster = all > SURELY_MOVED * sigma && first > BEFORE_THE_SECOND * all;
        is_faster.then_some((plain, first, all))
    })?;
    Some(Flag::voids(format!(
        "the {plain} went by {:.1} of {:.1} bar before the second reading, faster than it was read: how much leaks at the \
         start cannot be told. Let it settle longer; if it goes on so, the piston or a port passes oil: measure it with the \
         cup",
        first / 1e5,
        all / 1e5
    )))
}

fn at_the_end_of_its_scale(
    recording: &Recording,
    instrument: &EyeInstrument,
    window: (f64, f64),
) -> Option<Flag> {
    let read = readings(recording, instrument.role, window);
    let high = instrument.range_si.1;
    let near = 0.5 * instrument.division_si;
    // The dial's way is kept as extension; its scale was looked at when it was typed.
    let is_at = instrument.role != Role::Position && read.iter().any(|(_, v)| *v >= high - near);
    is_at.then(|| {
        Flag::voids(format!(
            "the {} of the {} stood at an end of its scale, where it may have stopped; set it anew, or take one that goes \
             further",
            instrument.plain(),
            instrument.role.plain()
        ))
    })
}

fn without_papers(instrument: &EyeInstrument) -> Option<Flag> {
    instrument.papers.certificate.is_empty().then(|| {
        Flag::remark(format!(
            "the {} for the {} has no calibration certificate: a report, not a certificate, until it is calibrated",
            instrument.plain(),
            instrument.role.plain()
        ))
    })
}

fn missed(recording: &Recording, (from_s, until_s): (f64, f64)) -> Option<Flag> {
    let entries = recording.entries().iter();
    let n = entries
        .filter(|e| e.kind == EntryKind::Missed && e.at_s >= from_s && e.at_s <= until_s)
        .count();
    let were = if n == 1 {
        "reading was"
    } else {
        "readings were"
    };
    (n > 0).then(|| Flag::remark(format!("{n} {were} missed during the hold")))
}

fn late(recording: &Recording, (from_s, until_s): (f64, f64)) -> Option<Flag> {
    let times = recording.time_s();
    let asked = recording
        .entries()
        .iter()
        .filter(|e| e.kind == EntryKind::Look);
    let longest = asked
        .filter(|e| e.at_s >= from_s && e.at_s <= until_s)
        .filter_map(|e| {
            let row = times.get(times.partition_point(|t| *t < e.at_s))?;
            Some(2.0 * (row - e.at_s))
        })
        .fold(0.0, f64::max);
    (longest > LATE * (until_s - from_s)).then(|| {
        Flag::remark(format!(
            "a look took {longest:.0} s from the question to the last word; when in that time it was read is not known, and \
             counts as uncertainty"
        ))
    })
}

#[cfg(test)]
mod tests;
