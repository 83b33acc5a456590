//! Every fault of the practice bench in a whole procedure, the way a shop tests: a quick leak-down
//! with zeros and a known place before and after its hold and the oil that is let off after it, on
//! the rig.
//!
//! The rule: a fault that moves a judged figure by more than its uncertainty never ends as a pass,
//! and no leak passes for it. What the procedure cannot have is in `ONLY_IN_ONE_HOLD`.
#![cfg(target_os = "linux")]
#![allow(dead_code, reason = "the report has more to say than is checked here")]

#[path = "../examples/faults/line.rs"]
mod line;
#[path = "../examples/faults/play.rs"]
mod play;
#[path = "../examples/faults/procedure.rs"]
mod procedure;
#[path = "../examples/faults/rig_run.rs"]
mod rig_run;
#[path = "../examples/faults/struck.rs"]
mod struck;
#[path = "../examples/faults/table.rs"]
mod table;

use procedure::Base;
use procedure::ONLY_IN_ONE_HOLD;
use procedure::Rig;
use procedure::can_be;
use std::collections::HashSet;
use std::sync::LazyLock;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;
use stillrod::rehearsal::Injected;
use stillrod::rehearsal::injected;
use struck::struck;
use table::NEEDS_PROCEDURE;
use table::Played;
use table::Row;

/// Both cylinders without a fault, played once for all tests.
static RIG: LazyLock<Rig> = LazyLock::new(Rig::new);

/// Fault, outcome in the tight cylinder, outcome in the leaking one, and a part of what is
/// said of one of them; empty where nothing is said.
const EXPECTED: &[(&str, &str, &str, &str)] = &[
    (
        "cap-wire-broken",
        "not_valid",
        "not_valid",
        "as with a broken wire",
    ),
    (
        "cap-wire-shorted",
        "not_valid",
        "not_valid",
        "as with a short",
    ),
    (
        "position-wire-broken",
        "not_valid",
        "not_valid",
        "position sensor lost",
    ),
    (
        "probe-wire-broken",
        "not_valid",
        "not_valid",
        "oil temperature sensor lost",
    ),
    (
        "loose-contact",
        "pass",
        "fail",
        "cap-end pressure sensor lost for",
    ),
    (
        "bad-contact",
        "not_valid",
        "not_valid",
        "cap-end pressure sensor lost for",
    ),
    (
        "cap-pressure-stuck",
        "not_valid",
        "not_valid",
        "did not change by a single step",
    ),
    (
        "position-stuck",
        "not_valid",
        "not_valid",
        "the hold was to begin with 160.0 bar at 200.0 mm",
    ),
    (
        "supply-low",
        "pass",
        "not_valid",
        "the hold was to begin with 160.0 bar",
    ),
    ("cap-pressure-noisy", "pass", "fail", ""),
    ("position-noisy", "pass", "fail", ""),
    (
        "mains-aliased",
        "not_valid",
        "not_valid",
        "cap-end pressure swings by",
    ),
    (
        "mains-aliased-weak",
        "not_valid",
        "not_valid",
        "rod-end pressure swings by",
    ),
    (
        "mains-on-position",
        "not_valid",
        "not_valid",
        "position swings by",
    ),
    (
        "cap-pressure-drifts",
        "not_valid",
        "not_valid",
        "the zero of cap-end pressure moved by",
    ),
    (
        "cap-pressure-drifts-up",
        "not_valid",
        "not_valid",
        "the zero of cap-end pressure moved by",
    ),
    (
        "rod-pressure-drifts",
        "not_valid",
        "not_valid",
        "the zero of rod-end pressure moved by",
    ),
    (
        "rod-pressure-drifts-up",
        "not_valid",
        "not_valid",
        "the zero of rod-end pressure moved by",
    ),
    ("cap-span-wrong", "pass", "fail", ""),
    ("position-span-wrong", "pass", "fail", ""),
    ("probe-in-air", "pass", "fail", ""),
    ("probe-in-air-cold-oil", "pass", "fail", ""),
    (
        "probe-drifts",
        "not_valid",
        "undecided",
        "seems to gain oil",
    ),
    ("probe-jumps", "not_valid", "not_valid", "within a minute"),
    ("probe-at-other-end", "pass", "undecided", ""),
    (
        "position-slips-30-um",
        "not_valid",
        "not_valid",
        "position jumps by",
    ),
    (
        "position-slips-0.3-mm",
        "not_valid",
        "not_valid",
        "position jumps by",
    ),
    (
        "position-drifts-in",
        "not_valid",
        "not_valid",
        "the zero of position moved by",
    ),
    (
        "position-drifts-out",
        "not_valid",
        "not_valid",
        "the zero of position moved by",
    ),
    (
        "position-drifts-out-a-little",
        "not_valid",
        "undecided",
        "the zero of position moved by",
    ),
    (
        "worn-spot",
        "not_valid",
        "not_valid",
        "position sensor lost for",
    ),
    ("position-brush-jumps", "pass", "fail", ""),
    (
        "sensors-swapped",
        "not_valid",
        "not_valid",
        "the rod port is said to be open",
    ),
    (
        "one-sensor-twice",
        "not_valid",
        "not_valid",
        "show the same signal",
    ),
    (
        "all-readings-step",
        "not_valid",
        "not_valid",
        "all readings jumped together",
    ),
    (
        "all-readings-drift-out",
        "not_valid",
        "undecided",
        "the zero of position moved by",
    ),
    (
        "all-readings-drift",
        "not_valid",
        "not_valid",
        "the zero of cap-end pressure moved by",
    ),
    (
        "adapter-pulled",
        "not_valid",
        "not_valid",
        "was interrupted",
    ),
    (
        "board-restarts",
        "not_valid",
        "not_valid",
        "the board started again",
    ),
    ("blocks-lost", "not_valid", "not_valid", "have no samples"),
    (
        "blocks-garbled",
        "not_valid",
        "not_valid",
        "have no samples",
    ),
    ("clock-fast", "pass", "fail", ""),
    (
        "clock-changes",
        "not_valid",
        "not_valid",
        "clock ran 5.0 % faster",
    ),
    (
        "bore-wrong",
        "not_valid",
        "not_valid",
        "where the cylinder as the setup has it gives",
    ),
    ("bore-a-little-wrong", "pass", "fail", ""),
    (
        "bore-in-inches",
        "not_valid",
        "not_valid",
        "where the cylinder as the setup has it gives",
    ),
    (
        "stroke-wrong",
        "not_valid",
        "not_valid",
        "the hold was to begin with 160.0 bar at 300.0 mm",
    ),
    (
        "range-wrong",
        "not_valid",
        "not_valid",
        "the hold was to begin with 160.0 bar",
    ),
    (
        "psi-for-bar",
        "not_valid",
        "not_valid",
        "the hold was to begin with 160.0 bar",
    ),
    (
        "bar-for-psi",
        "not_valid",
        "not_valid",
        "the hold was to begin with 160.0 bar",
    ),
    ("valve-left-in", "fail", "fail", ""),
    (
        "hose-not-said",
        "not_valid",
        "not_valid",
        "where the cylinder as the setup has it gives",
    ),
    ("pumped-up", "not_valid", "not_valid", "pressure jumps by"),
    (
        "pumped-up-a-little",
        "not_valid",
        "not_valid",
        "pressure jumps by",
    ),
    ("air-not-bled", "pass", "fail", ""),
    ("held-at-once", "pass", "fail", ""),
];

fn rows(all: &[Injected]) -> Vec<Row> {
    let next = AtomicUsize::new(0);
    let work = || {
        let mut own = Vec::new();
        while let Some(fault) = all.get(next.fetch_add(1, Ordering::Relaxed)) {
            own.push(RIG.row(fault));
        }
        own
    };
    std::thread::scope(|scope| {
        let threads = [scope.spawn(work), scope.spawn(work)];
        let rows = threads
            .into_iter()
            .flat_map(|t| t.join().expect("no panic"));
        rows.collect()
    })
}

fn says(played: &Played, part: &str) -> bool {
    let all = played.voids.iter().chain(&played.remarks);
    all.into_iter().any(|said| said.contains(part))
}

/// What is wrong with a row.
fn faults_of(row: &Row) -> Vec<String> {
    let Some((_, tight, leaking, part)) = EXPECTED.iter().find(|e| e.0 == row.name) else {
        return vec![format!("{} is not expected", row.name)];
    };
    let mut wrong = Vec::new();
    for (played, outcome) in [(&row.tight, tight), (&row.leaking, leaking)] {
        if *outcome != played.outcome {
            wrong.push(format!(
                "{}: {}, not {outcome}: {:?}",
                row.name, played.outcome, played.voids
            ));
        }
    }
    if !says(&row.tight, part) && !says(&row.leaking, part) {
        wrong.push(format!(
            "{}: nobody says `{part}`: {:?}",
            row.name, row.tight.voids
        ));
    }
    let deceives = row.tight.deceives() || row.leaking.deceives();
    if deceives {
        wrong.push(format!(
            "{}: deceives; moved by {:?} and {:?} U",
            row.name,
            row.tight.farthest(),
            row.leaking.farthest()
        ));
    }
    wrong
}

#[test]
fn each_fault_in_a_procedure_ends_as_it_should_and_none_deceives() {
    let mut all = injected();
    all.retain(can_be);
    let rows = rows(&all);
    let without = [&RIG.tight, &RIG.leaking].map(|base| base.proof.outcome.word());
    assert_eq!(without, ["pass", "fail"]);
    let wrong: Vec<String> = rows.iter().flat_map(faults_of).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert_eq!(rows.len(), EXPECTED.len());
}

/// Other sensors, other noise, another hand at the glass: nothing is said of a sound cylinder.
#[test]
fn a_sound_cylinder_is_told_of_nothing() {
    for seed in [11, 12, 13] {
        assert_eq!(
            procedure::wrongly_said(seed),
            Vec::<String>::new(),
            "{seed}"
        );
    }
}

/// What one hold does not see is done to the procedure too, and what the procedure cannot have is
/// a fault of the list: both tables together are all of it.
#[test]
fn both_tables_together_are_all_faults() {
    let all: HashSet<&str> = injected().iter().map(|fault| fault.name).collect();
    let names = |rows: &[(&'static str, &str)]| -> HashSet<&'static str> {
        rows.iter().map(|(name, _)| *name).collect()
    };
    let only = names(ONLY_IN_ONE_HOLD);
    let here: HashSet<&str> = EXPECTED.iter().map(|row| row.0).collect();
    assert!(only.is_subset(&all) && here.is_subset(&all));
    assert!(only.is_disjoint(&here));
    assert_eq!(only.len() + here.len(), all.len());
    assert!(names(NEEDS_PROCEDURE).is_subset(&here));
}

/// A fault that changes nothing would be no test of anything.
#[test]
fn each_fault_is_really_done() {
    let Base { unit, run, .. } = &RIG.tight;
    for fault in injected().iter().filter(|fault| can_be(fault)) {
        let struck = struck(fault, unit, run).expect("a test that can be played");
        let (own, sound) = (struck.recording, &run.recording);
        let is_done = own.time_s() != sound.time_s()
            || own.tracks() != sound.tracks()
            || own.heading().setup_toml != sound.heading().setup_toml;
        assert!(is_done, "{}", fault.name);
    }
}
