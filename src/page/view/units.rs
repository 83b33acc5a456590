//! The list of units, and what was searched for.

use super::Fault;
use super::story::Outcome;

/// What is searched for; all empty for every unit.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct UnitsAsked {
    /// Words, each the beginning of one.
    pub words: String,
    /// First day, "2026-11-20"; or empty.
    pub from: String,
    /// Last day; or empty.
    pub until: String,
    /// Tag behind which the list goes on; or empty.
    pub after: String,
}

/// Units that were found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Units {
    /// A line each.
    pub rows: Vec<UnitRow>,
    /// Tag behind which there are more.
    pub next: Option<String>,
    /// Whether there may be more that a longer search would have found.
    pub is_cut: bool,
    /// What is wrong with what was searched for.
    pub faults: Vec<Fault>,
}

/// A unit in one line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitRow {
    /// Its tag.
    pub tag: String,
    /// What it is.
    pub description: String,
    /// The machine it belongs to.
    pub machine: String,
    /// The seal fitted.
    pub seal: String,
    /// How often it was tested.
    pub n_tests: i64,
    /// How many jobs it had.
    pub n_jobs: i64,
    /// Its last test.
    pub last: Option<LastTest>,
    /// Number of its open job.
    pub open_job: Option<i64>,
    /// In what the words were found.
    pub found_in: Vec<FoundIn>,
}

/// The last test of a unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LastTest {
    /// Day.
    pub day: String,
    /// Number of the paper.
    pub number: String,
    /// What came out.
    pub outcome: Outcome,
    /// Whether it is of the practice bench.
    pub is_practice: bool,
}

/// In what words were found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FoundIn {
    /// A job: number and symptom.
    Job(i64, String),
    /// A test: number of its paper, and its day.
    Test(String, String),
}
