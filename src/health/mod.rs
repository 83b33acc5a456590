//! What the data say about sensors, wiring and setup.
//!
//! Each flag carries its evidence as a sentence and says whether a figure can
//! still be believed. Whether the outcome suffers is decided in `verdict`.
//!
//! Invariant: pure; a recording that was interrupted is always flagged.

mod by_eye;
mod course;
mod jump;
mod load;
mod loss;
mod moving;
mod noisy;
mod pinned;
mod probe;
mod reading;
mod same;
mod shifted;
mod spikes;
mod supply;
mod swing;
mod ticks;
mod trapped;
mod zero;

#[cfg(test)]
mod tests;

pub use by_eye::examine_by_eye;
pub use moving::examine_moving;
pub use moving::voided;
pub use zero::ZeroLook;
pub use zero::unseen_si;
pub use zero::zero_allowed_si;
pub use zero::zero_moved;
pub use zero::zero_off;
pub use zero::zero_repeats_si;

use crate::channel::Role;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Piece;
use crate::cylinder::Ratings;
use crate::procedure::HOLD;
use crate::recording::Recording;
use crate::recording::Track;
use reading::Reading;

/// What a flag does to the outcome.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// To be read beside the outcome.
    Remark,
    /// No figure of this hold can be believed.
    Voids,
}

/// One thing that the data say about the measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct Flag {
    /// What it does to the outcome.
    pub weight: Weight,
    /// What was seen and what to do, as a sentence.
    pub evidence: String,
}

impl Flag {
    fn voids(evidence: String) -> Self {
        Self {
            weight: Weight::Voids,
            evidence,
        }
    }

    fn remark(evidence: String) -> Self {
        Self {
            weight: Weight::Remark,
            evidence,
        }
    }
}

/// Looks a recording over.
pub fn examine(
    recording: &Recording,
    piece: &Piece,
    circuit: &Circuit,
    ratings: &Ratings,
) -> Vec<Flag> {
    let mut flags = loss::interruption(recording);
    let Some(hold) = recording.phase(HOLD) else {
        return flags;
    };
    let window = (hold.from_s, hold.until_s);
    flags.extend(loss::gaps(recording, window));
    flags.extend(loss::counters(recording));
    for role in needed(piece, circuit) {
        flags.extend(loss::missing(recording, role));
        // A rod that is held does not move, and that is no fault.
        let may_stand =
            role == Role::Position && matches!(circuit.rod, RodHold::Locked | RodHold::Bottomed);
        if let Some(track) = recording.track(role).filter(|_| !may_stand) {
            let reading = Reading::of(recording, track, window);
            let sent = Reading::as_sent(recording, track, window);
            // What stands at an end of its range stands still as well.
            if pinned::at_an_end(&reading, &sent).is_none() {
                flags.extend(course::stuck(recording, track, window));
            }
        }
    }
    flags.extend(readings(recording, piece, circuit, window));
    flags.extend(supply::wandered(recording, window));
    for track in of_piece(recording) {
        flags.extend(loss::dropouts(recording, track, window));
        flags.extend(course::out_of_range(recording, track, window));
        flags.extend(jump::jumped(recording, track, window));
    }
    flags.extend(ticks::uneven(recording, window));
    flags.extend(course::contradictions(recording, piece, circuit, window));
    flags.extend(course::over_rating(recording, ratings));
    flags.extend(course::end_of_stroke(recording, piece, circuit, window));
    flags
}

/// What single readings, and readings beside each other, say of their sensors.
fn readings(
    recording: &Recording,
    piece: &Piece,
    circuit: &Circuit,
    window: (f64, f64),
) -> Vec<Flag> {
    let readings: Vec<Reading<'_>> = of_piece(recording)
        .map(|track| Reading::of(recording, track, window))
        .collect();
    let mut flags: Vec<Flag> = shifted::shifted(&readings).into_iter().collect();
    for (track, reading) in of_piece(recording).zip(&readings) {
        let sent = track.channel.against_supply.map(|_| {
            // At an end is the signal, whatever its supply does.
            Reading::as_sent(recording, track, window)
        });
        let sent = sent.as_ref().unwrap_or(reading);
        flags.extend(pinned::at_an_end(reading, sent));
        flags.extend(pinned::cut_off(sent));
        flags.extend(noisy::noisy(reading));
        flags.extend(swing::swing(reading));
        flags.extend(spikes::spikes(reading));
        flags.extend(spikes::worn_spot(recording, track));
    }
    let of = |role| readings.iter().find(|r| r.channel.role == role);
    let (cap, rod) = (of(Role::CapPressure), of(Role::RodPressure));
    let (oil, wall) = (of(Role::OilTemperature), of(Role::WallTemperature));
    if let (Some(cap), Some(rod)) = (cap, rod) {
        flags.extend(same::twice(recording, cap, rod, circuit));
    }
    if let (Some(cylinder), Some(position)) = (piece.cylinder(), of(Role::Position)) {
        let trio = trapped::Trio {
            cap,
            rod,
            position,
            oil,
        };
        flags.extend(trapped::gained(&trio, cylinder, circuit));
    }
    flags.extend(oil.and_then(probe::jumped));
    flags.extend(circuit.probe.and_then(|end| probe::unmoved(recording, end)));
    if let (Some(oil), Some(wall)) = (oil, wall) {
        flags.extend(probe::on_the_wall(oil, wall));
    }
    flags
}

/// The channels that tell of the piece: all but the supply of the sensors, which is never judged.
fn of_piece(recording: &Recording) -> impl Iterator<Item = &Track> {
    let tracks = recording.tracks().iter();
    tracks.filter(|track| track.channel.role != Role::Supply)
}

/// Channels without which this piece in this circuit cannot be judged.
fn needed(piece: &Piece, circuit: &Circuit) -> Vec<Role> {
    let pressure = |chamber| match chamber {
        Chamber::Cap => Role::CapPressure,
        Chamber::Rod => Role::RodPressure,
    };
    let holding = circuit.holding_chamber();
    let mut roles = vec![pressure(holding)];
    if let Some(cylinder) = piece.cylinder() {
        roles.push(Role::Position);
        // Not each kind has a second chamber that holds pressure.
        if cylinder.kind().chambers().contains(&holding.other())
            && circuit.port(holding.other()) != Port::OpenToVessel
        {
            roles.push(pressure(holding.other()));
        }
    }
    roles
}
