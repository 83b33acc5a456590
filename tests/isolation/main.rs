//! The isolation sheet: what it says, the record inside it, and the file itself.
//!
//! Needs `qpdf` and poppler's tools. All facts are invented for these tests, or played by
//! the practice bench.

#[path = "../support/edges.rs"]
mod edges;
#[path = "../support/play.rs"]
mod play;
#[path = "../support/python.rs"]
mod python;

mod file;
mod handed_over;
mod played;
mod record;
mod scene;
mod words;
