//! The campaign behind `examples/isolation`: that its rows can be trusted.

#![allow(dead_code, reason = "the report has more to say than is checked here")]

#[path = "../examples/isolation/bench.rs"]
mod bench;
#[path = "../examples/coverage/chance.rs"]
mod chance;
#[path = "../examples/coverage/draw.rs"]
mod draw;
#[path = "../examples/coverage/draw_oil.rs"]
mod draw_oil;
#[path = "../examples/coverage/draw_sensors.rs"]
mod draw_sensors;
#[path = "../examples/isolation/investigate.rs"]
mod investigate;
#[path = "../examples/isolation/machine.rs"]
mod machine;
#[path = "../examples/isolation/plan.rs"]
mod plan;
#[path = "../examples/coverage/play.rs"]
mod play;
#[path = "../examples/isolation/rows.rs"]
mod rows;
#[path = "../examples/isolation/score.rs"]
mod score;
#[path = "../examples/coverage/see.rs"]
mod see;
#[path = "../examples/coverage/setup_text.rs"]
mod setup_text;
#[path = "../examples/isolation/truth.rs"]
mod truth;
#[path = "support/ways.rs"]
mod ways;

use investigate::Investigation;
use rows::Row;
use rows::rows;
use score::Score;
use stillrod::account::investigation::Answer;
use stillrod::account::investigation::Standing;
use stillrod::account::investigation::Way;

fn made(number: u64) -> Vec<Row> {
    rows(number, &Investigation::of(2026, number))
}

#[test]
fn an_investigation_is_the_same_whatever_was_made_before() {
    let alone = made(3);
    made(1);
    assert_eq!(alone, made(3));
    assert!(
        alone.iter().any(|row| row.score != "not_asked"),
        "{alone:?}"
    );
}

/// Every leak of a machine is the truth of a way that was driven in some phase, or of none
/// that any phase had.
#[test]
fn what_leaks_is_what_is_true() {
    for number in 0..6 {
        let investigation = Investigation::of(2026, number);
        let said = investigation.said.as_ref().expect("sums");
        let n_true = said.scored.iter().filter(|s| s.truth > 0.0).count();
        assert!(n_true <= investigation.machine.leaks.len(), "{number}");
        for scored in &said.scored {
            let leaks = investigation
                .valid()
                .iter()
                .any(|held| truth::leak_of(held, scored.answer.way).is_some());
            assert!(
                scored.truth == 0.0 || leaks,
                "{number}: {:?}",
                scored.answer
            );
        }
    }
}

/// Flows in mL/min: what is said, from where to where, what is true, what it is worth.
#[track_caller]
fn check(standing: Standing, [lower, best, upper]: [f64; 3], truth: f64, expected: Score) {
    let unit = truth::ML_MIN;
    let answer = Answer {
        way: Way::Gland,
        standing,
        at_pa: 100e5,
        best_m3_per_s: best * unit,
        lower_m3_per_s: lower * unit,
        upper_m3_per_s: upper * unit,
        driven_in: vec![0],
    };
    assert_eq!(Score::of(&answer, truth * unit, 0.03 * unit), expected);
}

#[test]
fn a_wrong_name_is_wrong_and_no_name_is_none() {
    let open = || Standing::Open { with: Vec::new() };
    check(Standing::Leaks, [0.9, 1.0, 1.1], 1.0, Score::Right);
    check(Standing::Leaks, [0.9, 1.0, 1.1], 1.14, Score::Right);
    check(Standing::Leaks, [0.9, 1.0, 1.1], 1.16, Score::Beside);
    check(Standing::Leaks, [0.01, 0.02, 0.03], 0.0, Score::Blamed);
    check(Standing::Tight, [0.0, 0.0, 0.02], 0.0, Score::Right);
    check(Standing::Tight, [0.0, 0.0, 0.02], 0.031, Score::Cleared);
    check(open(), [0.0, 0.1, 0.2], 0.0, Score::CannotTell);
    check(Standing::NotValid, [0.0, 0.1, 0.2], 0.1, Score::CannotTell);
    check(
        Standing::NotDriven,
        [0.0, 0.0, f64::INFINITY],
        0.0,
        Score::NotAsked,
    );
}
