//! The tables `[sensors.…]` of a setup: what is known of each sensor.

use super::SettingsError;
use super::Source;
use super::calibration::CalibrationTable;
use super::calibration::PointsCalibration;
use super::calibration::calibration as calibration_of;
use super::calibration::size_si;
use super::calibration::value_si;
use super::read;
use super::supply::against_supply;
use super::supply::refer_to_supply;
use super::text::Text;
use crate::channel::CalibratedBy;
use crate::channel::ReadIn;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::channel::SensorPapers;
use crate::channel::Signal;
use crate::channel::SignalKind;
use crate::quantity::GaugePressure;
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

/// What is known of one sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct SensorSetup {
    /// What it measures.
    pub role: Role,
    /// Its channel on the board; None where a file brings the data.
    pub board_channel: Option<u8>,
    /// Its errors: as stated, and with those of its calibration by points.
    pub errors: SensorErrors,
    /// Its papers.
    pub papers: SensorPapers,
    /// Its resolution in SI units, where the data do not say it.
    pub resolution_si: Option<f64>,
    /// How far what it measures moves by what the rod moves; 1 unless a position is measured
    /// at the load. Errors and resolution are those of the rod already.
    pub motion_ratio: f64,
    /// Its signal, where the board states amperes or volts.
    pub signal: Option<Signal>,
    /// Whether its signal is read against the measured supply.
    pub is_against_supply: bool,
    /// Its calibration by points, if there is one; that of the sensor itself, whatever the
    /// motion ratio.
    pub calibration: Option<PointsCalibration>,
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
    calibrated_by: Option<ByWord>,
    signal: Option<String>,
    pub supply: Option<Spanned<SupplyWord>>,
    range: Option<[String; 2]>,
    zero_uncertainty: Option<String>,
    span_uncertainty_percent: Option<f64>,
    zero_drift_per_k: Option<String>,
    resolution: Option<String>,
    pub motion_ratio: Option<f64>,
    pub rating: Option<Text<GaugePressure>>,
    calibration: Option<Spanned<CalibrationTable>>,
}

/// Against which supply a signal is read, where it is not the board's own reference.
#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
pub(super) enum SupplyWord {
    Measured,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum ByWord {
    Maker,
    Laboratory,
    Shop,
}

/// The sensors of any file that has some, a setup or points just taken; what else stands
/// in it is left alone.
///
/// # Errors
/// As for a setup.
pub fn sensors_of(file: &str, text: &str) -> Result<Vec<SensorSetup>, SettingsError> {
    #[derive(Deserialize)]
    struct SensorsFile {
        #[serde(default)]
        sensors: BTreeMap<String, Spanned<SensorTable>>,
    }
    let found: SensorsFile = read(file, text)?;
    let source = Source { file, text };
    let tables = found.sensors.iter();
    let mut sensors: Vec<SensorSetup> = tables
        .map(|(word, table)| sensor(&source, word, table))
        .collect::<Result<_, _>>()?;
    refer_to_supply(&source, &found.sensors, &mut sensors)?;
    Ok(sensors)
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
    let is_pressure = matches!(role, Role::CapPressure | Role::RodPressure);
    if t.rating.is_some() && !is_pressure {
        let message = format!("sensors.{word}: `rating` is a pressure, for pressure sensors only");
        return Err(source.error(table, message));
    }
    let motion_ratio = motion_ratio(source, role, table)?;
    let calibration = t.calibration.as_ref();
    let calibration = calibration
        .map(|table| calibration_of(source, role, table))
        .transpose()?;
    let signal = signal(source, role, table, calibration.as_ref())?;
    let is_against_supply = against_supply(source, role, table, signal)?;
    let by = calibrated_by(source, table, calibration.is_some())?;
    let by_points = calibration.as_ref().map(|c| c.curve.errors());
    let errors = errors(source, role, table, by_points, motion_ratio)?;
    if !t.due.is_empty() && t.due.parse::<jiff::civil::Date>().is_err() {
        let message = format!(
            "sensors.{word}: due `{}` is no date; write it as 2027-03-31",
            t.due
        );
        return Err(source.error(table, message));
    }
    Ok(SensorSetup {
        role,
        board_channel: t.channel,
        errors,
        papers: SensorPapers {
            serial: t.serial.clone(),
            certificate: t.certificate.clone(),
            due: t.due.clone(),
            by,
        },
        resolution_si: size(source, role, table, t.resolution.as_deref())?
            .map(|step| step / motion_ratio),
        motion_ratio,
        signal,
        is_against_supply,
        calibration,
    })
}

/// A difference of what a sensor measures, if it is written.
fn size(
    source: &Source<'_>,
    role: Role,
    table: &Spanned<SensorTable>,
    text: Option<&str>,
) -> Result<Option<f64>, SettingsError> {
    text.map(|text| size_si(role, text))
        .transpose()
        .map_err(|e| source.error(table, format!("sensors.{}: {e}", role.word())))
}

/// The errors as stated. What is stated beside points has come since they were taken: it
/// adds to theirs.
fn errors(
    source: &Source<'_>,
    role: Role,
    table: &Spanned<SensorTable>,
    by_points: Option<SensorErrors>,
    motion_ratio: f64,
) -> Result<SensorErrors, SettingsError> {
    let t = table.get_ref();
    let word = role.word();
    let zero = size(source, role, table, t.zero_uncertainty.as_deref())?;
    let span = t.span_uncertainty_percent;
    if by_points.is_none() && (zero.is_none() || span.is_none()) {
        let message = format!(
            "sensors.{word} needs `zero_uncertainty` and `span_uncertainty_percent`, or points in \
             [sensors.{word}.calibration]"
        );
        return Err(source.error(table, message));
    }
    let drift = size(source, role, table, t.zero_drift_per_k.as_deref())?;
    let errors = SensorErrors {
        zero_si: zero.unwrap_or(0.0) / motion_ratio,
        span_relative: span.unwrap_or(0.0) / 100.0,
        zero_si_per_k: drift.unwrap_or(0.0) / motion_ratio,
    };
    let sane = errors.zero_si >= 0.0
        && errors.zero_si_per_k >= 0.0
        && (0.0..0.2).contains(&errors.span_relative);
    if !sane {
        return Err(source.error(
            table,
            format!("sensors.{word}: uncertainties must not be negative, and that of the span below 20 %"),
        ));
    }
    Ok(by_points.map_or(errors, |points| SensorErrors {
        zero_si: errors.zero_si.hypot(points.zero_si / motion_ratio),
        span_relative: errors.span_relative.hypot(points.span_relative),
        zero_si_per_k: errors.zero_si_per_k,
    }))
}

/// The signal of a sensor on a board that states amperes or volts, and its range.
fn signal(
    source: &Source<'_>,
    role: Role,
    table: &Spanned<SensorTable>,
    points: Option<&PointsCalibration>,
) -> Result<Option<Signal>, SettingsError> {
    let t = table.get_ref();
    let wrong =
        |message: String| source.error(table, format!("sensors.{}: {message}", role.word()));
    let (word, range) = match (&t.signal, &t.range) {
        (None, None) => return Ok(None),
        _ if role == Role::Supply => {
            return Err(wrong(
                "the supply is read in volts as it is; leave `signal` and `range` away".into(),
            ));
        }
        (Some(word), Some(range)) => (word, range),
        _ => {
            return Err(wrong(
                "`signal` and `range` go together: \"4-20 mA\" and [\"0 bar\", \"250 bar\"]".into(),
            ));
        }
    };
    let kind = SignalKind::from_word(word).ok_or_else(|| {
        wrong(format!(
            "signal `{word}` is not \"4-20 mA\" or \"0.5-4.5 V\""
        ))
    })?;
    if t.channel.is_none() {
        return Err(wrong(
            "`signal` is for a `channel` of a board; a table of a logger shows values".into(),
        ));
    }
    let end = |text: &String| value_si(role, text).map_err(|e| wrong(e.to_string()));
    let range_si = (end(&range[0])?, end(&range[1])?);
    if range_si.0 == range_si.1 {
        return Err(wrong("`range` has no extent".into()));
    }
    let other = points.map(|p| p.curve.read_in());
    let is_other = matches!(other, Some(ReadIn::Milliampere | ReadIn::Volt));
    if is_other && other != Some(kind.read_in()) {
        return Err(wrong(format!(
            "its points were not read from a signal of {word}"
        )));
    }
    Ok(Some(Signal { kind, range_si }))
}

/// Who calibrated a sensor; with points that must be said, since they may be the maker's.
fn calibrated_by(
    source: &Source<'_>,
    table: &Spanned<SensorTable>,
    has_points: bool,
) -> Result<Option<CalibratedBy>, SettingsError> {
    let by = table.get_ref().calibrated_by.map(|word| match word {
        ByWord::Maker => CalibratedBy::Maker,
        ByWord::Laboratory => CalibratedBy::Laboratory,
        ByWord::Shop => CalibratedBy::Shop,
    });
    if has_points && by.is_none() {
        let message = "points are given, but not whose they are: write `calibrated_by` above them as \"maker\", \"laboratory\" or \"shop\"";
        return Err(source.error(table, message));
    }
    Ok(by)
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
