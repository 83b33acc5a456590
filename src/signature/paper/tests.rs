//! A paper in the smallest PDF that has what is looked for, signed and then changed.

use super::*;
use crate::signature::certificate::CertificateStatement;
use crate::signature::checked::Standing;
use crate::signature::paper::places::find;
use crate::signature::record::sections;
use crate::signature::record::with_signature;

const RECORD: &str = "{\n  \"outcome\": \"pass\",\n  \"unit\": {}\n}\n";

fn key() -> SigningKey {
    SigningKey::from_random(&[8; 32])
}

fn certificate() -> SignedStatement {
    let stated = CertificateStatement {
        number: "TV-2026-0001".into(),
        kind: "certificate".into(),
        run_id: "r".into(),
        archive_sha256: Digest::ZERO,
        row_sha256: Digest::ZERO,
        sections: sections(RECORD).expect("an object"),
        record_sha256: Digest::of(RECORD.as_bytes()),
        issued_utc: "2026-08-01T08:00:00Z".into(),
        previous: Digest::ZERO,
    };
    stated.sign(&key()).expect("a statement")
}

/// Pages in an order that is not that of their objects.
fn pdf(keywords: &str) -> Vec<u8> {
    let record = with_signature(RECORD, &certificate()).expect("a record");
    let stream = |dictionary: &str, content: &str| {
        format!(
            "<</Length {}{dictionary}>>\nstream\n{content}\nendstream",
            content.len()
        )
    };
    let objects = [
        "<</Type/Pages/Count 2/Kids[3 0 R 2 0 R]>>".to_owned(),
        "<</Type/Page/Parent 1 0 R/Contents 5 0 R>>".to_owned(),
        "<</Type/Page/Parent 1 0 R/Contents 4 0 R>>".to_owned(),
        stream("", "front of the paper"),
        stream("", "back of the paper"),
        stream("/Type/EmbeddedFile", &record),
        format!("<</Keywords({keywords})>>"),
        stream("/Type/Metadata", &format!("<k>{keywords}</k>")),
    ];
    let mut bytes = b"%PDF-1.7\n".to_vec();
    let mut table = format!("xref\n0 {}\n0000000000 65535 f\r\n", objects.len() + 1);
    for (index, object) in objects.iter().enumerate() {
        table.push_str(&format!("{:010} 00000 n\r\n", bytes.len()));
        bytes.extend(format!("{} 0 obj\n{object}\nendobj\n", index + 1).into_bytes());
    }
    let start = bytes.len();
    bytes.extend(table.into_bytes());
    bytes.extend(format!("trailer\n<</Size 9>>\nstartxref\n{start}\n%%EOF").into_bytes());
    bytes
}

fn signed() -> Vec<u8> {
    let bytes = pdf(&paper_label(2, key().public()));
    let n_bytes = bytes.len();
    let signed = sign_paper(bytes, 2, &key(), &certificate()).expect("signed");
    assert_eq!(signed.len(), n_bytes);
    signed
}

fn differs(bytes: &[u8]) -> Vec<String> {
    match check_paper(bytes).standing {
        Standing::Whole => Vec::new(),
        Standing::Changed(differs) => differs,
        Standing::NotSigned(why) => vec![why],
    }
}

fn replaced(bytes: &[u8], from: &str, to: &str) -> Vec<u8> {
    let at = find(bytes, from.as_bytes()).expect("it is there");
    [&bytes[..at], to.as_bytes(), &bytes[at + from.len()..]].concat()
}

#[test]
fn a_signed_paper_is_whole() {
    let checked = check_paper(&signed());
    assert_eq!(checked.standing, Standing::Whole);
    assert_eq!(checked.keys, [key().public()]);
    assert_eq!(
        checked.what,
        "paper with the record of certificate TV-2026-0001"
    );
}

#[test]
fn what_was_changed_is_named() {
    let whole = signed();
    for (from, to, named) in [
        ("front of", "Front of", "page 1"),
        ("back of", "Back of", "page 2"),
        (
            "\"pass\"",
            "\"fail\"",
            "the attached record: section `outcome` of the record",
        ),
        ("%PDF-1.7", "%PDF-1.6", "neither a page nor the record"),
        (" length ", " lengtH ", "the signature in its keywords"),
        ("</k>", "</k", "its length"),
    ] {
        let found = differs(&replaced(&whole, from, to));
        assert!(found[0].starts_with(named), "{from}: {found:?}");
    }
    let longer = [&whole[..], b"\n%%EOF"].concat();
    assert!(differs(&longer)[0].starts_with("its length"));
}

#[test]
fn every_flipped_bit_is_found() {
    let whole = signed();
    for at in 0..whole.len() {
        let mut other = whole.clone();
        other[at] ^= 1 << (at % 8);
        assert!(!differs(&other).is_empty(), "byte {at}");
    }
}

#[test]
fn a_paper_whose_signature_was_cut_out_is_told_of() {
    let unsigned = pdf("none");
    assert_eq!(
        differs(&unsigned),
        ["the signature in its keywords is gone"]
    );
    assert_eq!(differs(b"%PDF-1.7"), ["it was made before signatures"]);
}

#[test]
fn a_paper_without_room_for_its_signature_is_refused() {
    let error = sign_paper(pdf("none"), 2, &key(), &certificate()).expect_err("no place");
    assert_eq!(error, PaperError::Place { n_found: 0 });
    // A text of the setup that looks like a signature must not be filled in.
    let label = paper_label(2, key().public());
    let doubtful = pdf(&format!("{label}) stillrod signature 1 key (x"));
    let error = sign_paper(doubtful, 2, &key(), &certificate()).expect_err("two");
    assert!(matches!(error, PaperError::Place { .. }));
}
