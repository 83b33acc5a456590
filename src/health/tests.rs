//! Readings made by hand, each with one thing wrong that the practice bench does not show.

use super::Flag;
use super::Weight;
use super::examine;
use crate::channel::Calibration;
use crate::channel::Channel;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::channel::SensorPapers;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Dimensions;
use crate::cylinder::Kind;
use crate::cylinder::Piece;
use crate::cylinder::Ratings;
use crate::quantity::Length;
use crate::quantity::Volume;
use crate::quantity::unit::milliliter;
use crate::quantity::unit::millimeter;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::Heading;
use crate::recording::Loss;
use crate::recording::Parts;
use crate::recording::PhaseMark;
use crate::recording::Recording;
use crate::recording::Track;

#[path = "supply/tests.rs"]
mod supplied;

const SETTLE_S: f64 = 150.0;
const RATE_HZ: f64 = 10.0;

/// What a healthy bench reads at a time: cap bar, rod bar, mm, °C.
type Course = fn(f64) -> [f64; 4];

fn quiet(_: f64) -> [f64; 4] {
    [100.0, 15.0, 250.0, 40.0]
}

/// A step of the splitmix64 generator, evenly between −1 and 1.
fn noise(row: usize, channel: usize) -> f64 {
    let mut z = (row as u64 * 8 + channel as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

fn track(channel: usize, rows: &[f64], course: Course) -> Track {
    let (role, unit, high, wiggle) = [
        (Role::CapPressure, 1e5, 400.0, 0.02),
        (Role::RodPressure, 1e5, 400.0, 0.02),
        (Role::Position, 1e-3, 500.0, 0.004),
        (Role::OilTemperature, 1.0, 100.0, 0.01),
    ][channel];
    let zero = match role {
        Role::OilTemperature => 273.15,
        _ => 0.0,
    };
    let step = high * unit / 160_000.0;
    let calibration =
        Calibration::through((0, zero), (160_000, zero + high * unit)).expect("two codes");
    let code = |(row, time_s): (usize, &f64)| {
        let value = course(*time_s)[channel] + wiggle * noise(row, channel);
        (value * unit / step).round() as i32
    };
    Track {
        channel: Channel {
            role,
            label: role.word().into(),
            calibration,
            good_codes: (-4_000, 170_000),
            range_si: (zero, zero + high * unit),
            errors: SensorErrors {
                zero_si: 0.0005 * high * unit,
                span_relative: 1e-3,
                zero_si_per_k: 0.0,
            },
            papers: SensorPapers::default(),
            against_supply: None,
        },
        codes: Codes::Raw(rows.iter().enumerate().map(code).collect()),
    }
}

fn examined(course: Course, clock: fn(usize) -> f64) -> Vec<Flag> {
    examined_parts(parts(course, clock))
}

fn examined_parts(parts: Parts) -> Vec<Flag> {
    let mm = Length::new::<millimeter>;
    let size = Dimensions {
        bore: mm(63.0),
        rod: mm(36.0),
        stroke: mm(400.0),
        wall: Some(mm(5.0)),
        cap_dead_volume: Volume::new::<milliliter>(20.0),
        rod_dead_volume: Volume::new::<milliliter>(20.0),
    };
    let cylinder = Cylinder::new(Kind::DoubleActing, size).expect("a cylinder");
    let circuit = Circuit {
        probe: Some(Chamber::Cap),
        ..Circuit::plain(
            Port::Blocked,
            Port::Blocked,
            RodHold::PushedIn { load: None },
        )
    };
    let recording = Recording::new(parts).expect("rises");
    examine(
        &recording,
        &Piece::Cylinder(cylinder),
        &circuit,
        &Ratings::default(),
    )
}

fn parts(course: Course, clock: fn(usize) -> f64) -> Parts {
    let time_s: Vec<f64> = (0..4_500).map(clock).collect();
    let until_s = time_s[4_499];
    Parts {
        heading: Heading {
            run_id: "r".into(),
            started_utc_ms: 0,
            time_zone: "UTC".into(),
            software: String::new(),
            source: String::new(),
            setup_toml: String::new(),
            shop_toml: String::new(),
            practice: String::new(),
        },
        tracks: (0..4).map(|c| track(c, &time_s, course)).collect(),
        time_s,
        gaps: Vec::new(),
        phases: vec![PhaseMark {
            name: "hold".into(),
            from_s: SETTLE_S,
            until_s,
        }],
        entries: Vec::new(),
        loss: Loss::default(),
        ending: Ending::Complete,
    }
}

fn even(row: usize) -> f64 {
    row as f64 / RATE_HZ
}

#[track_caller]
fn check(course: Course, expected: &[(Weight, &str)]) {
    let flags = examined(course, even);
    assert_eq!(flags.len(), expected.len(), "{flags:#?}");
    for (flag, (weight, part)) in flags.iter().zip(expected) {
        assert!(
            flag.weight == *weight && flag.evidence.contains(part),
            "{flag:?}"
        );
    }
}

#[test]
fn of_a_quiet_bench_nothing_is_said() {
    check(quiet, &[]);
}

/// Pumped from 10 to 160 bar at 20 s: 150 bar warm the oil by 2.0 K, a probe in it shows
/// most of that with a lag of 45 s.
#[test]
fn a_probe_that_does_not_answer_pressing_is_not_in_the_oil() {
    fn pumped(t: f64) -> f64 {
        (10.0 + 15.0 * (t - 20.0).clamp(0.0, 10.0)).min(160.0)
    }
    check(
        |t| [pumped(t), 15.0, 250.0, 40.0],
        &[(Weight::Voids, "the probe is not in the oil")],
    );
    check(
        |t| {
            let warm = 0.85 * 2.0 * (1.0 - (-(t - 25.0).max(0.0) / 45.0).exp());
            [pumped(t), 15.0, 250.0, 40.0 + warm * (-t / 600.0).exp()]
        },
        &[],
    );
}

/// 6 K in 40 s, and 2 K in a minute.
#[test]
fn oil_in_steel_does_not_jump() {
    check(
        |t| {
            [
                100.0,
                15.0,
                250.0,
                40.0 - 0.15 * (t - 200.0).clamp(0.0, 40.0),
            ]
        },
        &[(Weight::Voids, "within a minute")],
    );
    check(
        |t| {
            [
                100.0,
                15.0,
                250.0,
                40.0 - 2.0 / 60.0 * (t - 200.0).clamp(0.0, 60.0),
            ]
        },
        &[],
    );
}

/// Every channel by 0.2 % of its range over the hold (from middle to middle of its ends 0.18 %),
/// and three of four.
#[test]
fn what_moves_all_readings_alike_is_no_cylinder() {
    fn part(t: f64) -> f64 {
        0.002 * ((t - SETTLE_S) / 300.0).max(0.0)
    }
    check(
        |t| {
            let by = part(t);
            [
                100.0 + 400.0 * by,
                15.0 + 400.0 * by,
                250.0 + 500.0 * by,
                40.0 + 100.0 * by,
            ]
        },
        &[(Weight::Voids, "all readings drifted together by 0.18 %")],
    );
    check(
        |t| {
            let by = part(t);
            [
                100.0 + 400.0 * by,
                15.0 + 400.0 * by,
                250.0,
                40.0 + 100.0 * by,
            ]
        },
        &[],
    );
}

/// The cap end grows by 2 mm of 31.17 cm², 6.2 mL, and its pressure rises by 20 bar on top.
#[test]
fn oil_does_not_come_from_nowhere() {
    check(
        |t| {
            let part = ((t - SETTLE_S) / 300.0).max(0.0);
            [100.0 + 20.0 * part, 15.0, 250.0 + 2.0 * part, 40.0]
        },
        &[(Weight::Voids, "the cap end gained at least")],
    );
}

#[test]
fn a_pressure_below_vacuum_is_no_pressure() {
    check(
        |_| [100.0, -3.0, 250.0, 40.0],
        &[(Weight::Voids, "below vacuum")],
    );
    // A slight vacuum is real.
    check(|_| [100.0, -0.9, 250.0, 40.0], &[]);
}

#[test]
fn pressures_that_hold_a_load_from_the_other_side_are_swapped() {
    check(
        |_| [15.0, 100.0, 250.0, 40.0],
        &[(Weight::Voids, "a load that pulls it out")],
    );
}

/// 2.3 Hz, and every 250th reading off by 3 bar.
#[test]
fn a_line_that_averages_out_and_single_readings_far_off_are_told_of() {
    check(
        |t| {
            let line = 0.2 * (std::f64::consts::TAU * 2.3 * t).sin();
            [100.0, 15.0 + line, 250.0, 40.0]
        },
        &[(Weight::Remark, "at 2.3")],
    );
    check(
        |t| {
            let is_off = t > 200.0 && ((t * RATE_HZ).round() as u32).is_multiple_of(250);
            [100.0 + if is_off { 3.0 } else { 0.0 }, 15.0, 250.0, 40.0]
        },
        &[(Weight::Remark, "jumped away for single readings")],
    );
}

/// From 300 s on each interval is 1 % longer; and every tenth reading is late.
#[test]
fn a_clock_that_changes_its_rate_voids_and_one_that_stutters_is_told_of() {
    let faster = examined(quiet, |row| even(row) + 0.01 * (even(row) - 300.0).max(0.0));
    assert!(
        matches!(&faster[..], [flag] if flag.weight == Weight::Voids && flag.evidence.contains("clock ran 1.0 % faster")),
        "{faster:#?}"
    );
    let late = examined(quiet, |row| {
        even(row) + if row % 10 == 0 { 0.07 } else { 0.0 }
    });
    assert!(
        matches!(&late[..], [flag] if flag.weight == Weight::Remark && flag.evidence.contains("intervals between readings")),
        "{late:#?}"
    );
}
