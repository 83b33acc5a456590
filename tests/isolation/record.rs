//! The record's fields: names, units, and what is left out.

use serde_json::Value;
use stillrod::certificate::IsolationFacts;
use stillrod::certificate::IsolationRecord;

use crate::scene;

fn record(facts: &IsolationFacts) -> Value {
    let text = IsolationRecord::from_facts(facts).to_json_pretty();
    serde_json::from_str(&text).expect("JSON")
}

fn way<'a>(record: &'a Value, word: &str) -> &'a Value {
    let ways = record["ways"].as_array().expect("ways");
    ways.iter().find(|w| w["way"] == word).expect(word)
}

#[track_caller]
fn close(value: &Value, expected: f64) {
    let value = value.as_f64().expect("a number");
    assert!((value - expected).abs() < 1e-9, "{value} is not {expected}");
}

#[test]
fn the_top_level_has_the_fields_scripts_rely_on() {
    let record = record(&scene::valve());
    let mut names: Vec<&str> = record
        .as_object()
        .expect("an object")
        .keys()
        .map(String::as_str)
        .collect();
    names.sort_unstable();
    assert_eq!(
        names.join(" "),
        "answer asked build cautions conclusion contradiction date exit_status investigation_id \
         limits method_version next_steps not_tested outcome patterns phases practice sheet shop \
         small_ml_per_min started_utc stillrod unit ways"
    );
    assert_eq!(record["sheet"], "isolation");
    assert_eq!(record["started_utc"], "2026-03-14T08:05:00.000Z");
    assert_eq!(record["answer"], "Valve");
    assert_eq!(record["asked"][0]["name"], "Oil outside");
}

#[test]
fn numbers_are_in_the_unit_of_their_name() {
    let record = record(&scene::valve());
    let valve = way(&record, "cap_valve_leakage");
    assert_eq!(valve["standing"], "leaks");
    assert_eq!(valve["of_cylinder"], false);
    close(&valve["best_ml_per_min"], 1.9);
    close(&valve["lower_ml_per_min"], 1.79);
    close(&valve["upper_ml_per_min"], 2.008);
    close(&valve["at_bar"], 96.0);
    assert_eq!(valve["driven_in_phases"][0], "A");
    let phase = &record["phases"][0];
    close(&phase["cap_pressure_start_bar"], 98.2);
    close(&phase["cap_pressure_end_bar"], 93.9);
    close(&phase["drift_mm_per_min"], -0.602);
    close(&phase["cap_loss_ml_per_min"], 1.904);
    close(&phase["cap_loss_expanded_ml_per_min"], 0.071);
    close(&phase["oil_temperature_degc"], 42.05);
    close(&phase["circuit"]["load_kn"], 30.0);
    assert_eq!(phase["circuit"]["cap_port"], "on_valve");
    assert_eq!(phase["seen"]["gland"], "dry");
    assert_eq!(phase["seen"]["rod_port"], "not_looked");
}

#[test]
fn an_upper_end_that_nothing_limits_is_null() {
    let mut facts = scene::open();
    facts.attribution.as_mut().expect("one").answers[0].upper_m3_per_s = f64::INFINITY;
    let record = record(&facts);
    let piston = way(&record, "piston_bypass");
    assert!(piston["upper_ml_per_min"].is_null());
    assert_eq!(piston["lower_ml_per_min"], 0.0);
    assert_eq!(
        piston["cannot_be_told_from"][0],
        "the cap-port plug or its hose"
    );
    // What was not driven has no figure at all.
    assert!(way(&record, "gland_leakage")["best_ml_per_min"].is_null());
}

#[test]
fn nothing_is_said_in_the_record_that_the_sheet_does_not_say() {
    let contradicted = record(&scene::contradiction());
    for way in contradicted["ways"].as_array().expect("ways") {
        assert!(way["best_ml_per_min"].is_null(), "{way}");
    }
    let full = record(&scene::full());
    let void = &full["phases"][3];
    assert_eq!(void["outcome"], "not_valid");
    assert!(void["cap_loss_ml_per_min"].is_null());
    close(&void["seen"]["collected_ml"], 3.2);
}
