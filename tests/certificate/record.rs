//! The record's fields: names, units, and what is left out.

use serde_json::Value;
use stillrod::account::FigureName;
use stillrod::certificate::Record;
use stillrod::verdict::DecisionRule;
use stillrod::verdict::Outcome;

use crate::scene::Scene;

fn record(scene: &Scene) -> Value {
    let text = Record::from_facts(&scene.facts()).to_json_pretty();
    serde_json::from_str(&text).expect("JSON")
}

fn figure<'a>(record: &'a Value, name: &str) -> &'a Value {
    let figures = record["figures"].as_array().expect("figures");
    figures.iter().find(|f| f["name"] == name).expect(name)
}

#[test]
fn the_top_level_has_the_fields_scripts_rely_on() {
    let record = record(&Scene::new(Outcome::Pass));
    let mut names: Vec<&str> = record
        .as_object()
        .expect("an object")
        .keys()
        .map(String::as_str)
        .collect();
    names.sort_unstable();
    assert_eq!(
        names,
        [
            "certificate_number",
            "data",
            "decision_rule",
            "exit_status",
            "figures",
            "findings",
            "flags",
            "forecast",
            "hold",
            "limits",
            "method_version",
            "outcome",
            "practice",
            "reasons",
            "run_id",
            "sensors",
            "started_utc",
            "stillrod",
            "unit",
        ]
    );
    assert_eq!(record["outcome"], "pass");
    assert_eq!(record["exit_status"], 0);
    assert_eq!(record["started_utc"], "2026-03-14T08:05:00.000Z");
    assert_eq!(record["hold"]["from_s"], 60.0);
    assert_eq!(record["unit"]["tag"], "TV-0312");
    assert_eq!(record["decision_rule"]["rule"], "guarded");
    assert_eq!(record["decision_rule"]["probability"], 0.95);
    assert_eq!(record["data"]["gaps"][0]["cause"], "lost");
    assert_eq!(record["data"]["n_samples_lost"], 140);
    assert_eq!(record["sensors"][0]["serial"], "P-11");
}

#[test]
fn numbers_are_in_the_unit_beside_them() {
    let record = record(&Scene::new(Outcome::Pass));
    let close = |value: &Value, expected: f64| {
        let value = value.as_f64().expect("a number");
        assert!((value - expected).abs() < 1e-9, "{value} is not {expected}");
    };
    let cap = figure(&record, "cap_loss");
    assert_eq!(cap["unit"], "mL/min");
    close(&cap["value"], 0.06);
    close(&cap["expanded_uncertainty"], 0.02);
    close(&cap["lower"], 0.04);
    close(&cap["upper"], 0.08);
    close(&cap["at"]["p_cap_bar"], 160.0);
    close(&cap["at"]["t_oil_degc"], 45.6);
    close(&cap["at"]["x_mm"], 212.0);
    close(&cap["mean_over_hold"]["value"], 0.0588);
    close(
        &cap["budget"][0]["standard_uncertainty"],
        0.01 * 0.52f64.sqrt(),
    );
    close(&figure(&record, "drift")["value"], -0.021);
    assert!(figure(&record, "drift").get("mean_over_hold").is_none());
    close(&record["limits"][0]["limit_value"], 0.12);
    assert_eq!(record["limits"][0]["as_typed"], "0,12 mL/min");
    assert_eq!(record["sensors"][3]["unit"], "degc");
    close(&record["sensors"][3]["range_high"], 100.0);
}

#[test]
fn a_path_that_can_only_be_bounded_has_no_value() {
    let record = record(&Scene::new(Outcome::Pass));
    let gland = figure(&record, "gland_leakage");
    assert!(gland.get("value").is_none() && gland.get("expanded_uncertainty").is_none());
    assert!((gland["upper"].as_f64().expect("an end") - 0.027).abs() < 1e-9);
}

#[test]
fn what_is_not_finite_never_becomes_a_number() {
    let mut scene = Scene::new(Outcome::Pass);
    for figure in &mut scene.evaluation.figures {
        figure.lower_si = f64::NEG_INFINITY;
        figure.upper_si = f64::NAN;
        figure.at.p_cap_pa = Some(f64::NAN);
        if let Some(measured) = &mut figure.measured {
            measured.value_si = f64::NAN;
        }
    }
    scene.verdict.judged[0].number = Some(f64::INFINITY);
    scene.verdict.rule = DecisionRule::Guarded {
        probability: f64::NAN,
    };
    let record = record(&scene);
    let cap = figure(&record, "cap_loss");
    assert!(cap.get("value").is_none());
    assert!(cap["lower"].is_null() && cap["upper"].is_null());
    assert!(cap["at"]["p_cap_bar"].is_null());
    assert!(record["limits"][0]["value"].is_null());
}

#[test]
fn practice_and_a_missing_number_are_null_when_absent() {
    let mut scene = Scene::new(Outcome::Pass).in_earnest();
    scene.number = None;
    let record = record(&scene);
    assert!(record["practice"].is_null());
    assert!(record["certificate_number"].is_null());
}

#[test]
fn a_recording_that_could_not_be_evaluated_still_has_a_record() {
    let scene = Scene::new(Outcome::NotValid);
    let mut facts = scene.facts();
    facts.evaluation = None;
    let text = Record::from_facts(&facts).to_json_pretty();
    let record: Value = serde_json::from_str(&text).expect("JSON");
    assert!(record["hold"].is_null());
    assert_eq!(record["figures"].as_array().map(Vec::len), Some(0));
    assert_eq!(record["exit_status"], 30);
    assert_eq!(record["flags"][1]["weight"], "voids");
}

#[test]
fn names_of_figures_are_those_of_the_evaluation() {
    let record = record(&Scene::new(Outcome::Measured));
    for figure in record["figures"].as_array().expect("figures") {
        let name = figure["name"].as_str().expect("a name");
        assert!(FigureName::from_word(name).is_some(), "{name}");
    }
}
