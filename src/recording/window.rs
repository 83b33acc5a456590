//! A stretch of a recording as columns of a picture: what a screen can show of it.
//!
//! Invariants: each column holds at least one row and says from which to which time; columns
//! follow each other; a value is lowest, highest or mean of the rows in its column, never made up
//! between them.

use super::Entry;
use super::Gap;
use super::PhaseMark;
use crate::channel::Channel;
use crate::channel::Role;

/// Rows that share a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Bench time of its first row, s.
    pub from_s: f64,
    /// Bench time of its last row, s.
    pub until_s: f64,
    /// Number of its rows, at least 1.
    pub n_rows: usize,
    /// Whether samples are missing in it, or between the column before and its last row.
    pub has_gap: bool,
}

/// Values of one channel in one column, in SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// The lowest.
    pub min_si: f64,
    /// The highest.
    pub max_si: f64,
    /// The mean.
    pub mean_si: f64,
    /// How many values; rows without one do not count.
    pub n_values: usize,
}

/// One channel in all columns.
#[derive(Debug, Clone, PartialEq)]
pub struct WindowLane {
    /// The channel.
    pub channel: Channel,
    /// One for each column; None where no row of it has a value.
    pub bands: Vec<Option<Band>>,
}

/// A stretch of a recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Window {
    /// Asked for from this bench time on, s.
    pub from_s: f64,
    /// Asked for up to this bench time, s.
    pub until_s: f64,
    /// Rows of the recording within the two.
    pub n_rows: usize,
    /// Rows of the blocks that it was made of; 1 if each row was looked at. Larger blocks are
    /// taken whole: the first and the last column may reach out of the window by less than one.
    pub n_rows_each: usize,
    /// The columns that hold rows, in order.
    pub columns: Vec<Stretch>,
    /// The channels that were asked for and recorded, in the order of the recording.
    pub lanes: Vec<WindowLane>,
    /// Gaps that reach into it and are at least as long as a column, or all of them where each
    /// row has a column of its own. Shorter ones are told by their column alone.
    pub gaps: Vec<Gap>,
    /// How many gaps reach into it.
    pub n_gaps: usize,
    /// Phases that reach into it.
    pub phases: Vec<PhaseMark>,
    /// What people said and read in it.
    pub entries: Vec<Entry>,
}

impl Window {
    /// The channel with a role, if it is there.
    pub fn lane(&self, role: Role) -> Option<&WindowLane> {
        self.lanes.iter().find(|lane| lane.channel.role == role)
    }

    /// Whether each column is one row.
    pub fn is_rows(&self) -> bool {
        self.columns.iter().all(|column| column.n_rows == 1)
    }
}
