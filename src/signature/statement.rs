//! A statement: plain lines in one form only, and its signature.
//!
//! ```text
//! stillrod statement 1
//! of: certificate
//! number: TV-2026-0001
//! ...
//! public_key: 64 hexadecimal digits
//! signature: 128 hexadecimal digits
//! ```
//!
//! What is signed is the text up to and with the line `public_key`, line ends included.
//! Invariants: `parse(print(x)) == x`, and a text that is read prints as itself.

use crate::signature::digest::Digest;
use crate::signature::key::PublicKey;
use crate::signature::key::Signature;
use crate::signature::key::SigningKey;

/// First line of every statement; names the version of the form.
pub(super) const FIRST_LINE: &str = "stillrod statement 1";

/// Name of the line before the signature.
const PUBLIC_KEY: &str = "public_key";

/// Most lines of a statement; more is refused.
const MOST_LINES: usize = 1_000;

/// Longest name of a line, in bytes; longer is refused.
const LONGEST_NAME: usize = 100;

/// Longest value of a line, in bytes; longer is refused.
const LONGEST_VALUE: usize = 1_000;

/// Why a text is no statement.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StatementError {
    /// The first line is another.
    #[error("the statement does not begin with `{FIRST_LINE}`; a newer stillrod may know its form")]
    FirstLine,
    /// A line has another form than it must have.
    #[error("line {line} of the statement is not in its one form ({what})")]
    Line {
        /// Which line, from 1.
        line: usize,
        /// What is wrong with it.
        what: &'static str,
    },
    /// A line is missing, or stands where another must.
    #[error("the statement lacks its line `{name}`, or has it in another place")]
    Lacks {
        /// Name of the line.
        name: String,
    },
    /// The statement says more than its form has.
    #[error("the statement has lines that do not belong to it")]
    TooMuch,
}

/// Lines of a statement, unsigned: names and values in order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Statement {
    lines: Vec<(String, String)>,
}

impl Statement {
    /// From names and values in order.
    ///
    /// # Errors
    /// If a name is used twice or has other letters than a to z, digits, `_` and single
    /// blanks; if a value is empty, has a blank at an end, or a control character.
    pub fn new(lines: Vec<(String, String)>) -> Result<Self, StatementError> {
        let bad = |line, what| Err(StatementError::Line { line, what });
        if lines.len() > MOST_LINES {
            return Err(StatementError::TooMuch);
        }
        for (index, (name, value)) in lines.iter().enumerate() {
            // The first line is not among these.
            let line = index + 2;
            if !is_name(name) {
                return bad(line, "its name");
            }
            if !is_value(value) {
                return bad(line, "its value");
            }
            if lines[..index].iter().any(|(earlier, _)| earlier == name) {
                return bad(line, "its name stands twice");
            }
        }
        Ok(Self { lines })
    }

    /// Reads a text.
    ///
    /// # Errors
    /// If it is not exactly what [`Statement::text`] prints of some statement.
    pub fn parse(text: &str) -> Result<Self, StatementError> {
        let mut texts = text.split_inclusive('\n');
        if texts.next() != Some(&format!("{FIRST_LINE}\n")) {
            return Err(StatementError::FirstLine);
        }
        let mut lines = Vec::new();
        for (index, line) in texts.enumerate() {
            let bad = |what| StatementError::Line {
                line: index + 2,
                what,
            };
            let line = line.strip_suffix('\n').ok_or(bad("its end"))?;
            let (name, value) = line.split_once(": ").ok_or(bad("no `: `"))?;
            lines.push((name.to_owned(), value.to_owned()));
        }
        Self::new(lines)
    }

    /// The text that is signed.
    pub fn text(&self) -> String {
        let mut text = format!("{FIRST_LINE}\n");
        for (name, value) in &self.lines {
            text.push_str(&format!("{name}: {value}\n"));
        }
        text
    }

    /// Names and values in order.
    pub fn lines(&self) -> &[(String, String)] {
        &self.lines
    }

    /// The value of a line, if it has one of that name.
    pub fn value(&self, name: &str) -> Option<&str> {
        let found = self.lines.iter().find(|(n, _)| n == name);
        found.map(|(_, value)| value.as_str())
    }
}

fn is_name(name: &str) -> bool {
    !name.is_empty()
        && name.len() <= LONGEST_NAME
        && name.split(' ').all(|word| {
            let letters = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_';
            !word.is_empty() && word.bytes().all(letters)
        })
}

fn is_value(value: &str) -> bool {
    !value.is_empty()
        && value.len() <= LONGEST_VALUE
        && value.trim() == value
        && !value.chars().any(char::is_control)
}

/// A statement with its signature.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignedStatement {
    statement: Statement,
    public_key: PublicKey,
    signature: Signature,
}

impl SignedStatement {
    /// Signs lines; the line with the public key is added as the last.
    ///
    /// # Errors
    /// As [`Statement::new`].
    pub fn sign(
        mut lines: Vec<(String, String)>,
        key: &SigningKey,
    ) -> Result<Self, StatementError> {
        lines.push((PUBLIC_KEY.to_owned(), key.public().hex()));
        let statement = Statement::new(lines)?;
        Ok(Self {
            signature: key.sign(statement.text().as_bytes()),
            public_key: key.public(),
            statement,
        })
    }

    /// From the text of a statement and the digits of its signature, true or not.
    ///
    /// # Errors
    /// If either has another form.
    pub fn from_parts(statement: &str, signature: &str) -> Result<Self, StatementError> {
        let statement = Statement::parse(statement)?;
        let lacks = |name: &str| StatementError::Lacks { name: name.into() };
        let (name, value) = statement.lines.last().ok_or(lacks(PUBLIC_KEY))?;
        let public_key = PublicKey::from_hex(value).filter(|_| name == PUBLIC_KEY);
        Ok(Self {
            public_key: public_key.ok_or(lacks(PUBLIC_KEY))?,
            signature: Signature::from_hex(signature).ok_or(lacks("signature"))?,
            statement,
        })
    }

    /// Reads what [`SignedStatement::text`] prints, true or not.
    ///
    /// # Errors
    /// For any other text.
    pub fn parse(text: &str) -> Result<Self, StatementError> {
        let lacks = || StatementError::Lacks {
            name: "signature".into(),
        };
        let body = text.strip_suffix('\n').ok_or(lacks())?;
        let (statement, last) = body.rsplit_once('\n').ok_or(lacks())?;
        let signature = last.strip_prefix("signature: ").ok_or(lacks())?;
        Self::from_parts(&format!("{statement}\n"), signature)
    }

    /// The statement and, as one line more, its signature.
    pub fn text(&self) -> String {
        format!(
            "{}signature: {}\n",
            self.statement.text(),
            self.signature_hex()
        )
    }

    /// The statement.
    pub fn statement(&self) -> &Statement {
        &self.statement
    }

    /// 128 hexadecimal digits.
    pub fn signature_hex(&self) -> String {
        self.signature.hex()
    }

    /// Hash of statement and signature; the next one in a chain names it.
    pub fn digest(&self) -> Digest {
        Digest::of(self.text().as_bytes())
    }

    /// The key it says it was signed with.
    pub fn public_key(&self) -> PublicKey {
        self.public_key
    }

    /// Whether that key did sign it. Whose key it is, is another question.
    pub fn is_genuine(&self) -> bool {
        let text = self.statement.text();
        self.public_key.signed(text.as_bytes(), &self.signature)
    }
}

/// Takes the lines of a statement apart, in their one order.
pub(super) struct Lines<'a> {
    left: std::slice::Iter<'a, (String, String)>,
}

impl<'a> Lines<'a> {
    /// Of a statement of the given kind, behind the line that says so.
    pub(super) fn of(statement: &'a Statement, kind: &str) -> Result<Self, StatementError> {
        let mut lines = Self {
            left: statement.lines.iter(),
        };
        match lines.next("of")? {
            found if found == kind => Ok(lines),
            _ => Err(StatementError::Lacks {
                name: format!("of: {kind}"),
            }),
        }
    }

    /// The value of the next line, which must have that name.
    pub(super) fn next(&mut self, name: &str) -> Result<&'a str, StatementError> {
        match self.left.next() {
            Some((found, value)) if found == name => Ok(value),
            _ => Err(StatementError::Lacks { name: name.into() }),
        }
    }

    /// The next line as a hash.
    pub(super) fn digest(&mut self, name: &str) -> Result<Digest, StatementError> {
        let value = self.next(name)?;
        Digest::from_hex(value).ok_or(StatementError::Lacks { name: name.into() })
    }

    /// All following lines whose names begin with a word and a blank: the rest of the name, and the hash.
    pub(super) fn named(&mut self, word: &str) -> Result<Vec<(String, Digest)>, StatementError> {
        let mut found = Vec::new();
        while let Some((line, _)) = self.left.as_slice().first() {
            let Some(name) = line.strip_prefix(word).and_then(|n| n.strip_prefix(' ')) else {
                break;
            };
            found.push((name.to_owned(), self.digest(line)?));
        }
        Ok(found)
    }

    /// The last line is the public key, and nothing follows it.
    pub(super) fn end(mut self) -> Result<(), StatementError> {
        self.next(PUBLIC_KEY)?;
        match self.left.next() {
            None => Ok(()),
            Some(_) => Err(StatementError::TooMuch),
        }
    }
}

#[cfg(test)]
mod tests;
