//! A recording can be read without us: with h5py, by the rules of NeXus alone.

mod support {
    pub mod python;
}

use stillrod::archive;
use stillrod::channel::AgainstSupply;
use stillrod::channel::Calibration;
use stillrod::channel::Channel;
use stillrod::channel::Role;
use stillrod::channel::SensorErrors;
use stillrod::channel::SensorPapers;
use stillrod::recording::Codes;
use stillrod::recording::Ending;
use stillrod::recording::Gap;
use stillrod::recording::GapCause;
use stillrod::recording::Heading;
use stillrod::recording::Loss;
use stillrod::recording::Parts;
use stillrod::recording::PhaseMark;
use stillrod::recording::Recording;
use stillrod::recording::Track;
use stillrod::signature::SigningKey;

const N_ROWS: i32 = 40_000;
/// Of a recording that is long enough for an overview; the last block is not full.
const N_LONG: i32 = 270_001;
const PA_PER_CODE: f64 = 781.25;
const INTERVAL_S: f64 = 0.01;

fn track(role: Role, si_per_code: f64, si_at_zero_code: f64, codes: Codes) -> Track {
    Track {
        channel: Channel {
            role,
            label: "AI".into(),
            calibration: Calibration {
                si_at_zero_code,
                si_per_code,
                si_per_code_squared: 0.0,
            },
            good_codes: (-70_000, 70_000),
            range_si: (0.0, 4e7),
            errors: SensorErrors {
                zero_si: 0.0,
                span_relative: 0.0,
                zero_si_per_k: 0.0,
            },
            papers: SensorPapers::default(),
            against_supply: None,
        },
        codes,
    }
}

/// Pressure falls by one code a row; the rod-end sensor is broken for 100 rows.
fn recording() -> Recording {
    recording_of(N_ROWS)
}

fn recording_of(n_rows: i32) -> Recording {
    let codes = |code: fn(i32) -> i32| Codes::Raw((0..n_rows).map(code).collect());
    let mark = |name: &str, from_s, until_s| PhaseMark {
        name: name.into(),
        from_s,
        until_s,
    };
    let broken = |i: i32| {
        if (500..600).contains(&i) {
            100_000
        } else {
            i % 50
        }
    };
    let parts = Parts {
        heading: Heading {
            run_id: "tv-0312-9".into(),
            started_utc_ms: 1_767_225_600_000,
            time_zone: "Europe/Oslo".into(),
            software: "0.1.0".into(),
            source: "practice board".into(),
            setup_toml: "[unit]\ntag = \"TV-0312\"\n".into(),
            shop_toml: String::new(),
            practice: "no cylinder: made for a test".into(),
        },
        time_s: (0..n_rows).map(|i| f64::from(i) * INTERVAL_S).collect(),
        tracks: vec![
            track(Role::CapPressure, PA_PER_CODE, -1e7, codes(|i| 60_000 - i)),
            track(Role::RodPressure, PA_PER_CODE, -1e7, codes(broken)),
            track(Role::Position, 1e-5, 0.0, codes(|i| 20_000 + i / 100)),
            track(
                Role::OilTemperature,
                0.1,
                273.15,
                codes(|i| 400 + i / 9_000),
            ),
            track(
                Role::WallTemperature,
                1.0,
                0.0,
                Codes::Si((0..n_rows).map(|i| 300.0 + f64::from(i) * 1e-4).collect()),
            ),
        ],
        gaps: vec![Gap {
            from_s: 1.0,
            until_s: 1.04,
            cause: GapCause::Lost,
        }],
        phases: vec![mark("settle", 0.0, 60.0), mark("hold", 60.0, 399.0)],
        entries: Vec::new(),
        loss: Loss {
            n_samples_lost: 3,
            ..Loss::default()
        },
        ending: Ending::Complete,
    };
    Recording::new(parts).expect("parts that fit")
}

/// The same with a rod-end pressure that is read against a supply, which sags by 2 % for a while
/// and is lost for 200 rows; a tenth of a millivolt a code.
fn supplied() -> Recording {
    let whole = recording();
    let mut tracks = whole.tracks().to_vec();
    let rows = |code: fn(i32) -> i32| Codes::Raw((0..N_ROWS).map(code).collect());
    let sags = |i: i32| match i {
        20_000..20_200 => 0,
        15_000..30_000 => 49_000,
        _ => 50_000,
    };
    tracks[1].channel.against_supply = Some(AgainstSupply {
        code_at_zero_volt: -12.5,
        signal_codes: (2_501, 47_499),
        supply_step_relative: 2e-5,
    });
    tracks[1].codes = rows(|i| 20_000 + i % 50);
    tracks.push(track(Role::Supply, 1e-4, 0.0, rows(sags)));
    Recording::new(Parts {
        heading: whole.heading().clone(),
        time_s: whole.time_s().to_vec(),
        tracks,
        gaps: whole.gaps().to_vec(),
        phases: whole.phases().to_vec(),
        entries: Vec::new(),
        loss: whole.loss(),
        ending: whole.ending().clone(),
    })
    .expect("parts that fit")
}

/// What a stranger says of a recording.
fn opened(recording: &Recording) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("run.h5");
    archive::write(recording, &path).expect("written");
    assert_eq!(&archive::read(&path).expect("whole"), recording);
    // The block in front of a signed one is nothing that a stranger has to know of.
    let signed = folder.path().join("signed.h5");
    let key = SigningKey::from_random(&[12; 32]);
    archive::write_signed(recording, &signed, &key).expect("written");
    let slope_pa_per_s = (-PA_PER_CODE / INTERVAL_S).to_string();
    let said = [path, signed].map(|path| {
        let path = path.to_str().expect("our own name").to_owned();
        support::python::run("check_h5.py", &[&path, &slope_pa_per_s])
    });
    assert_eq!(said[0], said[1]);
    said[0].clone()
}

#[test]
fn a_stranger_finds_the_plot_and_computes_the_values_again() {
    assert_eq!(
        opened(&recording()).trim(),
        "/entry/pressure 5 signals 40000 rows 100 absent"
    );
}

#[test]
fn a_stranger_refers_raw_codes_to_the_supply_by_what_stands_beside_them() {
    let recording = supplied();
    let rod = recording.track(Role::RodPressure).expect("recorded");
    let (before, sagged) = (
        rod.value(0).expect("good"),
        rod.value(15_000).expect("good"),
    );
    // 20 012.5 codes above 0 V, of 4.9 V: as many more as 5/4.9 makes of them.
    let by_hand = PA_PER_CODE * 20_012.5 * (5.0 / 4.9 - 1.0);
    assert!(
        (sagged - before - by_hand).abs() < 1e-3,
        "{before} {sagged}"
    );
    assert_eq!(
        opened(&recording).trim(),
        "/entry/pressure 6 signals 40000 rows 200 absent, p_rod against v_supply"
    );
}

#[test]
fn a_stranger_computes_the_overview_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("run.h5");
    archive::write(&recording_of(N_LONG), &path).expect("written");
    let path = path.to_str().expect("our own name");
    let said = support::python::run("check_overview.py", &[path]);
    assert_eq!(
        said.lines().collect::<Vec<_>>(),
        [
            "16876 blocks of 16 rows, 1 lost samples, 15 signals",
            "1055 blocks of 256 rows, 1 lost samples, 15 signals",
        ]
    );
}

#[test]
fn a_short_recording_has_no_overview() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("run.h5");
    archive::write(&recording(), &path).expect("written");
    let opened = archive::Opened::open(&path).expect("opens");
    assert!(!opened.has_overview());
}
