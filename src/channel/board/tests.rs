//! Channel tables of boards with sensors of a shop.

use super::*;
use firmware_protocol::Label;

fn on_board(kind: ChannelKind, unit: RangeUnit) -> firmware_protocol::Channel {
    firmware_protocol::Channel {
        label: Label::new("AI7").expect("a label"),
        kind,
        unit,
        resolution_bits: 16,
        code_low: 0,
        code_high: 1_000,
        value_low: 100.0,
        value_high: 0.0,
        good_lowest: -5,
        good_highest: 1_005,
    }
}

fn sensor(role: Role, board_channel: u8) -> SensorInfo {
    SensorInfo {
        role,
        board_channel,
        errors: SensorErrors {
            zero_si: 0.5,
            span_relative: 0.0,
            zero_si_per_k: 0.0,
        },
        papers: SensorPapers::default(),
        motion_ratio: 1.0,
        signal: None,
        is_against_supply: false,
        curve: None,
    }
}

fn table() -> ChannelTable {
    ChannelTable::new(&[
        on_board(ChannelKind::Pressure, RangeUnit::PascalGauge),
        on_board(ChannelKind::Temperature, RangeUnit::DegreeCelsius),
        on_board(ChannelKind::Pressure, RangeUnit::Ampere),
        on_board(ChannelKind::Position, RangeUnit::Metre),
    ])
    .expect("four channels")
}

#[test]
fn a_falling_sensor_in_degrees_becomes_kelvin() {
    let sensors = [
        sensor(Role::OilTemperature, 1),
        sensor(Role::CapPressure, 0),
    ];
    let channels = from_board(&table(), &sensors).expect("they fit");
    assert_eq!(channels[0].value(0), Some(373.15));
    assert!((channels[0].value(1_000).expect("good") - 273.15).abs() < 1e-9);
    assert_eq!(channels[0].range_si, (273.15, 373.15));
    assert_eq!(channels[0].value(1_006), None);
    assert_eq!(channels[0].errors.zero_si, 0.5);
    assert_eq!(channels[1].role, Role::CapPressure);
    assert!((channels[1].resolution_si() - 0.1).abs() < 1e-12);
}

/// A load that moves 2.5 times as far as the rod: its readings are those of the rod.
#[test]
fn a_position_measured_at_the_load_is_brought_to_the_rod() {
    let mut geared = sensor(Role::Position, 3);
    let plain = from_board(&table(), std::slice::from_ref(&geared)).expect("fits");
    geared.motion_ratio = 2.5;
    let geared = from_board(&table(), &[geared]).expect("fits");
    let of = |channels: &[Channel]| channels[0].value(100).expect("good");
    assert!((of(&geared) * 2.5 / of(&plain) - 1.0).abs() < 1e-12);
    assert!((geared[0].range_si.1 * 2.5 - plain[0].range_si.1).abs() < 1e-9);
}

fn curve(read_in: ReadIn, per_reading: f64) -> Curve {
    let point = |i: u8| crate::channel::CurvePoint {
        reference_si: 10.0 * f64::from(i),
        reading: f64::from(i) * 10.0 / per_reading + 1.0,
    };
    Curve::through(
        Role::RodPressure,
        read_in,
        (0..6).map(point).collect(),
        1,
        0.1,
    )
    .expect("a line")
}

/// Channel 2 states 100 A at code 0 and none at code 1000: 100 000 mA, 100 mA each code.
#[test]
fn points_in_milliamperes_and_counts_take_the_place_of_the_board_s_range() {
    let mut loop_sensor = sensor(Role::RodPressure, 2);
    loop_sensor.curve = Some(curve(ReadIn::Milliampere, 0.5));
    let channels = from_board(&table(), &[loop_sensor.clone()]).expect("they fit");
    // 0.5 Pa by mA from 1 mA: code 999 is 100 mA, 49.5 Pa.
    assert!((channels[0].value(999).expect("good") - 49.5).abs() < 1e-6);
    assert!((channels[0].range_si.0).abs() < 1e-9 && (channels[0].range_si.1 - 50.0).abs() < 1e-9);
    loop_sensor.curve = Some(curve(ReadIn::Counts, 0.5));
    let channels = from_board(&table(), &[loop_sensor.clone()]).expect("they fit");
    assert!((channels[0].value(61).expect("good") - 30.0).abs() < 1e-9);
    assert_eq!(channels[0].value(1_006), None);
    loop_sensor.curve = Some(curve(ReadIn::Volt, 0.5));
    refused(&[loop_sensor], "amperes, rod-end pressure needs volts");
}

/// Channel 2 again, 100 mA each code: a loop of 50 Pa, with faults at 3.6 and 21 mA.
#[test]
fn a_signal_stands_for_its_range_and_points_as_shown_correct_it() {
    let mut sensor = sensor(Role::RodPressure, 2);
    let mut fine = on_board(ChannelKind::Other, RangeUnit::Ampere);
    (fine.code_high, fine.value_low, fine.value_high) = (1_000, 0.0, 0.025);
    let table = ChannelTable::new(&[fine, fine, fine]).expect("three channels");
    sensor.signal = Some(Signal {
        kind: crate::channel::SignalKind::Loop,
        range_si: (0.0, 50.0),
    });
    // 0.025 mA each code: 480 is 12 mA.
    let channels = from_board(&table, &[sensor.clone()]).expect("they fit");
    assert!((channels[0].value(480).expect("good") - 25.0).abs() < 1e-5);
    assert_eq!(channels[0].range_si, (0.0, 50.0));
    assert_eq!(
        (channels[0].value(144), channels[0].value(840)),
        (None, None)
    );
    assert!(channels[0].value(145).is_some() && channels[0].value(839).is_some());
    // Shown is 2·reference + 1, so 25 shown is 12 by the points.
    sensor.curve = Some(curve(ReadIn::Shown, 0.5));
    let channels = from_board(&table, &[sensor.clone()]).expect("they fit");
    assert!((channels[0].value(480).expect("good") - 12.0).abs() < 1e-5);
    assert_eq!(channels[0].value(144), None);
    refused(
        &[SensorInfo {
            board_channel: 0,
            ..sensor
        }],
        "needs amperes",
    );
}

#[track_caller]
fn refused(sensors: &[SensorInfo], part: &str) {
    let message = from_board(&table(), sensors)
        .expect_err("they do not fit")
        .to_string();
    assert!(message.contains(part), "{message}");
}

#[test]
fn what_does_not_fit_is_refused_with_its_channel() {
    refused(&[sensor(Role::Position, 4)], "channels 0 to 3");
    refused(&[sensor(Role::Position, 0)], "measures pressure");
    refused(&[sensor(Role::WallTemperature, 3)], "measures position");
    refused(&[sensor(Role::RodPressure, 2)], "amperes");
    refused(
        &[sensor(Role::CapPressure, 0), sensor(Role::RodPressure, 0)],
        "both be channel 0",
    );
}
