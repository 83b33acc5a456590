//! The certificate: what the paper says, how it looks, and the record inside it.
//!
//! `isolation` and `proof` are papers of their own, over several holds. `facts` is everything the paper is made from; `compose` turns it into words,
//! `record` into the JSON that people's scripts read, `pdf` into a file that holds
//! both. Nothing here measures or judges: figures come from `account`, outcomes
//! from `verdict`, pictures from `chart`.
//!
//! Invariants: equal facts give equal bytes; what was not measured is never printed
//! as measured; a number that is not finite never reaches the paper or the record.

mod facts;

mod isolation;
mod proof;

mod common;
mod compose;
mod rows;
mod sentence;
mod untested;

mod record;

mod pdf;

mod back;
mod bind;
mod blocks;
mod by_eye;
mod front;
mod ink;
mod judged_then;
mod letterhead;
mod marked;
mod measured;
mod pictures;
mod reading;
mod sheet;
mod signing;
mod tag;
mod typeset;
mod went;

pub use common::Mark;
pub use compose::Paper;
pub use compose::compose;
pub use facts::Facts;
pub use facts::Standing;
pub use isolation::Conclusion;
pub use isolation::Expanded;
pub use isolation::IsolationFacts;
pub use isolation::IsolationPaper;
pub use isolation::IsolationRecord;
pub use isolation::PhaseFacts;
pub use isolation::QuestionAnswer;
pub use isolation::Tone;
pub use isolation::compose_isolation;
pub use isolation::isolation_pdf;
pub use judged_then::HeldAgainst;
pub use judged_then::JudgedThen;
pub use judged_then::judged_then;
pub use letterhead::Letterhead;
pub use letterhead::Logo;
pub use letterhead::PaperSize;
pub use letterhead::check_logo;
pub use marked::Marked;
pub use marked::SaidOf;
pub use marked::StepThen;
pub use marked::marked;
pub use measured::LimitThen;
pub use measured::MeasuredFigure;
pub use measured::measured;
pub use pdf::PdfError;
pub use pdf::pdf;
pub use pdf::pdf_twin;
pub use pdf::pdf_with;
pub use proof::ALONG_THE_WAY;
pub use proof::HoldPart;
pub use proof::ProofFacts;
pub use proof::ProofPaper;
pub use proof::ProofRecord;
pub use proof::StepFacts;
pub use proof::StepRow;
pub use proof::StepShown;
pub use proof::StrokeLine;
pub use proof::StrokeTable;
pub use proof::StrokesTold;
pub use proof::ZeroRead;
pub use proof::compose_proof;
pub use proof::proof_pdf;
pub use proof::proof_pdf_twin;
pub use proof::proof_pdf_with;
pub use proof::stroke_lines;
pub use proof::unstated_words;
pub use record::RECORD_FILE;
pub use record::Record;
pub use rows::BudgetRow;
pub use rows::FigureBudget;
pub use rows::ResultRow;
pub use rows::SensorRow;
pub use signing::Signing;
pub use tag::TagLabel;
pub use tag::tag_label;
