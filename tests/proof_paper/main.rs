//! The paper of a procedure: what it says, the record inside it, and the file itself.
//!
//! Needs `qpdf` and poppler's tools. Holds are those of the practice bench, put one behind the
//! other with what a procedure does between them; what people say is invented.

#[path = "../support/edges.rs"]
mod edges;
#[path = "../support/play.rs"]
mod play;
#[path = "../support/preflight.rs"]
mod preflight;
#[path = "../support/python.rs"]
mod python;

mod course;
mod file;
mod handed_over;
mod record;
mod scene;
mod told;
mod words;
