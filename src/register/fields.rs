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
pub(super) const FIELDS: [&str; 32] = [
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
    "unit.kind",
    "unit.bore_um",
    "unit.rod_um",
    "unit.stroke_um",
    "unit.cap_rating_pa",
    "unit.rod_rating_pa",
    "unit.ports",
    "unit.holding_valve",
];

/// How many of them the statements of a register hold that has no build of its units yet.
const N_FIELDS_BEFORE: usize = 24;

/// Fields that a later test of the same unit may describe anew.
pub(super) fn is_described_anew(name: &str) -> bool {
    name.starts_with("unit.") && name != "unit.tag"
}

/// The fields of one certificate; None for one whose row is not there. There may be fewer than
/// [`FIELDS`]: those of an older statement, or of a file with an older layout.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Fields(Vec<Option<String>>);

impl Fields {
    /// What to select, in order; of a file that has no build of its units, without it.
    pub(super) fn selected(has_build: bool) -> String {
        let n_there = if has_build {
            FIELDS.len()
        } else {
            N_FIELDS_BEFORE
        };
        let casts = FIELDS.iter().enumerate().map(|(index, name)| match *name {
            _ if index >= n_there => "NULL".into(),
            // Not every test belongs to a job, and not all of a unit is written down.
            "test.job" => "iif(test.id IS NULL, NULL, coalesce(CAST(test.job AS TEXT), ''))".into(),
            name if index >= N_FIELDS_BEFORE => {
                format!("iif(unit.id IS NULL, NULL, coalesce(CAST({name} AS TEXT), ''))")
            }
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

    /// [`Fields::text`], and as a statement from before kept it.
    pub(super) fn texts(&self) -> impl Iterator<Item = String> {
        let before = Self(self.0.iter().take(N_FIELDS_BEFORE).cloned().collect());
        self.text().into_iter().chain(before.text())
    }

    /// Reads [`Fields::text`], of today or from before; None for any other text.
    pub(super) fn parse(text: &str) -> Option<Self> {
        let mut rest = text;
        let mut values = Vec::new();
        for name in FIELDS {
            if rest.is_empty() && values.len() == N_FIELDS_BEFORE {
                break;
            }
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

    /// Names of the fields it has.
    pub(super) fn names(&self) -> impl Iterator<Item = &'static str> {
        FIELDS.into_iter().take(self.0.len())
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

    #[test]
    fn what_was_kept_before_units_had_a_build_is_read_as_it_was() {
        let now = fields();
        let texts: Vec<String> = now.texts().collect();
        assert_eq!(texts.len(), 2);
        let before = Fields::parse(&texts[1]).expect("the older form");
        assert_eq!(before.names().count(), N_FIELDS_BEFORE);
        assert_eq!(
            before.value("certificate.kind"),
            now.value("certificate.kind")
        );
        assert_eq!(before.value("unit.bore_um"), None);
        // Neither more nor fewer are a form.
        let one_more = Fields(now.0[..=N_FIELDS_BEFORE].to_vec());
        assert_eq!(Fields::parse(&one_more.text().expect("a text")), None);
        let one_less = Fields(now.0[..N_FIELDS_BEFORE - 1].to_vec());
        assert_eq!(Fields::parse(&one_less.text().expect("a text")), None);
    }
}
