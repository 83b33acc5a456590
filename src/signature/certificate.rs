//! The statement of a certificate or report: what the register says under its number.

use jiff::Timestamp;

use crate::signature::digest::Digest;
use crate::signature::key::SigningKey;
use crate::signature::statement::Lines;
use crate::signature::statement::SignedStatement;
use crate::signature::statement::Statement;
use crate::signature::statement::StatementError;

const KIND: &str = "certificate";

/// A section of a record, a top-level member of its JSON: name and hash of its text.
pub type Section = (String, Digest);

/// What is stated of a certificate or report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CertificateStatement {
    /// Its number.
    pub number: String,
    /// "certificate" or "report".
    pub kind: String,
    /// Identity of the run.
    pub run_id: String,
    /// Hash of the recording's file, with the signature in it.
    pub archive_sha256: Digest,
    /// Hash of the fields of its rows in the register.
    pub row_sha256: Digest,
    /// Sections of its record, in order.
    pub sections: Vec<Section>,
    /// Hash of the whole text of its record.
    pub record_sha256: Digest,
    /// When it was issued, UTC by RFC 3339.
    pub issued_utc: String,
    /// Hash of the statement before it in the register; zeros for the first.
    pub previous: Digest,
}

impl CertificateStatement {
    /// Signs it.
    ///
    /// # Errors
    /// If a value cannot stand on a line.
    pub fn sign(&self, key: &SigningKey) -> Result<SignedStatement, StatementError> {
        let line = |name: &str, value: &str| (name.to_owned(), value.to_owned());
        let mut lines = vec![
            line("of", KIND),
            line("number", &self.number),
            line("kind", &self.kind),
            line("run", &self.run_id),
            line("archive_sha256", &self.archive_sha256.hex()),
            line("row_sha256", &self.row_sha256.hex()),
        ];
        for (name, digest) in &self.sections {
            lines.push((format!("section {name}"), digest.hex()));
        }
        lines.push(line("record_sha256", &self.record_sha256.hex()));
        lines.push(line("issued_utc", &self.issued_utc));
        lines.push(line("previous", &self.previous.hex()));
        SignedStatement::sign(lines, key)
    }

    /// Reads the lines of a statement.
    ///
    /// # Errors
    /// If they are not exactly those of a certificate.
    pub fn read(statement: &Statement) -> Result<Self, StatementError> {
        let mut lines = Lines::of(statement, KIND)?;
        let read = Self {
            number: lines.next("number")?.into(),
            kind: lines.next("kind")?.into(),
            run_id: lines.next("run")?.into(),
            archive_sha256: lines.digest("archive_sha256")?,
            row_sha256: lines.digest("row_sha256")?,
            sections: lines.named("section")?,
            record_sha256: lines.digest("record_sha256")?,
            issued_utc: lines.next("issued_utc")?.into(),
            previous: lines.digest("previous")?,
        };
        lines.end()?;
        Ok(read)
    }
}

/// An instant as a statement writes it, from UTC ms since 1970.
pub fn issued_utc(utc_ms: i64) -> String {
    Timestamp::from_millisecond(utc_ms).map_or_else(
        |_| format!("{utc_ms} ms since 1970"),
        |instant| instant.to_string(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stated() -> CertificateStatement {
        CertificateStatement {
            number: "TV-2026-0001".into(),
            kind: "certificate".into(),
            run_id: "run-1".into(),
            archive_sha256: Digest::of(b"archive"),
            row_sha256: Digest::of(b"row"),
            sections: vec![
                ("outcome".into(), Digest::of(b"1")),
                ("unit".into(), Digest::of(b"2")),
            ],
            record_sha256: Digest::of(b"record"),
            issued_utc: issued_utc(1_785_571_200_250),
            previous: Digest::ZERO,
        }
    }

    #[test]
    fn it_is_read_as_it_was_signed() {
        let signed = stated().sign(&SigningKey::from_random(&[1; 32]));
        let signed = signed.expect("a statement");
        assert_eq!(CertificateStatement::read(signed.statement()), Ok(stated()));
        let text = signed.text();
        assert!(
            text.contains("\nissued_utc: 2026-08-01T08:00:00.25Z\n"),
            "{text}"
        );
        assert!(text.contains(&format!("\nprevious: {}\n", "0".repeat(64))));
    }

    #[test]
    fn lines_in_another_order_or_number_are_not_one() {
        let signed = stated().sign(&SigningKey::from_random(&[1; 32]));
        let lines = signed.expect("a statement").statement().lines().to_vec();
        for index in 0..lines.len() {
            let mut fewer = lines.clone();
            let (name, _) = fewer.remove(index);
            let is_section = name.starts_with("section");
            let read = Statement::new(fewer).and_then(|s| CertificateStatement::read(&s));
            assert_eq!(read.is_ok(), is_section, "{name}");
            let mut more = lines.clone();
            more.insert(index, ("x".into(), "y".into()));
            let read = Statement::new(more).and_then(|s| CertificateStatement::read(&s));
            assert!(read.is_err(), "{name}");
        }
    }
}
