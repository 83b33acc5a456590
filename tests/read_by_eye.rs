//! Readings by eye against the truth of the practice cylinder: a small part of the campaign of
//! `examples/by_eye`, and a whole test by somebody at the practice bench.

#![allow(
    dead_code,
    reason = "the campaign has more to say than is checked here"
)]

#[path = "../examples/coverage/chance.rs"]
mod chance;
#[path = "../examples/by_eye/count.rs"]
mod count;
#[path = "../examples/coverage/draw.rs"]
mod draw;
#[path = "../examples/coverage/draw_oil.rs"]
mod draw_oil;
#[path = "../examples/coverage/draw_sensors.rs"]
mod draw_sensors;
#[path = "../examples/by_eye/play.rs"]
mod play;
#[path = "../examples/coverage/setup_text.rs"]
mod setup_text;

use count::Stated;
use count::stated;
use std::path::Path;
use std::process::Command;
use stillrod::account::FigureName;

/// Of 95 % intervals of sixty holds, 52 or fewer would be chance in one of twenty thousand.
#[test]
fn stated_intervals_hold_the_truth_as_often_as_they_say() {
    let reads = (0..200).filter_map(|index| play::read(2026, index));
    let all: Vec<Stated> = reads.take(60).flat_map(|read| stated(&read)).collect();
    for name in [FigureName::LeakDown, FigureName::Drift, FigureName::CapLoss] {
        let own: Vec<&Stated> = all
            .iter()
            .filter(|s| s.name == name && !s.is_void)
            .collect();
        assert!(own.len() >= 35, "only {} of {name:?}", own.len());
        let hits = own.iter().filter(|s| s.holds()).count();
        assert!(
            hits * 100 >= own.len() * 87,
            "{hits} of {} of {name:?}",
            own.len()
        );
        // An interval that says nothing would hold any truth.
        let telling = own
            .iter()
            .filter(|s| s.half < 0.5 * s.truth.abs().max(1.0))
            .count();
        assert!(
            telling * 3 >= own.len(),
            "{telling} of {} of {name:?}",
            own.len()
        );
    }
    // A truth that is moved by two intervals is a miss.
    let moved = all.iter().filter(|s| {
        let moved = Stated {
            truth: s.value + 2.0 * s.half,
            ..(*s).clone()
        };
        moved.holds()
    });
    assert_eq!(moved.count(), 0);
}

/// Gauges of 2 bar a division read 25 and 23 bar throughout, while 0.17 mL/min pass the piston:
/// what lies between the pressures is all error, and so is how the leak followed it.
#[test]
fn pressures_that_the_gauges_cannot_tell_apart_make_no_flow() {
    let read = play::read(62, 94).expect("long enough");
    let found = stated(&read);
    let flow = |s: &&Stated| matches!(s.name, FigureName::CapLoss | FigureName::RodGain);
    assert_eq!(found.iter().find(flow), None);
    assert!(found.iter().any(|s| s.name == FigureName::Drift));
}

/// 110 bar between two sides are gone before the second look.
#[test]
fn a_leak_that_is_over_before_the_second_look_is_void() {
    let read = play::read(62, 202).expect("long enough");
    assert!(stated(&read).iter().all(|s| s.is_void));
}

fn rehearsed(name: &str, folder: &Path, more: &[&str]) -> (i32, String) {
    let done = Command::new(env!("CARGO_BIN_EXE_stillrod"))
        .args(["rehearse", name, "--data"])
        .arg(folder)
        .args(more)
        .output()
        .expect("runs");
    let said = String::from_utf8_lossy(&done.stdout).into_owned();
    (done.status.code().unwrap_or(-1), said)
}

fn archive(folder: &Path) -> std::path::PathBuf {
    let entries = std::fs::read_dir(folder.join("recordings")).expect("a folder");
    let mut paths = entries.map(|entry| entry.expect("an entry").path());
    paths
        .find(|path| path.extension().is_some_and(|e| e == "h5"))
        .expect("an archive")
}

/// The text of the first paper's first page.
fn first_page(folder: &Path) -> String {
    let papers = std::fs::read_dir(folder.join("papers")).expect("papers");
    let mut papers: Vec<_> = papers
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "pdf"))
        .collect();
    papers.sort();
    let text = Command::new("pdftotext")
        .args(["-l", "1", "-layout"])
        .arg(&papers[0])
        .arg("-")
        .output();
    String::from_utf8_lossy(&text.expect("poppler").stdout).into_owned()
}

/// The whole job, and judged again from its archive word for word.
#[test]
fn a_sound_cylinder_passes_without_electronics_and_its_archive_says_the_same() {
    let folder = tempfile::tempdir().expect("a folder");
    let (status, said) = rehearsed("gauge-and-cup", folder.path(), &[]);
    assert_eq!(status, 0, "{said}");
    for part in [
        "> Read now: cap-end pressure (pressure gauge G-7), in bar.",
        "Readings at 0, 1, 2, 3, 5, 7, 10 min.",
        "Understood: 3 full strokes.",
        "Oil lost from the cap side",
        "Cup at the rod port",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let again = Command::new(env!("CARGO_BIN_EXE_stillrod"))
        .arg("judge")
        .arg(archive(folder.path()))
        .output()
        .expect("runs");
    let again = String::from_utf8_lossy(&again.stdout).into_owned();
    let result = |text: &str| {
        let from = text.find("Gauge and cup\n").expect("a result");
        let until = text[from..].find("JCGM 106").map(|at| from + at);
        text[from..until.expect("a rule")].to_owned()
    };
    assert_eq!(result(&said), result(&again));
    // The record names the instruments.
    let (_, record) = rehearsed("gauge-and-cup", folder.path(), &["--json"]);
    let record: serde_json::Value = serde_json::from_str(&record).expect("a record");
    let sensors = record["sensors"].as_array().expect("sensors");
    let gauge = sensors
        .iter()
        .find(|s| s["role"] == "p_cap")
        .expect("a gauge");
    assert_eq!(
        gauge["label"],
        "pressure gauge read by eye, class 0.6, division 1 bar"
    );
    assert_eq!(gauge["certificate"], "TVD-2026-G7");
    // Every instrument has papers, and what could creep was looked at or is allowed for.
    assert!(!said.contains("not looked at"), "{said}");
    let (report, certificate) = ("Report of", "Certificate of");
    let paper = first_page(folder.path());
    assert!(
        paper.contains(certificate) && !paper.contains(report),
        "{paper}"
    );
}

#[test]
fn a_leaking_cylinder_fails_without_electronics() {
    let folder = tempfile::tempdir().expect("a folder");
    for seed in ["1", "2", "3"] {
        let more = ["--seed", seed];
        let (status, said) = rehearsed("gauge-and-cup-leaking", folder.path(), &more);
        assert_eq!(status, 10, "{said}");
        assert!(said.contains("Fail: Cup at the rod port"), "{said}");
    }
}
