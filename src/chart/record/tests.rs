//! The record chart: gaps, lost sensors, size.

use super::*;
use crate::channel::Calibration;
use crate::channel::Channel;
use crate::channel::SensorErrors;
use crate::channel::SensorPapers;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::Gap;
use crate::recording::GapCause;
use crate::recording::Heading;
use crate::recording::Loss;
use crate::recording::Parts;
use crate::recording::Track;

fn recording(time_s: Vec<f64>, values: Vec<f64>, gaps: Vec<Gap>) -> Recording {
    let channel = Channel {
        role: Role::CapPressure,
        label: "A1".into(),
        calibration: Calibration {
            si_at_zero_code: 0.0,
            si_per_code: 1.0,
            si_per_code_squared: 0.0,
        },
        good_codes: (0, 1),
        range_si: (0.0, 250e5),
        errors: SensorErrors {
            zero_si: 0.0,
            span_relative: 0.0,
            zero_si_per_k: 0.0,
        },
        papers: SensorPapers::default(),
        against_supply: None,
    };
    Recording::new(Parts {
        heading: Heading {
            run_id: "r".into(),
            started_utc_ms: 0,
            time_zone: String::new(),
            software: String::new(),
            source: String::new(),
            setup_toml: String::new(),
            shop_toml: String::new(),
            practice: String::new(),
        },
        time_s,
        tracks: vec![Track {
            channel,
            codes: Codes::Si(values),
        }],
        gaps,
        phases: Vec::new(),
        entries: Vec::new(),
        loss: Loss::default(),
        ending: Ending::Complete,
    })
    .unwrap()
}

fn chart(recording: &Recording) -> String {
    let size = Size {
        width_pt: 503.0,
        height_pt: 250.0,
    };
    let picture = RecordPicture {
        hold_s: Some((10.0, 90.0)),
        units: UnitSystem::Metric,
        size,
    };
    record_chart(recording, picture)
}

#[test]
fn a_million_rows_with_thousands_of_gaps_stay_a_small_picture() {
    let n_rows = 1_000_000;
    let time: Vec<f64> = (0..n_rows).map(|i| f64::from(i) * 0.01).collect();
    let values = (0..n_rows)
        .map(|i| 160e5 + f64::from(i % 7) * 1e3)
        .collect();
    let gaps = (0..20_000).map(|i| Gap {
        from_s: f64::from(i) * 0.5 + 0.1,
        until_s: f64::from(i) * 0.5 + 0.11,
        cause: GapCause::Lost,
    });
    let svg = chart(&recording(time, values, gaps.collect()));
    assert!(svg.len() < 200_000, "{} bytes", svg.len());
}

#[test]
fn a_lost_sensor_leaves_the_line_open() {
    let time: Vec<f64> = (0..100).map(f64::from).collect();
    let lines = |lost: std::ops::Range<usize>| {
        let value = |i: usize| if lost.contains(&i) { f64::NAN } else { 1e7 };
        let values = (0..100).map(value).collect();
        let svg = chart(&recording(time.clone(), values, Vec::new()));
        svg.matches("stroke=\"#004C8C\"").count()
    };
    assert_eq!(lines(0..0), 1);
    assert_eq!(lines(40..60), 2);
}

#[test]
fn nothing_recorded_is_said() {
    let svg = chart(&recording(Vec::new(), Vec::new(), Vec::new()));
    assert!(svg.contains("nothing was recorded"));
}
