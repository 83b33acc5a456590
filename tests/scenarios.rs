//! Every scenario of the practice bench, from bytes to outcome, against its truth.
//!
//! The practice bench has its own physics and shares no equation with the account, so
//! this is a test of one by the other. `--nocapture` prints the table of DEVELOPERS.md.

mod support {
    pub mod play;
}

use std::fmt::Write;
use stillrod::account::Figure;
use stillrod::account::FigureName;
use stillrod::channel::Role;
use stillrod::daemon::judgement::Judgement;
use stillrod::daemon::judgement::judged;
use stillrod::recording::Codes;
use stillrod::recording::Parts;
use stillrod::recording::Recording;
use stillrod::rehearsal::Scenario;
use stillrod::rehearsal::scenarios;
use support::play::recording;

const ML_MIN: f64 = 1e-6 / 60.0;

fn play(scenario: &Scenario) -> Judgement {
    judged(&recording(scenario), None).expect("settings that can be used")
}

/// Value, expanded uncertainty and whether the truth lies inside; for the table.
fn cell(figure: Option<&Figure>, truth: f64) -> (String, bool) {
    let Some(figure) = figure else {
        return ("–".into(), true);
    };
    let inside = (figure.lower_si..=figure.upper_si).contains(&truth);
    let text = match figure.measured {
        Some(m) => format!(
            "{:.3} ± {:.3} (true {:.3})",
            m.value_si / ML_MIN,
            figure.coverage_factor * m.standard_si / ML_MIN,
            truth / ML_MIN
        ),
        None => {
            format!(
                "{:.3} … {:.3} (true {:.3})",
                figure.lower_si / ML_MIN,
                figure.upper_si / ML_MIN,
                truth / ML_MIN
            )
        }
    };
    (text, inside)
}

#[test]
fn every_scenario_has_its_outcome_and_its_truth_inside_the_interval() {
    let all = scenarios();
    assert!(all.len() >= 10, "only {} scenarios", all.len());
    let rows: Vec<(String, Vec<String>)> = std::thread::scope(|scope| {
        let halves: Vec<_> = (0..2)
            .map(|half| {
                let mine: Vec<&Scenario> = all.iter().skip(half).step_by(2).collect();
                scope.spawn(move || mine.into_iter().map(row).collect::<Vec<_>>())
            })
            .collect();
        halves
            .into_iter()
            .flat_map(|h| h.join().expect("no panic"))
            .collect()
    });
    println!(
        "| scenario | outcome | cap loss | rod gain | past the piston |\n|---|---|---|---|---|"
    );
    rows.iter().for_each(|(text, _)| println!("{text}"));
    let wrong: Vec<&String> = rows.iter().flat_map(|(_, wrong)| wrong).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

fn row(scenario: &Scenario) -> (String, Vec<String>) {
    let mut wrong = Vec::new();
    let judgement = play(scenario);
    let outcome = judgement.verdict.outcome.word();
    if !scenario.expected.allows(outcome) {
        wrong.push(format!(
            "{}: {outcome}, not {:?}: {:?}",
            scenario.name, scenario.expected, judgement.verdict
        ));
    }
    let truth = scenario.truth().expect("physics that can be integrated");
    let evaluation = judgement.evaluation.as_ref().expect("a hold");
    let mut text = format!("| {} | {outcome} ", scenario.name);
    let figures = [
        (FigureName::CapLoss, truth.start.cap_loss),
        (FigureName::RodGain, truth.start.rod_gain),
        (FigureName::PistonBypass, truth.start.bypass),
    ];
    for (name, true_si) in figures {
        let (cell, inside) = cell(evaluation.figure(name), true_si);
        let _ = write!(text, "| {cell} ");
        if !inside {
            wrong.push(format!("{}: {} {cell}", scenario.name, name.word()));
        }
    }
    (text + "|", wrong)
}

#[test]
fn a_tight_cylinder_does_not_fail_with_other_noise_and_other_sensors() {
    for name in ["tight-rebuild", "fresh-oil-cooling"] {
        for seed in 1..4 {
            let scenario = stillrod::rehearsal::scenario(name)
                .expect("a scenario")
                .with_seed(seed);
            let outcome = play(&scenario).verdict.outcome.word();
            assert_ne!(outcome, "fail", "{name} with seed {seed}");
        }
    }
}

/// A coarse position sensor widens the interval; it must not void the account.
#[test]
fn a_coarse_position_sensor_gives_a_wider_figure_and_not_a_wrong_one() {
    let mut widths = Vec::new();
    for bits in [16, 14, 12] {
        let mut scenario = stillrod::rehearsal::scenario("piston-seal-bypass").expect("a scenario");
        scenario.senses.loops[2].bits = bits;
        let (text, wrong) = row(&scenario);
        assert!(wrong.is_empty(), "{bits} bits: {text}: {wrong:?}");
        let judgement = play(&scenario);
        let evaluation = judgement.evaluation.as_ref().expect("a hold");
        let figure = evaluation.figure(FigureName::CapLoss).expect("an account");
        widths.push((
            figure.mean_over_hold.expect("a flow").standard_si / ML_MIN,
            bits,
        ));
    }
    assert!(widths[0].0 < widths[2].0, "{widths:?}");
}

/// The recording of a scenario with something changed in its parts.
fn altered(name: &str, alter: impl FnOnce(&mut Parts)) -> Recording {
    let whole = recording(&stillrod::rehearsal::scenario(name).expect("a scenario"));
    let mut parts = Parts {
        heading: whole.heading().clone(),
        time_s: whole.time_s().to_vec(),
        tracks: whole.tracks().to_vec(),
        gaps: whole.gaps().to_vec(),
        phases: whole.phases().to_vec(),
        entries: Vec::new(),
        loss: whole.loss(),
        ending: whole.ending().clone(),
    };
    alter(&mut parts);
    Recording::new(parts).expect("rows rise in time")
}

/// Changes the codes of one channel; the function is given row and code.
fn recode(parts: &mut Parts, role: Role, code: impl Fn(usize, i32) -> i32) {
    for track in parts.tracks.iter_mut().filter(|t| t.channel.role == role) {
        if let Codes::Raw(codes) = &mut track.codes {
            codes
                .iter_mut()
                .enumerate()
                .for_each(|(row, c)| *c = code(row, *c));
        }
    }
}

#[track_caller]
fn never_passes(what: &str, recording: &Recording) {
    let verdict = judged(recording, None)
        .expect("settings that can be used")
        .verdict;
    assert_eq!(verdict.outcome.word(), "not_valid", "{what}: {verdict:?}");
}

/// A sensor that is stuck makes a leak look like none; it must not pass for that.
#[test]
fn a_reading_that_stands_still_to_the_last_step_never_passes() {
    for role in [Role::Position, Role::CapPressure, Role::RodPressure] {
        let stuck = altered("tight-rebuild", |parts| {
            let first = match &parts
                .tracks
                .iter()
                .find(|t| t.channel.role == role)
                .expect("recorded")
                .codes
            {
                Codes::Raw(codes) => codes[0],
                _ => panic!("these are read against no supply"),
            };
            // One other code in between does not make it alive.
            recode(
                parts,
                role,
                |row, _| if row == 9_000 { first + 1 } else { first },
            );
        });
        never_passes(role.plain(), &stuck);
    }
}

/// What contradicts itself is no measurement, whatever its figures say.
#[test]
fn a_recording_that_contradicts_its_setup_never_passes() {
    let setup = |from: &'static str, to: &'static str| {
        move |parts: &mut Parts| {
            assert!(parts.heading.setup_toml.contains(from), "{from}");
            parts.heading.setup_toml = parts.heading.setup_toml.replace(from, to);
        }
    };
    let cases = [
        (
            "somebody pumps it up in the hold",
            altered("tight-rebuild", |parts| {
                recode(parts, Role::CapPressure, |row, c| {
                    if row > 15_000 { c + 2_000 } else { c }
                })
            }),
        ),
        (
            "the rod is said to be locked",
            altered(
                "piston-seal-bypass",
                setup("rod = \"pushed_in\"", "rod = \"locked\""),
            ),
        ),
        (
            "the piston is said to stand on its end",
            altered(
                "tight-rebuild",
                setup("rod = \"pushed_in\"", "rod = \"bottomed\""),
            ),
        ),
        (
            "the load is ten times as large",
            altered(
                "tight-rebuild",
                setup("load = \"30 kN\"", "load = \"300 kN\""),
            ),
        ),
        (
            "the wrong side is said to hold, and movement alone is judged",
            altered(
                "tight-rebuild",
                setup("rod = \"pushed_in\"", "rod = \"pulled_out\""),
            ),
        ),
    ];
    for (what, recording) in &cases {
        never_passes(what, recording);
    }
    // A load on an open port would fall: such a setup is not read at all.
    let open = altered(
        "tight-rebuild",
        setup("cap_port = \"blocked\"", "cap_port = \"open_to_vessel\""),
    );
    let refused = judged(&open, None).expect_err("contradicts itself");
    assert!(format!("{refused:#}").contains("would fall"), "{refused:#}");
}

/// A pressure that rises says nothing of a loss.
#[test]
fn a_pressure_that_rises_is_no_pass_for_pressure_loss() {
    let recording = altered("piston-seal-bypass", |parts| {
        let limit = "[[limit]]\nid = \"decay\"\nfigure = \"leak_down\"\nvalue = \"1 bar/min\"\nsource = \"test\"\n";
        // Before the files that travel behind the shop's own text.
        let with_limit = format!("{limit}\n[decision]");
        parts.heading.shop_toml = parts
            .heading
            .shop_toml
            .replacen("[decision]", &with_limit, 1);
        let setup = &parts.heading.setup_toml;
        let at = setup.find("limits = [").expect("limits");
        parts.heading.setup_toml = format!("{}limits = [\"decay\"]\n", &setup[..at]);
    });
    let verdict = judged(&recording, None)
        .expect("settings that can be used")
        .verdict;
    assert_eq!(verdict.outcome.word(), "undecided", "{verdict:?}");
}
