//! The walk along points of a reference: what is asked before it, and how it stands.

use super::Fault;

/// What is written down before the first point.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct WalkForm {
    /// Name of the setup.
    pub setup: String,
    /// Word of the sensor in it.
    pub sensor: String,
    /// The adapter of the board.
    pub adapter: String,
    /// Role of who calibrates.
    pub who: String,
    /// The reference instrument.
    pub reference: String,
    /// Number of its certificate.
    pub reference_certificate: String,
    /// Unit of measure it is read in.
    pub reference_in: String,
    /// Its expanded uncertainty, with its unit of measure.
    pub reference_uncertainty: String,
    /// Unit of measure the sensor is read in.
    pub read_in: String,
    /// "1" for a line, "2" for a parabola.
    pub degree: String,
}

/// A walk that goes on, or has ended.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct WalkNow {
    /// The sensor, in words.
    pub sensor: String,
    /// Unit of measure of the reference.
    pub reference_in: String,
    /// Unit of measure of the readings.
    pub read_in: String,
    /// The latest reading; empty before the first, or where it is broken.
    pub reading: String,
    /// Whether a point is being read.
    pub is_taking: bool,
    /// Reference and reading of each point.
    pub points: Vec<(String, String)>,
    /// What was said, the latest first: whether it is a warning, and what.
    pub said: Vec<(bool, String)>,
    /// How it ended.
    pub end: Option<WalkEnd>,
}

/// How a walk ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WalkEnd {
    /// With a curve: what it is line by line, the table for the setup, and the file that has it.
    Fitted {
        /// Line by line.
        text: Vec<String>,
        /// The table.
        block: String,
        /// The file.
        file: String,
    },
    /// Without.
    Failed(String),
}

/// The sheet of the walk.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct WalkSheet {
    /// Setups of the shop.
    pub setups: Vec<String>,
    /// The folder they are looked for in.
    pub folder: String,
    /// Adapters that may be opened.
    pub adapters: Vec<String>,
    /// The form as it was filled in.
    pub form: WalkForm,
    /// What is wrong with it.
    pub faults: Vec<Fault>,
    /// The walk that goes on, or was the last.
    pub now: Option<WalkNow>,
}

/// What a person says on the way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WalkSaid {
    /// The reference shows this.
    Reference(String),
    /// Take the last point back.
    Back,
    /// All points are taken.
    Done,
    /// Give it up, or take what is over away.
    End,
}
