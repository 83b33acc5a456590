//! The state machine of one test: events in, effects out.
//!
//! It knows the plan and the bench time of the rows, decides when settling ends, when
//! the hold ends and when a test is over, and says what to tell people. It touches
//! nothing: the daemon carries its effects out, live, in rehearsal and in replay.
//!
//! Invariants: a test that is over stays over; only a hold that was reached row by row
//! ends as complete.

mod alarm;

pub use alarm::Alarm;

use crate::procedure::HOLD;
use crate::procedure::HoldPlan;
use crate::procedure::SETTLE;
use crate::quantity::unit::second;
use crate::recording::Ending;

/// All that can happen to a test.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// Rows up to this bench time are in the journal.
    Recorded {
        /// Bench time of the latest row, s.
        until_s: f64,
    },
    /// The adapter is gone, in words.
    Lost(String),
    /// The line is open and nothing comes.
    Silent,
    /// The board is there again.
    Back {
        /// Time without a word from it, s.
        away_s: f64,
    },
    /// The adapter did not come back in time.
    GaveUp,
    /// Another board answers on the adapter.
    OtherBoard,
    /// The board reports a fault that its readings cannot be trusted with, in words.
    BoardFault(String),
    /// Somebody ended the recording.
    Stopped,
    /// The journal cannot be written, in words.
    DiskFailed(String),
}

/// All that shall be done.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// A phase begins at a bench time in seconds.
    PhaseBegins(&'static str, f64),
    /// A phase ends at a bench time in seconds.
    PhaseEnds(&'static str, f64),
    /// Tell people now.
    Warn(String),
    /// The test is over: end the journal with this.
    Finish(Ending),
}

/// Where a test stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Nothing recorded yet.
    Waiting,
    /// Settling; nothing counts yet.
    Settling,
    /// The counted hold.
    Holding,
    /// Over.
    Over,
}

/// One test.
#[derive(Debug, Clone, PartialEq)]
pub struct Bench {
    settle_s: f64,
    until_s: f64,
    reached_s: f64,
    stage: Stage,
}

impl Bench {
    /// A test by its plan.
    pub fn new(plan: &HoldPlan) -> Self {
        let settle_s = plan.settle().get::<second>();
        Self {
            settle_s,
            until_s: settle_s + plan.length().get::<second>(),
            reached_s: 0.0,
            stage: Stage::Waiting,
        }
    }

    /// Where it stands.
    pub fn stage(&self) -> Stage {
        self.stage
    }

    /// Bench time of its latest row and of its planned end, s.
    pub fn progress_s(&self) -> (f64, f64) {
        (self.reached_s, self.until_s)
    }

    /// Takes an event.
    pub fn step(&mut self, event: Event) -> Vec<Effect> {
        if self.stage == Stage::Over {
            return Vec::new();
        }
        match event {
            Event::Recorded { until_s } => self.recorded(until_s),
            Event::Lost(why) => vec![Effect::Warn(format!(
                "adapter lost: {why}. Plug it in again; the hold goes on and the gap is kept"
            ))],
            Event::Silent => vec![Effect::Warn(
                "no data for 2 s: check cable and supply of the board".into(),
            )],
            Event::Back { away_s } => {
                vec![Effect::Warn(format!("data again after {away_s:.1} s"))]
            }
            Event::GaveUp => self.interrupt("the adapter was unplugged and did not come back"),
            Event::OtherBoard => self.interrupt("another board answered on the adapter"),
            Event::BoardFault(why) => self.interrupt(&why),
            Event::Stopped => self.interrupt("the recording was stopped before its end"),
            Event::DiskFailed(why) => self.interrupt(&format!("the disk failed: {why}")),
        }
    }

    fn recorded(&mut self, until_s: f64) -> Vec<Effect> {
        let mut effects = Vec::new();
        self.reached_s = self.reached_s.max(until_s);
        if self.stage == Stage::Waiting {
            self.stage = Stage::Settling;
            effects.push(Effect::PhaseBegins(SETTLE, 0.0));
        }
        if self.stage == Stage::Settling && self.reached_s >= self.settle_s {
            self.stage = Stage::Holding;
            effects.push(Effect::PhaseEnds(SETTLE, self.settle_s));
            effects.push(Effect::PhaseBegins(HOLD, self.settle_s));
        }
        if self.stage == Stage::Holding && self.reached_s >= self.until_s {
            self.stage = Stage::Over;
            effects.push(Effect::PhaseEnds(HOLD, self.until_s));
            effects.push(Effect::Finish(Ending::Complete));
        }
        effects
    }

    fn interrupt(&mut self, why: &str) -> Vec<Effect> {
        let open = match self.stage {
            Stage::Settling => Some(SETTLE),
            Stage::Holding => Some(HOLD),
            Stage::Waiting | Stage::Over => None,
        };
        self.stage = Stage::Over;
        let end = open.map(|name| Effect::PhaseEnds(name, self.reached_s));
        end.into_iter()
            .chain([Effect::Finish(Ending::Interrupted(why.into()))])
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Time;

    fn bench() -> Bench {
        let time = Time::new::<second>;
        Bench::new(&HoldPlan::new(time(60.0), time(300.0)).expect("a plan"))
    }

    fn finished(effects: &[Effect]) -> Option<Ending> {
        effects.iter().find_map(|e| match e {
            Effect::Finish(ending) => Some(ending.clone()),
            _ => None,
        })
    }

    #[test]
    fn a_hold_that_was_reached_row_by_row_is_complete() {
        let mut bench = bench();
        let mut all = Vec::new();
        for tenth in 0..=3600 {
            all.extend(bench.step(Event::Recorded {
                until_s: f64::from(tenth) / 10.0,
            }));
        }
        assert_eq!(
            all,
            [
                Effect::PhaseBegins(SETTLE, 0.0),
                Effect::PhaseEnds(SETTLE, 60.0),
                Effect::PhaseBegins(HOLD, 60.0),
                Effect::PhaseEnds(HOLD, 360.0),
                Effect::Finish(Ending::Complete),
            ]
        );
        assert_eq!(bench.step(Event::GaveUp), [], "over stays over");
    }

    #[test]
    fn whatever_ends_a_test_early_interrupts_it() {
        for event in [
            Event::GaveUp,
            Event::OtherBoard,
            Event::Stopped,
            Event::BoardFault("supply low".into()),
            Event::DiskFailed("full".into()),
        ] {
            let mut bench = bench();
            let _ = bench.step(Event::Recorded { until_s: 100.0 });
            let ending = finished(&bench.step(event.clone())).expect("ends");
            assert!(matches!(ending, Ending::Interrupted(_)), "{event:?}");
            assert_eq!(
                finished(&bench.step(Event::Recorded { until_s: 400.0 })),
                None
            );
        }
    }

    #[test]
    fn an_adapter_that_comes_back_does_not_end_the_test() {
        let mut bench = bench();
        let _ = bench.step(Event::Recorded { until_s: 100.0 });
        assert_eq!(finished(&bench.step(Event::Lost("pulled".into()))), None);
        assert_eq!(finished(&bench.step(Event::Back { away_s: 3.0 })), None);
        assert_eq!(
            finished(&bench.step(Event::Recorded { until_s: 360.0 })),
            Some(Ending::Complete)
        );
    }
}
