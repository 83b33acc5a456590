//! The signature in the JSON record of a certificate, and which section of it was changed.
//!
//! The signed record is the record as the register keeps it with one member more, the last:
//! `"signature": {"statement": [lines], "signature": "hex"}`. Sections are the texts of the
//! top-level members as they stand; the whole text has a hash of its own, so that what is
//! between the members cannot be changed either.

use std::fmt;

use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;
use serde::de::MapAccess;
use serde::de::Visitor;
use serde_json::value::RawValue;

use crate::signature::certificate::CertificateStatement;
use crate::signature::certificate::Section;
use crate::signature::checked::Checked;
use crate::signature::digest::Digest;
use crate::signature::statement::SignedStatement;

/// Name of the member that holds the signature.
const MEMBER: &str = "signature";

/// How the member begins; nothing else of a record stands like this.
const BEGINS: &str = ",\n  \"signature\": {\n    \"statement\": [\n";

/// Why a record cannot be signed.
#[derive(Debug, thiserror::Error)]
pub enum RecordError {
    /// It is no JSON object.
    #[error("the record is no JSON object; this is a fault of the program, report it")]
    NoObject {
        /// What the reader says.
        #[source]
        source: serde_json::Error,
    },
    /// Two members have one name, or one is named as the signature is.
    #[error("the record has two members `{name}`; this is a fault of the program, report it")]
    Twice {
        /// The name.
        name: String,
    },
    /// It is not indented as records are.
    #[error(
        "the record is not indented JSON that ends with a line; this is a fault of the program, report it"
    )]
    Form,
}

/// Members of a JSON object in order, each with its text as it stands.
struct Members<'a>(Vec<(String, &'a RawValue)>);

impl<'de: 'a, 'a> Deserialize<'de> for Members<'a> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct InOrder;
        impl<'de> Visitor<'de> for InOrder {
            type Value = Members<'de>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
                let mut members = Vec::new();
                while let Some(member) = map.next_entry()? {
                    members.push(member);
                }
                Ok(Members(members))
            }
        }
        from.deserialize_map(InOrder)
    }
}

/// The sections of a record: its top-level members in order, with the hash of each text.
///
/// # Errors
/// If it is no JSON object, or a name stands twice.
pub fn sections(record: &str) -> Result<Vec<Section>, RecordError> {
    let members: Members<'_> =
        serde_json::from_str(record).map_err(|source| RecordError::NoObject { source })?;
    let mut sections: Vec<Section> = Vec::new();
    for (name, text) in members.0 {
        if name == MEMBER || sections.iter().any(|(earlier, _)| *earlier == name) {
            return Err(RecordError::Twice { name });
        }
        sections.push((name, Digest::of(text.get().as_bytes())));
    }
    Ok(sections)
}

/// Sections by their lines alone, for a text that is no JSON any more.
fn sections_by_line(record: &str) -> Vec<Section> {
    let mut sections: Vec<(String, String)> = Vec::new();
    for line in record.lines() {
        let member = line
            .strip_prefix("  \"")
            .and_then(|rest| rest.split_once("\": "));
        match (member, sections.last_mut()) {
            (Some((name, value)), _) => sections.push((name.to_owned(), value.to_owned())),
            (None, Some((_, text))) if line != "}" => {
                text.push('\n');
                text.push_str(line);
            }
            _ => {}
        }
    }
    let n_sections = sections.len();
    let hashed = sections
        .into_iter()
        .enumerate()
        .map(|(index, (name, text))| {
            let inside = match index + 1 < n_sections {
                true => text.strip_suffix(',').unwrap_or(&text),
                false => &text,
            };
            (name, Digest::of(inside.as_bytes()))
        });
    hashed.collect()
}

#[derive(Serialize, Deserialize)]
struct Member {
    statement: Vec<String>,
    signature: String,
}

/// A record with its signature as the last member.
///
/// # Errors
/// If the record is not JSON as records are written: indented, with a line end.
pub fn with_signature(record: &str, signed: &SignedStatement) -> Result<String, RecordError> {
    let body = record.strip_suffix("\n}\n").ok_or(RecordError::Form)?;
    let statement = signed.statement().text();
    let member = Member {
        statement: statement.lines().map(str::to_owned).collect(),
        signature: signed.signature_hex(),
    };
    let member =
        serde_json::to_string_pretty(&member).map_err(|source| RecordError::NoObject { source })?;
    let member = member.replace('\n', "\n  ");
    Ok(format!("{body},\n  \"{MEMBER}\": {member}\n}}\n"))
}

/// A signed record taken apart: the record as the register keeps it, and its statement.
/// None unless the text is exactly what [`with_signature`] makes of the two.
fn taken_apart(text: &str) -> Option<(String, SignedStatement)> {
    let start = text.rfind(BEGINS)?;
    let record = format!("{}\n}}\n", &text[..start]);
    let member = text[start..].strip_prefix(",\n  \"signature\": ")?;
    let member: Member = serde_json::from_str(member.strip_suffix("\n}\n")?).ok()?;
    let statement = member.statement.join("\n") + "\n";
    let signed = SignedStatement::from_parts(&statement, &member.signature).ok()?;
    let again = with_signature(&record, &signed).ok()?;
    (again == text).then_some((record, signed))
}

/// What of a record is not as its statement says: nothing, sections, or what is between them.
pub fn check_record(record: &str, stated: &CertificateStatement) -> Vec<String> {
    let found = sections(record).unwrap_or_else(|_| sections_by_line(record));
    let by_name = |list: &[Section], name: &str| {
        let section = list.iter().find(|(n, _)| n == name);
        section.map(|(_, digest)| *digest)
    };
    let mut differs = Vec::new();
    for (name, digest) in &stated.sections {
        match by_name(&found, name) {
            Some(other) if other == *digest => {}
            Some(_) => differs.push(format!("section `{name}` of the record")),
            None => differs.push(format!("section `{name}` of the record is missing")),
        }
    }
    for (name, _) in &found {
        if by_name(&stated.sections, name).is_none() {
            differs.push(format!("section `{name}` of the record was added"));
        }
    }
    if differs.is_empty() && Digest::of(record.as_bytes()) != stated.record_sha256 {
        differs.push("the record between its sections".into());
    }
    differs
}

/// What became of a signed record, with what it was and its statement if that can be read.
pub(super) struct RecordLook {
    /// What was found.
    pub checked: Checked,
    /// Its statement, if it is in its form.
    pub signed: Option<SignedStatement>,
}

pub(super) fn look_at_record(bytes: &[u8]) -> RecordLook {
    let text = String::from_utf8_lossy(bytes);
    let unread = |checked| RecordLook {
        checked,
        signed: None,
    };
    let Some((record, signed)) = taken_apart(&text) else {
        // A letter of the record that is no text any more still leaves its statement.
        let is_signed = ["stillrod statement", "\"signature\": {", "\"statement\": ["]
            .iter()
            .any(|mark| text.contains(mark));
        return unread(match is_signed {
            true => Checked::of(
                "record".into(),
                vec!["the signature of the record, or its form".into()],
                Vec::new(),
            ),
            false => Checked::not_signed("record".into(), "it was made before signatures"),
        });
    };
    let stated = CertificateStatement::read(signed.statement());
    let (what, differs) = match (signed.is_genuine(), &stated) {
        (true, Ok(stated)) => {
            let what = format!("record of {} {}", stated.kind, stated.number);
            (what, check_record(&record, stated))
        }
        (true, Err(error)) => ("record".into(), vec![error.to_string()]),
        (false, _) => (
            "record".into(),
            vec!["the statement of the record, or its signature".into()],
        ),
    };
    let keys = signed.is_genuine().then(|| signed.public_key());
    RecordLook {
        checked: Checked::of(what, differs, keys.into_iter().collect()),
        signed: Some(signed),
    }
}

/// Looks at the bytes of a JSON record.
pub fn check_record_file(bytes: &[u8]) -> Checked {
    look_at_record(bytes).checked
}

#[cfg(test)]
mod tests;
