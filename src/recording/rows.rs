//! Rows of a recording, some at a time, so that its length costs no memory.
//!
//! An [`Outline`] is all of a recording but its rows; a [`RowSource`] hands these out from the
//! first to the last. A recording in memory is one source, its journal another.
//!
//! Invariant: the pieces of a source, one behind the other, are the tracks of its recording.

use super::Codes;
use super::Ending;
use super::Entry;
use super::Gap;
use super::Heading;
use super::Loss;
use super::PhaseMark;
use super::Recording;
use super::RecordingError;
use super::Track;
use super::supplied;
use crate::channel::Channel;
use std::convert::Infallible;
use std::ops::Range;

/// What the entries of a channel are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Raw codes of a board.
    Raw,
    /// Values of another logger in SI units.
    Si,
}

/// A channel and what its entries are.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// The channel.
    pub channel: Channel,
    /// What its entries are.
    pub form: Form,
}

/// All that a recording holds except its rows.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// What it is a recording of.
    pub heading: Heading,
    /// Its channels, in their order.
    pub lanes: Vec<Lane>,
    /// Number of its rows.
    pub n_rows: usize,
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

impl Outline {
    /// The same, if no two channels have one role.
    ///
    /// # Errors
    /// If a role is taken twice.
    pub fn checked(self) -> Result<Self, RecordingError> {
        for (index, lane) in self.lanes.iter().enumerate() {
            let role = lane.channel.role;
            let earlier = &self.lanes[..index];
            if earlier.iter().any(|lane| lane.channel.role == role) {
                return Err(RecordingError::Twice { role: role.word() });
            }
        }
        Ok(self)
    }
}

/// Rows that follow each other: a short stretch of a recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    time_s: Vec<f64>,
    tracks: Vec<Track>,
}

impl Piece {
    /// From times and codes of as many rows; tracks that are read against the supply find it.
    pub fn new(time_s: Vec<f64>, mut tracks: Vec<Track>) -> Self {
        supplied::refer_to_supply(&mut tracks);
        Self { time_s, tracks }
    }

    /// Bench time of each row in seconds, rising.
    pub fn time_s(&self) -> &[f64] {
        &self.time_s
    }

    /// All channels, in the order of the outline.
    pub fn tracks(&self) -> &[Track] {
        &self.tracks
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.time_s.len()
    }

    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.time_s.is_empty()
    }
}

/// Hands out a recording from its first row to its last.
pub trait RowSource {
    /// Why rows cannot be had.
    type Error: std::error::Error + Send + Sync + 'static;

    /// All but the rows.
    fn outline(&self) -> &Outline;

    /// The next `n_most` rows; fewer only at the end, none behind it.
    ///
    /// # Errors
    /// If the rows cannot be had, or are not as the outline says.
    fn next_piece(&mut self, n_most: usize) -> Result<Piece, Self::Error>;
}

/// The rows of a recording in memory.
#[derive(Debug)]
pub struct RecordingRows<'a> {
    recording: &'a Recording,
    outline: Outline,
    n_given: usize,
}

impl Recording {
    /// All of it but its rows.
    pub fn outline(&self) -> Outline {
        let lane = |track: &Track| Lane {
            channel: track.channel.clone(),
            form: track.codes.form(),
        };
        Outline {
            heading: self.heading().clone(),
            lanes: self.tracks().iter().map(lane).collect(),
            n_rows: self.time_s().len(),
            gaps: self.gaps().to_vec(),
            phases: self.phases().to_vec(),
            entries: self.entries().to_vec(),
            loss: self.loss(),
            ending: self.ending().clone(),
        }
    }

    /// Its rows, from the first.
    pub fn rows(&self) -> RecordingRows<'_> {
        RecordingRows {
            recording: self,
            outline: self.outline(),
            n_given: 0,
        }
    }
}

impl Codes {
    /// What the entries are.
    pub fn form(&self) -> Form {
        match self {
            Self::Raw(_) | Self::AgainstSupply { .. } => Form::Raw,
            Self::Si(_) => Form::Si,
        }
    }

    /// Some of the entries; the supply is to be found again.
    pub(super) fn within(&self, rows: Range<usize>) -> Self {
        match self {
            Self::Raw(codes) | Self::AgainstSupply { raw: codes, .. } => {
                Self::Raw(codes[rows].to_vec())
            }
            Self::Si(values) => Self::Si(values[rows].to_vec()),
        }
    }
}

impl RowSource for RecordingRows<'_> {
    type Error = Infallible;

    fn outline(&self) -> &Outline {
        &self.outline
    }

    fn next_piece(&mut self, n_most: usize) -> Result<Piece, Infallible> {
        let from = self.n_given;
        let rows = from..from.saturating_add(n_most).min(self.outline.n_rows);
        self.n_given = rows.end;
        let track = |track: &Track| Track {
            channel: track.channel.clone(),
            codes: track.codes.within(rows.clone()),
        };
        let tracks = self.recording.tracks().iter().map(track).collect();
        Ok(Piece::new(
            self.recording.time_s()[rows.clone()].to_vec(),
            tracks,
        ))
    }
}
