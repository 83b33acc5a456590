//! Papers of real runs against PDF/A-3b and PDF/UA-1, by a validator that is not ours.

mod support {
    pub mod play;
    pub mod python;
}

use std::path::Path;
use stillrod::certificate::Facts;
use stillrod::certificate::Record;
use stillrod::certificate::Signing;
use stillrod::certificate::pdf;
use stillrod::certificate::pdf_with;
use stillrod::daemon::judgement::judged;
use stillrod::daemon::paper::facts;
use stillrod::rehearsal::scenario;
use stillrod::signature::CertificateStatement;
use stillrod::signature::Digest;
use stillrod::signature::SigningKey;
use stillrod::signature::Standing::Whole;
use stillrod::signature::check_paper;
use stillrod::signature::issued_utc;
use stillrod::signature::sections;
use stillrod::signature::with_signature;
use support::play::recording;

/// The paper as a shop would sign it; its own look at it finds it whole.
fn signed(facts: &Facts<'_>) -> Vec<u8> {
    let record = Record::from_facts(facts).to_json_pretty();
    let key = SigningKey::from_random(&[11; 32]);
    let stated = CertificateStatement {
        number: "SAMPLE-1".into(),
        kind: "certificate".into(),
        run_id: facts.recording.heading().run_id.clone(),
        archive_sha256: Digest::ZERO,
        row_sha256: Digest::ZERO,
        sections: sections(&record).expect("an object"),
        record_sha256: Digest::of(record.as_bytes()),
        issued_utc: issued_utc(0),
        previous: Digest::ZERO,
    };
    let statement = stated.sign(&key).expect("a statement");
    let signing = Signing {
        key: &key,
        statement: &statement,
        record: &with_signature(&record, &statement).expect("a record"),
    };
    let bytes = pdf_with(facts, Some(&signing)).expect("a paper");
    assert_eq!(check_paper(&bytes).standing, Whole);
    bytes
}

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
        let facts = facts(
            &recording,
            &judgement,
            Path::new("run.h5"),
            &hash,
            Some("SAMPLE-1"),
        );
        let plain = pdf(&facts).expect("a paper");
        for (kind, bytes) in [("plain", plain), ("signed", signed(&facts))] {
            let path = folder.path().join(format!("{name}-{kind}.pdf"));
            std::fs::write(&path, bytes).expect("writable");
            paths.push(path.to_str().expect("UTF-8").to_owned());
        }
    }
    assert_eq!(
        outcomes,
        ["pass", "fail", "undecided", "not_valid", "measured"]
    );
    let arguments: Vec<&str> = paths.iter().map(String::as_str).collect();
    let said = support::python::run("check_pdf.py", &arguments);
    assert_eq!(said.matches(": valid").count(), 2 * paths.len(), "{said}");
}
