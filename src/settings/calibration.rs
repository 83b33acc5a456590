//! The tables `[sensors.….calibration]`: points against a reference, and their curve.

use super::SettingsError;
use super::Source;
use crate::channel::Curve;
use crate::channel::CurveError;
use crate::channel::CurvePoint;
use crate::channel::ReadIn;
use crate::channel::Role;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Quantity;
use crate::quantity::QuantityError;
use crate::quantity::Temperature;
use crate::quantity::TemperatureInterval;
use crate::quantity::Voltage;
use crate::quantity::parse;
use serde::Deserialize;
use toml::Spanned;

/// A calibration by points as its table describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct PointsCalibration {
    /// Day it was done, ISO 8601.
    pub date: String,
    /// Role of who did it, "bench technician".
    pub who: String,
    /// The reference instrument.
    pub reference: String,
    /// Number of the reference's own certificate.
    pub reference_certificate: String,
    /// Unit in which the reference was written down.
    pub reference_in: String,
    /// Unit in which the readings were written down.
    pub read_in: String,
    /// Expanded uncertainty of the reference (k = 2), as it was written.
    pub reference_uncertainty: String,
    /// 1 for a line, 2 for a parabola.
    pub degree: usize,
    /// The points as they were written: reference and reading.
    pub written: Vec<(f64, f64)>,
    /// SI value of one unit of the reference, as a difference.
    pub si_per_unit: f64,
    /// The fitted curve.
    pub curve: Curve,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CalibrationTable {
    date: String,
    who: String,
    reference: String,
    reference_certificate: String,
    reference_in: String,
    reference_uncertainty: String,
    read_in: String,
    degree: usize,
    points: Spanned<Vec<Spanned<(f64, f64)>>>,
}

/// Reads the table of a sensor and fits its curve.
pub(super) fn calibration(
    source: &Source<'_>,
    role: Role,
    table: &Spanned<CalibrationTable>,
) -> Result<PointsCalibration, SettingsError> {
    let t = table.get_ref();
    let place = format!("sensors.{}.calibration", role.word());
    let wrong = |message: String| source.error(table, format!("{place}: {message}"));
    if t.date.parse::<jiff::civil::Date>().is_err() {
        return Err(wrong(format!(
            "date `{}` is no date; write it as 2026-10-02",
            t.date
        )));
    }
    for (word, text) in [
        ("who", &t.who),
        ("reference", &t.reference),
        ("reference_certificate", &t.reference_certificate),
    ] {
        if text.trim().is_empty() {
            return Err(wrong(format!(
                "`{word}` is empty; without it nobody can follow the calibration back"
            )));
        }
    }
    let expanded_si = size_si(role, &t.reference_uncertainty).map_err(|e| wrong(e.to_string()))?;
    if expanded_si <= 0.0 {
        return Err(wrong(
            "`reference_uncertainty` must be above 0: no reference is exact; its certificate states it".into(),
        ));
    }
    let (_, si_per_unit) = in_unit(role, &t.reference_in).map_err(|e| wrong(e.to_string()))?;
    let read_in = read_in(&t.read_in);
    let mut points = Vec::new();
    for point in t.points.get_ref() {
        let (reference, reading) = *point.get_ref();
        let at = |e: QuantityError| source.error(point, format!("{place}: {e}"));
        points.push(CurvePoint {
            reference_si: point_si(role, reference, &t.reference_in).map_err(at)?,
            reading: match read_in {
                ReadIn::Shown => point_si(role, reading, &t.read_in).map_err(at)?,
                _ => reading,
            },
        });
    }
    let curve =
        Curve::through(role, read_in, points, t.degree, 0.5 * expanded_si).map_err(|error| {
            let message = format!("{place}: {error}");
            let far = match error {
                CurveError::FarOut { number, .. } => t.points.get_ref().get(number - 1),
                _ => None,
            };
            far.map_or_else(
                || source.error(&t.points, &message),
                |point| source.error(point, &message),
            )
        })?;
    Ok(PointsCalibration {
        date: t.date.clone(),
        who: t.who.clone(),
        reference: t.reference.clone(),
        reference_certificate: t.reference_certificate.clone(),
        reference_in: t.reference_in.clone(),
        read_in: t.read_in.clone(),
        reference_uncertainty: t.reference_uncertainty.clone(),
        degree: t.degree,
        written: t.points.get_ref().iter().map(|p| *p.get_ref()).collect(),
        si_per_unit,
        curve,
    })
}

fn read_in(unit: &str) -> ReadIn {
    match unit {
        "counts" => ReadIn::Counts,
        "mA" => ReadIn::Milliampere,
        "V" => ReadIn::Volt,
        // Any other must be a unit of the quantity itself; `point_si` sees to that.
        _ => ReadIn::Shown,
    }
}

/// A value of what a sensor measures, in SI.
fn point_si(role: Role, number: f64, unit: &str) -> Result<f64, QuantityError> {
    value_si(role, &format!("{number} {unit}"))
}

/// SI value of zero in a unit of what a sensor measures, and of one more.
///
/// # Errors
/// If it is no unit of it.
pub fn in_unit(role: Role, unit: &str) -> Result<(f64, f64), QuantityError> {
    let zero = point_si(role, 0.0, unit)?;
    Ok((zero, point_si(role, 1.0, unit)? - zero))
}

/// A typed value of what a sensor measures, in SI: temperatures are points.
///
/// # Errors
/// If it is none.
pub fn value_si(role: Role, text: &str) -> Result<f64, QuantityError> {
    match role {
        Role::CapPressure | Role::RodPressure => {
            parse::<GaugePressure>(text).map(|q| q.quantity.si())
        }
        Role::Position => parse::<Length>(text).map(|q| q.quantity.si()),
        Role::OilTemperature | Role::WallTemperature => {
            parse::<Temperature>(text).map(|q| q.quantity.si())
        }
        Role::Supply => parse::<Voltage>(text).map(|q| q.quantity.si()),
    }
}

/// A difference of what a sensor measures, in SI.
pub(super) fn size_si(role: Role, text: &str) -> Result<f64, QuantityError> {
    match role {
        Role::CapPressure | Role::RodPressure => {
            parse::<GaugePressure>(text).map(|q| q.quantity.si())
        }
        Role::Position => parse::<Length>(text).map(|q| q.quantity.si()),
        Role::OilTemperature | Role::WallTemperature => {
            parse::<TemperatureInterval>(text).map(|q| q.quantity.si())
        }
        Role::Supply => parse::<Voltage>(text).map(|q| q.quantity.si()),
    }
}
