//! The parts of the domain that coverage is looked at in.

use super::rows::Row;

/// A stratum: what it divides by, and the level of a row.
pub type Stratum = (&'static str, fn(&Row) -> String);

/// All strata.
pub const STRATA: [Stratum; 20] = [
    ("plumbing", |r| r.plumbing.clone()),
    ("bore", |r| {
        three(r.bore_mm, 50.5, 80.5, ["<= 50 mm", "63-80 mm", ">= 100 mm"])
    }),
    ("hold", |r| {
        three(r.hold_s, 180.0, 600.0, ["< 180 s", "180-600 s", "> 600 s"])
    }),
    ("settle", |r| {
        three(r.settle_s, 1.0, 300.0, ["none", "< 300 s", ">= 300 s"])
    }),
    ("leak", leak),
    ("exponent", exponent),
    ("air", |r| {
        three(r.air_percent, 0.3, 1.0, ["< 0.3 %", "0.3-1 %", "> 1 %"])
    }),
    ("|oil - wall|", |r| {
        three(
            r.oil_wall_k.abs(),
            0.5,
            1.5,
            ["< 0.5 K", "0.5-1.5 K", "> 1.5 K"],
        )
    }),
    ("ambient", |r| {
        three(
            r.ambient_k_min.abs(),
            0.03,
            0.07,
            ["< 0.03 K/min", "0.03-0.07 K/min", "> 0.07 K/min"],
        )
    }),
    ("sensors", |r| r.sensors.clone()),
    ("pressure", |r| {
        three(
            r.pressure_bar,
            50.0,
            150.0,
            ["< 50 bar", "50-150 bar", "> 150 bar"],
        )
    }),
    ("friction", |r| {
        three(
            r.friction_percent,
            1e-9,
            2.5,
            ["none", "< 2.5 %", "> 2.5 %"],
        )
    }),
    ("hose", |r| yes(r.hose)),
    ("stiffness measured", |r| yes(r.stiffness_measured)),
    ("wall known", |r| yes(r.wall_known)),
    ("probe in loaded chamber", |r| yes(r.probe_loaded)),
    ("other side charged", |r| yes(r.other_bar > 4.5)),
    ("pressures met", |r| yes(r.met)),
    ("ended by", |r| r.ended.clone()),
    ("sensors and hold", |r| {
        format!(
            "{}, {}",
            r.sensors,
            three(r.hold_s, 180.0, 600.0, ["< 180 s", "180-600 s", "> 600 s"])
        )
    }),
];

fn three(value: f64, low: f64, high: f64, words: [&str; 3]) -> String {
    let [below, between, above] = words;
    if value < low {
        below
    } else if value <= high {
        between
    } else {
        above
    }
    .into()
}

fn yes(is: bool) -> String {
    if is { "yes" } else { "no" }.into()
}

/// By the size of the figure itself where it is a flow, else of what the held side loses.
fn leak(row: &Row) -> String {
    let size = match row.unit.as_str() {
        "mL/min" => row.truth.abs(),
        _ => row.leak_ml_min.abs(),
    };
    match size {
        s if s < 1e-9 => "zero",
        s if s < 0.1 => "< 0.1 mL/min",
        s if s <= 1.0 => "0.1-1 mL/min",
        _ => "> 1 mL/min",
    }
    .into()
}

fn exponent(row: &Row) -> String {
    match row.exponent {
        None => "no leak",
        Some(n) if n < 0.501 => "0.5",
        Some(n) if n > 0.999 => "1",
        Some(_) => "between",
    }
    .into()
}
