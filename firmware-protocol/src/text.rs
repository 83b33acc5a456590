//! Short printable texts of fixed room, for names and labels.
//!
//! Invariant: a [`Text`] holds only ASCII from space to tilde, so it can stand in a
//! message, a file or on a page without further care for control characters.

use core::fmt;

use crate::fault::FieldError;

/// Name of a board, 0 to 32 characters.
pub type BoardName = Text<32>;

/// Label of a channel as printed beside its terminal, 0 to 16 characters.
pub type Label = Text<16>;

/// A printable ASCII text of at most `LIMIT` characters (`LIMIT` up to 255).
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Text<const LIMIT: usize> {
    bytes: [u8; LIMIT],
    length: u8,
}

impl<const LIMIT: usize> Text<LIMIT> {
    /// Takes a text.
    ///
    /// # Errors
    /// [`FieldError::TextTooLong`] or [`FieldError::TextNotPrintable`].
    pub const fn new(text: &str) -> Result<Self, FieldError> {
        Self::from_bytes(text.as_bytes())
    }

    /// Takes the bytes of a text.
    ///
    /// # Errors
    /// As [`Text::new`].
    pub const fn from_bytes(text: &[u8]) -> Result<Self, FieldError> {
        const { assert!(LIMIT <= u8::MAX as usize) };
        if text.len() > LIMIT {
            return Err(FieldError::TextTooLong {
                length: text.len(),
                limit: LIMIT,
            });
        }
        let mut bytes = [0; LIMIT];
        let mut index = 0;
        while index < text.len() {
            let byte = text[index];
            if byte < b' ' || byte > b'~' {
                return Err(FieldError::TextNotPrintable { byte });
            }
            bytes[index] = byte;
            index += 1;
        }
        Ok(Self {
            bytes,
            length: text.len() as u8,
        })
    }

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        core::str::from_utf8(self.as_bytes()).expect("only ASCII passes the constructor")
    }

    /// The bytes of the text, without padding.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8] {
        &self.bytes[..usize::from(self.length)]
    }
}

impl<const LIMIT: usize> fmt::Debug for Text<LIMIT> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(self.as_str(), f)
    }
}

impl<const LIMIT: usize> fmt::Display for Text<LIMIT> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}
