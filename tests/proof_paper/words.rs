//! What the paper of a procedure says.

use crate::scene::FREE;
use crate::scene::SOUND;
use crate::scene::WORN;
use crate::scene::not_done;
use stillrod::certificate::ProofPaper;
use stillrod::certificate::Standing;
use stillrod::certificate::StepRow;
use stillrod::certificate::StepShown;
use stillrod::certificate::compose_proof;
use stillrod::quantity::UnitSystem;
use stillrod::verdict::Outcome;

#[track_caller]
fn row<'a>(paper: &'a ProofPaper, title: &str) -> &'a StepRow {
    let mut rows = paper.steps.iter();
    rows.find(|row| row.title == title)
        .unwrap_or_else(|| panic!("no row {title}"))
}

#[test]
fn a_pass_names_how_many_holds_at_which_places_within_which_limit() {
    let paper = compose_proof(&SOUND.facts());
    let said = &paper.outcome_sentence;
    assert_eq!(paper.outcome_word, "Pass", "{said} {:#?}", paper.steps);
    assert_eq!(paper.title, "Certificate of a cylinder test");
    assert_eq!(paper.procedure, "Rebuild proof, double acting");
    for part in [
        "All 6 holds are within their limit of 0.12 mL/min: ",
        "cap end at 20 mm, 200 mm 3 times and 380 mm",
        "rod end at 200 mm",
        "Nearest to its limit, step ",
        "3 readings by people pass too.",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert!(paper.marks.is_empty());
}

#[test]
fn every_step_has_its_row_in_order() {
    let facts = SOUND.facts();
    let paper = compose_proof(&facts);
    let numbers: Vec<usize> = paper.steps.iter().map(|r| r.number).collect();
    assert!(numbers.is_sorted());
    for (index, step) in facts.steps.iter().enumerate() {
        let found = row(&paper, &step.title);
        assert_eq!(found.number, index + 1);
        assert!(!found.is_further);
    }
    let result = |title: &str| row(&paper, title).result.clone();
    assert_eq!(
        result("Zero before"),
        "cap 0.020 ± 0.010 bar / rod −0.010 ± 0.010 bar"
    );
    assert_eq!(
        result("Run in and bleed"),
        "3 full strokes; 399.8 mm of 400"
    );
    assert_eq!(
        result("Proof, cap end"),
        "cap end 240 to 246 bar for 20 s; asked for 240"
    );
    assert_eq!(
        result("Low pressure, rod end"),
        "rod end 5.4 to 5.4 bar for 15 s; asked for 5.0"
    );
    assert_eq!(
        result("Outside after proof"),
        "class 1: moist once, does not come again; typed “1”"
    );
    assert_eq!(result("Drained and plugged"), "done");
    let looked = row(&paper, "Outside after proof");
    assert_eq!(
        (looked.limit.as_str(), looked.outcome),
        ("within class 1 (depot sheet 4)", "Pass")
    );
    let proof = row(&paper, "Proof, cap end");
    assert_eq!(proof.place, "400 mm (100 %)");
    assert!(
        proof.at.contains("cap 243 bar") && proof.at.contains("42 °C"),
        "{}",
        proof.at
    );
    assert_eq!(proof.outcome, "");
}

#[test]
fn a_hold_has_a_row_for_each_judged_figure_with_place_and_limit() {
    let paper = compose_proof(&SOUND.facts());
    let found = row(&paper, "Piston seal, nearly in");
    assert_eq!(found.place, "20 mm (5 %)");
    assert!(found.is_hold);
    assert!(
        found.result.starts_with("Oil lost from the cap side: "),
        "{found:?}"
    );
    assert!(
        found.at.contains("cap 1") && found.at.contains("bar"),
        "{found:?}"
    );
    assert!(found.limit.starts_with("0.12 mL/min"), "{found:?}");
    assert_eq!(found.outcome, "Pass");
    // The repeats stand on rows of their own.
    let repeats = paper.steps.iter().filter(|r| r.title.contains(" of 3)"));
    assert_eq!(repeats.count(), 3);
    // One source needs no letter.
    assert_eq!(
        paper.limit_sources,
        ["depot worked example 2026, rebuilt 63 mm bore"]
    );
}

#[test]
fn several_limits_and_sources_have_rows_and_letters() {
    let mut facts = SOUND.facts();
    let step = facts
        .steps
        .iter_mut()
        .find(|s| s.id == "seal-in")
        .expect("a step");
    let StepShown::Held { facts: hold, .. } = &mut step.shown else {
        panic!("a hold");
    };
    let mut verdict = hold.verdict.clone();
    let mut second = verdict.judged[0].clone();
    second.limit.source = "agreement with the plough crew".into();
    verdict.judged.push(second);
    hold.verdict = &verdict;
    let paper = compose_proof(&facts);
    let rows: Vec<&StepRow> = paper.steps.iter().filter(|r| r.number == 6).collect();
    assert_eq!(rows.len(), 2);
    assert!(
        rows[1].is_further && rows[1].limit.ends_with(" (B)"),
        "{rows:?}"
    );
    assert_eq!(paper.limit_sources.len(), 2);
    assert!(paper.limit_sources[1].starts_with("B: agreement with"));
}

#[test]
fn a_fail_names_step_figure_and_limit() {
    let paper = compose_proof(&WORN.facts());
    let said = &paper.outcome_sentence;
    assert_eq!(paper.outcome_word, "Fail", "{said}");
    assert!(
        said.starts_with("Step 7 (Piston seal, middle of the stroke (1 of 3)): Oil lost"),
        "{said}"
    );
    assert!(
        said.contains("Limit rebuilt-63-cap-loss: 0.12 mL/min."),
        "{said}"
    );
    assert!(said.contains("3 of 9 judged steps fail."), "{said}");
    assert_eq!(paper.marks.len(), 1);
    assert_eq!(paper.marks[0].big, "PRACTICE");
}

#[test]
fn an_outside_that_is_too_wet_fails_by_its_own_words() {
    let mut facts = SOUND.facts();
    let step = facts
        .steps
        .iter_mut()
        .find(|s| s.id == "outside")
        .expect("a step");
    step.outcome = Some(Outcome::Fail);
    step.reason = "class 4, a drop forms and falls: over class 1 (depot sheet 4)".into();
    facts.outcome = Outcome::Fail;
    let said = compose_proof(&facts).outcome_sentence;
    assert_eq!(
        said,
        "Step 12 (Outside after the rod end held): Class 4, a drop forms and falls: over class 1 (depot sheet 4)."
    );
}

#[test]
fn a_step_that_was_not_done_makes_a_report_and_is_not_tested() {
    let reasons = ["not done: Proof, cap end".to_owned()];
    let facts = not_done(SOUND.facts(), "proof-cap", &reasons);
    let paper = compose_proof(&facts);
    assert_eq!(paper.title, "Report of a cylinder test");
    assert_eq!(paper.outcome_word, "Not valid");
    assert_eq!(paper.outcome_sentence, "Not done: Proof, cap end.");
    let found = row(&paper, "Proof, cap end");
    assert_eq!(
        (found.result.as_str(), found.at.as_str(), found.outcome),
        ("not done", "–", "")
    );
    assert!(paper.not_tested[0].contains("Proof, cap end: not done"));
    assert!(
        paper
            .marks
            .iter()
            .any(|m| m.line == "REPORT, not a certificate")
    );
}

#[test]
fn repeats_that_disagree_leave_it_undecided_with_the_reason() {
    let reasons = [
        "repeated holds do not agree: Oil lost from the cap side of 0.02, 0.09 mL/min".to_owned(),
    ];
    let mut facts = SOUND.facts();
    facts.outcome = Outcome::Undecided;
    facts.reasons = &reasons;
    let paper = compose_proof(&facts);
    assert!(
        paper
            .outcome_sentence
            .starts_with("Repeated holds do not agree: ")
    );
    assert!(
        !paper.remarks.iter().any(|r| r.starts_with("Repeated")),
        "said twice"
    );
}

#[test]
fn without_limits_it_is_a_report_of_what_was_measured() {
    let paper = compose_proof(&FREE.facts());
    assert_eq!(paper.outcome_word, "Measured");
    let said = &paper.outcome_sentence;
    assert!(
        said.starts_with("Nothing is over a limit, but not everything has one."),
        "{said}"
    );
    assert!(said.contains("Oil lost from the cap side"), "{said}");
    assert_eq!(paper.title, "Report of a cylinder test");
    assert_eq!(row(&paper, "Piston seal, nearly in").outcome, "Measured");
    assert!(paper.limit_sources.is_empty());
    assert!(
        paper.rule.starts_with("No limit was chosen"),
        "{}",
        paper.rule
    );
}

#[test]
fn what_was_tested_and_what_was_not_follow_the_steps() {
    let paper = compose_proof(&SOUND.facts());
    assert_eq!(paper.places.len(), 2, "{:?}", paper.places);
    assert!(
        paper.places[0].contains("20 mm (5 %); 200 mm (50 %), 3 times; 380 mm (95 %)"),
        "{:?}",
        paper.places
    );
    assert!(
        paper.places[1].starts_with("rod end holding at 1"),
        "{:?}",
        paper.places
    );
    let not = paper.not_tested.join("\n");
    for part in [
        "the stroke between the places named",
        "pressures above 246 bar",
        "oil colder than ",
        "drift under a held load",
        "the machine's own valves and hoses",
        "scores and dents",
    ] {
        assert!(not.contains(part), "{part}: {not}");
    }
    assert!(
        !not.contains("proof pressure") && !not.contains("full stroke"),
        "{not}"
    );
}

#[test]
fn ends_alone_without_proof_or_eyes_say_so() {
    let mut facts = SOUND.facts();
    facts
        .steps
        .retain(|s| ["seal-in", "seal-out"].contains(&s.id.as_str()));
    facts.deciding = Some(0);
    let not = compose_proof(&facts).not_tested.join("\n");
    for part in [
        "the middle of the stroke: only its ends were tested",
        "the piston seal with the rod side holding",
        "proof pressure, and any above 1",
        "gland, rod and ports by eye",
        "full stroke",
    ] {
        assert!(not.contains(part), "{part}: {not}");
    }
}

#[test]
fn one_end_alone_is_not_said_as_both() {
    let mut facts = SOUND.facts();
    facts.steps.retain(|s| s.id == "seal-in");
    facts.deciding = Some(0);
    let paper = compose_proof(&facts);
    assert!(
        paper.not_tested[0].contains("beyond the one end"),
        "{:?}",
        paper.not_tested
    );
    assert!(
        paper
            .outcome_sentence
            .starts_with("The hold is within its limit of 0.12 mL/min: cap end at 20 mm. Oil lost"),
        "{}",
        paper.outcome_sentence
    );
}

#[test]
fn an_inch_shop_reads_inches_and_psi() {
    let mut facts = SOUND.facts();
    facts.units = UnitSystem::Inch;
    for step in &mut facts.steps {
        if let StepShown::Held { facts: hold, .. } = &mut step.shown {
            hold.units = UnitSystem::Inch;
        }
    }
    let paper = compose_proof(&facts);
    assert_eq!(
        row(&paper, "Run in and bleed").result,
        "3 full strokes; 15.740 in of 15.75"
    );
    assert_eq!(
        row(&paper, "Proof, cap end").result,
        "cap end 3481 to 3568 psi for 20 s; asked for 3481"
    );
    assert!(row(&paper, "Zero before").result.contains("psi"));
    let limit = &row(&paper, "Piston seal, nearly in").limit;
    assert!(limit.starts_with("0.12 mL/min (0.0073"), "{limit}");
}

#[test]
fn duplicate_and_withdrawn_are_marked() {
    let mut facts = SOUND.facts();
    facts.standing = Standing::Duplicate;
    assert_eq!(
        compose_proof(&facts).marks[0].line,
        "DUPLICATE, printed again"
    );
    facts.standing = Standing::Withdrawn("sensor found damaged".into());
    let paper = compose_proof(&facts);
    assert_eq!(paper.marks[0].line, "WITHDRAWN: sensor found damaged");
}

#[test]
fn where_steps_come_from_is_said_once_for_each_source() {
    let paper = compose_proof(&SOUND.facts());
    assert!(
        paper.step_sources.contains(
            &"Steps 6, 7, 8, 9, 10, 11: several places: common practice, no source".into()
        ),
        "{:?}",
        paper.step_sources
    );
    assert!(paper.cautions[0].contains("not a lifting approval"));
    assert!(paper.code_text.contains("outcome pass"));
    assert!(paper.provenance.iter().any(|(name, _)| name == "SHA-256"));
    assert!(
        paper
            .run
            .iter()
            .any(|(name, text)| name == "Steps" && text == "18 of 18 done")
    );
}
