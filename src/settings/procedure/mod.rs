//! A test as its files describe it: one hold, or the steps of a procedure on one unit.
//!
//! A procedure is a file of its own, written for a kind of cylinder and not for a unit:
//! pressures as multiples of what the unit is rated for, places as parts of its stroke. A
//! setup that names one brings the unit. For each hold both become one setup, checked by the
//! same code as a setup that somebody wrote for this hold alone.
//!
//! A recording keeps the setup word for word, so the procedure's text travels behind it.

mod built_in;
mod by_eye;
mod file;
mod let_off;
mod merge;
mod moving;
mod plan;
mod planning;
mod reaching;
mod travel;
mod typed;

pub use built_in::BuiltIn;
pub use built_in::about_procedure;
pub use built_in::built_in;
pub use built_in::built_ins;
pub use plan::PlannedStep;
pub use plan::Repeat;
pub use plan::Test;
pub use travel::names_procedure;
pub(super) use travel::parts;
pub use travel::with_lines;
pub use travel::with_other_procedure;
pub use travel::with_procedure;

#[cfg(test)]
mod tests;
