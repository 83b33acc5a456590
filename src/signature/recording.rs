//! The signed block at the start of a recording's file.
//!
//! Text in front, zeros behind it, 4096 bytes in all; whoever opens the file with any
//! viewer of plain text reads the statement. What the parts are is said by `archive`.

use crate::signature::digest::Digest;
use crate::signature::key::SigningKey;
use crate::signature::statement::Lines;
use crate::signature::statement::SignedStatement;
use crate::signature::statement::StatementError;

const KIND: &str = "recording";

/// Length of the block, bytes.
pub const BLOCK_BYTES: usize = 4096;

/// Why a block cannot be made or read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BlockError {
    /// The statement is in another form.
    #[error(transparent)]
    Statement(#[from] StatementError),
    /// It is too long.
    #[error(
        "the statement of the recording has {n_bytes} bytes, the block {BLOCK_BYTES}; this is a fault of the program, report it"
    )]
    TooLong {
        /// Its length.
        n_bytes: usize,
    },
    /// Something stands behind the text.
    #[error("the block has something behind its text, or its text is no UTF-8")]
    NotZero,
    /// The signature is not of this text.
    #[error("the signature is not of this statement")]
    NotGenuine,
}

/// What is stated of a recording.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordingStatement {
    /// Identity of the run.
    pub run_id: String,
    /// Hash of all bytes behind the block.
    pub bytes_sha256: Digest,
    /// Names of its parts, with the hash of each.
    pub parts: Vec<(String, Digest)>,
}

impl RecordingStatement {
    /// The block, signed.
    ///
    /// # Errors
    /// If the statement is too long, or a name cannot stand on a line.
    pub fn block(&self, key: &SigningKey) -> Result<Vec<u8>, BlockError> {
        let mut lines = vec![
            ("of".to_owned(), KIND.to_owned()),
            ("run".to_owned(), self.run_id.clone()),
            ("bytes_sha256".to_owned(), self.bytes_sha256.hex()),
        ];
        for (name, digest) in &self.parts {
            lines.push((format!("part {name}"), digest.hex()));
        }
        let mut block = SignedStatement::sign(lines, key)?.text().into_bytes();
        if block.len() > BLOCK_BYTES {
            return Err(BlockError::TooLong {
                n_bytes: block.len(),
            });
        }
        block.resize(BLOCK_BYTES, 0);
        Ok(block)
    }

    /// Reads a block whose signature is genuine.
    ///
    /// # Errors
    /// If it is anything else.
    pub fn read(block: &[u8]) -> Result<(Self, SignedStatement), BlockError> {
        let n_text = block.iter().position(|byte| *byte == 0);
        let (text, rest) = block.split_at(n_text.unwrap_or(block.len()));
        if rest.iter().any(|byte| *byte != 0) {
            return Err(BlockError::NotZero);
        }
        let text = std::str::from_utf8(text).map_err(|_not_utf8| BlockError::NotZero)?;
        let signed = SignedStatement::parse(text)?;
        if !signed.is_genuine() {
            return Err(BlockError::NotGenuine);
        }
        let mut lines = Lines::of(signed.statement(), KIND)?;
        let read = Self {
            run_id: lines.next("run")?.into(),
            bytes_sha256: lines.digest("bytes_sha256")?,
            parts: lines.named("part")?,
        };
        lines.end()?;
        Ok((read, signed))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stated() -> RecordingStatement {
        RecordingStatement {
            run_id: "run-1".into(),
            bytes_sha256: Digest::of(b"all"),
            parts: vec![
                ("time".into(), Digest::of(b"1")),
                ("codes p_cap".into(), Digest::of(b"2")),
            ],
        }
    }

    #[test]
    fn a_block_is_read_as_it_was_made_and_no_bit_of_it_can_be_turned() {
        let block = stated().block(&SigningKey::from_random(&[2; 32]));
        let block = block.expect("a block");
        assert_eq!(block.len(), BLOCK_BYTES);
        assert_eq!(RecordingStatement::read(&block).expect("whole").0, stated());
        for at in 0..block.len() {
            let mut other = block.clone();
            other[at] ^= 1 << (at % 8);
            assert!(RecordingStatement::read(&other).is_err(), "byte {at}");
        }
    }

    #[test]
    fn a_statement_that_does_not_fit_is_refused() {
        let long = RecordingStatement {
            parts: (0..60).map(|i| (format!("p{i}"), Digest::ZERO)).collect(),
            ..stated()
        };
        let block = long.block(&SigningKey::from_random(&[2; 32]));
        assert!(matches!(block, Err(BlockError::TooLong { .. })));
    }
}
