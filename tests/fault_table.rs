//! Every fault of the practice bench, in a tight cylinder and in one that leaks a little more
//! than it may: what comes out, and what is said.
//!
//! The rule: a fault that moves a judged figure by more than its uncertainty never ends as a
//! pass, and no leak passes for it. What one hold cannot see is in `NEEDS_PROCEDURE`, which
//! may hold nothing that is seen; `creep.rs` shows that a procedure sees it.

#![allow(dead_code, reason = "the report has more to say than is checked here")]

#[path = "../examples/faults/play.rs"]
mod play;
#[path = "../examples/faults/table.rs"]
mod table;

use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;
use stillrod::rehearsal::injected;
use table::Bench;
use table::NEEDS_PROCEDURE;
use table::Played;
use table::Row;

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
        "did not change by a single step",
    ),
    (
        "cap-pressure-saturated",
        "not_valid",
        "not_valid",
        "stood at the upper end",
    ),
    (
        "supply-low",
        "not_valid",
        "not_valid",
        "cap-end pressure did not change by a single step",
    ),
    (
        "cap-pressure-noisy",
        "pass",
        "fail",
        "cap-end pressure is noisy",
    ),
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
    ("cap-pressure-drifts", "pass", "fail", ""),
    ("cap-pressure-drifts-up", "pass", "fail", ""),
    ("rod-pressure-drifts", "pass", "fail", ""),
    ("rod-pressure-drifts-up", "pass", "fail", ""),
    ("cap-span-wrong", "pass", "fail", ""),
    ("position-span-wrong", "pass", "fail", ""),
    ("probe-in-air", "undecided", "fail", ""),
    ("probe-in-air-cold-oil", "pass", "fail", ""),
    (
        "probe-drifts",
        "not_valid",
        "undecided",
        "seems to gain oil",
    ),
    ("probe-jumps", "not_valid", "not_valid", "within a minute"),
    ("probe-at-other-end", "pass", "fail", ""),
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
    ("position-drifts-in", "fail", "fail", ""),
    (
        "position-drifts-out",
        "not_valid",
        "not_valid",
        "seems to gain oil",
    ),
    (
        "position-drifts-out-a-little",
        "not_valid",
        "pass",
        "seems to gain oil",
    ),
    (
        "worn-spot",
        "not_valid",
        "not_valid",
        "a worn spot of the sensor",
    ),
    (
        "position-brush-jumps",
        "not_valid",
        "not_valid",
        "jumped away for single readings",
    ),
    (
        "sensors-swapped",
        "not_valid",
        "not_valid",
        "have changed places",
    ),
    (
        "one-sensor-twice",
        "not_valid",
        "not_valid",
        "show the same signal",
    ),
    (
        "one-sensor-twice-no-load",
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
        "pass",
        "seems to gain oil",
    ),
    ("all-readings-drift", "fail", "fail", ""),
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
        "the setup says 30.0 kN",
    ),
    ("bore-a-little-wrong", "pass", "fail", ""),
    (
        "bore-in-inches",
        "not_valid",
        "not_valid",
        "the setup says 30.0 kN",
    ),
    ("stroke-wrong", "pass", "fail", ""),
    (
        "range-wrong",
        "not_valid",
        "not_valid",
        "the setup says 30.0 kN",
    ),
    (
        "psi-for-bar",
        "not_valid",
        "not_valid",
        "readings in psi were taken for bar",
    ),
    (
        "bar-for-psi",
        "not_valid",
        "not_valid",
        "readings in bar were taken for psi",
    ),
    ("port-open", "pass", "fail", ""),
    ("valve-left-in", "fail", "fail", ""),
    ("hose-not-said", "pass", "fail", ""),
    ("load-wrong", "pass", "fail", "the setup says 20.0 kN"),
    (
        "load-changes",
        "not_valid",
        "not_valid",
        "pressure jumps by",
    ),
    ("pumped-up", "not_valid", "not_valid", "pressure jumps by"),
    (
        "pumped-up-a-little",
        "not_valid",
        "not_valid",
        "pressure jumps by",
    ),
    ("rod-touched", "not_valid", "not_valid", "pressure jumps by"),
    ("air-not-bled", "pass", "fail", ""),
    ("held-at-once", "pass", "fail", ""),
    (
        "piston-on-seat",
        "not_valid",
        "not_valid",
        "came to an end of its stroke",
    ),
];

fn rows() -> Vec<Row> {
    let (all, bench) = (injected(), Bench::new());
    let next = AtomicUsize::new(0);
    let work = || {
        let mut own = Vec::new();
        while let Some(fault) = all.get(next.fetch_add(1, Ordering::Relaxed)) {
            own.push(bench.row(fault));
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

#[test]
fn each_fault_ends_as_it_should_and_none_deceives_that_is_not_listed() {
    let rows = rows();
    assert!(rows.len() >= 30);
    let mut wrong = Vec::new();
    for row in &rows {
        let Some((_, tight, leaking, part)) = EXPECTED.iter().find(|e| e.0 == row.name) else {
            wrong.push(format!("{} is not expected", row.name));
            continue;
        };
        assert_eq!(
            (row.tight.without.as_str(), row.leaking.without.as_str()),
            ("pass", "fail")
        );
        for (played, outcomes) in [(&row.tight, tight), (&row.leaking, leaking)] {
            if !outcomes.split(' ').any(|outcome| outcome == played.outcome) {
                wrong.push(format!(
                    "{}: {}, not {outcomes}: {:?}",
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
        let is_listed = NEEDS_PROCEDURE.iter().any(|(name, _)| *name == row.name);
        if deceives != is_listed {
            wrong.push(format!(
                "{}: deceives: {deceives}, listed: {is_listed}; moved by {:?} and {:?} U",
                row.name,
                row.tight.farthest(),
                row.leaking.farthest()
            ));
        }
    }
    assert_eq!(rows.len(), EXPECTED.len());
    assert!(wrong.is_empty(), "{wrong:#?}");
}
