//! What the data say about sensors, wiring and setup.
//!
//! Each flag carries its evidence as a sentence and says whether a figure can
//! still be believed. Whether the outcome suffers is decided in `verdict`.
//!
//! Invariant: pure; a recording that was interrupted is always flagged.

/// What a flag does to the outcome.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// To be read beside the outcome.
    Remark,
    /// No figure of this hold can be believed.
    Voids,
}

/// One thing that the data say about the measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct Flag {
    /// What it does to the outcome.
    pub weight: Weight,
    /// What was seen and what to do, as a sentence.
    pub evidence: String,
}
