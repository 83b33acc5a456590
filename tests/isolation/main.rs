//! The isolation sheet: what it says, the record inside it, and the file itself.
//!
//! Needs `qpdf` and poppler's tools. All facts are invented for these tests.

mod file;
mod record;
mod scene;
mod words;
