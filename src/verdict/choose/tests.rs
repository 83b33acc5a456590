//! Rows by what was measured: one, none, two; edges; conversions at the very limit.

use super::*;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::account::Measured;
use crate::verdict::Band;
use crate::verdict::Basis;
use crate::verdict::DecisionRule;
use crate::verdict::Row;
use crate::verdict::judge;

const ML_MIN: f64 = 1e-6 / 60.0;
const ZERO_C: f64 = 273.15;

fn band(from: f64, to: f64) -> Band {
    Band {
        from_si: from,
        to_si: to,
        text: format!("{from} to {to}"),
    }
}

/// A row for oil between two temperatures in °C and pressures in bar.
fn row(index: usize, number: f64, oil: (f64, f64), bar: (f64, f64)) -> Limit {
    Limit {
        id: "table".into(),
        figure: FigureName::CapLoss,
        number,
        unit: "mL/min".into(),
        si_per_unit: ML_MIN,
        text: format!("{number} mL/min"),
        at_pressure: None,
        at_temperature: None,
        source: "test".into(),
        basis: Basis {
            row: Some(Row {
                words: format!("row {index}"),
                oil: Some(band(oil.0 + ZERO_C, oil.1 + ZERO_C)),
                pressure: Some(band(bar.0 * 1e5, bar.1 * 1e5)),
            }),
            ..Basis::default()
        },
    }
}

fn table() -> Vec<Limit> {
    vec![
        row(1, 0.1, (20.0, 30.0), (100.0, 150.0)),
        row(2, 0.2, (30.0, 40.0), (100.0, 150.0)),
        // Nothing between 40 and 45 °C.
        row(3, 0.3, (45.0, 55.0), (100.0, 150.0)),
    ]
}

fn state(celsius: Option<f64>, bar: Option<f64>) -> Conditions {
    Conditions {
        t_oil_k: celsius.map(|c| c + ZERO_C),
        p_holding_pa: bar.map(|bar| bar * 1e5),
        ..Conditions::default()
    }
}

fn evaluation(value_si: f64, over_hold: Conditions, at: Conditions) -> Evaluation {
    let measured = Measured {
        value_si,
        standard_si: 0.001 * ML_MIN,
    };
    Evaluation {
        method_version: 1,
        hold_s: (0.0, 600.0),
        over_hold,
        figures: vec![Figure::measured(
            FigureName::CapLoss,
            measured,
            Vec::new(),
            at,
        )],
        lines: Vec::new(),
        findings: Vec::new(),
        doubts: Vec::new(),
        met: None,
        shares_load: false,
        by_heat_m_per_s: None,
        turn: None,
        evened: None,
        counted: None,
        forecast: None,
    }
}

fn judged(limits: &[Limit], found: Conditions) -> Judged {
    let evaluation = evaluation(0.05 * ML_MIN, found, found);
    let verdict = judge(Ok(&evaluation), &[], limits, DecisionRule::Simple);
    assert_eq!(verdict.judged.len(), 1);
    verdict.judged[0].clone()
}

#[test]
fn every_state_belongs_to_one_row_or_is_no_pass() {
    let edges = [20.0, 30.0, 40.0, 45.0, 55.0];
    let about = |t: f64| [t - 0.01, t, t + 0.01];
    for celsius in edges.into_iter().flat_map(about) {
        let expected = match celsius {
            t if (20.0..30.0).contains(&t) => Some("row 1"),
            t if (30.0..40.0).contains(&t) => Some("row 2"),
            t if (45.0..55.0).contains(&t) => Some("row 3"),
            _ => None,
        };
        let found = judged(&table(), state(Some(celsius), Some(120.0)));
        let words = found.limit.basis.row.as_ref().map(|r| r.words.as_str());
        match expected {
            Some(row) => {
                assert_eq!(words, Some(row), "{celsius}");
                assert_eq!(found.outcome, Outcome::Pass);
            }
            None => {
                assert_eq!(found.outcome, Outcome::Undecided, "{celsius}");
                assert!(found.reason.contains("no row"), "{}", found.reason);
                assert!(found.limit.number.is_nan() && found.number.is_none());
            }
        }
    }
}

#[test]
fn a_gap_names_the_nearest_rows_first_and_what_was_measured() {
    let found = judged(&table(), state(Some(44.0), Some(120.0)));
    assert_eq!(
        found.reason,
        "no row of the table is for 44.0 °C oil and 120.0 bar; near: row 3 / row 2 / row 1. Nothing is taken from \
         between rows: hold within a row, or give the table a row with its source"
    );
    let found = judged(&table(), state(Some(25.0), Some(151.0)));
    assert!(
        found.reason.contains("151.0 bar; near: row 1"),
        "{}",
        found.reason
    );
}

#[test]
fn what_was_not_measured_is_in_no_row() {
    for (found, says) in [
        (
            state(None, Some(120.0)),
            "an oil temperature that was not measured",
        ),
        (state(Some(25.0), None), "a pressure that was not measured"),
        (state(Some(f64::NAN), Some(120.0)), "no row"),
    ] {
        let judged = judged(&table(), found);
        assert_eq!(judged.outcome, Outcome::Undecided);
        assert!(judged.reason.contains(says), "{}", judged.reason);
    }
}

#[test]
fn two_rows_for_one_state_decide_nothing() {
    let mut limits = table();
    limits.push(row(4, 9.0, (20.0, 25.0), (100.0, 150.0)));
    let found = judged(&limits, state(Some(22.0), Some(120.0)));
    assert_eq!(found.outcome, Outcome::Undecided);
    assert!(
        found.reason.starts_with("more than one row"),
        "{}",
        found.reason
    );
}

/// The mean of a warming hold is in row 2, its start, where a flow is stated, in row 1.
#[test]
fn a_flow_that_is_stated_outside_of_its_row_decides_nothing() {
    let (mean, start) = (
        state(Some(31.0), Some(120.0)),
        state(Some(29.0), Some(120.0)),
    );
    let evaluation = evaluation(0.05 * ML_MIN, mean, start);
    let verdict = judge(Ok(&evaluation), &[], &table(), DecisionRule::Simple);
    assert_eq!(verdict.outcome, Outcome::Undecided);
    let reason = &verdict.judged[0].reason;
    assert!(
        reason.contains("row 2, but the flow is stated for 29.0 °C"),
        "{reason}"
    );
}

#[test]
fn a_broken_hold_has_one_answer_for_a_table() {
    let verdict = judge(Err("no hold".into()), &[], &table(), DecisionRule::Simple);
    assert_eq!(verdict.judged.len(), 1);
    assert_eq!(verdict.outcome, Outcome::NotValid);
}

/// Drops, cc and in³ over many numbers: what is at the limit as typed passes, the next value
/// above it does not, whatever the conversion rounds to.
#[test]
fn no_conversion_moves_a_value_over_its_limit() {
    let inch_m: f64 = 0.0254;
    let units = [
        ("drops/min", 0.05e-6 / 60.0),
        ("cc in 10 min", 1e-6 / 600.0),
        ("in³/min", inch_m * inch_m * inch_m / 60.0),
        ("in³ in 3 min", inch_m * inch_m * inch_m / 180.0),
    ];
    for (unit, si_per_unit) in units {
        for step in 1..2000 {
            let number = f64::from(step) * 0.013;
            let limit = Limit {
                number,
                unit: unit.into(),
                si_per_unit,
                basis: Basis::default(),
                ..row(1, number, (0.0, 1.0), (0.0, 1.0))
            };
            // The float nearest to the product, and on which side of it the product is.
            let product = number * si_per_unit;
            let is_above = number.mul_add(si_per_unit, -product) < 0.0;
            let largest = if is_above {
                product.next_down()
            } else {
                product
            };
            for (value, outcome) in [(largest, Outcome::Pass), (largest.next_up(), Outcome::Fail)] {
                let state = Conditions::default();
                let found = judge(
                    Ok(&evaluation(value, state, state)),
                    &[],
                    std::slice::from_ref(&limit),
                    DecisionRule::Simple,
                );
                assert_eq!(found.outcome, outcome, "{number} {unit}");
            }
        }
    }
}

#[test]
fn a_reason_says_what_a_limit_was_multiplied_with_and_that_the_hold_was_shorter() {
    let limit = Limit {
        basis: Basis {
            row: None,
            bore_area_m2: Some(31.17e-4),
            load_ratio: Some(2.4),
            over_s: Some(900.0),
        },
        ..row(1, 1.0, (0.0, 1.0), (0.0, 1.0))
    };
    let found = judged(std::slice::from_ref(&limit), Conditions::default());
    for words in [
        "rod speed × bore area of 31.17 cm²",
        "at the load, which moves 2.4 times as far as the rod",
        "the hold counted 10 of the 15 min, so rates are compared",
    ] {
        assert!(found.reason.contains(words), "{}", found.reason);
    }
    assert_eq!(
        limit.origin(),
        "test; rod speed × bore area of 31.17 cm²; at the load, which moves 2.4 times as far as the rod"
    );
}
