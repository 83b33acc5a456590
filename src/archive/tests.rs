//! Files that are whole, cut, foreign, or not what they were.

use super::*;
use crate::channel::AgainstSupply;
use crate::channel::CalibratedBy;
use crate::channel::Calibration;
use crate::channel::Channel;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::channel::SensorPapers;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::Entry;
use crate::recording::EntryKind;
use crate::recording::Gap;
use crate::recording::GapCause;
use crate::recording::Heading;
use crate::recording::Loss;
use crate::recording::Parts;
use crate::recording::PhaseMark;
use crate::recording::Recording;
use crate::recording::Track;
use rand::Rng;
use rand::SeedableRng;
use std::path::Path;
use tempfile::TempDir;

fn channel(role: Role) -> Channel {
    Channel {
        role,
        label: format!("terminal of {}", role.word()),
        calibration: Calibration {
            si_at_zero_code: 1.0 / 3.0,
            si_per_code: 1e-3,
            si_per_code_squared: 1e-12,
        },
        good_codes: (-10, 1_000_000),
        range_si: (-0.1, f64::INFINITY),
        errors: SensorErrors {
            zero_si: 0.1,
            span_relative: 1e-300,
            zero_si_per_k: 0.0,
        },
        papers: SensorPapers {
            serial: "P-11 µ".into(),
            certificate: String::new(),
            due: "2027-03-31".into(),
            by: Some(CalibratedBy::Maker),
        },
        against_supply: None,
    }
}

fn parts(n_rows: i32, roles: &[Role]) -> Parts {
    let tracks = roles.iter().map(|role| Track {
        channel: channel(*role),
        codes: match role {
            Role::WallTemperature => Codes::Si((0..n_rows).map(|i| f64::from(i) / 7.0).collect()),
            _ => Codes::Raw((0..n_rows).map(|i| i * 3 - 20).collect()),
        },
    });
    Parts {
        heading: Heading {
            run_id: "tv-0312-7".into(),
            started_utc_ms: 1_767_225_600_123,
            time_zone: "Europe/Oslo".into(),
            software: "0.1.0".into(),
            source: "a file".into(),
            setup_toml: "[unit] # ü\r\n\ttag = \"TV-0312\"\n".repeat(3_000),
            shop_toml: String::new(),
            practice: "practice bench".into(),
        },
        time_s: (0..n_rows).map(|i| f64::from(i) * 0.1).collect(),
        tracks: tracks.collect(),
        gaps: vec![
            Gap {
                from_s: 0.1,
                until_s: 0.3,
                cause: GapCause::Restarted,
            };
            usize::try_from(n_rows % 4).expect("small")
        ],
        phases: vec![
            PhaseMark {
                name: "settle".into(),
                from_s: 0.0,
                until_s: 0.1 + 0.2,
            },
            PhaseMark {
                name: "hold".into(),
                from_s: 0.1 + 0.2,
                until_s: 9.0,
            },
        ],
        entries: vec![
            Entry {
                at_s: 0.1 + 0.2,
                step: "outside".into(),
                kind: EntryKind::Reading,
                text: "3,2 mL in 5 min\nof the \"old\" cup, ü".into(),
            };
            usize::try_from(n_rows % 3).expect("small")
        ],
        loss: Loss {
            n_samples_lost: u64::MAX,
            n_frames_bad: 1,
            n_board_dropped: 2,
            n_bytes_overrun: 3,
        },
        ending: Ending::Interrupted("the adapter was pulled".into()),
    }
}

/// A recording with gaps, broken sensors, one sensor that is read against the supply, and rows at
/// uneven times.
pub(super) fn random_recording(n_rows: usize, random: &mut rand_chacha::ChaCha8Rng) -> Recording {
    let mut parts = parts(0, &Role::ALL);
    let mut now_s = 0.0;
    parts.gaps.clear();
    for _ in 0..n_rows {
        let before_s = now_s;
        now_s += 0.01 * (0.5 + random.random::<f64>());
        if random.random_bool(0.001) {
            now_s += 2.0 * random.random::<f64>();
            parts.gaps.push(Gap {
                from_s: before_s,
                until_s: now_s,
                cause: GapCause::Lost,
            });
        }
        parts.time_s.push(now_s);
    }
    if random.random_bool(0.5) {
        parts.gaps.push(Gap {
            from_s: now_s,
            until_s: now_s,
            cause: GapCause::Unplugged,
        });
    }
    for track in &mut parts.tracks {
        let base = random.random_range(20_000..100_000);
        let mut broken = 0_usize;
        let mut code = || {
            if random.random_bool(0.0005) {
                broken = random.random_range(1..400);
            }
            broken = broken.saturating_sub(1);
            let is_broken = broken > 0;
            base + random.random_range(-300..300) - if is_broken { 200_000 } else { 0 }
        };
        track.codes = match &track.codes {
            Codes::Si(_) => Codes::Si((0..n_rows).map(|_| f64::from(code())).collect()),
            _ => Codes::Raw((0..n_rows).map(|_| code()).collect()),
        };
        if track.channel.role == Role::Supply {
            track.channel.calibration.si_per_code = 5.0 / f64::from(base);
            track.channel.calibration.si_per_code_squared = 0.0;
        }
        if track.channel.role == Role::RodPressure {
            track.channel.against_supply = Some(AgainstSupply {
                code_at_zero_volt: 0.0,
                signal_codes: (100, 200_000),
                supply_step_relative: 1e-5,
            });
        }
    }
    recorded(parts)
}

fn folder() -> TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

fn recorded(parts: Parts) -> Recording {
    Recording::new(parts).expect("parts that fit")
}

/// Writes an ordinary recording, lets `change` spoil the file, and returns what reading says.
fn spoiled(change: impl FnOnce(&Path)) -> ArchiveError {
    let folder = folder();
    let path = folder.path().join("run.h5");
    write(&recorded(parts(50, &Role::ALL)), &path).expect("written");
    change(&path);
    read(&path).expect_err("a spoiled file")
}

#[track_caller]
fn check_round_trip(parts: Parts) {
    let folder = folder();
    let path = folder.path().join("run.h5");
    let recording = recorded(parts);
    write(&recording, &path).expect("written");
    assert_eq!(read(&path).expect("readable"), recording);
    let names: Vec<_> = std::fs::read_dir(folder.path())
        .expect("a folder")
        .collect();
    assert_eq!(names.len(), 1, "something was left beside the file");
}

#[test]
fn what_is_read_is_what_was_written() {
    check_round_trip(parts(50_003, &Role::ALL));
    check_round_trip(parts(1, &[Role::Position, Role::CapPressure]));
    check_round_trip(parts(0, &[Role::OilTemperature]));
    check_round_trip(parts(5, &[]));
    let mut complete = parts(4, &[Role::RodPressure]);
    complete.ending = Ending::Complete;
    complete.phases.clear();
    check_round_trip(complete);
}

#[test]
fn values_that_were_not_there_stay_absent_to_the_last_bit() {
    let mut parts = parts(3, &[Role::WallTemperature]);
    let odd = [f64::NAN, -0.0, f64::from_bits(0x7ff8_0000_0000_0001)];
    parts.tracks[0].codes = Codes::Si(odd.to_vec());
    let folder = folder();
    let path = folder.path().join("run.h5");
    write(&recorded(parts), &path).expect("written");
    let read = read(&path).expect("readable");
    let Codes::Si(found) = &read.tracks()[0].codes else {
        panic!("values became codes")
    };
    let bits = |values: &[f64]| values.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
    assert_eq!(bits(found), bits(&odd));
}

#[test]
fn a_recording_is_never_replaced() {
    let folder = folder();
    let path = folder.path().join("run.h5");
    write(&recorded(parts(2, &[])), &path).expect("written");
    let again = write(&recorded(parts(3, &[])), &path);
    assert!(matches!(again, Err(ArchiveError::Exists { .. })));
    assert_eq!(read(&path).expect("readable").time_s().len(), 2);
}

#[test]
fn a_folder_that_is_not_there_is_an_error_that_names_the_file() {
    let error = write(&recorded(parts(2, &[])), Path::new("/nowhere/run.h5"));
    let message = error.expect_err("no folder").to_string();
    assert!(message.contains("/nowhere/run.h5"), "{message}");
}

#[test]
fn a_file_cut_anywhere_is_no_recording() {
    let mut n_whole = 0;
    for share in [0.0, 0.001, 0.01, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99, 0.9999] {
        let error = spoiled(|path| {
            let bytes = std::fs::read(path).expect("readable");
            n_whole = bytes.len();
            let n_bytes = (share * bytes.len() as f64) as usize;
            std::fs::write(path, &bytes[..n_bytes]).expect("writable");
        });
        assert!(matches!(error, ArchiveError::NoHdf5 { .. }), "{error}");
    }
    assert!(n_whole > 1_000);
}

/// A lock goes with an open file into every program that is started meanwhile: whoever
/// holds one must neither keep us from reading nor from writing.
#[test]
fn a_lock_that_someone_holds_refuses_nobody() {
    let folder = folder();
    let path = folder.path().join("run.h5");
    let recording = recorded(parts(300, &Role::ALL));
    let part = std::fs::File::create(folder.path().join("run.h5.part")).expect("writable");
    part.lock().expect("a local disk");
    write(&recording, &path).expect("written");
    // The file only changed its name: it is still locked.
    assert!(
        std::fs::File::open(&path)
            .expect("there")
            .try_lock()
            .is_err()
    );
    assert_eq!(read(&path).expect("readable"), recording);
}

#[test]
fn a_missing_file_is_not_called_damaged() {
    let error = read(Path::new("/nowhere/run.h5")).expect_err("no file");
    assert!(matches!(error, ArchiveError::Open { .. }), "{error}");
}

#[test]
fn an_hdf5_file_of_another_program_is_called_so() {
    let error = spoiled(|path| {
        let file = hdf5::File::create(path).expect("writable");
        file.create_group("measurement").expect("a group");
    });
    assert!(matches!(error, ArchiveError::Foreign { .. }), "{error}");
    let error = spoiled(|path| std::fs::write(path, b"t_s,p_cap_bar\n").expect("writable"));
    assert!(matches!(error, ArchiveError::NoHdf5 { .. }), "{error}");
}

#[test]
fn a_missing_field_is_named() {
    for field in [
        "entry/recording/time",
        "entry/recording/run_id",
        "entry/recording/gaps/from_s",
        "entry/recording/loss",
        "entry/recording/content_crc32c",
        "entry/instrument/p_cap/data",
        "entry/instrument/p_cap/local_name",
        "entry/instrument",
    ] {
        let error = spoiled(|path| {
            let file = hdf5::File::open_rw(path).expect("writable");
            file.unlink(field).expect("the field is there");
        });
        let ArchiveError::Field { field: found, .. } = &error else {
            panic!("{field}: {error}")
        };
        assert!(found.starts_with(field), "{error}");
    }
}

#[test]
fn a_later_version_asks_for_a_newer_program() {
    let error = spoiled(|path| {
        let file = hdf5::File::open_rw(path).expect("writable");
        let version = file.dataset(layout::VERSION).expect("a version");
        version.write_scalar(&99_u32).expect("writable");
    });
    assert!(
        matches!(error, ArchiveError::Newer { found: 99, .. }),
        "{error}"
    );
}

#[test]
fn a_calibration_changed_by_hand_is_noticed() {
    let error = spoiled(|path| {
        let file = hdf5::File::open_rw(path).expect("writable");
        let data = file.dataset("entry/instrument/p_cap/data").expect("codes");
        let attr = data.attr("si_per_code").expect("a calibration");
        attr.write_scalar(&2e-3_f64).expect("writable");
    });
    assert!(matches!(error, ArchiveError::Changed { .. }), "{error}");
}

/// The format has no checksum over its own tables, so this looks for what the library
/// itself does not notice.
#[test]
fn flipped_bits_never_make_another_recording() {
    let folder = folder();
    let path = folder.path().join("run.h5");
    let recording = recorded(parts(3_000, &Role::ALL));
    write(&recording, &path).expect("written");
    let bytes = std::fs::read(&path).expect("readable");
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(3);
    let mut n_refused = 0;
    for _ in 0..200 {
        let mut damaged = bytes.clone();
        let at = random.random_range(0..bytes.len());
        damaged[at] ^= 1 << random.random_range(0..8);
        std::fs::write(&path, &damaged).expect("writable");
        match read(&path) {
            Ok(found) => assert_eq!(found, recording, "flip at {at} was not noticed"),
            Err(_) => n_refused += 1,
        }
    }
    assert!(n_refused > 50, "only {n_refused} flips were refused");
}
