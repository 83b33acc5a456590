//! Limits, the decision rule, and the outcome with its reasons.
//!
//! Takes figures and flags, never raw data. There is no built-in limit and no
//! built-in rule: both come from the shop's file.
//!
//! Invariant: a broken, missing or doubtful measurement never becomes a pass, and
//! a larger leak never has a better outcome.

mod agree;
mod anytime;
mod basis;
mod change;
mod choose;
mod compare;
mod decide;
mod early;
mod equalised;
mod outside;
mod rule;
mod shared;
mod stated;
mod turning;
mod unshown;
mod ways;

pub use agree::disagreement;
pub use anytime::anytime_factor;
pub use basis::Band;
pub use basis::Basis;
pub use basis::Row;
pub use change::Change;
pub use change::FLOW_PER_K;
pub use change::MeasuredAt;
pub use change::StatedFigure;
pub use change::change;
pub use decide::judge;
pub use decide::judge_reading;
pub use early::EarlyRule;
pub use early::HoldEnd;
pub use early::ends_the_hold;
pub use outside::OutsideLimit;
pub use outside::judge_outside;
pub use rule::DecisionRule;
pub use stated::judge_stated;
pub use turning::of_turn;
pub use ways::judge_ways;

use crate::account::FigureName;
use crate::quantity::GaugePressure;
use crate::quantity::Temperature;

/// What came out, in the words of the data files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Within every limit under the decision rule.
    Pass,
    /// Over a limit under the decision rule.
    Fail,
    /// Measured well, but too close to a limit, or a path that cannot be told apart.
    Undecided,
    /// The measurement is broken, interrupted or still settling.
    NotValid,
    /// No limit was chosen.
    Measured,
}

impl Outcome {
    /// The word in data files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Fail => "fail",
            Self::Undecided => "undecided",
            Self::NotValid => "not_valid",
            Self::Measured => "measured",
        }
    }

    /// The word on paper and screen.
    pub fn plain(self) -> &'static str {
        match self {
            Self::Pass => "Pass",
            Self::Fail => "Fail",
            Self::Undecided => "Undecided",
            Self::NotValid => "Not valid",
            Self::Measured => "Measured",
        }
    }

    /// Exit status of a command that ends with it.
    pub fn exit_status(self) -> u8 {
        match self {
            Self::Pass => 0,
            Self::Fail => 10,
            Self::Undecided => 20,
            Self::NotValid => 30,
            Self::Measured => 40,
        }
    }
}

/// A limit of the shop, in the unit it was typed in.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// The shop's name for it.
    pub id: String,
    /// The figure it is for.
    pub figure: FigureName,
    /// The number in the typed unit.
    pub number: f64,
    /// The typed unit.
    pub unit: String,
    /// SI value of one typed unit.
    pub si_per_unit: f64,
    /// The text as typed, "0,12 mL/min".
    pub text: String,
    /// The pressure of the load-holding chamber it is stated for, if it is.
    pub at_pressure: Option<GaugePressure>,
    /// The oil temperature it is stated for, if it is.
    pub at_temperature: Option<Temperature>,
    /// Where it comes from, in the shop's words.
    pub source: String,
    /// The row it stands in and what it was multiplied with; nothing for a plain limit.
    pub basis: Basis,
}

impl Limit {
    /// Where it comes from, with its row and what it was multiplied with.
    pub fn origin(&self) -> String {
        let parts = [self.source.clone(), self.basis.words()];
        let parts: Vec<String> = parts.into_iter().filter(|p| !p.is_empty()).collect();
        parts.join("; ")
    }

    /// Whether it says for which pressure it is.
    fn states_pressure(&self) -> bool {
        let row = self.basis.row.as_ref();
        self.at_pressure.is_some() || row.is_some_and(|row| row.pressure.is_some())
    }

    /// Whether both are the same limit, or rows of one table.
    pub fn asks_the_same(&self, other: &Self) -> bool {
        let is_row = |limit: &Self| limit.basis.row.is_some();
        self == other
            || (is_row(self) && is_row(other) && self.id == other.id && self.figure == other.figure)
    }
}

/// What came out for one limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The limit.
    pub limit: Limit,
    /// What came out.
    pub outcome: Outcome,
    /// Value in the limit's unit, if there is one.
    pub number: Option<f64>,
    /// Expanded uncertainty in the limit's unit, if there is one.
    pub expanded: Option<f64>,
    /// Probability that the leak is within the limit, 0 to 1, if it can be said.
    pub probability_within: Option<f64>,
    /// Largest value that the rule accepts, in the limit's unit; None if there is no value
    /// to compare, or none could be accepted with its uncertainty.
    pub acceptance: Option<f64>,
    /// Why, as a sentence.
    pub reason: String,
}

/// What came out of a test.
#[derive(Debug, Clone, PartialEq)]
#[must_use]
pub struct Verdict {
    /// The worst of the outcomes, in the order fail, not valid, undecided, measured, pass.
    pub outcome: Outcome,
    /// One for each limit.
    pub judged: Vec<Judged>,
    /// Reasons that concern the whole test.
    pub reasons: Vec<String>,
    /// The rule that was used.
    pub rule: DecisionRule,
}

impl Verdict {
    /// What limits were for, in their order.
    pub fn limited(&self) -> impl Iterator<Item = FigureName> + '_ {
        self.judged.iter().map(|judged| judged.limit.figure)
    }

    /// The rule in one sentence, for what was limited.
    pub fn rule_sentence(&self) -> String {
        let limited: Vec<FigureName> = self.limited().collect();
        self.rule.sentence(&limited)
    }
}
