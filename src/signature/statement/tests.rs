//! The form of a statement, and that its signature holds every letter of it.

use super::*;

fn lines(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
    let own = |(name, value): &(&str, &str)| ((*name).to_owned(), (*value).to_owned());
    pairs.iter().map(own).collect()
}

fn signed() -> SignedStatement {
    let key = SigningKey::from_random(&[3; 32]);
    let pairs = lines(&[
        ("of", "certificate"),
        ("number", "TV-2026-0001"),
        ("section unit", "Prüfstück: a b"),
    ]);
    SignedStatement::sign(pairs, &key).expect("a statement")
}

#[test]
fn a_statement_is_read_as_it_was_printed() {
    let signed = signed();
    assert!(signed.is_genuine());
    let again = SignedStatement::parse(&signed.text()).expect("the same");
    assert_eq!(again, signed);
    assert_eq!(again.digest(), signed.digest());
    assert_eq!(
        Statement::parse(&signed.statement().text()).as_ref(),
        Ok(signed.statement())
    );
    assert_eq!(
        signed.statement().value("section unit"),
        Some("Prüfstück: a b")
    );
}

#[test]
fn a_text_in_any_other_form_is_refused() {
    for wrong in [
        "",
        "stillrod statement 1",
        "stillrod statement 2\n",
        " stillrod statement 1\n",
        "stillrod statement 1\r\n",
        "stillrod statement 1\n\n",
        "stillrod statement 1\nnumber: 1",
        "stillrod statement 1\nnumber: 1\r\n",
        "stillrod statement 1\nnumber:1\n",
        "stillrod statement 1\nnumber : 1\n",
        "stillrod statement 1\nNumber: 1\n",
        "stillrod statement 1\nnumber: \n",
        "stillrod statement 1\nnumber:  1\n",
        "stillrod statement 1\nnumber: 1 \n",
        "stillrod statement 1\nsection  a: 1\n",
        "stillrod statement 1\nnumber: 1\nnumber: 1\n",
        "stillrod statement 1\nnumber: 1\u{b}2\n",
        "stillrod statement 1\n: 1\n",
    ] {
        assert!(Statement::parse(wrong).is_err(), "{wrong:?}");
    }
    assert!(Statement::parse("stillrod statement 1\nnumber: 1\n").is_ok());
}

#[test]
fn a_text_that_is_read_prints_as_itself_or_is_no_longer_genuine() {
    let whole = signed().text();
    for at in 0..whole.len() {
        for bit in 0..8 {
            let mut bytes = whole.clone().into_bytes();
            bytes[at] ^= 1 << bit;
            let Ok(text) = String::from_utf8(bytes) else {
                continue;
            };
            if let Ok(read) = SignedStatement::parse(&text) {
                assert_eq!(read.text(), text);
                assert!(!read.is_genuine(), "{text}");
            }
        }
    }
}

#[test]
fn a_statement_signed_with_another_key_says_so_or_is_not_genuine() {
    let signed = signed();
    let other = SigningKey::from_random(&[4; 32]);
    let text = signed
        .text()
        .replace(&signed.public_key().hex(), &other.public().hex());
    assert!(
        !SignedStatement::parse(&text)
            .expect("a statement")
            .is_genuine()
    );
}

#[test]
fn a_statement_of_one_kind_is_none_of_another() {
    let signed = signed();
    assert!(Lines::of(signed.statement(), "certificate").is_ok());
    assert!(Lines::of(signed.statement(), "recording").is_err());
}

#[test]
fn a_name_that_stands_twice_or_too_many_lines_are_refused() {
    let key = SigningKey::from_random(&[3; 32]);
    let twice = lines(&[("of", "a"), ("of", "a")]);
    assert!(SignedStatement::sign(twice, &key).is_err());
    let own_key = lines(&[("public_key", "1")]);
    assert!(SignedStatement::sign(own_key, &key).is_err());
    let many: Vec<_> = (0..1_001).map(|i| (format!("n{i}"), "1".into())).collect();
    assert_eq!(Statement::new(many), Err(StatementError::TooMuch));
}
