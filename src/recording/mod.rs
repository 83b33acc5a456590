//! What was recorded: the finished, unchangeable recording, and its journal.
//!
//! A recording holds the raw codes of each channel on one time axis, with the
//! calibration beside them, so that everything can be recomputed. Loss is data:
//! gaps, faults and counters are part of it.
//!
//! Invariants: time never goes backwards; every channel has one entry for each
//! time; a recording is never changed after it was made.

mod entry;
mod journal;
mod part;
mod rows;
mod supplied;
mod window;

pub use entry::Entry;
pub use entry::EntryKind;
pub use journal::Cut;
pub use journal::JournalError;
pub use journal::JournalRows;
pub use journal::JournalWriter;
pub use journal::TailReport;
pub use journal::read_journal;
pub use journal::scan_journal;
pub use rows::Form;
pub use rows::Lane;
pub use rows::Outline;
pub use rows::Piece;
pub use rows::RecordingRows;
pub use rows::RowSource;
pub use window::Band;
pub use window::Stretch;
pub use window::Window;
pub use window::WindowLane;

use crate::channel::Channel;
use crate::channel::Role;
use std::sync::Arc;

/// Version of what a recording holds; stored with each.
pub const RECORDING_VERSION: u32 = 1;

/// One instant of a recording in progress.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Bench time, s.
    pub time_s: f64,
    /// One raw code for each channel.
    pub codes: Vec<i32>,
}

impl Row {
    /// The same instant with some of its codes, in the order of `indices`; None if one is not there.
    pub fn picked(&self, indices: &[usize]) -> Option<Self> {
        let codes = indices.iter().map(|index| self.codes.get(*index).copied());
        Some(Self {
            time_s: self.time_s,
            codes: codes.collect::<Option<_>>()?,
        })
    }
}

/// What one channel delivered.
#[derive(Debug, Clone, PartialEq)]
pub enum Codes {
    /// Raw codes of a board.
    Raw(Vec<i32>),
    /// Raw codes of a sensor that is read against the supply, with what the supply was in each
    /// row. [`Recording::new`] makes them of raw codes and of the supply's own.
    AgainstSupply {
        /// Raw codes of a board.
        raw: Vec<i32>,
        /// Supply in each row, V; None where it was not read.
        supply_v: Arc<[Option<f64>]>,
    },
    /// Values of another logger, already in SI units; NaN where it had none.
    Si(Vec<f64>),
}

impl Codes {
    /// The raw codes; None where a logger gave values.
    pub fn raw(&self) -> Option<&[i32]> {
        match self {
            Self::Raw(codes) | Self::AgainstSupply { raw: codes, .. } => Some(codes),
            Self::Si(_) => None,
        }
    }
}

/// One channel with what it delivered.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    /// The channel.
    pub channel: Channel,
    /// One entry for each time of the recording.
    pub codes: Codes,
}

impl Track {
    /// Number of entries.
    pub fn len(&self) -> usize {
        match &self.codes {
            Codes::Raw(codes) | Codes::AgainstSupply { raw: codes, .. } => codes.len(),
            Codes::Si(values) => values.len(),
        }
    }

    /// Whether nothing was delivered.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The SI value of one entry; None for a reading outside the good band, or without the
    /// supply that it is read against.
    pub fn value(&self, index: usize) -> Option<f64> {
        match &self.codes {
            Codes::Raw(codes) => codes.get(index).and_then(|code| self.channel.value(*code)),
            Codes::AgainstSupply { raw, supply_v } => {
                let supply_v = supply_v.get(index).copied().flatten();
                self.channel.value_at(*raw.get(index)?, supply_v)
            }
            Codes::Si(values) => values.get(index).copied().filter(|v| v.is_finite()),
        }
    }

    /// The same as if the supply stood at 5 V: what its own code shows, without the noise of the
    /// supply's. The same as [`Self::value`] for all other sensors.
    pub fn as_sent(&self, index: usize) -> Option<f64> {
        let value = self.value(index)?;
        match &self.codes {
            Codes::AgainstSupply { raw, .. } => Some(self.channel.calibration.value(raw[index])),
            _ => Some(value),
        }
    }

    /// All SI values; NaN for a reading outside the good band.
    pub fn values(&self) -> Vec<f64> {
        (0..self.len())
            .map(|i| self.value(i).unwrap_or(f64::NAN))
            .collect()
    }
}

/// Why a stretch of time has no samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GapCause {
    /// Samples were lost on the way (sequence numbers jump).
    Lost,
    /// The adapter was gone.
    Unplugged,
    /// The port was open but nothing came.
    Silent,
    /// The board started again.
    Restarted,
}

impl GapCause {
    /// The word in data files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Lost => "lost",
            Self::Unplugged => "unplugged",
            Self::Silent => "silent",
            Self::Restarted => "restarted",
        }
    }

    /// From the word in data files.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Lost, Self::Unplugged, Self::Silent, Self::Restarted]
            .into_iter()
            .find(|c| c.word() == word)
    }
}

/// A stretch of time without samples, in seconds of bench time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Time of the last sample before it, s.
    pub from_s: f64,
    /// Time of the first sample after it, s; the same as `from_s` if none came.
    pub until_s: f64,
    /// Why.
    pub cause: GapCause,
}

/// What the link lost or refused, counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Loss {
    /// Samples missing by their sequence numbers.
    pub n_samples_lost: u64,
    /// Frames with a wrong checksum, malformed, oversized or foreign.
    pub n_frames_bad: u64,
    /// Samples the board itself had to drop.
    pub n_board_dropped: u64,
    /// Bytes dropped because the host was too slow.
    pub n_bytes_overrun: u64,
}

impl Loss {
    /// What falls to `n_part` of `n_all` rows; what was overrun counts in full.
    fn shared(self, n_part: usize, n_all: usize) -> Self {
        let part = n_part as f64 / n_all.max(1) as f64;
        let share = |n: u64| (n as f64 * part).ceil() as u64;
        Self {
            n_samples_lost: share(self.n_samples_lost),
            n_frames_bad: share(self.n_frames_bad),
            n_board_dropped: share(self.n_board_dropped),
            n_bytes_overrun: self.n_bytes_overrun,
        }
    }
}

/// A named stretch of the test, in seconds of bench time.
#[derive(Debug, Clone, PartialEq)]
pub struct PhaseMark {
    /// "settle" or "hold"; in a procedure behind the name of its step, "seal-mid/hold".
    pub name: String,
    /// Start, s.
    pub from_s: f64,
    /// End, s.
    pub until_s: f64,
}

/// Whether the recording came to its planned end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ending {
    /// It ran to the end of its plan.
    Complete,
    /// It did not, and why.
    Interrupted(String),
}

/// What a recording is a recording of, known before its first sample.
#[derive(Debug, Clone, PartialEq)]
pub struct Heading {
    /// Identity of the run: letters, digits and dashes, also the stem of its file names.
    pub run_id: String,
    /// Start of the recording, milliseconds of UTC since 1970.
    pub started_utc_ms: i64,
    /// Name of the time zone of the shop.
    pub time_zone: String,
    /// Version of the program that recorded.
    pub software: String,
    /// Where the data came from: board name, identity and firmware, or a file.
    pub source: String,
    /// Setup file, word for word.
    pub setup_toml: String,
    /// Shop file with the limits, word for word; empty without limits.
    pub shop_toml: String,
    /// What was not a measurement of a real cylinder, in words; empty if it was.
    pub practice: String,
}

/// A finished recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    heading: Heading,
    time_s: Vec<f64>,
    tracks: Vec<Track>,
    gaps: Vec<Gap>,
    phases: Vec<PhaseMark>,
    entries: Vec<Entry>,
    loss: Loss,
    ending: Ending,
}

/// Why parts make no recording.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RecordingError {
    /// Time goes backwards or stands still.
    #[error(
        "time does not go forward at row {index}: {before_s} s is followed by {after_s} s; sort the rows or split the file"
    )]
    TimeBackwards {
        /// Row of the later time, counted from 0.
        index: usize,
        /// Time before, s.
        before_s: f64,
        /// Time after, s.
        after_s: f64,
    },
    /// A channel is shorter or longer than the time axis.
    #[error("channel {role} has {n_found} entries for {n_times} times; the file is damaged")]
    Unequal {
        /// Which channel.
        role: &'static str,
        /// Entries found.
        n_found: usize,
        /// Times found.
        n_times: usize,
    },
    /// Two channels claim the same role.
    #[error("two channels measure {role}; give one of them another role")]
    Twice {
        /// Which role.
        role: &'static str,
    },
}

/// Everything a recording is made of.
#[derive(Debug, Clone, PartialEq)]
pub struct Parts {
    /// What it is a recording of.
    pub heading: Heading,
    /// Bench time of each row, s, rising.
    pub time_s: Vec<f64>,
    /// The channels.
    pub tracks: Vec<Track>,
    /// Stretches without samples.
    pub gaps: Vec<Gap>,
    /// Phases of the test.
    pub phases: Vec<PhaseMark>,
    /// What people said and read, in order.
    pub entries: Vec<Entry>,
    /// What was lost.
    pub loss: Loss,
    /// How it ended.
    pub ending: Ending,
}

impl Recording {
    /// Checks the parts and closes them.
    ///
    /// # Errors
    /// If time does not rise, a channel has another length, or a role is taken twice.
    pub fn new(parts: Parts) -> Result<Self, RecordingError> {
        let Parts {
            heading,
            time_s,
            mut tracks,
            gaps,
            phases,
            entries,
            loss,
            ending,
        } = parts;
        if let Some(at) = time_s
            .windows(2)
            .position(|w| w[1].partial_cmp(&w[0]) != Some(std::cmp::Ordering::Greater))
        {
            return Err(RecordingError::TimeBackwards {
                index: at + 1,
                before_s: time_s[at],
                after_s: time_s[at + 1],
            });
        }
        for (index, track) in tracks.iter().enumerate() {
            let role = track.channel.role.word();
            if track.len() != time_s.len() {
                return Err(RecordingError::Unequal {
                    role,
                    n_found: track.len(),
                    n_times: time_s.len(),
                });
            }
            if tracks[..index]
                .iter()
                .any(|t| t.channel.role == track.channel.role)
            {
                return Err(RecordingError::Twice { role });
            }
        }
        supplied::refer_to_supply(&mut tracks);
        Ok(Self {
            heading,
            time_s,
            tracks,
            gaps,
            phases,
            entries,
            loss,
            ending,
        })
    }

    /// What it is a recording of.
    pub fn heading(&self) -> &Heading {
        &self.heading
    }

    /// Bench time of each row in seconds, rising.
    pub fn time_s(&self) -> &[f64] {
        &self.time_s
    }

    /// All channels.
    pub fn tracks(&self) -> &[Track] {
        &self.tracks
    }

    /// The channel with a role, if it was recorded.
    pub fn track(&self, role: Role) -> Option<&Track> {
        self.tracks.iter().find(|t| t.channel.role == role)
    }

    /// Stretches without samples.
    pub fn gaps(&self) -> &[Gap] {
        &self.gaps
    }

    /// Phases of the test.
    pub fn phases(&self) -> &[PhaseMark] {
        &self.phases
    }

    /// The phase with a name, if the test came so far.
    pub fn phase(&self, name: &str) -> Option<&PhaseMark> {
        self.phases.iter().find(|p| p.name == name)
    }

    /// What people said and read, in order.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// What was lost.
    pub fn loss(&self) -> Loss {
        self.loss
    }

    /// How it ended.
    pub fn ending(&self) -> &Ending {
        &self.ending
    }
}
