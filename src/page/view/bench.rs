//! The bench: what can be put on it, what a test will do, and how the test on it stands.

use super::Fault;
use super::story::Outcome;

/// What was chosen for a test, as a form sends it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BenchChoice {
    /// What is on the bench: a key of [`BenchPiece`].
    pub piece: String,
    /// Name of a procedure; empty for what the setup says.
    pub procedure: String,
    /// Where the readings come from: a key of an adapter.
    pub adapter: String,
    /// How fast the practice bench goes: a key of the words for it.
    pub pace: String,
}

/// Something that can be put on the bench.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BenchPiece {
    /// By which it is chosen.
    pub key: String,
    /// Its tag, or its name at the practice bench.
    pub name: String,
    /// What it is.
    pub about: String,
    /// What is wrong with its setup, if it cannot be used.
    pub trouble: String,
}

/// What can be chosen.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BenchFree {
    /// Setups of this shop.
    pub setups: Vec<BenchPiece>,
    /// The folder they are looked for in.
    pub folder: String,
    /// Pieces of the practice bench.
    pub practice: Vec<BenchPiece>,
    /// Procedures: name and what each is for.
    pub procedures: Vec<(String, String)>,
    /// Adapters: key and words.
    pub adapters: Vec<(String, String)>,
    /// Tag of the unit that is meant; may be empty.
    pub tag: String,
    /// Key of its setup, if it has one.
    pub chosen: String,
}

/// A step that is planned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BenchStep {
    /// Its name.
    pub title: String,
    /// What to do.
    pub tell: Vec<String>,
    /// The pressure that is asked for, against the rating of the weakest part.
    pub pressure: Vec<String>,
    /// How long it takes.
    pub takes: String,
}

/// A test before it begins.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BenchPlan {
    /// What was chosen.
    pub chosen: BenchChoice,
    /// Tag of the unit.
    pub tag: String,
    /// What it is.
    pub description: String,
    /// Name of the procedure; empty for one hold.
    pub title: String,
    /// What it is for.
    pub about: String,
    /// Whether it is of the practice bench.
    pub is_practice: bool,
    /// Its steps.
    pub steps: Vec<BenchStep>,
    /// Limits it is held against: name of the figure and the limit.
    pub limits: Vec<(String, String)>,
    /// How long each hold must be, in sentences.
    pub foreseen: Vec<String>,
    /// Why it must not be started.
    pub refused: Vec<String>,
    /// What is wrong with the form.
    pub faults: Vec<Fault>,
}

/// What came of a wish to begin.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BenchBegun {
    /// It has begun.
    Begun,
    /// It has not; see what is marked.
    NotYet(Box<BenchPlan>),
}

/// How a reading is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadingState {
    /// It does not change.
    Steady,
    /// It changes.
    Settling,
    /// It was lost a moment ago.
    Doubtful,
    /// There is none.
    Lost,
}

/// What is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sense {
    /// Pressure of the cap end.
    Cap,
    /// Pressure of the rod end.
    Rod,
    /// Place of the rod.
    Position,
    /// Temperature of the oil.
    Oil,
    /// Temperature of the tube.
    Wall,
    /// Supply of the sensors.
    Supply,
}

/// A reading in large figures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BenchReading {
    /// Of what.
    pub sense: Sense,
    /// Its value as text; a dash if there is none.
    pub value: String,
    /// Its unit of measure.
    pub unit: &'static str,
    /// How it is.
    pub state: ReadingState,
}

/// How near a pressure is to what the weakest part bears.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Safety {
    /// Well below it.
    Within,
    /// Near it.
    Near,
    /// Over it.
    Over,
    /// The pressure cannot be read.
    Unknown,
}

/// A pressure against its rating.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BenchRating {
    /// Of which end.
    pub sense: Sense,
    /// The rating, with its unit, and the part it is of.
    pub rating: String,
    /// How near it is.
    pub safety: Safety,
    /// In hundredths of the rating, at most 100.
    pub percent: u8,
}

/// Where a test stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BenchStage {
    /// The board is asked who it is.
    Starting,
    /// A person gets the step ready.
    Asking,
    /// A pressure is brought up.
    Reaching,
    /// Nothing counts yet.
    Settling,
    /// It counts.
    Holding,
    /// A pressure is kept.
    Dwelling,
    /// Both sides stand open.
    Vented,
    /// Strokes are counted.
    Stroking,
    /// A shut side is squeezed.
    Squeezing,
    /// A person is asked for a reading.
    Typing,
    /// The recording goes into its file.
    Storing,
    /// It is over.
    Over,
}

/// How something asked is answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BenchAnswer {
    /// By saying that it is done.
    Done,
    /// By typing, as in this example.
    Typed(String),
    /// By the readings.
    Reached,
}

/// What the practice rig does about what is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BenchRig {
    /// It is being worked.
    Working,
    /// It is done, and what would be seen, as it is typed; may be empty.
    Ready(String),
}

/// What is asked of a person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BenchAsk {
    /// By which an answer names it.
    pub number: u64,
    /// What to do, a sentence each.
    pub tell: Vec<String>,
    /// How it is answered.
    pub answer: BenchAnswer,
    /// The practice rig.
    pub rig: Option<BenchRig>,
}

/// Something that was said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BenchMessage {
    /// When, time of day.
    pub at: String,
    /// Whether it is a warning.
    pub is_warning: bool,
    /// What.
    pub text: String,
}

/// When it will be decided.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BenchWhen {
    /// Whether this is until counting starts; else until the hold ends.
    pub is_settling: bool,
    /// At the earliest, as words.
    pub from: String,
    /// At the latest, as words; empty where it is the same.
    pub until: String,
}

/// How it ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BenchEnd {
    /// It was not started, and why.
    Refused(Vec<String>),
    /// It could not be done or kept, and why.
    Failed(String),
    /// Its paper.
    Entered {
        /// Number of the paper.
        number: String,
        /// What came out.
        outcome: Outcome,
        /// The sentence that decided.
        headline: String,
        /// The whole result, line by line.
        text: Vec<String>,
    },
}

/// The test on the bench.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BenchNow {
    /// Which test since the program was started.
    pub run: u64,
    /// Tag of the unit.
    pub tag: String,
    /// What it is.
    pub description: String,
    /// Name of the procedure; empty for one hold.
    pub title: String,
    /// Whether it is of the practice bench.
    pub is_practice: bool,
    /// Whether this browser answers; else it looks on.
    pub is_answering: bool,
    /// The step: which from 1, of how many, its name.
    pub step: Option<(usize, usize, String)>,
    /// Where it stands.
    pub stage: BenchStage,
    /// What is asked.
    pub ask: Option<BenchAsk>,
    /// Full strokes so far.
    pub strokes: Option<i64>,
    /// Readings.
    pub readings: Vec<BenchReading>,
    /// Pressures against ratings.
    pub ratings: Vec<BenchRating>,
    /// Whether there is a circuit to draw.
    pub has_circuit: bool,
    /// Number of the latest look at the account, if there is a chart.
    pub look: Option<u64>,
    /// Figures so far with their limits, a sentence each.
    pub so_far: Vec<String>,
    /// When it will be decided.
    pub when: Option<BenchWhen>,
    /// Warnings that nobody read yet, and the number of the last message.
    pub unread: Vec<BenchMessage>,
    /// Number of the last message, by which it is said to be read.
    pub last_message: u64,
    /// What was said before, the latest first.
    pub messages: Vec<BenchMessage>,
    /// How far the recording is in its file, in words.
    pub storing: String,
    /// How it ended.
    pub end: Option<BenchEnd>,
}

/// The bench.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Bench {
    /// Nothing is on it.
    Free(Box<BenchFree>),
    /// A test is, or was.
    Taken(Box<BenchNow>),
}

/// What a person says to the test.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BenchSaid {
    /// What was asked under this number is done.
    Done(u64),
    /// What was typed for what was asked under this number.
    Typed(u64, String),
    /// End the recording.
    Stop,
    /// Messages up to this number were read.
    Read(u64),
    /// From now on this browser answers.
    TakeOver,
    /// Take what is over off the bench.
    Clear,
}

/// A picture of the test on the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BenchPicture {
    /// Where the oil went so far.
    Account,
    /// The circuit of the step.
    Circuit,
}

impl BenchNow {
    /// The same without the values of readings, which are told apart from the rest.
    pub fn without_readings(self) -> Self {
        let reading = |reading: BenchReading| BenchReading {
            value: "–".into(),
            state: ReadingState::Settling,
            ..reading
        };
        let rating = |rating: BenchRating| BenchRating {
            safety: Safety::Unknown,
            percent: 0,
            ..rating
        };
        Self {
            readings: self.readings.into_iter().map(reading).collect(),
            ratings: self.ratings.into_iter().map(rating).collect(),
            ..self
        }
    }

    /// Whether a pressure is left alone or kept.
    pub fn is_under_pressure(&self) -> bool {
        matches!(
            self.stage,
            BenchStage::Settling | BenchStage::Holding | BenchStage::Dwelling
        )
    }

    /// Whether the recording can still be stopped.
    pub fn can_stop(&self) -> bool {
        !matches!(self.stage, BenchStage::Storing | BenchStage::Over)
    }
}
