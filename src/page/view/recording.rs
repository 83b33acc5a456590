//! A recording that is looked at: which stretch, what is marked in it, and values at a time.

use super::Fault;
use super::Judgings;
use super::story::TestLine;
use crate::page::words::filled;
use crate::page::words::words;

/// What of a recording is asked for, as it was typed or stands in the address.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RecordingAsked {
    /// Number of the paper.
    pub number: String,
    /// From when on; empty for the beginning.
    pub from: String,
    /// Until when; empty for the end.
    pub until: String,
    /// The channels to show, by their names in data; none for all.
    pub channels: Vec<String>,
    /// The time to tell the values of; empty for none.
    pub at: String,
}

/// A stretch of time of a recording.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Stretch {
    /// Start as it stands in addresses, s.
    pub from: String,
    /// End as it stands in addresses, s.
    pub until: String,
    /// Start for people, "5:12".
    pub from_said: String,
    /// End for people.
    pub until_said: String,
}

/// A recording on the page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordingSheet {
    /// The test it is of.
    pub test: TestLine,
    /// What its file said is wrong with its signed block, if anything.
    pub spoiled: Option<String>,
    /// What is shown.
    pub shown: Stretch,
    /// All there is.
    pub whole: Stretch,
    /// Whether all of it is shown.
    pub is_whole: bool,
    /// Half as long, if that can be shown.
    pub closer: Option<Stretch>,
    /// Twice as long, if there is more.
    pub wider: Option<Stretch>,
    /// What lies before, if anything.
    pub earlier: Option<Stretch>,
    /// What comes after, if anything.
    pub later: Option<Stretch>,
    /// The channels that were recorded.
    pub channels: Vec<ChannelTick>,
    /// Readings of each channel in all of it.
    pub n_readings: String,
    /// Steps and phases.
    pub marks: Vec<Mark>,
    /// The longest gaps, in order of time.
    pub gaps: Vec<GapLine>,
    /// How many gaps are not listed.
    pub n_more_gaps: i64,
    /// What the first judgement said of the readings.
    pub said: Vec<SaidLine>,
    /// Values at the time that was asked for.
    pub read: Option<ReadOut>,
    /// How it was judged, first and again.
    pub judgings: Judgings,
    /// Where the plot lies in the pictures.
    pub plot: Plot,
    /// What is wrong with what was typed.
    pub faults: Vec<Fault>,
}

/// A channel that can be shown or left away.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChannelTick {
    /// Its name in data.
    pub word: String,
    /// Its name for people.
    pub name: String,
    /// Whether it is shown.
    pub is_on: bool,
}

/// Left and right end of the plot as thousandths of a picture's width.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Plot {
    /// In the wide picture.
    pub wide: (u32, u32),
    /// In the narrow one.
    pub narrow: (u32, u32),
}

/// A stretch with a name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// What it is.
    pub what: MarkWhat,
    /// From when to when.
    pub stretch: Stretch,
}

/// What a stretch is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum MarkWhat {
    /// A step of a procedure: its number and name.
    Step(usize, String),
    /// Time in which a hold settles.
    Settling,
    /// The counted hold.
    Hold,
    /// A phase by its name in data.
    Other(String),
}

/// A stretch without samples.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GapLine {
    /// Why.
    pub why: GapWhy,
    /// How long, for people.
    pub long: String,
    /// The gap with some time around it.
    pub around: Stretch,
    /// When it began, for people.
    pub from_said: String,
    /// When it was over, for people.
    pub until_said: String,
}

/// Why there are no samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GapWhy {
    /// They were lost on the way.
    Lost,
    /// The adapter was gone.
    Unplugged,
    /// Nothing came.
    Silent,
    /// The board started again.
    Restarted,
}

/// A sentence about the readings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SaidLine {
    /// Whether no figure of that stretch could be believed.
    pub voids: bool,
    /// The sentence.
    pub evidence: String,
    /// The step it was said of; may be empty.
    pub step: String,
    /// The stretch it was said of.
    pub stretch: Option<Stretch>,
}

/// What was read at a time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ReadOut {
    /// The reading next to it: when, and what each channel was.
    Reading {
        /// When it was taken, for people.
        at: String,
        /// Each channel: name, value (None where it had none), unit of measure.
        values: Vec<(String, Option<String>, String)>,
    },
    /// It falls into a gap.
    Gap {
        /// When it began, for people.
        from: String,
        /// When it was over, for people.
        until: String,
    },
}

/// Values of a stretch, for a read-out under a finger.
#[derive(Debug, Clone, PartialEq)]
pub struct RecordingValues {
    /// The columns in order.
    pub columns: Vec<ValueColumn>,
    /// The channels.
    pub lanes: Vec<ValueLane>,
}

/// Readings that stand together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValueColumn {
    /// Time of the first, s.
    pub from_s: f64,
    /// Time of the last, s.
    pub until_s: f64,
    /// How many.
    pub n_readings: usize,
    /// Whether some are missing in it or before it.
    pub has_gap: bool,
}

/// A channel with its values, one for each column.
#[derive(Debug, Clone, PartialEq)]
pub struct ValueLane {
    /// Its name for people.
    pub name: String,
    /// Unit of measure.
    pub unit: String,
    /// Decimals that its readings have.
    pub decimals: usize,
    /// Lowest, mean and highest; None where no reading had a value.
    pub values: Vec<Option<(f64, f64, f64)>>,
}

impl Fault {
    /// The field should hold a time.
    pub fn no_time(field: &str) -> Self {
        Self {
            field: field.into(),
            what: words().no_time.into(),
        }
    }

    /// A stretch that ends before it begins.
    pub fn ends_before() -> Self {
        Self {
            field: "until".into(),
            what: words().ends_before.into(),
        }
    }

    /// A time at which nothing was recorded, because the recording goes from and until elsewhere.
    pub fn outside(field: &str, whole: &Stretch) -> Self {
        let parts = [whole.from_said.as_str(), whole.until_said.as_str()];
        Self {
            field: field.into(),
            what: filled(words().outside_recording, &parts),
        }
    }
}
