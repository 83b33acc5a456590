//! Steps that say something of each other: zeros that moved, steps that are missing, readings
//! that were broken. What is broken never passes.

use super::played;
use stillrod::channel::Role;
use stillrod::daemon::proof::Proof;
use stillrod::daemon::proof::Shown;
use stillrod::daemon::proof::proved;
use stillrod::recording::Codes;
use stillrod::recording::Ending;
use stillrod::recording::Heading;
use stillrod::recording::Parts;
use stillrod::recording::Recording;
use stillrod::recording::Track;
use stillrod::verdict::Outcome;

/// A recording with some of its parts changed.
fn changed(recording: &Recording, change: impl Fn(&mut Parts)) -> Proof {
    let mut parts = Parts {
        heading: recording.heading().clone(),
        time_s: recording.time_s().to_vec(),
        tracks: recording.tracks().to_vec(),
        gaps: recording.gaps().to_vec(),
        phases: recording.phases().to_vec(),
        entries: recording.entries().to_vec(),
        loss: recording.loss(),
        ending: recording.ending().clone(),
    };
    change(&mut parts);
    proved(&Recording::new(parts).unwrap(), None).unwrap()
}

/// Adds a drift that grows with time, in SI units an hour, to one channel.
fn drift(parts: &mut Parts, role: Role, si_per_hour: f64) {
    let times = parts.time_s.clone();
    let track: &mut Track = parts
        .tracks
        .iter_mut()
        .find(|t| t.channel.role == role)
        .unwrap();
    let per_code = track.channel.calibration.si_per_code;
    let Codes::Raw(codes) = &mut track.codes else {
        panic!("raw codes of a board");
    };
    for (code, time_s) in codes.iter_mut().zip(times) {
        *code += (si_per_hour * time_s / 3600.0 / per_code).round() as i32;
    }
}

/// A pressure sensor that drifts slowly makes a leak of a tight cylinder, or hides one, and no
/// single hold can tell. The two looks at its zero can.
#[test]
fn a_pressure_sensor_that_drifts_is_found_by_its_zeros() {
    let played = played("proof-sound", None);
    for (role, bar_per_hour) in [
        (Role::CapPressure, 8.0),
        (Role::CapPressure, -8.0),
        (Role::RodPressure, 2.0),
    ] {
        let proof = changed(&played.recording, |parts| {
            drift(parts, role, bar_per_hour * 1e5)
        });
        assert_ne!(proof.outcome, Outcome::Pass, "{role:?} {bar_per_hour}");
        let said = proof.reasons.join("\n");
        assert!(
            said.contains("the zero of") && said.contains("moved by"),
            "{said}"
        );
        for (_, held) in proof.holds() {
            assert_ne!(held.judgement.verdict.outcome, Outcome::Pass);
        }
    }
    // As much as the sensor's own repeatability is no reason.
    let proof = changed(&played.recording, |parts| {
        drift(parts, Role::CapPressure, 0.01e5)
    });
    assert_eq!(proof.outcome, Outcome::Pass, "{:?}", proof.reasons);
}

#[test]
fn a_procedure_that_was_stopped_lists_what_is_missing_and_passes_nothing() {
    let played = played("proof-sound", None);
    let cut_s = played.recording.phase("seal-mid-2/hold").unwrap().until_s - 30.0;
    let proof = changed(&played.recording, |parts| {
        let n = parts.time_s.partition_point(|t| *t <= cut_s);
        parts.time_s.truncate(n);
        for track in &mut parts.tracks {
            if let Codes::Raw(codes) = &mut track.codes {
                codes.truncate(n);
            }
        }
        parts.phases.retain(|phase| phase.from_s < cut_s);
        for phase in &mut parts.phases {
            phase.until_s = phase.until_s.min(cut_s);
        }
        parts.entries.retain(|entry| entry.at_s < cut_s);
        parts.ending = Ending::Interrupted("stopped".into());
    });
    assert_eq!(proof.outcome, Outcome::NotValid);
    let said = proof.reasons.join("\n");
    assert!(
        said.contains("not done: Piston seal, middle of the stroke (2 of 3)"),
        "{said}"
    );
    assert!(
        said.contains("Zero after") && !said.contains("Zero before"),
        "{said}"
    );
    // What was held to its end stands.
    let held: Vec<_> = proof
        .holds()
        .map(|(p, h)| (p.step.id.as_str(), h.judgement.verdict.outcome))
        .collect();
    assert_eq!(
        held,
        [("seal-in", Outcome::Pass), ("seal-mid-1", Outcome::Pass)]
    );
}

#[test]
fn a_fail_that_was_found_stands_whatever_was_not_done_after_it() {
    let played = played("proof-weeping-gland", None);
    let proof = changed(&played.recording, |parts| {
        parts.entries.retain(|entry| entry.step != "proof-outside");
    });
    assert_eq!(proof.outcome, Outcome::Fail);
    assert!(
        proof
            .reasons
            .join("\n")
            .contains("not done: Outside after proof")
    );
}

#[test]
fn a_pressure_that_was_not_kept_is_no_proof() {
    let played = played("proof-sound", None);
    let proof = changed(&played.recording, |parts| {
        let phase = parts
            .phases
            .iter()
            .find(|p| p.name == "proof-cap/dwell")
            .unwrap();
        let middle_s = 0.5 * (phase.from_s + phase.until_s);
        let row = parts.time_s.partition_point(|t| *t < middle_s);
        let track = parts
            .tracks
            .iter_mut()
            .find(|t| t.channel.role == Role::CapPressure)
            .unwrap();
        if let Codes::Raw(codes) = &mut track.codes {
            let zero = (-track.channel.calibration.si_at_zero_code
                / track.channel.calibration.si_per_code) as i32;
            codes[row] = zero + (200e5 / track.channel.calibration.si_per_code) as i32;
        }
    });
    assert_eq!(proof.outcome, Outcome::NotValid);
    let part = proof
        .parts
        .iter()
        .find(|part| part.reason.contains("fell to"))
        .expect("told");
    assert!(part.reason.contains("was to be kept"), "{}", part.reason);
}

/// A glass that shows three times as much oil as the setup gives: no hold of that end counts, those
/// of the other end do. A glass that nobody read is a step that was not done.
#[test]
fn oil_that_the_setup_does_not_give_voids_the_holds_of_its_end() {
    let played = played("proof-sound", None);
    let typed = |text: Option<&str>| {
        changed(&played.recording, |parts| match text {
            Some(text) => {
                let mut entries = parts.entries.iter_mut();
                entries.find(|e| e.step == "let-off-cap").unwrap().text = text.into();
            }
            None => parts.entries.retain(|e| e.step != "let-off-cap"),
        })
    };
    let proof = typed(Some("18,0 mL"));
    assert_eq!(proof.outcome, Outcome::NotValid);
    let said = proof.reasons.join("\n");
    assert!(
        said.contains("gave 18.0 mL, where the cylinder as the setup has it gives"),
        "{said}"
    );
    for (planned, held) in proof.holds() {
        let expected = match planned.step.id.as_str() {
            "seal-from-rod" => Outcome::Pass,
            _ => Outcome::NotValid,
        };
        let found = held.judgement.verdict.outcome;
        assert_eq!(found, expected, "{}", planned.step.id);
    }
    let proof = typed(None);
    assert_eq!(proof.outcome, Outcome::NotValid);
    let said = proof.reasons.join("\n");
    assert!(said.contains("not done: Oil let off, cap end"), "{said}");
    let holds = proof
        .holds()
        .map(|(_, held)| held.judgement.verdict.outcome);
    assert!(holds.into_iter().all(|found| found == Outcome::Pass));
}

/// A word that is no reading any more, and a setup whose procedure lacks a step: nothing passes.
#[test]
fn words_that_mean_nothing_are_no_reading() {
    let played = played("proof-sound", None);
    let proof = changed(&played.recording, |parts| {
        let entry = parts
            .entries
            .iter_mut()
            .find(|e| e.step == "outside")
            .unwrap();
        entry.text = "dry, I think".into();
    });
    assert_eq!(proof.outcome, Outcome::NotValid);
    let missing = proof
        .parts
        .iter()
        .filter(|part| matches!(part.shown, Shown::NotDone));
    assert_eq!(missing.count(), 1);
    let error = {
        let parts = |heading: Heading| Parts {
            heading,
            time_s: vec![0.0],
            tracks: Vec::new(),
            gaps: Vec::new(),
            phases: Vec::new(),
            entries: Vec::new(),
            loss: played.recording.loss(),
            ending: Ending::Complete,
        };
        let mut heading = played.recording.heading().clone();
        heading.setup_toml = heading.setup_toml.replace("1 x rated", "one rated");
        proved(&Recording::new(parts(heading)).unwrap(), None).unwrap_err()
    };
    assert!(error.message.contains("1.5 x rated"), "{error}");
}
