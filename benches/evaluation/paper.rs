//! What a signature costs a paper: making it plain and signed, and looking at it.

use super::timed;
use std::path::Path;
use stillrod::certificate::Record;
use stillrod::certificate::Signing;
use stillrod::certificate::pdf;
use stillrod::certificate::pdf_with;
use stillrod::daemon::judgement::judged;
use stillrod::daemon::paper::facts;
use stillrod::recording::Recording;
use stillrod::signature::CertificateStatement;
use stillrod::signature::Digest;
use stillrod::signature::SigningKey;
use stillrod::signature::check_paper;
use stillrod::signature::check_record_file;
use stillrod::signature::issued_utc;
use stillrod::signature::sections;
use stillrod::signature::with_signature;

/// Times the paper of one recording.
pub fn timed_paper(recording: &Recording) {
    let judgement = judged(recording, None).unwrap();
    let hash = Digest::of(b"recording").hex();
    let facts = facts(
        recording,
        &judgement,
        Path::new("run.h5"),
        &hash,
        Some("TV-1"),
    );
    let record = Record::from_facts(&facts).to_json_pretty();
    let key = SigningKey::from_random(&[1; 32]);
    let sign = || {
        let stated = CertificateStatement {
            number: "TV-1".into(),
            kind: "certificate".into(),
            run_id: "run".into(),
            archive_sha256: Digest::of(b"recording"),
            row_sha256: Digest::ZERO,
            sections: sections(&record).unwrap(),
            record_sha256: Digest::of(record.as_bytes()),
            issued_utc: issued_utc(0),
            previous: Digest::ZERO,
        };
        stated.sign(&key).unwrap()
    };
    let statement = sign();
    let signed_record = with_signature(&record, &statement).unwrap();
    let signing = Signing {
        key: &key,
        statement: &statement,
        record: &signed_record,
    };
    let paper = pdf_with(&facts, Some(&signing)).unwrap();
    println!(
        "paper of {:.0} kB with a record of {:.0} kB",
        paper.len() as f64 / 1e3,
        signed_record.len() as f64 / 1e3
    );
    timed(
        "  signing the statement of its record, 100 times",
        9,
        || {
            (0..100).for_each(|_| drop(sign()));
        },
    );
    timed("  making the paper", 9, || pdf(&facts).unwrap());
    timed("  making it signed", 9, || {
        pdf_with(&facts, Some(&signing)).unwrap()
    });
    timed("  looking at the paper, 100 times", 9, || {
        (0..100).for_each(|_| drop(check_paper(&paper)));
    });
    timed("  looking at the record, 100 times", 9, || {
        (0..100).for_each(|_| drop(check_record_file(signed_record.as_bytes())));
    });
}
