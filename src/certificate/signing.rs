//! What a paper is signed with, and where that shows on it.

use crate::signature::PaperError;
use crate::signature::SignedStatement;
use crate::signature::SigningKey;
use crate::signature::paper_label;
use crate::signature::sign_paper;

/// What a paper is signed with.
#[derive(Debug, Clone, Copy)]
pub struct Signing<'a> {
    /// The key.
    pub key: &'a SigningKey,
    /// The statement of the certificate, from the register.
    pub statement: &'a SignedStatement,
    /// The record with its signature, which is attached as it is.
    pub record: &'a str,
}

impl Signing<'_> {
    /// The line among the data: the start of the statement's hash. Whoever keeps a paper keeps
    /// a head of the register's chain with it.
    pub(super) fn line(&self) -> (String, String) {
        let head = self.statement.digest().short();
        ("Signature".into(), format!("statement {head}"))
    }

    /// What stands in the keywords until it is filled.
    pub(super) fn label(&self, n_pages: usize) -> String {
        paper_label(n_pages, self.key.public())
    }

    /// Fills it.
    pub(super) fn sign(&self, bytes: Vec<u8>, n_pages: usize) -> Result<Vec<u8>, PaperError> {
        sign_paper(bytes, n_pages, self.key, self.statement)
    }
}
