//! Sensors of a setup that are read against the measured supply: `supply = "measured"`.
//!
//! What is not known of the supply's own reading goes into the errors of each of them.

use super::SensorSetup;
use super::SettingsError;
use super::Source;
use super::sensor::SensorTable;
use crate::channel::NOMINAL_SUPPLY_V;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::channel::Signal;
use crate::channel::SignalKind;
use std::collections::BTreeMap;
use toml::Spanned;

/// Signal at the low end of the range by its span: 0.5 of 4 V.
const OFFSET: f64 = 0.125;

/// Whether a sensor says that it is read against the measured supply, and can be.
pub(super) fn against_supply(
    source: &Source<'_>,
    role: Role,
    table: &Spanned<SensorTable>,
    signal: Option<Signal>,
) -> Result<bool, SettingsError> {
    let Some(supply) = &table.get_ref().supply else {
        return Ok(false);
    };
    let why = match signal.map(|signal| signal.kind) {
        Some(SignalKind::Ratiometric) => return Ok(true),
        Some(SignalKind::Loop) => "the current of a loop does not go with its supply",
        None => "values that a board states are finished",
    };
    let message = format!(
        "sensors.{}: `supply = \"measured\"` is for `signal = \"0.5-4.5 V\"`: {why}; leave `supply` away",
        role.word()
    );
    Err(source.error(supply, message))
}

/// Looks for the supply of all sensors that are read against it.
pub(super) fn refer_to_supply(
    source: &Source<'_>,
    tables: &BTreeMap<String, Spanned<SensorTable>>,
    sensors: &mut [SensorSetup],
) -> Result<(), SettingsError> {
    let supply = sensors.iter().find(|s| s.role == Role::Supply);
    let of_supply = supply.map(|supply| supply.errors);
    for sensor in sensors.iter_mut().filter(|s| s.is_against_supply) {
        let word = sensor.role.word();
        let place = tables.get(word).and_then(|t| t.get_ref().supply.as_ref());
        match (of_supply, sensor.signal, place) {
            (Some(of_supply), Some(signal), _) => {
                sensor.errors = with_supply(sensor, signal, of_supply);
            }
            (None, _, Some(place)) => {
                let message = format!(
                    "sensors.{word} is read against the measured supply, but nothing measures it here: write \
                     [sensors.v_supply] with its `channel`, or leave `supply` away"
                );
                return Err(source.error(place, message));
            }
            _ => {}
        }
    }
    Ok(())
}

/// Errors of a sensor with those of the supply that it is read against.
///
/// An error of the supply by a part u moves a value by −(value − low + span/8)·u: in proportion to
/// the value, and by a fixed part, both at once. An account takes zero and span error as
/// independent, so each counts √2 times; (a + b)² is at most 2·(a² + b²). Temperatures are
/// counted from a zero that is far away: theirs is all zero error, at the top of the range.
fn with_supply(sensor: &SensorSetup, signal: Signal, of_supply: SensorErrors) -> SensorErrors {
    let part = (of_supply.zero_si / NOMINAL_SUPPLY_V).hypot(of_supply.span_relative);
    let part_per_k = of_supply.zero_si_per_k / NOMINAL_SUPPLY_V;
    let (low, high) = signal.range_si;
    let span = (high - low) / sensor.motion_ratio;
    let most = (1.0 + OFFSET) * span.abs();
    let twice = 2.0_f64.sqrt();
    let (zero_si, span_relative) = match sensor.role {
        Role::OilTemperature | Role::WallTemperature => (most * part, 0.0),
        _ => {
            let fixed = (OFFSET * span - low / sensor.motion_ratio).abs();
            (twice * fixed * part, twice * part)
        }
    };
    let own = sensor.errors;
    SensorErrors {
        zero_si: own.zero_si.hypot(zero_si),
        span_relative: own.span_relative.hypot(span_relative),
        zero_si_per_k: own.zero_si_per_k.hypot(most * part_per_k),
    }
}
