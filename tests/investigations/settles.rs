//! Losses that stop or start during a hold: at a pressure (derived from a leak law with a
//! seat), or with time (heat that evens out, hose and seals that creep: practitioners' cases).

use crate::inquiry::Looked::RagsAndGlass;
use crate::inquiry::ML_MIN;
use crate::inquiry::Played;
use crate::inquiry::play;
use stillrod::account::Turn;
use stillrod::account::TurnKind;
use stillrod::account::investigation::Noticed;
use stillrod::account::investigation::Pattern;
use stillrod::account::investigation::attribute;

/// Each with noise and sensors of its own.
const N_SEEDS: u64 = 20;

/// Times out of twenty that are enough.
const ENOUGH: usize = 19;

/// What is noticed in each phase of an inquiry, with other noise and other sensors.
fn all_noticed(name: &str) -> Vec<(Played, Vec<Noticed>)> {
    let inquiry = stillrod::rehearsal::inquiry(name).expect("an inquiry");
    let seeds = (0..N_SEEDS).map(|seed| 40_000 + 100 * seed);
    let played = seeds.map(|seed| play(&inquiry.clone().with_seed(seed)));
    let with_patterns = played.map(|played| {
        let found = played.attributed(RagsAndGlass).expect("sums");
        (played, found.noticed)
    });
    with_patterns.collect()
}

/// How often a pattern is told of a phase, and that its rivals never are.
#[track_caller]
fn told(all: &[(Played, Vec<Noticed>)], phase: &str, pattern: Pattern) {
    let head = format!("Phase {phase}: ");
    let ours = [
        Pattern::Settling,
        Pattern::LossStops,
        Pattern::LossStarts,
        Pattern::StopsAtPressure,
        Pattern::StartsAtPressure,
    ];
    let mut n = 0;
    for (_, noticed) in all {
        let of_phase = noticed.iter().filter(|n| n.sentence.starts_with(&head));
        for found in of_phase.filter(|n| ours.contains(&n.pattern)) {
            println!("{}", found.sentence);
            assert_eq!(found.pattern, pattern, "{}", found.sentence);
            n += 1;
        }
    }
    assert!(n >= ENOUGH, "{n} of {}", all.len());
}

/// The same of a phase of which none of these should be told.
#[track_caller]
fn nothing_told(all: &[(Played, Vec<Noticed>)], phase: &str) {
    let head = format!("Phase {phase}: ");
    for (_, noticed) in all {
        let mut of_phase = noticed.iter().filter(|n| n.sentence.starts_with(&head));
        let usual = |n: &Noticed| n.pattern == Pattern::Thermal;
        assert!(of_phase.all(usual), "{noticed:?}");
    }
}

/// The turn of a phase, and what is true before and after it.
fn turn_of(played: &Played, phase: &str) -> Option<(Turn, [f64; 2])> {
    let turn = played.hold(phase).evaluation().turn?;
    let inquiry = stillrod::rehearsal::inquiry(played.name).expect("an inquiry");
    let found = inquiry.phases.into_iter().find(|own| own.label == phase);
    let scenario = found.expect("a phase of that label").scenario;
    let loss = |from_s: f64, length_s: f64| {
        let part = stillrod::rehearsal::Scenario {
            settle_s: from_s,
            hold_s: length_s,
            ..scenario.clone()
        };
        part.truth().expect("physics").mean.cap_loss
    };
    let whole = (scenario.settle_s, scenario.hold_s);
    let after_s = whole.0 + turn.at_s;
    Some((
        turn,
        [loss(whole.0, turn.at_s), loss(after_s, whole.1 - turn.at_s)],
    ))
}

/// What a turn says of flows and pressure holds the truth: a seat at 92 bar.
fn check_turn(all: &[(Played, Vec<Noticed>)], phase: &str, kind: TurnKind) {
    let (mut n_inside, mut n) = (0, 0);
    for (played, _) in all {
        let Some((turn, truth)) = turn_of(played, phase) else {
            continue;
        };
        assert_eq!(turn.kind, kind);
        let (low, high) = turn.between_pa;
        assert!(low < 93e5 && high > 91e5, "{turn:?}");
        for (found, truth) in [(turn.before, truth[0]), (turn.after, truth[1])] {
            n += 1;
            let off = (found.value_si - truth).abs();
            n_inside += usize::from(off < 1.96 * found.standard_si);
            assert!(
                off < 4.0 * found.standard_si,
                "{found:?} {}",
                truth / ML_MIN
            );
        }
    }
    assert!(n_inside * 10 >= 9 * n, "{n_inside} of {n}");
}

#[test]
fn a_valve_that_seats_leaks_above_its_pressure_and_not_below() {
    let all = all_noticed("valve-seats-at-a-pressure");
    told(&all, "A", Pattern::StopsAtPressure);
    nothing_told(&all, "B");
    check_turn(&all, "A", TurnKind::Stops);
}

#[test]
fn a_lip_that_pressure_presses_shut_leaks_below_it_and_not_above() {
    let all = all_noticed("seal-opens-below-a-pressure");
    told(&all, "L", Pattern::StartsAtPressure);
    nothing_told(&all, "H");
    check_turn(&all, "L", TurnKind::Starts);
}

/// Hoses and seals creep after each loading, whatever its pressure.
#[test]
fn what_comes_again_after_each_loading_and_is_over_soon_is_settling() {
    let all = all_noticed("settles-at-any-pressure");
    for phase in ["A", "B"] {
        told(&all, phase, Pattern::Settling);
    }
    let decided = all.iter().filter(|(_, noticed)| {
        let settling = noticed.iter().filter(|n| n.pattern == Pattern::Settling);
        let again = settling.filter(|n| n.sentence.contains("did so again"));
        again.count() == 2
    });
    assert!(decided.count() >= ENOUGH);
}

/// One hold says that it settled, and what would tell that from a leak that stopped.
#[test]
fn warm_oil_that_evens_out_is_settling_and_no_leak() {
    let all = all_noticed("only-settling");
    told(&all, "B", Pattern::Settling);
    for (_, noticed) in &all {
        let mut settling = noticed.iter().filter(|n| n.pattern == Pattern::Settling);
        assert!(settling.all(|n| n.sentence.contains("load again to another pressure")));
    }
}

/// One hold by itself does not decide: it says both, and what to do.
#[test]
fn one_hold_alone_says_both() {
    let played = crate::inquiry::played("valve-seats-at-a-pressure");
    let alone = played.hold("A");
    let findings = &alone.evaluation().findings;
    let says = |n: &String| n.contains("once from above and once from below 92 bar");
    assert!(findings.iter().any(says), "{findings:?}");
    // Together with a hold of other plumbing, which says nothing of it.
    let other = crate::inquiry::played("settles-at-any-pressure");
    let mut subject = other.hold("B").judgement.setup.subject.clone();
    subject.circuit.cap_port = stillrod::circuit::Port::Blocked;
    let phases = [alone.alone(), other.hold("B").of(&subject)];
    let found = attribute(&phases).expect("solved").expect("sums");
    let mut stops = found
        .noticed
        .iter()
        .filter(|n| n.pattern == Pattern::LossStops);
    let sentence = &stops.next().expect("told").sentence;
    assert!(sentence.contains("either the leak stops at about 92 bar, or it only settled"));
    assert!(
        sentence.contains("hold again with the same plumbing"),
        "{sentence}"
    );
    assert!(stops.next().is_none());
    assert!(
        !found
            .noticed
            .iter()
            .any(|n| n.pattern == Pattern::StopsAtPressure)
    );
}
