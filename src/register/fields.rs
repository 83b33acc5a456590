//! The fields of a certificate's rows that its statement holds, in their one order.
//!
//! Unit, test and certificate, as they stood when it was issued; the record behind the
//! paper has hashes of its own. Kept as text, each field behind its length, and hashed
//! as that text.
//!
//! A unit is described anew by a later test of the shop, so the description of a unit
//! must be that of its *last* statement; its tag and all other fields never change.

use sqlx::Row as _;
use sqlx::sqlite::SqliteRow;

/// Names of the fields, in order; also how they are selected.
pub(super) const FIELDS: [&str; 24] = [
    "unit.tag",
    "unit.description",
    "unit.machine",
    "unit.serial",
    "unit.seal",
    "unit.described_by",
    "unit.described_utc_ms",
    "test.run_id",
    "test.started_utc_ms",
    "test.time_zone",
    "test.outcome",
    "test.headline",
    "test.archive_file",
    "test.archive_sha256",
    "test.software",
    "test.method_version",
    "test.practice",
    "test.job",
    "certificate.number",
    "certificate.series",
    "certificate.year",
    "certificate.sequence",
    "certificate.issued_utc_ms",
    "certificate.kind",
];

/// Fields that a later test of the same unit may describe anew.
pub(super) const DESCRIBED_ANEW: [&str; 6] = [
    "unit.description",
    "unit.machine",
    "unit.serial",
    "unit.seal",
    "unit.described_by",
    "unit.described_utc_ms",
];

/// The fields of one certificate; None for one whose row is not there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Fields(Vec<Option<String>>);

impl Fields {
    /// What to select, in order.
    pub(super) fn selected() -> String {
        let casts = FIELDS.iter().map(|name| match *name {
            // Not every test belongs to a job.
            "test.job" => "iif(test.id IS NULL, NULL, coalesce(CAST(test.job AS TEXT), ''))".into(),
            name => format!("CAST({name} AS TEXT)"),
        });
        casts.collect::<Vec<_>>().join(", ")
    }

    /// What to select where there are no statements to compare with.
    pub(super) fn none_selected() -> String {
        FIELDS.map(|_| "NULL").join(", ")
    }

    /// From a row whose first columns are [`Fields::selected`].
    pub(super) fn of_row(row: &SqliteRow) -> Result<Self, sqlx::Error> {
        (0..FIELDS.len())
            .map(|index| row.try_get(index))
            .collect::<Result<_, _>>()
            .map(Self)
    }

    /// As it is kept and hashed; None if a row is missing.
    pub(super) fn text(&self) -> Option<String> {
        let mut text = String::new();
        for (name, value) in FIELDS.iter().zip(&self.0) {
            let value = value.as_ref()?;
            text.push_str(&format!("{name} {}\n{value}\n", value.len()));
        }
        Some(text)
    }

    /// Reads [`Fields::text`]; None for any other text.
    pub(super) fn parse(text: &str) -> Option<Self> {
        let mut rest = text;
        let mut values = Vec::new();
        for name in FIELDS {
            let (length, after) = rest
                .strip_prefix(name)?
                .strip_prefix(' ')?
                .split_once('\n')?;
            let length: usize = length.parse().ok()?;
            values.push(Some(after.get(..length)?.to_owned()));
            rest = after.get(length..)?.strip_prefix('\n')?;
        }
        let read = Self(values);
        (rest.is_empty() && read.text().as_deref() == Some(text)).then_some(read)
    }

    /// The value of a field.
    pub(super) fn value(&self, name: &str) -> Option<&str> {
        let index = FIELDS.iter().position(|field| *field == name)?;
        self.0.get(index)?.as_deref()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields() -> Fields {
        let value = |(index, name): (usize, &&str)| Some(format!("{index}\n{name} ä"));
        Fields(FIELDS.iter().enumerate().map(value).collect())
    }

    #[test]
    fn fields_are_read_as_they_were_kept_and_in_that_form_only() {
        let text = fields().text().expect("all there");
        assert_eq!(Fields::parse(&text), Some(fields()));
        assert_eq!(fields().value("unit.seal"), Some("4\nunit.seal ä"));
        for wrong in [
            String::new(),
            text.replacen(" 1", " 01", 1),
            format!("{text}\n"),
            text.replacen("unit.seal", "unit.SEAL", 1),
        ] {
            assert_eq!(Fields::parse(&wrong), None);
        }
    }

    #[test]
    fn a_letter_moved_to_the_next_field_is_another_text() {
        let mut other = fields();
        other.0[0] = Some("0\nunit.tag ".into());
        other.0[1] = Some("ä1\nunit.description ä".into());
        assert_ne!(other.text(), fields().text());
        other.0[23] = None;
        assert_eq!(other.text(), None);
    }
}
