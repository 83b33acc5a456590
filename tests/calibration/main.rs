//! Sensors calibrated by points: certified and published sets, settings files with points,
//! and what the curve does to a hold that is judged.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod bench;
#[path = "../support/strd.rs"]
mod strd;

use std::fs;
use std::path::Path;
use stillrod::channel::Curve;
use stillrod::channel::CurvePoint;
use stillrod::channel::ReadIn;
use stillrod::channel::Role;
use strd::certified;
use strd::digits;
use strd::parameters;
use strd::rows;
use strd::text;

/// A curve through pairs of reference and reading.
fn curve(role: Role, pairs: &[(f64, f64)], degree: usize) -> Curve {
    let point = |&(reference_si, reading)| CurvePoint {
        reference_si,
        reading,
    };
    let points = pairs.iter().map(point).collect();
    Curve::through(role, ReadIn::Counts, points, degree, 1e-9).expect("a curve")
}

/// NIST StRD Norris (ozone monitors, a line) and Pontius (a load cell, a parabola): no
/// point of them is called far out, and the curve has the certified figures.
#[test]
fn the_certified_calibrations_come_out_with_their_digits() {
    for (name, degree, needed) in [("Norris", 1, 11.5), ("Pontius", 2, 12.5)] {
        let file = text(name);
        let pairs: Vec<(f64, f64)> = rows(&file).iter().map(|row| (row[0], row[1])).collect();
        let found = curve(Role::Position, &pairs, degree);
        let fitted = found.fitted();
        for (index, row) in parameters(&file, 'B').iter().enumerate() {
            assert!(
                digits(fitted.coefficients[index], row[0]) > needed,
                "{name}"
            );
            assert!(
                digits(fitted.standard_error(index), row[1]) > needed,
                "{name}"
            );
        }
        let below = file.split_once("Residual").expect("a table").1;
        let sd = certified(below, "Standard Deviation");
        assert!(digits(found.residual_sd_si(), sd) > needed, "{name}");
    }
}

fn load_cell() -> Vec<(f64, f64)> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/series/LOADCELL.DAT");
    let file = fs::read_to_string(path).expect("a copied file");
    let rows = file.lines().skip(25).filter_map(|line| {
        let mut numbers = line.split_whitespace().map(str::parse::<f64>);
        Some((numbers.next()?.ok()?, numbers.next()?.ok()?))
    });
    rows.collect()
}

/// NIST/SEMATECH e-Handbook 2.3.6.5, load cell: 33 readings at 11 loads. The handbook
/// regresses the response on the load (residual deviation 0.0000376) and turns its parabola
/// round; a response of 1.344 is the load 13.4138 ± 0.0004 then, by a computation with 60
/// digits. Regressed the way of a calibration by points it must be the same load.
#[test]
fn a_load_cell_reads_the_load_of_the_handbook_without_turning_its_curve_round() {
    let pairs = load_cell();
    assert_eq!(pairs.len(), 33);
    let turned: Vec<(f64, f64)> = pairs.iter().map(|(load, read)| (*read, *load)).collect();
    let response = curve(Role::Position, &turned, 2);
    assert!((response.residual_sd_si() - 0.000_037_6).abs() < 5e-8);
    let found = curve(Role::Position, &pairs, 2);
    let load = found.value(1.344);
    let (expected, standard) = (13.413_784_402_602_865, 0.000_387_869_089_734);
    assert!((load - expected).abs() < 0.1 * standard, "{load}");
    // One reading's scatter and the curve's own, before they are widened for 30 degrees.
    let by_scatter = found
        .fitted()
        .standard_at(1.344)
        .hypot(found.residual_sd_si());
    assert!((by_scatter / standard - 1.0).abs() < 0.02, "{by_scatter}");
    assert!((found.standard_at(1.344) / by_scatter / found.widening() - 1.0).abs() < 1e-6);
    // A line through the same points leaves ten times the scatter.
    let line = curve(Role::Position, &pairs, 1);
    assert!(line.residual_sd_si() > 3.0 * found.residual_sd_si());
}

/// JCGM 100 H.3, thermometer: corrections b against readings t, y₁ + y₂·(t − 20 °C).
const THERMOMETER: [(f64, f64); 11] = [
    (-0.171, 21.521),
    (-0.169, 22.012),
    (-0.166, 22.512),
    (-0.159, 23.003),
    (-0.164, 23.507),
    (-0.165, 23.999),
    (-0.156, 24.513),
    (-0.157, 25.002),
    (-0.159, 25.503),
    (-0.161, 26.010),
    (-0.160, 26.511),
];

/// H.3 prints y₁ = −0.1712 (0.0029), y₂ = 0.002 18 (0.000 67), r = −0.930, s = 0.0035, and
/// at 30 °C −0.1494 with u = 0.0041.
#[test]
fn a_thermometer_has_the_curve_and_the_uncertainty_of_the_guide() {
    let moved: Vec<(f64, f64)> = THERMOMETER.iter().map(|(b, t)| (*b, t - 20.0)).collect();
    let found = curve(Role::OilTemperature, &moved, 1);
    let fitted = found.fitted();
    let near = |value: f64, printed: f64, last: f64| {
        assert!(
            (value - printed).abs() <= 0.5 * last + 1e-9,
            "{value} {printed}"
        );
    };
    near(fitted.coefficients[0], -0.1712, 1e-4);
    near(fitted.coefficients[1], 0.002_18, 1e-5);
    near(fitted.standard_error(0), 0.0029, 1e-4);
    near(fitted.standard_error(1), 0.000_67, 1e-5);
    let correlation =
        fitted.covariance[(0, 1)] / (fitted.standard_error(0) * fitted.standard_error(1));
    near(correlation, -0.930, 1e-3);
    near(found.residual_sd_si(), 0.0035, 1e-4);
    near(found.value(10.0), -0.1494, 1e-4);
    near(fitted.standard_at(10.0), 0.0041, 1e-4);
}
