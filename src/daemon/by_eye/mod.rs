//! A test without a board: a person reads the instruments and types what they show.
//!
//! The same journal, archive, verdict and paper as for a test that a board reads; only who
//! answers is another. Time is that of the clock, or of the practice bench.

mod person;
mod practice;
mod run;

pub use person::Heard;
pub use person::Person;
pub use practice::PracticePerson;
pub use run::record_by_eye;
