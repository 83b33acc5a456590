//! What the paper says, outcome by outcome.

use stillrod::certificate::Paper;
use stillrod::certificate::Standing;
use stillrod::certificate::compose;
use stillrod::channel::CalibratedBy;
use stillrod::circuit::Port;
use stillrod::recording::Parts;
use stillrod::recording::Recording;
use stillrod::verdict::DecisionRule;
use stillrod::verdict::Outcome;

use crate::scene::Scene;

fn paper(outcome: Outcome) -> Paper {
    compose(&Scene::new(outcome).in_earnest().facts())
}

const CAP: &str = "Oil lost from the cap side: 0.060 ± 0.020 mL/min at 160 bar, 46 °C.";

#[test]
fn a_pass_names_the_figure_nearest_to_its_limit() {
    let paper = paper(Outcome::Pass);
    assert_eq!(paper.title, "Certificate of a cylinder test");
    assert_eq!(paper.number, "No. TVC-2026-0031");
    assert_eq!(paper.outcome_word, "Pass");
    assert_eq!(
        paper.outcome_sentence,
        format!(
            "Within all 2 limits. Nearest to its limit: {CAP} Limit rebuilt-63-cap-loss: 0,12 mL/min."
        )
    );
    assert_eq!(
        paper.sentences[1],
        "Rod movement: 0.0210 ± 0.0040 mm/min, inwards at 160 bar, 46 °C. \
         Limit rebuilt-63-drift: 0.05 mm/min. Pass."
    );
    assert!(paper.marks.is_empty());
}

#[test]
fn a_fail_says_which_limit_is_broken() {
    let paper = paper(Outcome::Fail);
    assert_eq!(paper.outcome_word, "Fail");
    assert_eq!(
        paper.outcome_sentence,
        format!("Over 1 of 2 limits. {CAP} Limit rebuilt-63-cap-loss: 0,04 mL/min.")
    );
    assert!(paper.remarks[0].starts_with("The leak is above the limit"));
}

#[test]
fn undecided_says_why() {
    let paper = paper(Outcome::Undecided);
    assert_eq!(paper.outcome_word, "Undecided");
    assert!(
        paper
            .outcome_sentence
            .ends_with("only 69 %, asked for are 95 %."),
        "{}",
        paper.outcome_sentence
    );
    assert_eq!(paper.title, "Certificate of a cylinder test");
}

#[test]
fn not_valid_is_a_report_without_a_single_figure() {
    let paper = paper(Outcome::NotValid);
    assert_eq!(paper.title, "Report of a cylinder test");
    assert_eq!(paper.number, "without a number, not registered");
    assert_eq!(
        paper.outcome_sentence,
        "No figure of this hold can be believed. \
         Position sensor lost for 12 s of the counted hold; check the cable and repeat."
    );
    assert_eq!(paper.marks[0].line, "REPORT, not a certificate");
    for row in &paper.results {
        assert_eq!(row.result, "not stated");
        assert_eq!(row.outcome, "Not valid");
    }
    assert!(
        paper.sentences.iter().all(|s| !s.contains('±')),
        "{:?}",
        paper.sentences
    );
}

#[test]
fn a_figure_that_is_not_valid_is_not_printed_even_if_it_was_computed() {
    let mut scene = Scene::new(Outcome::Pass).in_earnest();
    scene.verdict.outcome = Outcome::NotValid;
    for judged in &mut scene.verdict.judged {
        judged.outcome = Outcome::NotValid;
    }
    let paper = compose(&scene.facts());
    assert_eq!(paper.results.len(), 2);
    assert!(paper.results.iter().all(|r| r.result == "not stated"));
    assert!(!paper.outcome_sentence.contains('±'));
    assert!(paper.budgets.is_empty());
}

#[test]
fn without_a_limit_nothing_is_judged() {
    let paper = paper(Outcome::Measured);
    assert_eq!(paper.outcome_word, "Measured");
    assert!(
        paper
            .outcome_sentence
            .starts_with("No limit was chosen, so nothing was judged.")
    );
    assert_eq!(paper.marks[0].line, "REPORT, not a certificate");
    assert_eq!(paper.results.len(), 5);
    assert!(
        paper
            .results
            .iter()
            .all(|r| r.outcome.is_empty() && r.limit.is_empty())
    );
}

#[test]
fn a_bounded_path_is_said_as_a_bound_and_listed_as_not_tested() {
    let paper = paper(Outcome::Pass);
    let gland = paper
        .results
        .iter()
        .find(|r| r.figure == "Oil out at the gland")
        .expect("a row");
    assert_eq!(gland.result, "at most 0.0270 mL/min");
    assert!(
        paper
            .not_tested
            .contains(&"the gland by itself (only a bound is known)".to_string())
    );
}

#[test]
fn the_list_of_what_was_not_tested_follows_the_plumbing() {
    let scene = Scene::new(Outcome::Pass);
    let mut facts = scene.facts();
    let valves = "the machine's own valves and hoses".to_string();
    assert!(compose(&facts).not_tested.contains(&valves));
    assert_eq!(
        compose(&facts).not_tested[0],
        "other positions of the stroke than 212 mm"
    );
    facts.subject.circuit.cap_port = Port::OnValve;
    assert!(!compose(&facts).not_tested.contains(&valves));
}

#[test]
fn cautions_refuse_to_be_more_than_they_are() {
    let said = paper(Outcome::Pass).cautions.join(" ");
    for words in [
        "not a lifting approval, statutory inspection or structural certificate",
        "machine maker's instructions, local rules and qualified people",
        "never by hand",
        "both gauges at zero",
        // 63² / (63² − 36²) = 1.485
        "1.5 times",
        "nobody under it",
    ] {
        assert!(said.contains(words), "`{words}` is missing in {said}");
    }
}

#[test]
fn the_rule_is_said_in_one_sentence() {
    let mut scene = Scene::new(Outcome::Pass);
    let said = compose(&scene.facts()).rule;
    assert!(
        said.contains("at least 95 %") && said.contains("JCGM 106"),
        "{said}"
    );
    scene.verdict.rule = DecisionRule::Guarded { probability: 0.975 };
    assert!(compose(&scene.facts()).rule.contains("97.5 %"));
    scene.verdict.rule = DecisionRule::Simple;
    assert!(compose(&scene.facts()).rule.contains("does not decide"));
}

#[test]
fn practice_duplicate_and_withdrawn_are_marked_in_words() {
    let mut scene = Scene::new(Outcome::Pass);
    scene.standing = Standing::Withdrawn("sensor P-11 was found wrong".into());
    let paper = compose(&scene.facts());
    let lines: Vec<&str> = paper.marks.iter().map(|m| m.line.as_str()).collect();
    assert_eq!(
        lines,
        [
            "PRACTICE – not a measurement of a real cylinder",
            "WITHDRAWN: sensor P-11 was found wrong"
        ]
    );
    // A paper that counts no longer does not say "Pass" from two metres.
    assert_eq!(paper.outcome_word, "Withdrawn");
    assert!(paper.outcome_sentence.contains("counts no longer"));
    assert!(paper.outcome_sentence.contains("it said: pass."));
    scene.standing = Standing::withdrawn("2 April 2026", "sensor P-11 was found wrong");
    let paper = compose(&scene.facts());
    assert_eq!(
        paper.marks[1].line,
        "WITHDRAWN on 2 April 2026: sensor P-11 was found wrong"
    );
}

#[test]
fn the_code_says_number_outcome_and_hash_and_needs_no_network() {
    assert_eq!(
        paper(Outcome::Pass).code_text,
        "certificate TVC-2026-0031\noutcome pass\n\
         sha256 9f2c4e8a1b7d3605c4e2f8917a6b5d3c0e1f2a3b4c5d6e7f8091a2b3c4d5e6f7"
    );
}

#[test]
fn budget_shares_are_of_the_variance_and_make_up_the_whole() {
    let paper = paper(Outcome::Pass);
    let cap = paper
        .budgets
        .iter()
        .find(|b| b.title.starts_with("Oil lost"))
        .expect("a budget");
    let shares: Vec<&str> = cap.rows.iter().map(|r| r.share.as_str()).collect();
    assert_eq!(shares, ["52 %", "21 %", "14 %", "9 %", "4 %"]);
    assert!(
        cap.title
            .contains("mean over the hold 0.059 ± 0.019 mL/min"),
        "{}",
        cap.title
    );
}

/// The same test with the cap-end sensor's calibration due on a day; it was on 14 March 2026.
fn due_on(due: &str) -> Paper {
    let mut scene = Scene::new(Outcome::Pass).in_earnest();
    let old = &scene.recording;
    let mut tracks = old.tracks().to_vec();
    tracks[0].channel.papers.due = due.into();
    tracks[0].channel.papers.by = Some(CalibratedBy::Maker);
    scene.recording = Recording::new(Parts {
        heading: old.heading().clone(),
        time_s: old.time_s().to_vec(),
        tracks,
        gaps: old.gaps().to_vec(),
        phases: old.phases().to_vec(),
        entries: Vec::new(),
        loss: old.loss(),
        ending: old.ending().clone(),
    })
    .expect("a recording");
    compose(&scene.facts())
}

#[test]
fn an_overdue_calibration_makes_a_report_and_the_maker_s_counts_as_one() {
    let paper = due_on("2026-03-13");
    assert_eq!(paper.title, "Report of a cylinder test");
    assert_eq!(paper.marks[0].line, "REPORT, not a certificate");
    let paper = due_on("2026-03-14");
    assert_eq!(paper.title, "Certificate of a cylinder test");
    assert!(paper.marks.is_empty());
    assert!(
        paper.sensors[0]
            .calibration
            .starts_with("maker's certificate: TV-CAL-2026-0"),
        "{}",
        paper.sensors[0].calibration
    );
}
