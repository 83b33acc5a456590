//! A fault done to a procedure that was played: to the codes, the times or the setup of its
//! recording, or, where it is in the cylinder or in a sensor's own nature, to the rig before it
//! is played once more.

use super::line;
use super::line::Lost;
use super::rig_run::RigRun;
use super::rig_run::hold_s;
use super::rig_run::played;
use stillrod::channel::Role;
use stillrod::recording::Codes;
use stillrod::recording::Parts;
use stillrod::recording::Recording;
use stillrod::recording::Track;
use stillrod::rehearsal::Fault;
use stillrod::rehearsal::Injected;
use stillrod::rehearsal::Recorded;
use stillrod::rehearsal::Scenario;
use stillrod::rehearsal::physics::RodNature;
use stillrod::rehearsal::physics::Specimen;
use stillrod::rehearsal::rig::RigUnit;
use stillrod::rehearsal::scenario;

/// Channels of the rig's board, in their order.
const CHANNELS: [Role; 4] = [
    Role::CapPressure,
    Role::RodPressure,
    Role::Position,
    Role::OilTemperature,
];

/// A procedure with a fault in it.
pub fn struck(fault: &Injected, unit: &RigUnit, sound: &RigRun) -> anyhow::Result<RigRun> {
    let hold = hold_s(&sound.recording).expect("a sound test has its hold");
    let (base, struck) = (
        as_scenario(unit, hold),
        fault.strike(as_scenario(unit, hold)),
    );
    let is_sound_unit = struck.specimen == base.specimen
        && struck.senses == base.senses
        && struck.samples_per_s == base.samples_per_s;
    let mut run = match is_sound_unit {
        true => sound.clone(),
        false => played(&ill(unit, &struck))?,
    };
    // A rig that was played again may have been held at another time.
    let hold = hold_s(&run.recording).unwrap_or(hold);
    let struck = fault.strike(as_scenario(unit, hold));
    run.recording = done_to(run.recording, &struck, hold)?;
    Ok(run)
}

/// A scenario that settles and holds when the recording does, of the rig's unit: what a fault is
/// done to.
fn as_scenario(unit: &RigUnit, hold_s: (f64, f64)) -> Scenario {
    Scenario {
        seed: unit.seed,
        specimen: unit.specimen.clone(),
        senses: unit.senses,
        samples_per_s: unit.samples_per_s,
        settle_s: hold_s.0,
        hold_s: hold_s.1 - hold_s.0,
        faults: Vec::new(),
        ..scenario("tight-rebuild").expect("a scenario")
    }
}

/// The unit as the fault left it.
fn ill(unit: &RigUnit, struck: &Scenario) -> RigUnit {
    RigUnit {
        specimen: struck.specimen.clone(),
        senses: struck.senses,
        samples_per_s: struck.samples_per_s,
        ..unit.clone()
    }
}

/// The recording with the faults that can be done to it.
fn done_to(
    recording: Recording,
    struck: &Scenario,
    hold_s: (f64, f64),
) -> anyhow::Result<Recording> {
    let mut parts = parts_of(&recording);
    let specimen = Specimen {
        motion: RodNature::Held,
        ..struck.specimen.clone()
    };
    let run = Recorded {
        times_s: recording.time_s(),
        hold_s,
        specimen: &specimen,
        senses: &struck.senses,
        seed: struck.seed,
    };
    let mut codes = codes_of(&parts.tracks);
    for fault in &struck.faults {
        run.strike(fault, &mut codes);
    }
    for (at, role) in CHANNELS.into_iter().enumerate() {
        let own = parts.tracks.iter_mut().find(|t| t.channel.role == role);
        let own = own.expect("all channels of the rig are recorded");
        own.codes = Codes::Raw(codes.iter().map(|row| row[at]).collect());
    }
    for fault in &struck.faults {
        match *fault {
            Fault::Clock { factor, from_s } => line::stretch(&mut parts, factor, from_s),
            Fault::Setup { right, wrong } => {
                let text = parts.heading.setup_toml.replace(right, wrong);
                parts.heading.setup_toml = text;
            }
            Fault::BlocksLost { share } => line::lose(&mut parts, share, Lost::OnTheBoard),
            Fault::BlocksGarbled { share } => line::lose(&mut parts, share, Lost::OnTheWay),
            Fault::Restarted { at_s, silent_s } => line::restart(&mut parts, at_s, silent_s),
            Fault::Unplugged { at_s, .. } => line::pull(&mut parts, at_s),
            Fault::PositionLost { .. } | Fault::Sensor(_) | Fault::Event(_) => {}
        }
    }
    Ok(Recording::new(parts)?)
}

/// What a recording is made of.
pub fn parts_of(recording: &Recording) -> Parts {
    Parts {
        heading: recording.heading().clone(),
        time_s: recording.time_s().to_vec(),
        tracks: recording.tracks().to_vec(),
        gaps: recording.gaps().to_vec(),
        phases: recording.phases().to_vec(),
        entries: recording.entries().to_vec(),
        loss: recording.loss(),
        ending: recording.ending().clone(),
    }
}

fn codes_of(tracks: &[Track]) -> Vec<[i32; 4]> {
    let own = CHANNELS.map(|role| {
        let track = tracks.iter().find(|t| t.channel.role == role);
        match track.map(|t| &t.codes) {
            Some(Codes::Raw(codes)) => codes,
            _ => panic!("the rig's board sends codes of all channels"),
        }
    });
    let rows = 0..own[0].len();
    rows.map(|row| own.map(|codes| codes[row])).collect()
}
