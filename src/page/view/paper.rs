//! Papers: the list, and one of them.

use super::Fault;
use super::story::Outcome;
use super::story::TestLine;

/// Papers that were found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Papers {
    /// A line each, the latest first.
    pub rows: Vec<TestLine>,
    /// Whether there may be more.
    pub is_cut: bool,
}

/// One paper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PaperSheet {
    /// The test behind it.
    pub test: TestLine,
    /// Whether it is a report without the standing of a certificate.
    pub is_report: bool,
    /// What the unit is.
    pub description: String,
    /// When it was issued.
    pub issued: String,
    /// Name and version of the program that made it.
    pub software: String,
    /// Whether a signed statement belongs to it.
    pub is_signed: bool,
    /// Number of the job it belongs to.
    pub job: Option<i64>,
    /// SHA-256 of the recording.
    pub recording_sha256: String,
    /// How it was withdrawn: when, by which role, why.
    pub withdrawn: Option<(String, String, String)>,
    /// How the test was judged again: when, by which role, what came out, and the sentence.
    pub judged_again: Vec<(String, String, Outcome, String)>,
    /// Whether its recording can be looked at.
    pub is_recorded: bool,
    /// What can be handed out.
    pub files: Vec<PaperFile>,
    /// What is wrong with a withdrawal that was sent.
    pub faults: Vec<Fault>,
}

/// What belongs to a paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PaperFile {
    /// The paper.
    Pdf,
    /// The record behind it.
    Record,
    /// The recording.
    Recording,
}
