//! The signature in a paper's PDF: over every byte of the file.
//!
//! A label of fixed length stands in the keywords of the document before it is set, so
//! that nothing moves when it is filled. It names the key, the length of the file, where
//! the attached record and each page lie with a short hash of each (to *name* what was
//! changed), and the signature. What is signed is a statement of the hash of all bytes,
//! the digits of the signature taken as zeros, and of the certificate's own statement.
//!
//! A PDF keeps keywords twice; both are filled alike and both are checked.

use crate::signature::checked::Checked;
use crate::signature::digest::Digest;
use crate::signature::digest::Hasher;
use crate::signature::key::PublicKey;
use crate::signature::key::Signature;
use crate::signature::key::SigningKey;
use crate::signature::record::look_at_record;
use crate::signature::statement::SignedStatement;
use crate::signature::statement::StatementError;

mod label;
mod places;

use label::BEGINS;
use label::Label;
use label::Part;
use places::find_all;
use places::places;

/// Why a paper cannot be signed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PaperError {
    /// The label is not where it must be.
    #[error(
        "the place of the signature is {n_found} times in the paper; take `{BEGINS}` out of the texts of the setup"
    )]
    Place {
        /// How often.
        n_found: usize,
    },
    /// The file is built in another way than expected.
    #[error(
        "the paper has no {what} where one was expected; this is a fault of the program, report it"
    )]
    Build {
        /// What was looked for.
        what: &'static str,
    },
    /// A statement cannot be made.
    #[error(transparent)]
    Statement(#[from] StatementError),
}

/// What stands in the keywords of a paper that is to be signed: zeros for what is not known yet.
pub fn paper_label(n_pages: usize, key: PublicKey) -> String {
    Label::empty(n_pages, key).text()
}

/// Fills the label of a paper. No byte moves.
///
/// # Errors
/// If the label of [`paper_label`] is not in the file, or the file is not as it was written.
pub fn sign_paper(
    mut bytes: Vec<u8>,
    n_pages: usize,
    key: &SigningKey,
    certificate: &SignedStatement,
) -> Result<Vec<u8>, PaperError> {
    let mut label = Label::empty(n_pages, key.public());
    let at = find_all(&bytes, label.text().as_bytes());
    if at.is_empty() || find_all(&bytes, BEGINS.as_bytes()) != at {
        return Err(PaperError::Place { n_found: at.len() });
    }
    label.n_bytes = bytes.len();
    let ranges = places(&bytes, n_pages)?;
    for (part, (start, length)) in label.parts.iter_mut().zip(ranges) {
        part.start = start;
        part.length = length;
        part.hash = Digest::of(&bytes[start..start + length]).short();
    }
    fill(&mut bytes, &at, &label);
    let statement = stated(Digest::of(&bytes), certificate, key)?;
    label.signature = statement.signature_hex();
    fill(&mut bytes, &at, &label);
    Ok(bytes)
}

fn fill(bytes: &mut [u8], at: &[usize], label: &Label) {
    let text = label.text();
    for start in at {
        bytes[*start..*start + text.len()].copy_from_slice(text.as_bytes());
    }
}

fn lines(all: Digest, certificate: &SignedStatement) -> Vec<(String, String)> {
    [
        ("of", "paper".to_owned()),
        ("bytes_sha256", all.hex()),
        ("certificate_statement", certificate.digest().hex()),
    ]
    .map(|(name, value)| (name.to_owned(), value))
    .to_vec()
}

fn stated(
    all: Digest,
    certificate: &SignedStatement,
    key: &SigningKey,
) -> Result<SignedStatement, StatementError> {
    SignedStatement::sign(lines(all, certificate), key)
}

/// The statement of a paper as its bytes make it, with the signature that its label has.
fn stated_by(all: Digest, certificate: &SignedStatement, label: &Label) -> Option<SignedStatement> {
    let mut text = String::from("stillrod statement 1\n");
    for (name, value) in lines(all, certificate) {
        text.push_str(&format!("{name}: {value}\n"));
    }
    text.push_str(&format!("public_key: {}\n", label.key.hex()));
    SignedStatement::from_parts(&text, &label.signature).ok()
}

/// Looks at the bytes of a paper.
pub fn check_paper(bytes: &[u8]) -> Checked {
    let at = find_all(bytes, BEGINS.as_bytes());
    if at.is_empty() {
        let is_damaged = !find_all(bytes, b"stillrod statement 1").is_empty();
        return match is_damaged {
            true => Checked::of(
                "paper".into(),
                vec!["the signature in its keywords is gone".into()],
                Vec::new(),
            ),
            false => Checked::not_signed("paper".into(), "it was made before signatures"),
        };
    }
    let labels: Vec<Option<Label>> = at.iter().map(|at| Label::read(&bytes[*at..])).collect();
    let one = labels.iter().flatten().next();
    let are_equal = labels.iter().all(|label| label.as_ref() == one);
    let Some(label) = one else {
        let what = vec!["the signature in its keywords".to_owned()];
        return Checked::of("paper".into(), what, Vec::new());
    };
    let mut differs = Vec::new();
    if bytes.len() != label.n_bytes {
        differs.push(format!(
            "its length: {} bytes, {} were signed",
            bytes.len(),
            label.n_bytes
        ));
    }
    let mut keys = Vec::new();
    let mut what = String::from("paper");
    let mut certificate = None;
    for part in &label.parts {
        let Some(inside) = inside(bytes, part) else {
            differs.push(part.name());
            continue;
        };
        let is_same = Digest::of(inside).short() == part.hash;
        if !part.is_record() {
            differs.extend((!is_same).then(|| part.name()));
            continue;
        }
        let look = look_at_record(inside);
        what = format!("paper with the {}", look.checked.what);
        differs.extend(in_words(&look.checked, is_same));
        keys.extend(look.checked.keys);
        certificate = look.signed;
    }
    let all = zeroed(bytes, &at, label);
    let whole = certificate.and_then(|certificate| stated_by(all, &certificate, label));
    match whole {
        Some(whole) if whole.is_genuine() && are_equal => keys.push(whole.public_key()),
        _ if !are_equal => differs.push("the signature in its keywords".into()),
        _ if differs.is_empty() => differs.push(
            "neither a page nor the record, but what is round them: type, structure, keywords, \
             or the signature itself"
                .into(),
        ),
        _ => {}
    }
    Checked::of(what, differs, keys)
}

/// What is wrong with the record in a paper.
fn in_words(record: &Checked, is_same: bool) -> Vec<String> {
    use crate::signature::checked::Standing;
    match &record.standing {
        Standing::Changed(differs) => {
            let inside = |what: &String| format!("the attached record: {what}");
            differs.iter().map(inside).collect()
        }
        Standing::Whole if is_same => Vec::new(),
        Standing::Whole | Standing::NotSigned(_) => vec!["the attached record".into()],
    }
}

fn inside<'a>(bytes: &'a [u8], part: &Part) -> Option<&'a [u8]> {
    bytes.get(part.start..part.start.checked_add(part.length)?)
}

/// Hash of all bytes, with zeros for the digits of the signature at each label.
fn zeroed(bytes: &[u8], at: &[usize], label: &Label) -> Digest {
    let n_before = label.text().len() - Signature::N_DIGITS;
    let mut hasher = Hasher::default();
    let mut from = 0;
    for start in at {
        let digits = (start + n_before).min(bytes.len());
        if digits < from {
            continue;
        }
        let end = (digits + Signature::N_DIGITS).min(bytes.len());
        hasher.update(&bytes[from..digits]);
        hasher.update(&[b'0'; Signature::N_DIGITS][..end - digits]);
        from = end;
    }
    hasher.update(&bytes[from..]);
    hasher.finish()
}

#[cfg(test)]
mod tests;
