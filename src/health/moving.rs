//! What the data say while the rod moves: loss, dead channels, readings out of range, one sensor
//! on two channels. Rules that take a course for steady do not apply.

use super::Flag;
use super::Weight;
use super::course;
use super::loss;
use super::pinned;
use super::reading::Reading;
use super::same;
use crate::channel::Role;
use crate::circuit::Circuit;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::recording::Recording;

/// Looks over a stretch, from and until in s, in which the rod moves; `stretch` is what it is
/// called. Channels that the cylinder has pressures for, and the position, are needed.
pub fn examine_moving(
    recording: &Recording,
    cylinder: &Cylinder,
    circuit: &Circuit,
    window: (f64, f64),
    stretch: &str,
) -> Vec<Flag> {
    let mut flags = loss::gaps(recording, window);
    let chambers = cylinder.kind().chambers();
    let pressures = chambers.iter().map(|chamber| match chamber {
        Chamber::Cap => Role::CapPressure,
        Chamber::Rod => Role::RodPressure,
    });
    for role in pressures.chain([Role::Position]) {
        flags.extend(loss::missing(recording, role));
        let Some(track) = recording.track(role) else {
            continue;
        };
        flags.extend(loss::dropouts(recording, track, window));
        flags.extend(course::out_of_range(recording, track, window));
        // A rod that rests at a stop may read the same for a while.
        if role != Role::Position {
            flags.extend(course::stuck(recording, track, window));
            let reading = Reading::of(recording, track, window);
            let sent = Reading::as_sent(recording, track, window);
            flags.extend(pinned::at_an_end(&reading, &sent));
        }
    }
    let reading = |role| {
        let track = recording.track(role)?;
        Some(Reading::of(recording, track, window))
    };
    if let (Some(cap), Some(rod)) = (reading(Role::CapPressure), reading(Role::RodPressure)) {
        flags.extend(same::twice(recording, &cap, &rod, circuit));
    }
    let said = |flag: Flag| Flag {
        evidence: flag.evidence.replace("the hold", &format!("the {stretch}")),
        ..flag
    };
    flags.into_iter().map(said).collect()
}

/// Why nothing of a stretch can be believed, if so.
pub fn voided(flags: &[Flag]) -> Option<&str> {
    let mut voids = flags.iter().filter(|flag| flag.weight == Weight::Voids);
    voids.next().map(|flag| flag.evidence.as_str())
}
