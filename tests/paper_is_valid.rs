//! Papers of real runs against PDF/A-3b and PDF/UA-1, by a validator that is not ours.

mod support {
    pub mod play;
    pub mod python;
}

use std::path::Path;
use stillrod::certificate::pdf;
use stillrod::daemon::judgement::judged;
use stillrod::daemon::paper::facts;
use stillrod::rehearsal::scenario;
use support::play::recording;

#[test]
fn a_paper_of_every_outcome_is_valid_for_the_archive_and_for_readers_of_screens() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut paths = Vec::new();
    let mut outcomes = Vec::new();
    for name in [
        "tight-rebuild",
        "cap-plug-leak",
        "close-to-the-limit",
        "position-sensor-lost",
        "no-limit-chosen",
    ] {
        let recording = recording(&scenario(name).expect("a scenario"));
        let judgement = judged(&recording, None).expect("settings that can be used");
        outcomes.push(judgement.verdict.outcome.word());
        let hash = "0".repeat(64);
        let bytes = pdf(&facts(
            &recording,
            &judgement,
            Path::new("run.h5"),
            &hash,
            Some("SAMPLE-1"),
        ))
        .expect("a paper");
        let path = folder.path().join(format!("{name}.pdf"));
        std::fs::write(&path, bytes).expect("writable");
        paths.push(path.to_str().expect("UTF-8").to_owned());
    }
    assert_eq!(
        outcomes,
        ["pass", "fail", "undecided", "not_valid", "measured"]
    );
    let arguments: Vec<&str> = paths.iter().map(String::as_str).collect();
    let said = support::python::run("check_pdf.py", &arguments);
    assert_eq!(said.matches(": valid").count(), 2 * paths.len(), "{said}");
}
