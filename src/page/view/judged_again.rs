//! A test judged again by other limits, beside the first judgement.

use super::Fault;
use super::story::Outcome;
use super::story::Stated;
use crate::page::words::filled;
use crate::page::words::words;

/// All judgements of one test, and what it can be judged by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Judgings {
    /// The first, which stands.
    pub first: Judging,
    /// The others, the latest first.
    pub again: Vec<Judging>,
    /// Limits of the shop for figures that were measured.
    pub choices: Vec<LimitChoice>,
    /// Figures that were measured: name in data, and for people.
    pub figures: Vec<(String, String)>,
    /// Whether the page knows a shop file.
    pub has_shop: bool,
    /// Why it cannot be judged here: how many readings it has, and its file.
    pub too_long: Option<(String, String)>,
}

/// One judgement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Judging {
    /// When.
    pub at: String,
    /// Who did, by role; empty for the first.
    pub role: String,
    /// Limits as they were chosen or typed; none for the first.
    pub limits: Vec<String>,
    /// What came out.
    pub outcome: Outcome,
    /// The sentence that decided.
    pub headline: String,
    /// Name and version of the program.
    pub software: String,
    /// Figures with their limits.
    pub lines: Vec<JudgedLine>,
    /// Reasons that concern the whole test.
    pub reasons: Vec<String>,
}

/// A figure, held against a limit or not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JudgedLine {
    /// The step it belongs to; empty for a hold alone.
    pub step: String,
    /// Which figure.
    pub figure: String,
    /// What it is, with its ±.
    pub stated: Stated,
    /// Unit of measure.
    pub unit: String,
    /// Lower and upper end of its interval, where it has one.
    pub interval: Option<(String, String)>,
    /// The limit as typed, and where it comes from.
    pub limit: Option<(String, String)>,
    /// What came out of it.
    pub outcome: Option<Outcome>,
    /// Why, a sentence.
    pub reason: String,
}

/// A limit that can be chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LimitChoice {
    /// The shop's name for it.
    pub id: String,
    /// The figure it is for.
    pub figure: String,
    /// Its value as typed; a table's values.
    pub text: String,
}

/// What a test is to be judged by.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AgainAsked {
    /// Number of the paper.
    pub number: String,
    /// Limits of the shop, by their names.
    pub limits: Vec<String>,
    /// The figure of a typed limit, by its name in data.
    pub figure: String,
    /// A typed limit; may be empty.
    pub most: String,
    /// Who judges, by role.
    pub by: String,
}

impl Fault {
    /// Nobody said who judges.
    pub fn nobody_judges() -> Self {
        Self::of("by", words().nobody_judges)
    }

    /// No limit was chosen or typed.
    pub fn no_limit_chosen() -> Self {
        Self::of("limit", words().no_limit_chosen)
    }

    /// A limit that the shop file does not have for what was measured.
    pub fn no_such_limit(id: &str) -> Self {
        Self::of("limit", &filled(words().no_such_limit, &[id]))
    }

    /// A limit for a figure that was not measured.
    pub fn no_such_figure() -> Self {
        Self::of("figure", words().no_such_figure)
    }

    /// A limit that cannot be used; `why` says why and what would be right.
    pub fn limit_unfit(field: &str, why: &str) -> Self {
        Self::of(field, why)
    }

    fn of(field: &str, what: &str) -> Self {
        Self {
            field: field.into(),
            what: what.into(),
        }
    }
}
