//! Judged again, played again, replayed: what was recorded is enough.

use super::played;
use stillrod::bench::Bench;
use stillrod::bench::Effect;
use stillrod::bench::Event;
use stillrod::bench::Reading;
use stillrod::channel::Role;
use stillrod::daemon::judge::JudgedAny;
use stillrod::daemon::judge::judge_file;
use stillrod::recording::Codes;
use stillrod::recording::EntryKind;
use stillrod::recording::Recording;
use stillrod::settings::Shop;
use stillrod::settings::Test;

/// The archive alone gives every digit again.
#[test]
fn an_archive_judged_again_says_the_same() {
    let played = played("proof-scored-mid-stroke", None);
    let again = judge_file(&played.archive, None, None, None).unwrap();
    let JudgedAny::Procedure(file) = &again else {
        panic!("a procedure");
    };
    assert_eq!(file.proof.outcome, played.proof.outcome);
    assert_eq!(
        again.text(),
        stillrod::daemon::proof::proof_text(&played.proof)
    );
    let mut record: serde_json::Value = serde_json::from_str(&file.record_json).unwrap();
    let mut first = played.record.clone();
    for record in [&mut record, &mut first] {
        // A file that is judged again is in no register.
        forget(record, "certificate_number");
    }
    assert_eq!(record, first);
    assert!(played.folder.path().join("register.db").exists());
}

fn forget(value: &mut serde_json::Value, key: &str) {
    match value {
        serde_json::Value::Object(map) => {
            map.remove(key);
            map.values_mut().for_each(|value| forget(value, key));
        }
        serde_json::Value::Array(list) => list.iter_mut().for_each(|value| forget(value, key)),
        _ => {}
    }
}

fn codes(recording: &Recording) -> Vec<&[i32]> {
    let tracks = recording.tracks().iter();
    tracks
        .map(|track| match &track.codes {
            Codes::Raw(codes) => codes.as_slice(),
            _ => panic!("raw codes of a board"),
        })
        .collect()
}

/// What people and pumps do is timed by the test itself: two runs at any pace are one.
#[test]
fn the_same_unit_played_twice_is_recorded_alike() {
    let (one, two) = (
        played("proof-sound", Some(7)),
        played("proof-sound", Some(7)),
    );
    assert_eq!(one.recording.time_s(), two.recording.time_s());
    assert_eq!(codes(&one.recording), codes(&two.recording));
    assert_eq!(one.recording.phases(), two.recording.phases());
    assert_eq!(one.recording.entries(), two.recording.entries());
    let other = played("proof-sound", Some(8));
    assert_ne!(codes(&one.recording), codes(&other.recording));
}

/// The state machine that ran live, fed with the rows and the words of the archive, begins and
/// ends every phase at the same time.
#[test]
fn a_replay_of_rows_and_words_finds_the_same_phases() {
    let played = played("proof-weeping-gland", None);
    let recording = &played.recording;
    let heading = recording.heading();
    let shop = Shop::parse("stored", &heading.shop_toml).unwrap();
    let test = Test::parse("stored", &heading.setup_toml, Some(&shop)).unwrap();
    let mut bench = Bench::new(test.steps.iter().map(|s| s.step.clone()).collect());
    let mut words = recording.entries().iter().peekable();
    let mut found = Vec::new();
    let mut open = Vec::new();
    let mut is_over = false;
    let value = |role, row| recording.track(role).and_then(|track| track.value(row));
    for (row, time_s) in recording.time_s().iter().enumerate() {
        let reading = Reading {
            time_s: *time_s,
            cap_pa: value(Role::CapPressure, row),
            rod_pa: value(Role::RodPressure, row),
            x_m: value(Role::Position, row),
        };
        let mut effects = bench.take(Event::Recorded(reading));
        while let Some(entry) = words.next_if(|entry| entry.at_s <= *time_s) {
            effects.extend(bench.take(match entry.kind {
                EntryKind::Reading => Event::Typed(entry.text.clone()),
                _ => Event::Done,
            }));
        }
        for effect in effects {
            match effect {
                Effect::PhaseBegins(name, at_s) => open.push((name, at_s)),
                Effect::PhaseEnds(name, at_s) => {
                    let (begun, from_s) = open.pop().expect("it began");
                    assert_eq!(begun, name);
                    found.push((name, from_s, at_s));
                }
                Effect::Finish(_) => is_over = true,
                _ => {}
            }
        }
    }
    let recorded = recording.phases().iter();
    let recorded: Vec<_> = recorded
        .map(|p| (p.name.clone(), p.from_s, p.until_s))
        .collect();
    assert_eq!(found, recorded);
    assert!(is_over && words.next().is_none());
}
