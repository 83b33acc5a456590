//! What the sheet says, as text.

use crate::scene;
use stillrod::account::investigation::Noticed;
use stillrod::account::investigation::Pattern;
use stillrod::account::investigation::Standing;
use stillrod::account::investigation::Way;
use stillrod::certificate::Conclusion;
use stillrod::certificate::IsolationFacts;
use stillrod::certificate::Tone;
use stillrod::certificate::compose_isolation;
use stillrod::chart::FlowWeight;

fn first(facts: &IsolationFacts) -> String {
    compose_isolation(facts).conclusion.sentences[0].clone()
}

#[test]
fn a_valve_that_leaks_is_named_with_its_figure_and_the_cylinder_with_its_bounds() {
    let paper = compose_isolation(&scene::valve());
    assert_eq!(paper.conclusion.word, "Valve");
    assert_eq!(paper.conclusion.tone, Tone::Leaks);
    assert_eq!(
        paper.conclusion.sentences,
        [
            "The valve on the cap port leaks 1.90 ± 0.11 mL/min at 96 bar; the cylinder is not \
             shown to leak (piston seal less than 0.04 mL/min, gland less than 0.029 mL/min).",
            "Not shown to leak: cap-port plug less than 0.04 mL/min, rod-port plug less than \
             0.029 mL/min.",
        ]
    );
}

#[test]
fn what_cannot_be_told_apart_is_said_together_with_the_sum_that_was_measured() {
    let paper = compose_isolation(&scene::open());
    assert_eq!(paper.conclusion.word, "Cannot be told");
    assert_eq!(
        paper.conclusion.sentences[0],
        "Piston seal or cap-port plug: cannot be told apart; \
         together 1.51 ± 0.10 mL/min at 96 bar."
    );
}

/// A leak beside the pair in the same sum: the sum is not the pair's.
#[test]
fn no_sum_is_given_to_a_pair_that_shares_it_with_a_leak() {
    let mut facts = scene::open();
    if let Some(attribution) = &mut facts.attribution {
        attribution.answers.push(scene::answer(
            scene::HOLDING,
            Standing::Leaks,
            [0.5, 0.4, 0.6],
            96.0,
            &[0],
        ));
    }
    let said = compose_isolation(&facts).conclusion.sentences;
    assert!(said.iter().all(|s| !s.contains("together")), "{said:?}");
    assert!(said[1].contains("cannot be told apart"), "{said:?}");
}

#[test]
fn a_void_phase_gives_no_sum_and_its_figures_do_not_count() {
    let mut facts = scene::open();
    facts.phases[0].void = Some("pressure sensor lost".into());
    let paper = compose_isolation(&facts);
    assert!(!paper.conclusion.sentences[0].contains("together"));
    let loss = paper.rows.iter().find(|r| r.0 == "oil, cap side");
    assert_eq!(loss.expect("a row").1, ["does not count"]);
    assert_eq!(paper.phases, ["A, not valid"]);
}

#[test]
fn a_piston_seal_that_leaks_leaves_the_valve_its_own_words() {
    let mut facts = scene::valve();
    let answers = &mut facts.attribution.as_mut().expect("one").answers;
    for answer in answers.iter_mut() {
        answer.standing = match answer.way {
            scene::PISTON => Standing::Leaks,
            scene::CAP_VALVE => Standing::NotDriven,
            _ => continue,
        };
    }
    answers[0].lower_m3_per_s = 0.3 * scene::ML_PER_MIN;
    answers[0].best_m3_per_s = 0.4 * scene::ML_PER_MIN;
    answers[0].upper_m3_per_s = 0.5 * scene::ML_PER_MIN;
    assert_eq!(
        first(&facts),
        "The piston seal leaks 0.40 ± 0.10 mL/min at 86 bar across the piston; \
         the valve was not tested."
    );
    assert_eq!(compose_isolation(&facts).conclusion.word, "Piston seal");
}

#[test]
fn a_plug_that_leaks_is_no_part_of_the_machine() {
    let mut facts = scene::valve();
    for answer in &mut facts.attribution.as_mut().expect("one").answers {
        answer.standing = match answer.way {
            scene::CAP_PLUG => Standing::Leaks,
            Way::Valve(..) => Standing::Tight,
            _ => continue,
        };
    }
    let paper = compose_isolation(&facts);
    assert_eq!(paper.conclusion.word, "Test plug or gear");
    let said = &paper.conclusion.sentences[0];
    assert!(said.contains("test gear and no part of the machine; the cylinder is not shown"));
}

#[test]
fn phases_that_contradict_each_other_name_nothing_and_show_no_figure() {
    let paper = compose_isolation(&scene::contradiction());
    assert_eq!(paper.conclusion.word, "Nothing said");
    for mark in &paper.ways {
        assert_eq!(mark.weight, FlowWeight::Open);
        assert_eq!(mark.figure, "nothing said");
    }
}

#[test]
fn nothing_that_leaks_is_no_approval() {
    let paper = compose_isolation(&scene::tight_in_inches());
    assert_eq!(paper.conclusion.word, "No leak in what was tested");
    assert!(first(&scene::tight_in_inches()).contains("piston seal less than 0.0021 in³/min"));
    assert!(paper.cautions[0].starts_with("A result here is no lifting approval"));
}

/// Intervals of two ways may overlap or not: the sheet never says which is larger.
#[test]
fn ways_are_never_compared() {
    for (name, facts) in scene::all() {
        let said = compose_isolation(&facts).conclusion.sentences.join(" ");
        for word in [
            "more than",
            "differ",
            "larger",
            "smaller",
            "mostly",
            "probably",
        ] {
            assert!(!said.contains(word), "{name}: {said}");
        }
    }
}

#[test]
fn what_nothing_drove_or_nobody_saw_is_listed_as_not_tested() {
    let listed = compose_isolation(&scene::open()).not_tested.join("; ");
    assert!(listed.contains("gland and rod-port plug: nothing drove oil"));
    assert!(listed.contains("the machine's own valves"), "{listed}");
    let full = compose_isolation(&scene::full());
    assert!(
        full.not_tested
            .iter()
            .any(|t| t.contains("manual override"))
    );
    let swapped = full.ways.iter().find(|w| w.way == scene::SWAPPED);
    assert_eq!(swapped, None);
}

#[test]
fn a_ram_has_no_rod_side_to_speak_of() {
    let paper = compose_isolation(&scene::ram());
    assert_eq!(
        paper.conclusion.sentences,
        [
            "Gland or valve on the cap port: cannot be told apart; together 1.90 ± 0.08 mL/min at 96 bar."
        ]
    );
    let rows: Vec<&str> = paper.rows.iter().map(|row| row.0.as_str()).collect();
    assert!(!rows.contains(&"rod pressure"), "{rows:?}");
    assert!(!paper.not_tested.iter().any(|t| t.contains("rod port")));
}

#[test]
fn a_cylinder_is_not_cleared_of_what_nothing_drove() {
    let mut facts = scene::valve();
    let answers = &mut facts.attribution.as_mut().expect("one").answers;
    for answer in answers.iter_mut().filter(|a| a.way == Way::Gland) {
        *answer = scene::idle(Way::Gland);
    }
    let said = first(&facts);
    assert!(
        said.ends_with("(piston seal less than 0.04 mL/min, gland not tested)."),
        "{said}"
    );
}

/// Phases without a sum still say what their pattern says, and nothing of any way.
#[test]
fn a_pattern_is_said_where_no_way_has_a_flow() {
    let with = |pattern: Pattern| {
        let mut facts = scene::contradiction();
        let attribution = facts.attribution.as_mut().expect("there is one");
        attribution.contradiction = None;
        attribution.answers.clear();
        attribution.noticed = vec![Noticed {
            pattern,
            sentence: "Phase A: what was seen.".into(),
        }];
        compose_isolation(&facts).conclusion
    };
    let stops = with(Pattern::StopsAtPressure);
    assert_eq!(stops.word, "Leaks above a pressure");
    assert_eq!(stops.sentences[0], "Phase A: what was seen.");
    assert!(stops.sentences[1].starts_with("No flow is stated for any way"));
    let air = with(Pattern::Air);
    assert_eq!(air.word, "Nothing said");
    assert!(air.sentences[0].starts_with("No phase gave a figure"));
}

/// A tight phase clears nothing that another one lost until it seated, or that a phase which
/// does not count may have lost.
#[test]
fn no_leak_is_said_only_where_every_phase_counts_and_none_turned() {
    let said = |change: fn(&mut IsolationFacts)| {
        let mut facts = scene::tight_in_inches();
        change(&mut facts);
        compose_isolation(&facts).conclusion
    };
    let tight = said(|_| {});
    assert_eq!(tight.tone, Tone::Tight);
    let lost = said(|facts| facts.phases[0].void = Some("the sensor jumped".into()));
    assert_eq!(lost.word, "No leak where it could be measured");
    assert_eq!(lost.tone, Tone::Open);
    assert!(
        lost.sentences
            .contains(&"No flow of phase A (the sensor jumped) counts.".to_owned())
    );
    let notice = |facts: &mut IsolationFacts, pattern| {
        let attribution = facts.attribution.as_mut().expect("there is one");
        attribution.noticed = vec![Noticed {
            pattern,
            sentence: "Phase A: it stops.".into(),
        }];
    };
    let seated = said_with(notice, Pattern::StopsAtPressure);
    assert_eq!(
        (seated.word.as_str(), seated.tone),
        ("Leaks above a pressure", Tone::Leaks)
    );
    assert_eq!(seated.sentences[0], "Phase A: it stops.");
    for pattern in [Pattern::LossStops, Pattern::LossStarts, Pattern::OilSeen] {
        let either = said_with(notice, pattern);
        assert_eq!(
            (either.word.as_str(), either.tone),
            ("Cannot be told", Tone::Open)
        );
    }
}

fn said_with(notice: fn(&mut IsolationFacts, Pattern), pattern: Pattern) -> Conclusion {
    let mut facts = scene::tight_in_inches();
    notice(&mut facts, pattern);
    compose_isolation(&facts).conclusion
}
