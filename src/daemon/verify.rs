//! `stillrod verify`: whether papers, records, recordings and registers are as they were signed.
//!
//! Works offline and writes nothing. What a file is, is told by its content. The key in a
//! file proves only that one key signed all of it; whose key it is, the shop's list of
//! public keys says.

mod kind;

use super::keys::KnownKey;
use super::keys::PUBLIC_KEYS;
use super::keys::known_keys;
use super::paper::chain;
use super::paper::sha256_hex;
use crate::archive;
use crate::register::Audit;
use crate::register::audit;
use crate::signature::Checked;
use crate::signature::PublicKey;
use crate::signature::Standing;
use crate::signature::check_paper;
use crate::signature::check_record_file;
use anyhow::bail;
use kind::Kind;
use kind::kind;
use std::path::Path;
use std::path::PathBuf;

/// Fewest digits of a hash that name a head: those on a paper.
const N_HEAD_DIGITS: usize = 16;

/// How a file came out, from good to bad.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grade {
    /// Whole, and signed with a key of the list.
    Whole,
    /// Not signed, or not known whose key signed it.
    Untold,
    /// It cannot be read.
    Unreadable,
    /// Something is not as it was signed.
    Changed,
}

impl Grade {
    /// Exit status for it.
    pub fn exit_status(self) -> u8 {
        match self {
            Self::Whole => 0,
            Self::Untold => 20,
            Self::Unreadable => 1,
            Self::Changed => 10,
        }
    }
}

/// What is said of one file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// How it came out.
    pub grade: Grade,
    /// Lines for people.
    pub lines: Vec<String>,
}

/// The public keys that are the shop's.
#[derive(Debug, Clone, Default)]
pub struct KeyList {
    from: Option<PathBuf>,
    keys: Vec<KnownKey>,
}

impl KeyList {
    /// From a file that was named, else that of the data folder, else none.
    ///
    /// # Errors
    /// If the file that was named, or the one that is there, cannot be read.
    pub fn find(named: Option<&Path>, data: &Path) -> anyhow::Result<Self> {
        let usual = data.join("keys").join(PUBLIC_KEYS);
        let path = match named {
            Some(path) => path.to_owned(),
            None if usual.exists() => usual,
            None => return Ok(Self::default()),
        };
        let keys = known_keys(&path)?;
        if keys.is_empty() {
            bail!("{} has no public key in it", path.display());
        }
        Ok(Self {
            from: Some(path),
            keys,
        })
    }

    /// What is said of the keys that signed a file, and whether all are known.
    fn tell(&self, signed_with: &[PublicKey]) -> (bool, Vec<String>) {
        let Some(from) = &self.from else {
            let mut lines: Vec<String> = signed_with
                .iter()
                .map(|key| format!("key: {} as the file itself says", key.hex()))
                .collect();
            lines.push(
                "key unknown: no list of public keys is at hand (--key), so this does not tell whose key it is"
                    .into(),
            );
            return (false, lines);
        };
        let mut are_known = true;
        let mut lines = Vec::new();
        for key in signed_with {
            match self.keys.iter().find(|known| known.key == *key) {
                Some(known) => lines.push(format!(
                    "key: {} in {}, used since {}",
                    key.hex(),
                    from.display(),
                    known.since
                )),
                None => {
                    are_known = false;
                    lines.push(format!(
                        "key unknown: {} is not in {}; anybody may have signed this",
                        key.hex(),
                        from.display()
                    ));
                }
            }
        }
        (are_known, lines)
    }
}

/// A head of a chain that was kept elsewhere.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptHead {
    /// Number of the certificate.
    pub number: String,
    /// The first 16 or more digits of the hash of its statement.
    pub hash: String,
}

impl KeptHead {
    /// As it was typed.
    ///
    /// # Errors
    /// If the hash is none.
    pub fn new(number: &str, hash: &str) -> anyhow::Result<Self> {
        let is_hex = hash.bytes().all(|b| b.is_ascii_hexdigit());
        if !is_hex || !(N_HEAD_DIGITS..=64).contains(&hash.len()) {
            bail!("{hash:?} is no head: it has 16 to 64 hexadecimal digits");
        }
        Ok(Self {
            number: number.into(),
            hash: hash.to_lowercase(),
        })
    }
}

/// Looks at one file. Trouble with it is told, too.
pub async fn verify(path: &Path, keys: &KeyList, head: Option<&KeptHead>) -> Told {
    match look(path, keys, head).await {
        Ok(told) => told,
        Err(error) => Told {
            grade: Grade::Unreadable,
            lines: vec![format!("cannot be read: {}", chain(&error))],
        },
    }
}

async fn look(path: &Path, keys: &KeyList, head: Option<&KeptHead>) -> anyhow::Result<Told> {
    let kind = kind(path)?;
    if head.is_some() && !matches!(kind, Kind::Register) {
        bail!("only a register has a chain with a head");
    }
    Ok(match kind {
        Kind::Register => register(path, &audit(path).await?, keys, head)?,
        Kind::Recording => told(&archive::check(path)?, keys),
        Kind::Paper(bytes) => told(&check_paper(&bytes), keys),
        Kind::Record(bytes) => told(&check_record_file(&bytes), keys),
    })
}

fn told(checked: &Checked, keys: &KeyList) -> Told {
    let what = &checked.what;
    let (are_known, of_keys) = keys.tell(&checked.keys);
    let (grade, mut lines) = match &checked.standing {
        Standing::Whole if are_known => (Grade::Whole, vec![format!("whole: {what}")]),
        Standing::Whole => (Grade::Untold, vec![format!("whole: {what}")]),
        Standing::Changed(differs) => {
            let lines = differs.iter().map(|d| format!("changed: {d}"));
            let first = format!("not as it was signed: {what}");
            (
                Grade::Changed,
                std::iter::once(first).chain(lines).collect(),
            )
        }
        Standing::NotSigned(why) => (Grade::Untold, vec![format!("not signed: {what}, {why}")]),
    };
    if !checked.keys.is_empty() {
        lines.extend(of_keys);
    }
    Told { grade, lines }
}

fn register(
    path: &Path,
    found: &Audit,
    keys: &KeyList,
    kept: Option<&KeptHead>,
) -> anyhow::Result<Told> {
    let mut differs = found.differs.clone();
    let mut notes = Vec::new();
    files(path, found, &mut differs, &mut notes)?;
    if let Some(kept) = kept {
        match found.chain.iter().find(|head| head.number == kept.number) {
            Some(head) if head.digest.hex().starts_with(&kept.hash) => {
                notes.push(format!(
                    "the head {} {} is in the chain",
                    kept.number, kept.hash
                ));
            }
            _ => differs.push(format!(
                "the head {} {} is not in the chain: its end was cut off, or rows were exchanged",
                kept.number, kept.hash
            )),
        }
    }
    let n_rows = found.chain.len() + found.not_signed.len();
    let papers = match n_rows {
        1 => "certificate or report",
        _ => "certificates and reports",
    };
    let mut what = format!("register of {n_rows} {papers}");
    if let Some(head) = found.chain.last() {
        what.push_str(&format!(
            ", chain up to {} {}",
            head.number,
            head.digest.short()
        ));
    }
    let is_signed = !found.chain.is_empty();
    let checked = match (differs.is_empty(), is_signed) {
        (true, false) => Checked::not_signed(what, "it was made before signatures"),
        _ => Checked::of(what, differs, found.keys.clone()),
    };
    let mut told = told(&checked, keys);
    if is_signed && !found.not_signed.is_empty() {
        told.grade = told.grade.max(Grade::Untold);
        told.lines.push(format!(
            "not signed (made before signatures): {}",
            found.not_signed.join(", ")
        ));
    }
    for (number, reason) in &found.withdrawn {
        told.lines.push(format!("withdrawn: {number}: {reason}"));
    }
    told.lines.extend(notes);
    Ok(told)
}

/// The recordings beside a register against the hashes in its rows.
fn files(
    register: &Path,
    found: &Audit,
    differs: &mut Vec<String>,
    notes: &mut Vec<String>,
) -> anyhow::Result<()> {
    let folder = register.with_file_name("recordings");
    for row in &found.archives {
        let (number, name) = (&row.number, &row.archive_file);
        // A name from a row that was changed may lead anywhere.
        let is_name = Path::new(name).file_name() == Some(name.as_ref());
        let path = folder.join(name);
        if !is_name || !path.exists() {
            notes.push(format!(
                "missing: the recording {name} of {number}, not checked"
            ));
        } else if sha256_hex(&path)? != row.archive_sha256 {
            differs.push(format!(
                "{number}: the recording {name} is another file than was entered"
            ));
        }
    }
    Ok(())
}

/// The head of a register's chain as a line to keep, and whether all of it is whole.
///
/// # Errors
/// If the register cannot be read or has no signed row.
pub async fn head(path: &Path) -> anyhow::Result<(String, Grade)> {
    let Kind::Register = kind(path)? else {
        bail!("only a register has a chain with a head");
    };
    let found = audit(path).await?;
    let Some(head) = found.chain.last() else {
        bail!("{} has no signed row", path.display());
    };
    let grade = match found.differs.is_empty() {
        true => Grade::Whole,
        false => Grade::Changed,
    };
    Ok((format!("{} {}", head.number, head.digest.hex()), grade))
}
