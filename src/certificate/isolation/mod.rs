//! The isolation sheet: which way the oil takes, on one page to mail or to read out.
//!
//! `facts` is everything it is made from; `compose` and `conclude` turn it into words,
//! `record` into the JSON that people's scripts read, `page` into a file that holds both.
//!
//! Invariants: as for the certificate; and a part is named only where the attribution
//! names it.

mod facts;

mod compose;
mod conclude;
mod figures;
mod together;

mod record;

mod layout;
mod page;
mod phases;

pub use compose::IsolationPaper;
pub use compose::compose_isolation;
pub use conclude::Conclusion;
pub use conclude::Tone;
pub use facts::Expanded;
pub use facts::IsolationFacts;
pub use facts::PhaseFacts;
pub use facts::QuestionAnswer;
pub use page::isolation_pdf;
pub use record::IsolationRecord;
