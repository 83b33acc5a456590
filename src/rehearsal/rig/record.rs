//! What was true of a run, kept coarsely.
//!
//! One instant for each second and two for each border, so memory is bounded by the length of
//! the run; what lies between is read between them.

use crate::rehearsal::physics::Instant;
use crate::rehearsal::physics::Passed;

/// Truth of a run so far.
#[derive(Debug, Default)]
pub(super) struct Record {
    /// Rising in time; two of one time at a border.
    kept: Vec<Instant>,
    /// The last that was streamed.
    latest: Option<Instant>,
}

impl Record {
    /// Adds instants that lie behind all others, and the last one streamed.
    pub(super) fn add(&mut self, kept: &[Instant], latest: Instant) {
        self.kept.extend_from_slice(kept);
        self.latest = Some(latest);
    }

    /// The rig at a time, s; None if it was not streamed. At a border, as it was after it.
    pub(super) fn instant(&self, at_s: f64) -> Option<Instant> {
        let latest = self.latest.filter(|latest| at_s <= latest.time_s)?;
        let after = self.kept.partition_point(|now| now.time_s <= at_s);
        let before = self.kept.get(after.checked_sub(1)?)?;
        let next = self.kept.get(after).unwrap_or(&latest);
        Some(before.towards(next, at_s))
    }

    /// Oil that went each way between two times, kg; times that were not streamed yet count
    /// as the last that was.
    pub(super) fn passed(&self, from_s: f64, until_s: f64) -> Passed {
        let at = |time_s: f64| {
            let streamed_s = self.latest.map_or(0.0, |latest| latest.time_s);
            let now = self.instant(time_s.clamp(0.0, streamed_s));
            now.map_or(Passed::default(), |now| now.passed_kg)
        };
        at(until_s).since(&at(from_s))
    }

    /// How many instants are kept.
    #[cfg(test)]
    pub(super) fn n_kept(&self) -> usize {
        self.kept.len()
    }
}
