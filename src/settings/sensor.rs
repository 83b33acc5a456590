//! The tables `[sensors.…]` of a setup: what is known of each sensor.

use super::SettingsError;
use super::Source;
use super::text::Text;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::channel::SensorPapers;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Quantity;
use crate::quantity::TemperatureInterval;
use crate::quantity::parse;
use serde::Deserialize;
use toml::Spanned;

/// What is known of one sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct SensorSetup {
    /// What it measures.
    pub role: Role,
    /// Its channel on the board; None where a file brings the data.
    pub board_channel: Option<u8>,
    /// What is stated of its errors.
    pub errors: SensorErrors,
    /// Its papers.
    pub papers: SensorPapers,
    /// Its resolution in SI units, where the data do not say it.
    pub resolution_si: Option<f64>,
    /// How far what it measures moves by what the rod moves; 1 unless a position is measured
    /// at the load. Errors and resolution are those of the rod already.
    pub motion_ratio: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SensorTable {
    channel: Option<u8>,
    #[serde(default)]
    serial: String,
    #[serde(default)]
    certificate: String,
    #[serde(default)]
    due: String,
    zero_uncertainty: String,
    span_uncertainty_percent: f64,
    zero_drift_per_k: Option<String>,
    resolution: Option<String>,
    pub motion_ratio: Option<f64>,
    pub rating: Option<Text<GaugePressure>>,
}

/// One table `[sensors.…]`.
pub(super) fn sensor(
    source: &Source<'_>,
    word: &str,
    table: &Spanned<SensorTable>,
) -> Result<SensorSetup, SettingsError> {
    let role = Role::ALL
        .into_iter()
        .find(|r| r.word() == word)
        .ok_or_else(|| {
            let known: Vec<&str> = Role::ALL.iter().map(|r| r.word()).collect();
            source.error(
                table,
                format!(
                    "`sensors.{word}` is no sensor; write one of {}",
                    known.join(", ")
                ),
            )
        })?;
    let t = table.get_ref();
    let si = |text: &str| {
        let si = match role {
            Role::CapPressure | Role::RodPressure => {
                parse::<GaugePressure>(text).map(|q| q.quantity.si())
            }
            Role::Position => parse::<Length>(text).map(|q| q.quantity.si()),
            Role::OilTemperature | Role::WallTemperature => {
                parse::<TemperatureInterval>(text).map(|q| q.quantity.si())
            }
        };
        si.map_err(|e| source.error(table, format!("sensors.{word}: {e}")))
    };
    let optional = |text: &Option<String>| text.as_deref().map(&si).transpose();
    let is_pressure = matches!(role, Role::CapPressure | Role::RodPressure);
    if t.rating.is_some() && !is_pressure {
        let message = format!("sensors.{word}: `rating` is a pressure, for pressure sensors only");
        return Err(source.error(table, message));
    }
    let motion_ratio = motion_ratio(source, role, table)?;
    let errors = SensorErrors {
        zero_si: si(&t.zero_uncertainty)? / motion_ratio,
        span_relative: t.span_uncertainty_percent / 100.0,
        zero_si_per_k: optional(&t.zero_drift_per_k)?.unwrap_or(0.0) / motion_ratio,
    };
    if !t.due.is_empty() && t.due.parse::<jiff::civil::Date>().is_err() {
        let message = format!(
            "sensors.{word}: due `{}` is no date; write it as 2027-03-31",
            t.due
        );
        return Err(source.error(table, message));
    }
    let sane = errors.zero_si >= 0.0
        && errors.zero_si_per_k >= 0.0
        && (0.0..0.2).contains(&errors.span_relative);
    if !sane {
        return Err(source.error(
            table,
            format!("sensors.{word}: uncertainties must not be negative, and that of the span below 20 %"),
        ));
    }
    Ok(SensorSetup {
        role,
        board_channel: t.channel,
        errors,
        papers: SensorPapers {
            serial: t.serial.clone(),
            certificate: t.certificate.clone(),
            due: t.due.clone(),
        },
        resolution_si: optional(&t.resolution)?.map(|step| step / motion_ratio),
        motion_ratio,
    })
}

/// How far what a sensor measures moves by what the rod moves.
fn motion_ratio(
    source: &Source<'_>,
    role: Role,
    table: &Spanned<SensorTable>,
) -> Result<f64, SettingsError> {
    let Some(ratio) = table.get_ref().motion_ratio else {
        return Ok(1.0);
    };
    if role == Role::Position && (0.05..=50.0).contains(&ratio) {
        return Ok(ratio);
    }
    let message = format!(
        "sensors.{}: `motion_ratio` is how far the load moves by what the rod moves, for the position sensor only, between \
         0.05 and 50",
        role.word()
    );
    Err(source.error(table, message))
}
