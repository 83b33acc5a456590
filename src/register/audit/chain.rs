//! The rows of a register, one after the other, against their statements.
//!
//! Pure. Told of are: a field or a section that is not as signed, a statement that is not
//! genuine or is gone, a link that names another statement than the one before it, and
//! numbers that are not consecutive.

use std::collections::BTreeMap;

use super::Audit;
use super::Audited;
use super::Head;
use super::Kept;
use super::Row;
use crate::register::fields::Fields;
use crate::register::fields::is_described_anew;
use crate::register::number;
use crate::register::signing::link;
use crate::signature::CertificateStatement;
use crate::signature::Digest;
use crate::signature::SignedStatement;
use crate::signature::check_record;

/// Most missing numbers that are named one by one.
const MOST_NAMED: usize = 20;

/// Longest value of a field in a sentence, in characters.
const LONGEST_SHOWN: usize = 60;

/// A chain that is followed from its first row to its last.
#[derive(Default)]
pub(super) struct Chain {
    audit: Audit,
    /// The row before, and whether its own statement is genuine.
    before: Option<(Head, bool)>,
    /// The last statement that speaks of each unit: number, fields as signed, fields now.
    units: BTreeMap<String, (String, Fields, Fields)>,
    /// Places in each series and year.
    sequences: BTreeMap<(String, i64), Vec<i64>>,
}

impl Chain {
    /// Notes something that is not as it was signed.
    pub(super) fn differs(&mut self, sentence: String) {
        self.audit.differs.push(sentence);
    }

    /// The next row.
    pub(super) fn take(&mut self, row: Row) {
        let number = row.number.clone();
        let written = number::written(&row.series, row.year, row.sequence);
        if number != written {
            self.differs(format!("{number}: its place in the series is {written}"));
        }
        let places = self.sequences.entry((row.series.clone(), row.year));
        places.or_default().push(row.sequence);
        if let Some((archive_file, archive_sha256)) = row.archive.clone() {
            self.audit.archives.push(Audited {
                number: number.clone(),
                archive_file,
                archive_sha256,
            });
        }
        match &row.statement {
            Some(kept) => self.signed(&row, kept),
            None if self.before.is_some() => {
                self.differs(format!("{number}: its statement is gone"));
            }
            None => self.audit.not_signed.push(number),
        }
    }

    fn signed(&mut self, row: &Row, kept: &Kept) {
        let number = &row.number;
        let digest = link(&kept.text, &kept.signature);
        let head = Head {
            number: number.clone(),
            digest,
        };
        let signed = SignedStatement::from_parts(&kept.text, &kept.signature);
        let stated = signed.ok().filter(SignedStatement::is_genuine);
        let key = stated.as_ref().map(SignedStatement::public_key);
        let stated = stated.and_then(|s| CertificateStatement::read(s.statement()).ok());
        let Some(stated) = stated else {
            self.differs(format!("{number}: its statement, or its signature"));
            self.before = Some((head, false));
            return;
        };
        let keys = &mut self.audit.keys;
        if let Some(key) = key.filter(|key| !keys.contains(key)) {
            keys.push(key);
        }
        self.follows(number, stated.previous);
        for section in check_record(&row.record, &stated) {
            self.differs(format!("{number}: {section}"));
        }
        let fields = Fields::parse(&kept.row_fields);
        let is_stated = Digest::of(kept.row_fields.as_bytes()) == stated.row_sha256;
        match fields.filter(|_| is_stated) {
            Some(fields) => self.same_fields(row, fields),
            None if row
                .fields
                .texts()
                .any(|text| Digest::of(text.as_bytes()) == stated.row_sha256) =>
            {
                self.differs(format!("{number}: the fields kept beside its statement"));
            }
            None => self.differs(format!(
                "{number}: its fields, and those kept beside its statement"
            )),
        }
        self.audit.chain.push(head.clone());
        self.before = Some((head, true));
    }

    /// Whether a statement names the one before it.
    fn follows(&mut self, number: &str, previous: Digest) {
        let expected = self.before.as_ref().map_or(Digest::ZERO, |(b, _)| b.digest);
        // A statement that was spoilt breaks the link behind it, too; it is told of already.
        let is_told = self.before.as_ref().is_some_and(|(_, genuine)| !genuine);
        if previous == expected || is_told {
            return;
        }
        let before = match &self.before {
            Some((before, _)) => format!("between {} and {number}", before.number),
            None => format!("before {number}"),
        };
        self.differs(format!(
            "the chain is broken {before}: something that was signed is not there"
        ));
    }

    fn same_fields(&mut self, row: &Row, signed: Fields) {
        for field in signed.names().filter(|field| !is_described_anew(field)) {
            self.same_field(&row.number, field, &signed, &row.fields);
        }
        let tag = signed.value("unit.tag").unwrap_or_default().to_owned();
        let last = (row.number.clone(), signed, row.fields.clone());
        self.units.insert(tag, last);
    }

    fn same_field(&mut self, number: &str, field: &str, signed: &Fields, now: &Fields) {
        let (was, is) = (signed.value(field), now.value(field));
        if was != is {
            self.differs(format!(
                "{number}: {field} is {}, {} was signed",
                shown(is),
                shown(was)
            ));
        }
    }

    /// What was found, when no row is left.
    pub(super) fn finish(mut self) -> Audit {
        for (number, signed, now) in std::mem::take(&mut self.units).into_values() {
            for field in signed.names().filter(|field| is_described_anew(field)) {
                self.same_field(&number, field, &signed, &now);
            }
        }
        for ((series, year), mut places) in std::mem::take(&mut self.sequences) {
            places.sort_unstable();
            let mut missing = Vec::new();
            let mut next = 1;
            for place in places {
                missing.extend((next..place).take(MOST_NAMED + 1));
                next = next.max(place + 1);
            }
            for place in missing.iter().take(MOST_NAMED) {
                let number = number::written(&series, year, *place);
                self.differs(format!("{number} is missing"));
            }
            if missing.len() > MOST_NAMED {
                self.differs(format!("and more of {series}-{year} are missing"));
            }
        }
        self.audit
    }
}

fn shown(value: Option<&str>) -> String {
    let Some(value) = value else {
        return "not there".into();
    };
    let mut short: String = value.chars().take(LONGEST_SHOWN).collect();
    if short.len() < value.len() {
        short.push('…');
    }
    format!("`{short}`")
}
