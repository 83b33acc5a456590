//! Tables that are read, and tables that are refused.

use super::*;
use crate::quantity::Time;

fn read(text: &str) -> Result<Recording, ImportError> {
    let plan = HoldPlan::new(Time::new::<second>(0.0), Time::new::<second>(10.0)).expect("a plan");
    let errors = SensorErrors {
        zero_si: 1e3,
        span_relative: 1e-3,
        zero_si_per_k: 0.0,
    };
    let sensor = |role| ColumnSensor {
        role,
        errors,
        papers: SensorPapers::default(),
        resolution_si: None,
        motion_ratio: 1.0,
        curve: None,
    };
    let heading = Heading {
        run_id: "t".into(),
        started_utc_ms: 0,
        time_zone: "UTC".into(),
        software: String::new(),
        source: String::new(),
        setup_toml: String::new(),
        shop_toml: String::new(),
        practice: String::new(),
    };
    table(
        "log.csv",
        text,
        &[sensor(Role::CapPressure), sensor(Role::OilTemperature)],
        &plan,
        heading,
    )
}

#[track_caller]
fn refused(text: &str, parts: &[&str]) {
    let error = read(text).expect_err(text);
    let causes = std::iter::successors(Some(&error as &dyn std::error::Error), |e| e.source());
    let message = causes
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(": ");
    for part in parts {
        assert!(message.contains(part), "{message} should say {part}");
    }
}

#[test]
fn units_come_from_the_suffix() {
    let recording =
        read("t_s,p_cap_psi,t_oil_degf\n0,1000,104\n1,1001,\n2,1002,104\n").expect("reads");
    let pressure = recording
        .track(Role::CapPressure)
        .expect("a column")
        .value(0)
        .expect("a value");
    assert!((pressure / 6_894_757.293_168 - 1.0).abs() < 1e-12);
    let temperature = recording.track(Role::OilTemperature).expect("a column");
    assert!((temperature.value(0).expect("a value") - 313.15).abs() < 1e-9);
    assert_eq!(
        temperature.value(1),
        None,
        "an empty cell is a missing reading"
    );
}

#[test]
fn what_would_be_misread_is_refused_with_its_place() {
    refused("t_s;p_cap_bar\n0;1,5\n", &["log.csv", "line 1", ";"]);
    refused(
        "t_s,p_cap_bar\n0,\"1,5\"\n",
        &["line 2", "p_cap_bar", "comma"],
    );
    refused(
        "t_s,p_cap_bar\n0,1\n151.102.000,1\n",
        &["line 3", "t_s", "thousands"],
    );
    refused(
        "t_s,p_cap_bar\n0,1\n1,NaN\n",
        &["line 3", "p_cap_bar", "NaN", "empty"],
    );
    refused("t_s,p_cap_bar\n0,1\n1,inf\n", &["line 3", "inf"]);
    refused("t_s,p_cap_bar\n0,1\n2,1\n1,1\n", &["line 4", "2 s", "1 s"]);
    refused("p_cap_bar\n1\n", &["t_s", "missing"]);
    refused("t_s,pressure\n0,1\n", &["line 1", "pressure", "p_cap"]);
    refused("t_s,x_mm\n0,1\n", &["sensors.x", "uncertainty"]);
    refused("t_s,p_cap_bar\n0,1\n1\n", &["log.csv"]);
    refused("t_s,p_cap_bar\n,1\n", &["line 2", "time"]);
}

#[test]
fn a_table_that_ends_before_its_hold_is_an_interrupted_recording() {
    let recording = read("t_s,p_cap_bar\n0,1\n1,1\n2,1\n3,1\n").expect("reads");
    assert!(matches!(recording.ending(), Ending::Interrupted(_)));
}

#[test]
fn a_long_step_is_a_gap() {
    let rows: String = (0..11)
        .filter(|t| !(4..8).contains(t))
        .map(|t| format!("{t},1.5\n"))
        .collect();
    let recording = read(&format!("t_s,p_cap_bar\n{rows}")).expect("reads");
    assert_eq!(
        recording.gaps(),
        [Gap {
            from_s: 3.0,
            until_s: 8.0,
            cause: GapCause::Lost
        }]
    );
}
