//! A signed record, and which of its sections was changed.

use super::*;
use crate::signature::checked::Standing;
use crate::signature::key::SigningKey;

const RECORD: &str = "{\n  \"run_id\": \"r\",\n  \"unit\": {\n    \"tag\": \"TV-0312\",\n    \"seal\": \"Lippe ä\"\n  },\n  \"figures\": [],\n  \"last\": 1.50\n}\n";

fn signed_record() -> String {
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
    let signed = stated.sign(&SigningKey::from_random(&[5; 32]));
    with_signature(RECORD, &signed.expect("a statement")).expect("a record")
}

fn differs(text: &str) -> Vec<String> {
    match check_record_file(text.as_bytes()).standing {
        Standing::Whole => Vec::new(),
        Standing::Changed(differs) => differs,
        Standing::NotSigned(why) => vec![why],
    }
}

#[test]
fn the_record_comes_out_of_the_signed_one_as_it_was() {
    let text = signed_record();
    let (record, signed) = taken_apart(&text).expect("a signed record");
    assert_eq!(record, RECORD);
    assert!(signed.is_genuine());
    let checked = check_record_file(text.as_bytes());
    assert_eq!(checked.what, "record of certificate TV-2026-0001");
    assert_eq!(checked.standing, Standing::Whole);
    assert_eq!(checked.keys, [signed.public_key()]);
}

#[test]
fn what_reads_records_reads_signed_ones() {
    let value: serde_json::Value = serde_json::from_str(&signed_record()).expect("JSON");
    assert_eq!(value["unit"]["tag"], "TV-0312");
    assert_eq!(value["signature"]["statement"][0], "stillrod statement 1");
}

#[test]
fn what_was_changed_is_named() {
    let text = signed_record();
    for (from, to, named) in [
        ("TV-0312", "TV-0313", vec!["section `unit` of the record"]),
        ("1.50", "1.5", vec!["section `last` of the record"]),
        ("[]", "[ ]", vec!["section `figures` of the record"]),
        ("[]", "[", vec!["section `figures` of the record"]),
        (
            "  \"figures\": [],\n",
            "",
            vec!["section `figures` of the record is missing"],
        ),
        (
            "  \"figures\": [],\n",
            "  \"figures\": [],\n  \"more\": 0,\n",
            vec!["section `more` of the record was added"],
        ),
        (
            ",\n  \"figures\"",
            " ,\n  \"figures\"",
            vec!["the record between its sections"],
        ),
        (
            "number: TV-2026-0001",
            "number: TV-2026-0002",
            vec!["the statement of the record, or its signature"],
        ),
        (
            "\"statement\": [",
            "\"statement\":  [",
            vec!["the signature of the record, or its form"],
        ),
    ] {
        assert!(text.contains(from), "{from}");
        assert_eq!(
            differs(&text.replacen(from, to, 1)),
            named,
            "{from} to {to}"
        );
    }
}

#[test]
fn members_in_another_order_are_a_change() {
    let text = signed_record();
    let swapped = text.replacen(
        "  \"figures\": [],\n  \"last\": 1.50",
        "  \"last\": 1.50,\n  \"figures\": []",
        1,
    );
    assert_ne!(swapped, text);
    assert_eq!(differs(&swapped), ["the record between its sections"]);
}

#[test]
fn every_flipped_bit_is_found() {
    let text = signed_record().into_bytes();
    for at in 0..text.len() {
        for bit in 0..8 {
            let mut other = text.clone();
            other[at] ^= 1 << bit;
            let standing = check_record_file(&other).standing;
            assert!(
                matches!(standing, Standing::Changed(_)),
                "byte {at}, bit {bit}: {standing:?}"
            );
        }
    }
}

#[test]
fn a_record_without_a_signature_is_not_signed() {
    assert_eq!(differs(RECORD), ["it was made before signatures"]);
}

#[test]
fn a_record_that_could_be_read_in_two_ways_is_not_signed() {
    for wrong in [
        "[]",
        "{\"a\": 1, \"a\": 2}",
        "{\"signature\": 1}",
        "{\"a\": 1",
    ] {
        assert!(sections(wrong).is_err(), "{wrong}");
    }
}
