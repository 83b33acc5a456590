//! `stillrod calibrate`: points of a sensor against a reference, their curve, and how far
//! it can be trusted; nothing is measured here.
//!
//! Coefficients and residuals are shown in the units in which the points were written.

use super::conduct::NamedText;
use crate::channel::CalibratedBy;
use crate::channel::Role;
use crate::fit::Polynomial;
use crate::fit::polynomial;
use crate::fit::student_quantile;
use crate::settings::PointsCalibration;
use crate::settings::SensorSetup;
use crate::settings::sensors_of;
use anyhow::bail;
use std::fmt::Write;

/// A sensor's curve in words, and its table for a setup.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Calibrated {
    /// What the sensor measures.
    pub role: Role,
    /// Points, residuals, coefficients and uncertainties, for the screen.
    pub text: String,
    /// The table `[sensors.….calibration]` with what was found as remarks.
    pub block: String,
}

/// Fits the curves of all sensors with points in a file.
///
/// # Errors
/// If the file cannot be used, its points make no curve, or it has none.
pub fn calibrate(file: &NamedText) -> anyhow::Result<Vec<Calibrated>> {
    let sensors = sensors_of(&file.0, &file.1)?;
    let mut found = Vec::new();
    for sensor in &sensors {
        if let Some(points) = &sensor.calibration {
            let fitted = in_written_units(points)?;
            found.push(Calibrated {
                role: sensor.role,
                text: text(sensor, points, &fitted),
                block: block(sensor, points, &fitted),
            });
        }
    }
    if found.is_empty() {
        bail!(
            "{} has no points; write them in a table such as [sensors.p_cap.calibration]",
            file.0
        );
    }
    Ok(found)
}

fn in_written_units(points: &PointsCalibration) -> anyhow::Result<Polynomial> {
    let (reference, reading): (Vec<f64>, Vec<f64>) = points.written.iter().copied().unzip();
    Ok(polynomial(&reading, &reference, points.degree)?)
}

fn text(sensor: &SensorSetup, points: &PointsCalibration, fitted: &Polynomial) -> String {
    let (unit, read_in) = (&points.reference_in, &points.read_in);
    let mut out = String::new();
    let mut line = |text: String| {
        let _ = writeln!(out, "{}", text.trim_end());
    };
    let by = sensor.papers.by.map_or("", CalibratedBy::plain);
    line(format!(
        "{} {}: {} points on {} by {} ({by})",
        sensor.role.plain(),
        sensor.papers.serial,
        points.written.len(),
        points.date,
        points.who,
    ));
    line(format!(
        "Reference  {}, certificate {}, ± {} (k = 2)\n",
        points.reference, points.reference_certificate, points.reference_uncertainty
    ));
    let places = decimals(fitted.residual_sd);
    line(format!(
        "{:>5} {:>14} {:>14} {:>14} {:>14}",
        "point",
        format!("reference {unit}"),
        format!("reading {read_in}"),
        format!("curve {unit}"),
        format!("residual {unit}")
    ));
    for (index, (reference, reading)) in points.written.iter().enumerate() {
        line(format!(
            "{:>5} {reference:>14} {reading:>14} {:>14.places$} {:>14.places$}",
            index + 1,
            fitted.at(*reading),
            fitted.residuals()[index],
        ));
    }
    line(String::new());
    for found in findings(points, fitted) {
        line(found);
    }
    out
}

/// What was found, a line each.
fn findings(points: &PointsCalibration, fitted: &Polynomial) -> Vec<String> {
    let (unit, read_in) = (&points.reference_in, &points.read_in);
    let n_freedom = fitted.n_freedom();
    let factor = student_quantile(0.975, n_freedom as f64);
    let shape = match points.degree {
        1 => "value = a + b·reading",
        _ => "value = a + b·reading + c·reading²",
    };
    let mut lines = vec![format!(
        "Curve      {shape}, the reference regressed on the reading"
    )];
    for (index, name) in ["a", "b", "c"].iter().enumerate().take(points.degree + 1) {
        let expanded = factor * fitted.standard_error(index);
        let value = fitted.coefficients[index];
        let of_unit = match index {
            0 => unit.clone(),
            1 => format!("{unit}/{read_in}"),
            _ => format!("{unit}/{read_in}²"),
        };
        lines.push(format!(
            "  {name} = {} ± {} {of_unit}",
            to_last_place(value, expanded),
            to_last_place(expanded, expanded)
        ));
    }
    for (i, j, name) in [(0, 1, "a, b"), (0, 2, "a, c"), (1, 2, "b, c")] {
        if j <= points.degree {
            let covariance = fitted.covariance[(i, j)];
            let correlation = covariance / (fitted.standard_error(i) * fitted.standard_error(j));
            lines.push(format!(
                "  covariance ({name}) {covariance:.4e}, correlation {correlation:.3}"
            ));
        }
    }
    let si = points.si_per_unit;
    let curve = &points.curve;
    let residual = fitted.residual_sd;
    lines.push(format!(
        "Residuals  standard deviation {} {unit}, {n_freedom} degrees of freedom",
        to_last_place(residual, residual)
    ));
    let read = |reading: f64| fitted.at(reading);
    let readings = points.written.iter().map(|p| p.1);
    let (low, high) = readings.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), r| {
        (low.min(r), high.max(r))
    });
    let (start, end) = (read(low).min(read(high)), read(low).max(read(high)));
    let worst = 1.959_964 * curve.worst_standard_si() / si;
    lines.push(format!(
        "Span       {} to {} {unit}; beyond it by more than 2 % a hold is not valid",
        to_last_place(start, residual),
        to_last_place(end, residual)
    ));
    lines.push(format!(
        "Value      ± {} {unit} at worst (95 %), {:.3} % of the span: curve, one reading's scatter, reference",
        to_last_place(worst, worst),
        100.0 * worst / (end - start)
    ));
    let errors = curve.errors();
    let zero = errors.zero_si / si;
    lines.push(format!(
        "Account    reckons with zero {} {unit}, span {:.4} % (one sigma)",
        to_last_place(zero, zero),
        100.0 * errors.span_relative
    ));
    lines
}

/// The table as it is pasted into a setup.
fn block(sensor: &SensorSetup, points: &PointsCalibration, fitted: &Polynomial) -> String {
    let role = sensor.role.word();
    let by = sensor.papers.by.map_or("", CalibratedBy::word);
    let mut out =
        format!("# Goes below [sensors.{role}], which says `calibrated_by = \"{by}\"`.\n");
    for line in findings(points, fitted) {
        let _ = writeln!(out, "# {line}");
    }
    let _ = writeln!(out, "[sensors.{role}.calibration]");
    for (key, text) in [
        ("date", &points.date),
        ("who", &points.who),
        ("reference", &points.reference),
        ("reference_certificate", &points.reference_certificate),
        ("reference_in", &points.reference_in),
        ("reference_uncertainty", &points.reference_uncertainty),
        ("read_in", &points.read_in),
    ] {
        let _ = writeln!(out, "{key} = {}", quoted(text));
    }
    let _ = writeln!(out, "degree = {}\npoints = [", points.degree);
    for (reference, reading) in &points.written {
        let _ = writeln!(out, "  [{reference:?}, {reading:?}],");
    }
    out + "]\n"
}

/// A text as a basic string of a settings file.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out + "\""
}

/// Places behind the point at which `size` has two digits.
fn decimals(size: f64) -> usize {
    let places = 1.0 - size.abs().log10().floor();
    if places.is_finite() {
        places.clamp(0.0, 15.0) as usize
    } else {
        6
    }
}

/// A number to the second digit of its uncertainty.
fn to_last_place(value: f64, uncertainty: f64) -> String {
    format!("{value:.*}", decimals(uncertainty))
}
