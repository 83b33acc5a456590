//! How long a hold must be, said before it begins.
//!
//! A tight hold is written down on paper as the sensors would show it, at several lengths, and
//! evaluated and judged by the code that will judge the real one. Between them the ± is
//! interpolated. A length is enough where a tight unit passes its limit and a unit at twice the
//! limit fails it, by the shop's own rule. What would shorten the hold is found in the same way:
//! the change is made on paper and the length is looked for again.
//!
//! Invariant: a pure function of what is intended; nothing here judges a hold that was made.

mod change;
mod curve;
mod enough;
mod needs;
mod warning;

pub use change::Change;
pub use needs::FIRST_S;
pub use needs::Foreseen;
pub use needs::LONGEST_S;
pub use needs::Mostly;
pub use needs::Needs;
pub use needs::foresee;
pub use needs::lengths_needed;
pub use needs::tight_at;
pub use warning::Short;
pub use warning::too_short;

use crate::account::PaperSensor;
use crate::account::PaperStart;
use crate::account::Subject;
use crate::cylinder::Ratings;
use crate::procedure::HoldPlan;
use crate::verdict::DecisionRule;
use crate::verdict::Limit;

/// A hold that is intended.
#[derive(Debug, Clone, PartialEq)]
pub struct Intended {
    /// What is known of the piece.
    pub subject: Subject,
    /// What its ends bear.
    pub ratings: Ratings,
    /// Its sensors.
    pub sensors: Vec<PaperSensor>,
    /// How it stands when it begins to settle.
    pub start: PaperStart,
    /// Whether the place of the rod may be chosen.
    pub place_is_free: bool,
    /// Whether the pressure may be chosen: no load makes it, and no limit is stated for one.
    pub pressure_is_free: bool,
    /// Settling and holding as planned.
    pub plan: HoldPlan,
    /// The limits it is to be held against.
    pub limits: Vec<Limit>,
    /// How uncertainty counts at them.
    pub rule: DecisionRule,
}

impl Intended {
    /// Its limits, those of one table together: each is one question.
    fn questions(&self) -> Vec<Vec<Limit>> {
        let mut all: Vec<Vec<Limit>> = Vec::new();
        for limit in &self.limits {
            let is_row = limit.basis.row.is_some();
            let of_table = all
                .iter_mut()
                .find(|rows| is_row && rows[0].asks_the_same(limit));
            match of_table {
                Some(rows) => rows.push(limit.clone()),
                None => all.push(vec![limit.clone()]),
            }
        }
        all
    }
}
