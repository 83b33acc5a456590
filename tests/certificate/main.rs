//! The certificate: what it says, the record inside it, and the file itself.
//!
//! Words are checked as text, the record as JSON, and the PDF with programs of
//! others: `qpdf` for its structure, poppler's tools for fonts, text and attachment.

#[path = "../support/preflight.rs"]
mod preflight;

#[path = "../support/edges.rs"]
mod edges;

mod bench;
mod file;
mod handed_over;
mod older_form;
mod record;
mod scene;
mod words;
