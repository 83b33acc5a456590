//! The hands at the rig: what the operator does, what the host has seen, what was true.
//!
//! Shared by the board's thread and whoever plays the operator. A handling is taken by the
//! board together with the block of samples it begins in, so nothing can slip into what was
//! streamed.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::Condvar;
use std::sync::Mutex;
use std::sync::MutexGuard;
use std::sync::PoisonError;
use std::time::Duration;

use crate::rehearsal::physics::Instant;
use crate::rehearsal::physics::Passed;
use crate::rehearsal::rig::handling::Handling;
use crate::rehearsal::rig::record::Record;
use crate::rehearsal::rig::world::Timed;
use crate::rehearsal::stiff::StiffError;

/// How far the board may stream beyond what the host has seen, s.
pub const LEAD_S: f64 = 2.0;

/// Room for what adding up sample times leaves in their last digit, s.
const DIGIT_S: f64 = 1e-9;

/// What the operator of a rig does and knows. Clones are the same hands.
#[derive(Debug, Clone, Default)]
pub struct Hands(Arc<Shared>);

#[derive(Debug, Default)]
struct Shared {
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Debug, Default)]
struct State {
    coming: VecDeque<Timed>,
    last_act_s: Option<f64>,
    seen_s: f64,
    /// The last sample that is streamed or being made, s.
    streamed_s: Option<f64>,
    record: Record,
    let_off_m3: Option<f64>,
    failed: Option<StiffError>,
}

impl Hands {
    /// Begins a handling at a bench time, s since the start of the run. One that begins while
    /// another is still going on breaks that off and goes on from where it was.
    ///
    /// # Panics
    /// If the time is not behind all that was streamed, or before the handling given last: the
    /// host then asked for something that the rig has shown not to happen.
    pub fn act(&self, at_s: f64, handling: Handling) {
        let refused = {
            let mut state = self.lock();
            let is_past = state
                .streamed_s
                .is_some_and(|streamed_s| at_s <= streamed_s);
            let is_before = state.last_act_s.is_some_and(|last_s| at_s < last_s);
            let refused = !at_s.is_finite() || at_s < 0.0 || is_past || is_before;
            if !refused {
                state.coming.push_back((at_s, handling));
                state.last_act_s = Some(at_s);
            }
            refused.then_some((state.streamed_s, state.last_act_s))
        };
        assert!(
            refused.is_none(),
            "a handling at {at_s} s comes too late (streamed, last handling: {refused:?})"
        );
    }

    /// Says that the host has all rows up to here, s: the board may stream [`LEAD_S`] further.
    pub fn seen(&self, until_s: f64) {
        let mut state = self.lock();
        if until_s > state.seen_s {
            state.seen_s = until_s;
            self.0.changed.notify_all();
        }
    }

    /// Oil that went each way between two streamed times, kg. Nothing counts as leaked while
    /// the rig is worked. A time that was not streamed yet counts as the last that was.
    pub fn passed(&self, from_s: f64, until_s: f64) -> Passed {
        self.lock().record.passed(from_s, until_s)
    }

    /// The rig at a time that was streamed, read between whole seconds; None for any other. At
    /// the border of a handling, as it was after it.
    pub fn instant(&self, at_s: f64) -> Option<Instant> {
        self.lock().record.instant(at_s)
    }

    /// What the glass shows of the oil that was let off last, as it is read, m³; None before that
    /// was streamed.
    pub fn let_off_m3(&self) -> Option<f64> {
        self.lock().let_off_m3
    }

    /// Time of the last sample that was made, s; None before the first.
    pub fn streamed_s(&self) -> Option<f64> {
        self.lock().streamed_s
    }

    /// Why the board has gone silent for good, if it has: its physics could not be integrated.
    pub fn failed(&self) -> Option<StiffError> {
        self.lock().failed.clone()
    }

    /// Whether samples up to this time may be streamed, s.
    pub(super) fn allows(&self, until_s: f64) -> bool {
        until_s <= self.lock().seen_s + LEAD_S + DIGIT_S
    }

    /// The handlings that begin by this time, s, which from now on counts as streamed.
    pub(super) fn take(&self, until_s: f64) -> VecDeque<Timed> {
        let mut state = self.lock();
        state.streamed_s = Some(until_s);
        let n = state.coming.partition_point(|(at_s, _)| *at_s <= until_s);
        state.coming.drain(..n).collect()
    }

    pub(super) fn add(&self, kept: &[Instant], latest: Instant) {
        self.lock().record.add(kept, latest);
    }

    pub(super) fn glass_shows(&self, let_off_m3: Option<f64>) {
        self.lock().let_off_m3 = let_off_m3;
    }

    pub(super) fn fail(&self, error: StiffError) {
        self.lock().failed = Some(error);
    }

    /// Waits until samples up to this time may be streamed, s, for a while at most.
    pub(super) fn wait(&self, until_s: f64, longest: Duration) {
        let state = self.lock();
        let is_behind = |state: &mut State| until_s > state.seen_s + LEAD_S + DIGIT_S;
        // Whether it was long enough is asked again by whoever waits.
        let _ = self.0.changed.wait_timeout_while(state, longest, is_behind);
    }

    #[cfg(test)]
    pub(super) fn n_kept(&self) -> usize {
        self.lock().record.n_kept()
    }

    /// The state, also after a thread died with it: every change of it is whole.
    fn lock(&self) -> MutexGuard<'_, State> {
        self.0.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
