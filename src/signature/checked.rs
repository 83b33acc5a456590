//! What a look at something signed found.

use crate::signature::key::PublicKey;

/// Whether a thing is as it was signed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Standing {
    /// Every byte is as it was signed.
    Whole,
    /// It is not; what differs, in words, at least one.
    Changed(Vec<String>),
    /// Nothing of it is signed, and why that may be.
    NotSigned(String),
}

/// What a look found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checked {
    /// What it is, "certificate TV-2026-0001".
    pub what: String,
    /// Whether it is as it was signed.
    pub standing: Standing,
    /// Keys of all signatures in it that are genuine; whose they are is not known here.
    pub keys: Vec<PublicKey>,
}

impl Checked {
    /// As it was signed if nothing differs.
    pub fn of(what: String, differs: Vec<String>, mut keys: Vec<PublicKey>) -> Self {
        let mut seen: Vec<PublicKey> = Vec::new();
        keys.retain(|key| {
            let is_new = !seen.contains(key);
            seen.push(*key);
            is_new
        });
        let standing = match differs.is_empty() {
            true => Standing::Whole,
            false => Standing::Changed(differs),
        };
        Self {
            what,
            standing,
            keys,
        }
    }

    /// Nothing of it is signed.
    pub fn not_signed(what: String, why: &str) -> Self {
        Self {
            what,
            standing: Standing::NotSigned(why.into()),
            keys: Vec::new(),
        }
    }
}
