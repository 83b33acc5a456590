//! The JSON record of a procedure.

use crate::scene::SOUND;
use crate::scene::not_done;
use serde_json::Value;
use stillrod::certificate::ProofFacts;
use stillrod::certificate::ProofRecord;
use stillrod::certificate::StepShown;

fn written(facts: &ProofFacts<'_>) -> Value {
    let text = ProofRecord::from_facts(facts).to_json_pretty();
    assert!(text.ends_with("}\n"));
    serde_json::from_str(&text).expect("JSON")
}

#[test]
fn steps_have_numbers_that_end_in_their_unit() {
    let record = written(&SOUND.facts());
    assert_eq!(record["sheet"], "proof");
    assert_eq!(record["outcome"], "pass");
    assert_eq!(record["exit_status"], 0);
    assert_eq!(record["procedure"]["name"], "rebuild-proof-double-acting");
    let steps = record["steps"].as_array().expect("steps");
    assert_eq!(steps.len(), 18);
    let zero = &steps[0];
    assert_eq!(
        (&zero["id"], &zero["outcome"]),
        (&"zero-before".into(), &Value::Null)
    );
    assert_eq!(zero["shown"]["what"], "vented");
    let mean = zero["shown"]["zeros"][1]["mean_bar"]
        .as_f64()
        .expect("a number");
    assert!((mean + 0.01).abs() < 1e-9);
    assert_eq!(zero["from_s"], 0.0);
    assert_eq!(zero["until_s"], 30.0);
    assert_eq!(steps[1]["shown"]["nominal_mm"], 400.0);
    assert_eq!(steps[2]["shown"]["chamber"], "cap");
    assert_eq!(steps[2]["shown"]["length_s"], 15.0);
    assert_eq!(steps[4]["shown"]["typed"], "1");
    assert_eq!(record["data"]["file"], "tv-0312-20260314-0805.h5");
    assert_eq!(record["data"]["sha256"].as_str().map(str::len), Some(64));
}

#[test]
fn a_hold_carries_the_whole_record_of_a_test_of_its_own() {
    let facts = SOUND.facts();
    let record = written(&facts);
    let hold = &record["steps"][5]["shown"];
    assert_eq!(hold["what"], "held");
    let StepShown::Held { facts: own, .. } = &facts.steps[5].shown else {
        panic!("a hold");
    };
    let alone: Value =
        serde_json::from_str(&stillrod::certificate::Record::from_facts(own).to_json_pretty())
            .expect("JSON");
    assert_eq!(hold["record"], alone);
    assert!(
        hold["record"]["figures"]
            .as_array()
            .is_some_and(|f| !f.is_empty())
    );
    let counted = hold["counted_from_s"].as_f64().expect("a time");
    let settling = hold["settling_from_s"].as_f64().expect("a time");
    assert!(
        (counted - settling - 60.0).abs() < 1.0,
        "{settling} {counted}"
    );
}

#[test]
fn a_step_that_was_not_done_says_only_that() {
    let reasons = ["not done: Proof, cap end".to_owned()];
    let record = written(&not_done(SOUND.facts(), "proof-cap", &reasons));
    assert_eq!(record["outcome"], "not_valid");
    assert_eq!(record["reasons"][0], reasons[0]);
    let step = &record["steps"][12];
    assert_eq!(step["shown"], serde_json::json!({ "what": "not_done" }));
}

#[test]
fn what_is_not_finite_is_null() {
    let mut facts = SOUND.facts();
    if let StepShown::Kept { between_pa, .. } = &mut facts.steps[2].shown {
        *between_pa = (f64::INFINITY, f64::NEG_INFINITY);
    }
    let record = written(&facts);
    assert_eq!(record["steps"][2]["shown"]["lowest_bar"], Value::Null);
}
