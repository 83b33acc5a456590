//! The paper of a procedure: one outcome over many steps, each with what it showed.
//!
//! `facts` is everything it is made from; `compose` turns it into words with `conclude` for
//! the outcome, `steps` for the table and `places` for what was and was not tested; `record`
//! into the JSON that people's scripts read; `page` into a file that holds both.
//!
//! Invariants: as for the certificate; and a step that was not done is never said as done.

mod facts;

mod compose;
mod conclude;
mod places;
mod seen;
mod steps;
mod strokes;

mod record;

mod front;
mod layout;
mod moved_record;
mod page;

pub use compose::HoldPart;
pub use compose::ProofPaper;
pub use compose::compose_proof;
pub use facts::ProofFacts;
pub use facts::StepFacts;
pub use facts::StepShown;
pub use facts::StrokesTold;
pub use facts::ZeroRead;
pub use page::proof_pdf;
pub use page::proof_pdf_twin;
pub use page::proof_pdf_with;
pub use record::ProofRecord;
pub use steps::StepRow;
pub use strokes::ALONG_THE_WAY;
pub use strokes::StrokeLine;
pub use strokes::StrokeTable;
pub use strokes::stroke_lines;
pub use strokes::unstated_words;
