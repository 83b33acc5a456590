//! The label in the keywords of a paper: one line of fixed length.
//!
//! Letters, digits and blanks only, so that it stands in a PDF as it is, twice.

use crate::signature::key::PublicKey;
use crate::signature::key::Signature;

/// How a label begins.
pub(super) const BEGINS: &str = "stillrod signature 1 key ";

/// Digits of a position in the file.
const N_PLACE: usize = 10;

/// Digits of a short hash.
const N_HASH: usize = 16;

/// A page, or the attached record: where it lies, and a short hash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Part {
    /// 0 for the record, else the page from 1.
    number: usize,
    /// First byte.
    pub start: usize,
    /// Bytes.
    pub length: usize,
    /// First 16 digits of its SHA-256.
    pub hash: String,
}

impl Part {
    /// Whether it is the record.
    pub fn is_record(&self) -> bool {
        self.number == 0
    }

    /// What it is called.
    pub fn name(&self) -> String {
        match self.number {
            0 => "the attached record".into(),
            page => format!("page {page}"),
        }
    }
}

/// A label.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Label {
    /// The key that signed.
    pub key: PublicKey,
    /// Length of the file, bytes.
    pub n_bytes: usize,
    /// The record, then each page.
    pub parts: Vec<Part>,
    /// 128 digits.
    pub signature: String,
}

impl Label {
    /// With zeros for all that is not known before the paper is set.
    pub fn empty(n_pages: usize, key: PublicKey) -> Self {
        let part = |number| Part {
            number,
            start: 0,
            length: 0,
            hash: "0".repeat(N_HASH),
        };
        Self {
            key,
            n_bytes: 0,
            parts: (0..=n_pages).map(part).collect(),
            signature: "0".repeat(Signature::N_DIGITS),
        }
    }

    /// As it stands in the file. The signature is at its end.
    pub fn text(&self) -> String {
        let mut text = format!("{BEGINS}{} length {:010}", self.key.hex(), self.n_bytes);
        for part in &self.parts {
            let word = if part.is_record() { "record" } else { "page" };
            text.push_str(&format!(
                " {word} {:010} {:010} {}",
                part.start, part.length, part.hash
            ));
        }
        text + " signature " + &self.signature
    }

    /// Reads the label that some bytes begin with; None if it is in any other form.
    pub fn read(bytes: &[u8]) -> Option<Self> {
        let is_inside = |b: &u8| b.is_ascii_lowercase() || b.is_ascii_digit() || *b == b' ';
        let n_text = bytes.iter().position(|b| !is_inside(b))?;
        let text = std::str::from_utf8(&bytes[..n_text]).ok()?;
        let mut words = text.strip_prefix(BEGINS)?.split(' ');
        let key = PublicKey::from_hex(words.next()?)?;
        let mut label = Self::empty(0, key);
        label.parts.clear();
        while let Some(word) = words.next() {
            match word {
                "length" => label.n_bytes = place(words.next()?)?,
                "record" | "page" => label.parts.push(Part {
                    number: label.parts.len(),
                    start: place(words.next()?)?,
                    length: place(words.next()?)?,
                    hash: words.next().filter(|w| w.len() == N_HASH)?.to_owned(),
                }),
                "signature" => label.signature = words.next()?.to_owned(),
                _ => return None,
            }
        }
        // What prints as another text is in another form.
        (label.text() == text && label.signature.len() == Signature::N_DIGITS).then_some(label)
    }
}

fn place(word: &str) -> Option<usize> {
    word.parse().ok().filter(|_| word.len() == N_PLACE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signature::key::SigningKey;

    #[test]
    fn a_label_is_read_as_it_was_written_and_in_that_form_only() {
        let key = SigningKey::from_random(&[9; 32]).public();
        let mut label = Label::empty(2, key);
        label.n_bytes = 120_000;
        label.parts[2].start = 4_711;
        let text = label.text();
        assert_eq!(text.len(), Label::empty(2, key).text().len());
        assert_eq!(Label::read(format!("{text})").as_bytes()), Some(label));
        assert_eq!(Label::read(text.as_bytes()), None, "it ends somewhere");
        for (from, to) in [
            (" length ", "  length "),
            (" page ", " pages "),
            (" record ", " page "),
            ("0000004711", "4711"),
            (" signature ", " signature 0"),
        ] {
            let other = text.replacen(from, to, 1);
            assert_ne!(other, text, "{from}");
            assert_eq!(Label::read(format!("{other}<").as_bytes()), None, "{from}");
        }
    }
}
