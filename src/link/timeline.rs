//! Board ticks to bench time.
//!
//! Bench time is the board's own time, counted from its first sample. Only over a restart
//! of the board, when its ticks begin anew, the host's clock bridges the gap.
//!
//! Invariant: bench time rises from block to block, and what is missing between two blocks
//! is named.

use crate::recording::Gap;
use crate::recording::GapCause;
use firmware_protocol::Continuity;
use firmware_protocol::SampleClock;
use firmware_protocol::Samples;
use firmware_protocol::Status;

/// A board that was not heard for so long may have wrapped its ticks unseen (35.8 minutes), s.
const TICKS_FORGOTTEN_S: f64 = 1_800.0;

/// Follows one board through gaps, re-plugs and restarts.
#[derive(Debug, Default)]
pub(super) struct Timeline {
    clock: SampleClock,
    anchor: Option<Anchor>,
    newest: Option<Newest>,
    heard_s: Option<f64>,
    absence: Option<GapCause>,
}

/// The same instant in both times.
#[derive(Debug, Clone, Copy)]
struct Anchor {
    board_us: u64,
    bench_us: u64,
    n_restarts: u32,
}

/// The last sample that was placed.
#[derive(Debug, Clone, Copy)]
struct Newest {
    bench_us: u64,
    host_s: f64,
}

/// Where a block begins, and what is missing before it.
#[derive(Debug, PartialEq)]
pub(super) struct Placed {
    pub(super) first_us: u64,
    pub(super) gap: Option<Gap>,
    pub(super) n_lost: u64,
}

impl Timeline {
    /// The next sample is at 0 s again.
    pub(super) fn begin_anew(&mut self) {
        self.anchor = None;
        self.newest = None;
        self.absence = None;
    }

    /// Says why samples are missing, if some will turn out to be.
    pub(super) fn note_absence(&mut self, cause: GapCause) {
        // Unplugging explains the silence that it began with, not the other way round.
        if self.absence != Some(GapCause::Unplugged) {
            self.absence = Some(cause);
        }
    }

    /// Follows the tick of a status, so that no wrap-around is missed.
    pub(super) fn follow(&mut self, status: &Status, host_s: f64) {
        self.hear(host_s);
        let _ = self.clock.place_status(status);
    }

    /// Places a block that arrived at `host_s`. None if it is to be dropped.
    pub(super) fn place(&mut self, samples: &Samples<'_>, host_s: f64) -> Option<Placed> {
        self.hear(host_s);
        let placement = self.clock.place_samples(samples);
        let n_restarts = self.clock.n_restarts();
        if placement.continuity == Continuity::Old {
            return None;
        }
        let anchor = self.anchor.filter(|anchor| anchor.n_restarts == n_restarts);
        let span_us = u64::from(samples.span_us());
        let first_us = match (anchor, self.newest) {
            (Some(anchor), _) => anchor.bench_us + placement.at_us.checked_sub(anchor.board_us)?,
            (None, None) => 0,
            (None, Some(newest)) => {
                let away_us = ((host_s - newest.host_s) * 1e6) as u64;
                let interval_us = u64::from(samples.interval_us());
                newest.bench_us + away_us.saturating_sub(span_us).max(interval_us)
            }
        };
        if self
            .newest
            .is_some_and(|newest| first_us <= newest.bench_us)
        {
            return None;
        }
        if anchor.is_none() {
            self.anchor = Some(Anchor {
                board_us: placement.at_us,
                bench_us: first_us,
                n_restarts,
            });
        }
        let absence = self.absence.take();
        let (cause, n_lost) = match placement.continuity {
            _ if anchor.is_none() => (Some(GapCause::Restarted), 0),
            Continuity::Gap { n_lost } => (absence.or(Some(GapCause::Lost)), u64::from(n_lost)),
            Continuity::Pause { .. } => (absence.or(Some(GapCause::Silent)), 0),
            _ => (None, 0),
        };
        let before = self.newest.replace(Newest {
            bench_us: first_us + span_us,
            host_s,
        });
        let gap = before.zip(cause).map(|(before, cause)| Gap {
            from_s: seconds(before.bench_us),
            until_s: seconds(first_us),
            cause,
        });
        Some(Placed {
            first_us,
            n_lost: if before.is_some() { n_lost } else { 0 },
            gap,
        })
    }

    fn hear(&mut self, host_s: f64) {
        let silence_s = self.heard_s.map_or(0.0, |heard_s| host_s - heard_s);
        if silence_s > TICKS_FORGOTTEN_S {
            // Nobody knows how often the ticks went round: as good as a restart.
            self.clock = SampleClock::new();
            self.anchor = None;
        }
        self.heard_s = Some(host_s);
    }
}

/// Microseconds of bench time in seconds.
pub(super) fn seconds(us: u64) -> f64 {
    us as f64 / 1e6
}
