//! The heading block: what the rows of a journal mean, as JSON.
//!
//! The types here have the shape of the file and nothing else uses them. Numbers are
//! written in the shortest form that reads back as the same `f64`.
//!
//! Invariant: a heading that was read is equal to the one that was written.

use super::JournalError;
use crate::channel::AgainstSupply;
use crate::channel::CalibratedBy;
use crate::channel::Calibration;
use crate::channel::Channel;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::channel::SensorPapers;
use crate::recording::Heading;
use crate::recording::RECORDING_VERSION;
use serde::Deserialize;
use serde::Serialize;

#[derive(Serialize, Deserialize)]
struct HeadingJson {
    recording_version: u32,
    run_id: String,
    started_utc_ms: i64,
    time_zone: String,
    software: String,
    source: String,
    setup_toml: String,
    shop_toml: String,
    practice: String,
    channels: Vec<ChannelJson>,
}

#[derive(Serialize, Deserialize)]
struct ChannelJson {
    role: String,
    label: String,
    si_unit: String,
    si_at_zero_code: f64,
    si_per_code: f64,
    #[serde(default, skip_serializing_if = "is_zero")]
    si_per_code_squared: f64,
    good_code_lowest: i32,
    good_code_highest: i32,
    range_low_si: f64,
    range_high_si: f64,
    zero_error_si: f64,
    span_error_relative: f64,
    zero_error_si_per_k: f64,
    sensor_serial: String,
    sensor_certificate: String,
    sensor_due: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    sensor_calibrated_by: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    against_supply: Option<AgainstSupplyJson>,
}

#[derive(Serialize, Deserialize)]
struct AgainstSupplyJson {
    code_at_zero_volt: f64,
    signal_code_lowest: i32,
    signal_code_highest: i32,
    supply_step_relative: f64,
}

/// What is usual is not written: headings of straight calibrations stay as they were.
#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "the form that serde asks for"
)]
fn is_zero(number: &f64) -> bool {
    *number == 0.0
}

/// The heading block's payload.
pub(super) fn to_json(heading: &Heading, channels: &[Channel]) -> Result<Vec<u8>, JournalError> {
    let channels = channels
        .iter()
        .map(channel_to_json)
        .collect::<Result<_, _>>()?;
    let json = HeadingJson {
        recording_version: RECORDING_VERSION,
        run_id: heading.run_id.clone(),
        started_utc_ms: heading.started_utc_ms,
        time_zone: heading.time_zone.clone(),
        software: heading.software.clone(),
        source: heading.source.clone(),
        setup_toml: heading.setup_toml.clone(),
        shop_toml: heading.shop_toml.clone(),
        practice: heading.practice.clone(),
        channels,
    };
    Ok(serde_json::to_vec(&json).expect("texts and finite numbers are always JSON"))
}

/// What the payload of a heading block says.
pub(super) fn from_json(payload: &[u8]) -> Result<(Heading, Vec<Channel>), String> {
    let json: HeadingJson = serde_json::from_slice(payload).map_err(|error| error.to_string())?;
    if json.recording_version > RECORDING_VERSION {
        return Err(format!(
            "recordings of version {} need a newer stillrod",
            json.recording_version
        ));
    }
    let channels = json
        .channels
        .into_iter()
        .map(channel_from_json)
        .collect::<Result<_, _>>()?;
    let heading = Heading {
        run_id: json.run_id,
        started_utc_ms: json.started_utc_ms,
        time_zone: json.time_zone,
        software: json.software,
        source: json.source,
        setup_toml: json.setup_toml,
        shop_toml: json.shop_toml,
        practice: json.practice,
    };
    Ok((heading, channels))
}

fn channel_to_json(channel: &Channel) -> Result<ChannelJson, JournalError> {
    // JSON has no word for infinity; such a number would read back as nothing.
    let finite = |value: f64, what| {
        value
            .is_finite()
            .then_some(value)
            .ok_or(JournalError::NotFinite {
                what,
                role: channel.role.word(),
            })
    };
    let against_supply = match &channel.against_supply {
        None => None,
        Some(against) => Some(AgainstSupplyJson {
            code_at_zero_volt: finite(against.code_at_zero_volt, "the supply")?,
            signal_code_lowest: against.signal_codes.0,
            signal_code_highest: against.signal_codes.1,
            supply_step_relative: finite(against.supply_step_relative, "the supply")?,
        }),
    };
    Ok(ChannelJson {
        role: channel.role.word().into(),
        label: channel.label.clone(),
        si_unit: channel.role.si_unit().into(),
        si_at_zero_code: finite(channel.calibration.si_at_zero_code, "the calibration")?,
        si_per_code: finite(channel.calibration.si_per_code, "the calibration")?,
        si_per_code_squared: finite(channel.calibration.si_per_code_squared, "the calibration")?,
        good_code_lowest: channel.good_codes.0,
        good_code_highest: channel.good_codes.1,
        range_low_si: finite(channel.range_si.0, "the range")?,
        range_high_si: finite(channel.range_si.1, "the range")?,
        zero_error_si: finite(channel.errors.zero_si, "the zero error")?,
        span_error_relative: finite(channel.errors.span_relative, "the span error")?,
        zero_error_si_per_k: finite(channel.errors.zero_si_per_k, "the zero drift")?,
        sensor_serial: channel.papers.serial.clone(),
        sensor_certificate: channel.papers.certificate.clone(),
        sensor_due: channel.papers.due.clone(),
        sensor_calibrated_by: channel.papers.by.map_or("", CalibratedBy::word).into(),
        against_supply,
    })
}

fn channel_from_json(json: ChannelJson) -> Result<Channel, String> {
    let role = Role::ALL
        .into_iter()
        .find(|role| role.word() == json.role)
        .ok_or_else(|| format!("no channel is called `{}`", json.role))?;
    Ok(Channel {
        role,
        label: json.label,
        calibration: Calibration {
            si_at_zero_code: json.si_at_zero_code,
            si_per_code: json.si_per_code,
            si_per_code_squared: json.si_per_code_squared,
        },
        good_codes: (json.good_code_lowest, json.good_code_highest),
        range_si: (json.range_low_si, json.range_high_si),
        errors: SensorErrors {
            zero_si: json.zero_error_si,
            span_relative: json.span_error_relative,
            zero_si_per_k: json.zero_error_si_per_k,
        },
        papers: SensorPapers {
            serial: json.sensor_serial,
            certificate: json.sensor_certificate,
            due: json.sensor_due,
            by: CalibratedBy::from_word(&json.sensor_calibrated_by),
        },
        against_supply: json.against_supply.map(|against| AgainstSupply {
            code_at_zero_volt: against.code_at_zero_volt,
            signal_codes: (against.signal_code_lowest, against.signal_code_highest),
            supply_step_relative: against.supply_step_relative,
        }),
    })
}
