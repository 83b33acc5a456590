//! A recording made by a test: courses by time, with what is stated of their sensors.
//!
//! Readings are in SI units; nothing is recorded beside them, nothing is lost.

use stillrod::channel::Calibration;
use stillrod::channel::Channel;
use stillrod::channel::Role;
use stillrod::channel::SensorErrors;
use stillrod::channel::SensorPapers;
use stillrod::recording::Codes;
use stillrod::recording::Ending;
use stillrod::recording::Heading;
use stillrod::recording::Loss;
use stillrod::recording::Parts;
use stillrod::recording::PhaseMark;
use stillrod::recording::Recording;
use stillrod::recording::Track;

/// One channel: its steps, its errors of zero (SI) and span (a part), its readings.
pub fn track(
    role: Role,
    steps_si: f64,
    (zero_si, span_relative): (f64, f64),
    readings: Vec<f64>,
) -> Track {
    Track {
        channel: Channel {
            role,
            label: role.word().into(),
            calibration: Calibration {
                si_at_zero_code: 0.0,
                si_per_code: steps_si,
                si_per_code_squared: 0.0,
            },
            good_codes: (i32::MIN, i32::MAX),
            range_si: (-1e9, 1e9),
            errors: SensorErrors {
                zero_si,
                span_relative,
                zero_si_per_k: 0.0,
            },
            papers: SensorPapers::default(),
            against_supply: None,
        },
        codes: Codes::Si(readings),
    }
}

/// A recording whose hold counts from a time to its end; setup and shop are stored in it.
pub fn recording(
    time_s: Vec<f64>,
    tracks: Vec<Track>,
    hold_from_s: f64,
    [setup_toml, shop_toml]: [&str; 2],
) -> Recording {
    let until_s = time_s.last().copied().expect("rows");
    Recording::new(Parts {
        heading: Heading {
            run_id: "made".into(),
            started_utc_ms: 0,
            time_zone: "UTC".into(),
            software: String::new(),
            source: "computed".into(),
            setup_toml: setup_toml.into(),
            shop_toml: shop_toml.into(),
            practice: String::new(),
        },
        time_s,
        tracks,
        gaps: Vec::new(),
        phases: vec![PhaseMark {
            name: "hold".into(),
            from_s: hold_from_s,
            until_s,
        }],
        entries: Vec::new(),
        loss: Loss::default(),
        ending: Ending::Complete,
    })
    .expect("rows rise in time")
}
