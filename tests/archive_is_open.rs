//! A recording can be read without us: with h5py, by the rules of NeXus alone.

mod support {
    pub mod python;
}

use stillrod::archive;
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
        },
        codes,
    }
}

/// Pressure falls by one code a row; the rod-end sensor is broken for 100 rows.
fn recording() -> Recording {
    let codes = |code: fn(i32) -> i32| Codes::Raw((0..N_ROWS).map(code).collect());
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
        time_s: (0..N_ROWS).map(|i| f64::from(i) * INTERVAL_S).collect(),
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
                Codes::Si((0..N_ROWS).map(|i| 300.0 + f64::from(i) * 1e-4).collect()),
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

#[test]
fn a_stranger_finds_the_plot_and_computes_the_values_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("run.h5");
    archive::write(&recording(), &path).expect("written");
    // The block in front of a signed one is nothing that a stranger has to know of.
    let signed = folder.path().join("signed.h5");
    let key = SigningKey::from_random(&[12; 32]);
    archive::write_signed(&recording(), &signed, &key).expect("written");
    for path in [path, signed] {
        let slope_pa_per_s = -PA_PER_CODE / INTERVAL_S;
        let path = path.to_str().expect("our own name");
        let said = support::python::run("check_h5.py", &[path, &slope_pa_per_s.to_string()]);
        assert_eq!(
            said.trim(),
            "/entry/pressure 5 signals 40000 rows 100 absent"
        );
    }
}
