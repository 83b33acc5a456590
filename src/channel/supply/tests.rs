//! A board of one millivolt a code, a sensor of 250 bar and its supply.

use super::*;
use crate::channel::Curve;
use crate::channel::CurvePoint;
use crate::channel::ReadIn;
use crate::channel::SensorErrors;
use crate::channel::SensorInfo;
use crate::channel::SensorPapers;
use crate::channel::Signal;
use crate::channel::SignalKind;
use crate::channel::from_board;
use firmware_protocol::ChannelKind;
use firmware_protocol::ChannelTable;
use firmware_protocol::Label;
use firmware_protocol::RangeUnit;

fn sensor(role: Role, board_channel: u8) -> SensorInfo {
    SensorInfo {
        role,
        board_channel,
        errors: SensorErrors {
            zero_si: 0.0,
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

fn pressure(is_against_supply: bool) -> SensorInfo {
    SensorInfo {
        signal: Some(Signal {
            kind: SignalKind::Ratiometric,
            range_si: (0.0, 250e5),
        }),
        is_against_supply,
        ..sensor(Role::CapPressure, 0)
    }
}

fn table(unit: RangeUnit) -> ChannelTable {
    let volts = firmware_protocol::Channel {
        label: Label::new("AI0").expect("a label"),
        kind: ChannelKind::Other,
        unit: RangeUnit::Volt,
        resolution_bits: 13,
        code_low: 0,
        code_high: 6_000,
        value_low: 0.0,
        value_high: 6.0,
        good_lowest: 0,
        good_highest: 6_000,
    };
    ChannelTable::new(&[firmware_protocol::Channel { unit, ..volts }, volts]).expect("two")
}

/// The pressure's channel first, then that of the supply.
fn channels(pressure: SensorInfo) -> Vec<Channel> {
    let sensors = [pressure, sensor(Role::Supply, 1)];
    from_board(&table(RangeUnit::Volt), &sensors).expect("they fit")
}

/// Bar that a row of millivolts stands for.
fn bar(channels: &[Channel], millivolts: [i32; 2]) -> Option<f64> {
    let values = row_values(channels, &millivolts);
    let of_pressure = values.filter(|(channel, _)| channel.role == Role::CapPressure);
    of_pressure.map(|(_, pa)| pa.map(|pa| pa / 1e5)).next()?
}

/// By hand: V = 2.5·(V_s/5), so V/V_s = 0.5 and p = 250·(0.5 − 0.1)/0.8 = 125 bar. Taken for
/// one of 5 V, 2.45 V would be 250·(0.49 − 0.1)/0.8 = 121.875 bar.
#[test]
fn half_of_the_supply_is_half_of_the_range_whatever_the_supply() {
    let measured = channels(pressure(true));
    for millivolts in [[2_500, 5_000], [2_450, 4_900], [2_700, 5_400]] {
        let found = bar(&measured, millivolts).expect("a value");
        assert!((found - 125.0).abs() < 1e-9, "{millivolts:?}: {found}");
    }
    let plain = channels(pressure(false));
    let found = bar(&plain, [2_450, 4_900]).expect("a value");
    assert!((found - 121.875).abs() < 1e-9, "{found}");
}

#[test]
fn the_supply_is_found_wherever_it_stands_in_the_row() {
    let mut turned = channels(pressure(true));
    turned.reverse();
    let found = bar(&turned, [4_900, 2_450]).expect("a value");
    assert!((found - 125.0).abs() < 1e-9, "{found}");
}

#[test]
fn without_a_plausible_supply_there_is_no_value() {
    let measured = channels(pressure(true));
    for (supply, is_there) in [(4_499, false), (4_500, true), (5_500, true), (5_501, false)] {
        let found = bar(&measured, [2_500, supply]);
        assert_eq!(found.is_some(), is_there, "{supply} mV");
    }
    // Beyond what the board calls good, and not there at all.
    assert_eq!(bar(&measured, [2_500, 6_001]), None);
    assert_eq!(bar(&measured[..1], [2_500, 5_000]), None);
    assert_eq!(measured[0].value(2_500), None);
    assert_eq!(measured[0].value_at(2_500, None), None);
    assert_eq!(measured[0].value_at(2_500, Some(f64::NAN)), None);
}

/// Of 5.4 V, 0.9 are 4.86 V: a sensor of 5 V would be in its fault band. Of 4.6 V, 4.4 V are 4.783
/// of 5, and 0.24 V are 0.261; of 5.4 V, 0.26 V are 0.241.
#[test]
fn fault_bands_go_by_the_part_of_the_supply() {
    let measured = channels(pressure(true));
    let full = bar(&measured, [4_860, 5_400]).expect("a healthy signal");
    assert!((full - 250.0).abs() < 1e-9, "{full}");
    assert_eq!(bar(&measured, [4_400, 4_600]), None);
    assert!(bar(&measured, [240, 4_600]).is_some());
    assert_eq!(bar(&measured, [260, 5_400]), None);
}

/// Six points in volts referred to 5 V, 62.5 bar each volt from 0.5 V on, half a bar too much.
#[test]
fn points_in_volts_are_those_of_five_volts() {
    let point = |i: u8| CurvePoint {
        reference_si: f64::from(i) * 50e5,
        reading: 0.508 + 0.8 * f64::from(i),
    };
    let points = (0..6).map(point).collect();
    let curve = Curve::through(Role::CapPressure, ReadIn::Volt, points, 1, 1.0);
    let by_points = channels(SensorInfo {
        curve: Some(curve.expect("a line")),
        ..pressure(true)
    });
    for millivolts in [[2_500, 5_000], [2_450, 4_900]] {
        let found = bar(&by_points, millivolts).expect("a value");
        assert!((found - 124.5).abs() < 1e-6, "{millivolts:?}: {found}");
    }
}

/// A millivolt of the signal is 0.0625 bar. One of the supply moves the top of the signal, 4.749 V
/// at most, by 4.749/5 mV: 0.0594 bar.
#[test]
fn a_step_of_the_supply_passes_into_the_steps_of_the_value() {
    let measured = channels(pressure(true));
    let by_hand = 0.0625_f64.hypot(0.0625 * 4.749 / 5.0);
    assert!((measured[0].code_step_si() / 1e5 - 0.0625).abs() < 1e-9);
    assert!((measured[0].resolution_si() / 1e5 - by_hand).abs() < 1e-9);
    let plain = channels(pressure(false));
    assert!((plain[0].resolution_si() / 1e5 - 0.0625).abs() < 1e-9);
}

#[test]
fn a_board_that_states_values_cannot_be_referred_to_a_supply() {
    let sensors = [pressure(true), sensor(Role::Supply, 1)];
    let error = from_board(&table(RangeUnit::PascalGauge), &sensors).expect_err("pascal");
    let said = error.to_string();
    assert!(
        said.contains("in pascal, cap-end pressure needs volts"),
        "{said}"
    );
    let of_supply = [pressure(true), sensor(Role::Supply, 0)];
    assert!(from_board(&table(RangeUnit::Volt), &of_supply).is_err());
    let error = from_board(&table(RangeUnit::PascalGauge), &of_supply[1..]).expect_err("pascal");
    assert!(
        error.to_string().contains("sensor supply needs volts"),
        "{error}"
    );
}
