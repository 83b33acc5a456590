//! How the test on the bench stands: what every screen shows of it.
//!
//! Plain values, made by the thread that runs the test and read by anybody.

use super::steady::ReadingState;
use crate::account::Evaluation;
use crate::archive::Progress;
use crate::bench::Ask;
use crate::bench::Stage;
use crate::channel::Role;
use crate::cylinder::Ratings;
use crate::daemon::test_run::LineState;
use crate::procedure::Hold;
use crate::settings::Setup;
use crate::verdict::Outcome;
use std::path::PathBuf;
use std::sync::Arc;

/// What anybody can read of the bench.
#[derive(Debug, Clone, Default)]
pub struct Board {
    /// Counts its changes, from 1.
    pub n_changes: u64,
    /// The test on it; None before the first, and once the bench was cleared.
    pub standing: Option<Arc<Standing>>,
}

/// How a test stands.
#[derive(Debug, Clone)]
pub struct Standing {
    /// Counts the tests since the program was started, from 1.
    pub run: u64,
    /// What is tested.
    pub about: Arc<About>,
    /// How far it is.
    pub phase: Phase,
    /// Where the state machine stands.
    pub stage: Stage,
    /// The step that is worked on; None for one hold without a procedure, or before the first.
    pub step: Option<StepNow>,
    /// Setup of what is held, by step; for drawings and limits.
    pub setup: Option<Arc<Setup>>,
    /// The hold that is worked on.
    pub hold: Option<Hold>,
    /// Ratings to warn by.
    pub ratings: Ratings,
    /// Bench time of the latest row, and when the phase is over at the earliest, s.
    pub progress_s: (f64, f64),
    /// Bench time at which settling began, s.
    pub settling_s: f64,
    /// What a person is asked for.
    pub asked: Option<Asked>,
    /// The latest readings.
    pub readings: Vec<ReadingNow>,
    /// Whether the board is heard.
    pub line: LineState,
    /// Full strokes so far, of a step that counts them.
    pub strokes: Option<u32>,
    /// The figures of the hold so far; they decide nothing.
    pub so_far: Option<Arc<Evaluation>>,
    /// Counts the looks at the hold so far.
    pub look: u64,
    /// Stretches without samples in the counted hold, bench time, s.
    pub gaps_s: Arc<[(f64, f64)]>,
    /// What was said, the latest last.
    pub messages: Arc<[Message]>,
}

/// What is tested.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct About {
    /// Tag of the unit.
    pub tag: String,
    /// What it is.
    pub description: String,
    /// Name of the procedure for people; empty for one hold.
    pub title: String,
    /// Whether it is of the practice bench.
    pub is_practice: bool,
}

/// How far a test is.
#[derive(Debug, Clone)]
pub enum Phase {
    /// The adapter is opened, the board asked who it is.
    Starting,
    /// It is recorded.
    Running,
    /// The recording goes into its file.
    Storing(Option<Progress>),
    /// It is over.
    Over(Box<Over>),
}

/// How it ended.
#[derive(Debug, Clone)]
pub enum Over {
    /// It was not started, and why.
    Refused(Vec<String>),
    /// It could not be done, or not be kept, with causes.
    Failed(String),
    /// It is in the register.
    Entered {
        /// Number of its paper.
        number: String,
        /// What came out.
        outcome: Outcome,
        /// The sentence that decided.
        headline: String,
        /// The whole result as text.
        text: String,
        /// The recording.
        archive: PathBuf,
    },
}

/// The step that is worked on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StepNow {
    /// Which, from 0.
    pub index: usize,
    /// Of how many.
    pub n_steps: usize,
    /// Its name for people.
    pub title: String,
}

/// What a person is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// Counts what was asked; an answer names it, so that a late one answers nothing else.
    pub number: u64,
    /// What.
    pub ask: Ask,
    /// What the practice rig does about it; None at a real bench.
    pub rig: Option<RigState>,
}

/// The practice rig, which does what a person would do at a real bench.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RigState {
    /// Valves and pump are being worked.
    Working,
    /// It is done, and what would be seen, as it is typed.
    Ready(Option<String>),
}

/// A reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadingNow {
    /// Of what.
    pub role: Role,
    /// Its value, SI units.
    pub si: Option<f64>,
    /// How it is.
    pub state: ReadingState,
}

/// Something that was said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    /// Counts them.
    pub number: u64,
    /// Whether it is a warning.
    pub is_warning: bool,
    /// What.
    pub text: String,
    /// When, UTC ms since 1970.
    pub at_utc_ms: i64,
}
