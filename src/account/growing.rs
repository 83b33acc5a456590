//! The figures of a hold that is still going on.
//!
//! Readings are summed in bins as they come; the same evaluation as after the hold is made
//! of the bins whenever it is asked for. Its cost and memory do not grow with the hold. It
//! is there to be looked at: the figure that counts is made of the finished recording.
//!
//! Invariant: nothing here is kept or decided upon.

use super::Evaluation;
use super::Subject;
use super::evaluate::Told;
use super::evaluate::evaluated;
use super::series::Grid;
use super::series::HoldSeries;
use super::sums::Sums;
use crate::channel::Channel;
use crate::procedure::SHORTEST_HOLD_S;

/// Bins of each channel: at least twice as fine as the finest grid of an evaluation.
const N_BINS: usize = 4096;

/// First length of all bins together, s; it doubles when they run out.
const FIRST_LENGTH_S: f64 = 64.0;

/// A hold that is still going on.
#[derive(Debug, Clone)]
pub struct Growing {
    subject: Subject,
    channels: Vec<Channel>,
    sums: Vec<Sums>,
    settled_s: f64,
    start_s: f64,
    last_s: f64,
}

impl Growing {
    /// A hold that starts at `start_s` of bench time, `settled_s` after its pressure was reached.
    pub fn new(subject: Subject, channels: Vec<Channel>, start_s: f64, settled_s: f64) -> Self {
        let empty = Sums::new(N_BINS, FIRST_LENGTH_S);
        Self {
            subject,
            sums: vec![empty; channels.len()],
            channels,
            settled_s,
            start_s,
            last_s: start_s,
        }
    }

    /// Takes a row: bench time and one reading in SI units for each channel, None where it
    /// is missing. Rows before the start do not count; they come in the order of time.
    pub fn push(&mut self, time_s: f64, readings: impl IntoIterator<Item = Option<f64>>) {
        if time_s < self.start_s {
            return;
        }
        for (sums, reading) in self.sums.iter_mut().zip(readings) {
            sums.add(time_s - self.start_s, reading);
        }
        self.last_s = time_s;
    }

    /// The figures so far. None while the hold is too short or too thin.
    pub fn evaluation(&self) -> Option<Evaluation> {
        let length_s = self.last_s - self.start_s;
        let n_rows = self.sums.first()?.n_rows();
        let grid = Grid::of(n_rows).filter(|_| length_s >= SHORTEST_HOLD_S)?;
        let sums = self.sums.iter().map(|sums| {
            let sums = sums.clone().finished();
            sums.rebinned(grid.n_fine(), length_s)
        });
        let channels = self.channels.iter().zip(sums);
        let series = HoldSeries::of(grid, self.settled_s, length_s, channels);
        let hold_s = (self.start_s, self.last_s);
        Some(evaluated(
            Told::Whole(None),
            &series,
            hold_s,
            &self.subject,
            None,
        ))
    }
}
