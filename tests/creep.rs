//! Readings that creep steadily while a side is held: what one hold cannot see, the looks before
//! and after it do.
//!
//! A whole procedure on the practice rig, through a pseudo-terminal; then its codes are let creep
//! over the hold, by more and less, and it is judged again. What was true is known from the rig.
#![cfg(target_os = "linux")]

#[path = "../examples/faults/rig_run.rs"]
#[allow(dead_code, reason = "another test asks more of a rig that was played")]
mod rig_run;

use rig_run::LIMIT_ML_MIN;
use rig_run::hold_s;
use rig_run::leaking;
use rig_run::played;
use rig_run::tight;
use stillrod::channel::Role;
use stillrod::daemon::proof::Proof;
use stillrod::daemon::proof::proved;
use stillrod::recording::Codes;
use stillrod::recording::Parts;
use stillrod::recording::Recording;
use stillrod::recording::Track;
use stillrod::rehearsal::rig::RigUnit;
use stillrod::verdict::Outcome;

/// The recording with codes that creep over the hold: by these amounts at its end, SI units, and
/// from then on.
fn creeping(recording: &Recording, by_si: &[(Role, f64)]) -> Recording {
    let (from_s, until_s) = hold_s(recording).expect("a hold");
    let length_s = until_s - from_s;
    let tracks = recording.tracks().iter().map(|track| {
        let by_si = by_si.iter().find(|(role, _)| *role == track.channel.role);
        let (Some((_, by_si)), Codes::Raw(codes)) = (by_si, &track.codes) else {
            return track.clone();
        };
        let step = track.channel.resolution_si();
        let times = recording.time_s().iter();
        let crept = codes.iter().zip(times).map(|(code, time_s)| {
            let part = ((time_s - from_s) / length_s).clamp(0.0, 1.0);
            code + (part * by_si / step).round() as i32
        });
        Track {
            channel: track.channel.clone(),
            codes: Codes::Raw(crept.collect()),
        }
    });
    Recording::new(Parts {
        heading: recording.heading().clone(),
        time_s: recording.time_s().to_vec(),
        tracks: tracks.collect(),
        gaps: recording.gaps().to_vec(),
        phases: recording.phases().to_vec(),
        entries: recording.entries().to_vec(),
        loss: recording.loss(),
        ending: recording.ending().clone(),
    })
    .expect("rows in order stay in order")
}

/// What was found against the limit and its expanded uncertainty, mL/min.
fn found(proof: &Proof) -> Option<(f64, f64)> {
    let (_, held) = proof.holds().next()?;
    let judged = held.judgement.verdict.judged.first()?;
    judged.number.zip(judged.expanded)
}

/// What crept, in words and by how much at the end of the hold.
fn creeps() -> Vec<(String, Vec<(Role, f64)>)> {
    let mut all = Vec::new();
    for sign in [1.0, -1.0] {
        for um in [10.0, 25.0, 60.0, 120.0, 300.0] {
            let by = sign * um * 1e-6;
            all.push((
                format!("position by {by:+.6} m"),
                vec![(Role::Position, by)],
            ));
        }
        for bar in [0.05, 0.2, 2.0] {
            let by = sign * bar * 1e5;
            all.push((
                format!("cap pressure by {by:+.0} Pa"),
                vec![(Role::CapPressure, by)],
            ));
        }
        // A reference that moves takes all readings along: sensors of 0 to 250 bar, 0 to 500 mm.
        for part in [5e-5, 2.5e-4, 1e-3] {
            let by = sign * part;
            let all_of_it = vec![
                (Role::CapPressure, by * 250e5),
                (Role::RodPressure, by * 250e5),
                (Role::Position, by * 0.5),
                (Role::OilTemperature, by * 100.0),
            ];
            all.push((format!("all by {by:+.1e} of their range"), all_of_it));
        }
    }
    all
}

/// What a creep did that it may not.
fn deceits(recording: &Recording, is_sound: bool) -> Vec<String> {
    let base = proved(recording, None).expect("judged");
    let (base_number, _) = found(&base).expect("a figure");
    let mut deceits = Vec::new();
    for (name, by_si) in creeps() {
        let proof = proved(&creeping(recording, &by_si), None).expect("judged");
        let moved = found(&proof).map(|(number, expanded)| (number - base_number).abs() / expanded);
        println!("{name}: {} moved by {moved:?} U", proof.outcome.word());
        let is_moved = moved.is_none_or(|by| by > 1.0);
        if proof.outcome == Outcome::Pass && (is_moved || !is_sound) {
            deceits.push(format!(
                "{name}: passes, moved by {moved:?} U: {:?}",
                found(&proof)
            ));
        }
    }
    deceits
}

fn none_deceives(unit: &RigUnit, expected: Outcome) {
    let recording = played(unit).expect("a sound test").recording;
    let proof = proved(&recording, None).expect("judged");
    let (number, _) = found(&proof).expect("a figure");
    assert_eq!(proof.outcome, expected, "{:?} {number}", proof.reasons);
    let deceits = deceits(&recording, number < LIMIT_ML_MIN);
    assert!(deceits.is_empty(), "{deceits:#?}");
}

#[test]
fn no_creep_passes_a_tight_cylinder_that_moved_a_figure_further_than_it_is_sure() {
    none_deceives(&tight(), Outcome::Pass);
}

#[test]
fn no_creep_passes_a_leak() {
    none_deceives(&leaking(), Outcome::Fail);
}
