//! The state machine of one test: events in, effects out.
//!
//! It knows the steps and sees the readings, asks people for what is theirs to do, decides when
//! a pressure is reached, when a side has settled, when a hold ends and when a test is over.
//! It touches nothing: the daemon carries its effects out, live, in rehearsal and in replay.
//!
//! Invariants: a test that is over stays over; only steps that were reached row by row, one
//! after the other, end as complete.

mod advance;
mod alarm;
mod ask;
mod begin;
mod by_eye;
mod event;
mod said;
mod steady;
mod waits;
mod walk;

pub use alarm::Alarm;
pub use ask::Answer;
pub use ask::Ask;
use ask::Standing;
pub use by_eye::ByEye;
pub use by_eye::EyeEffect;
pub use by_eye::Question;
pub use by_eye::WRONG;
pub use event::Effect;
pub use event::Event;
pub use event::Reading;
pub use event::Stage;
pub use walk::POINT_S;
pub use walk::Walk;
pub use walk::WalkEffect;

use crate::cylinder::Chamber;
use crate::procedure::Act;
use crate::procedure::DWELL;
use crate::procedure::HOLD;
use crate::procedure::SETTLE;
use crate::procedure::SQUEEZE;
use crate::procedure::STROKES;
use crate::procedure::Step;
use crate::procedure::StrokeCount;
use crate::procedure::VENTED;
use crate::procedure::phase_name;
use crate::recording::Ending;
use crate::recording::Entry;
use crate::recording::EntryKind;
use steady::SteadyWatch;

/// A pressure below this part of what is asked for was let off: what stands from the step before
/// would else count as reached before anybody has pumped.
const LET_OFF_BELOW: f64 = 0.5;

/// One test.
#[derive(Debug, Clone, PartialEq)]
pub struct Bench {
    steps: Vec<Step>,
    at: usize,
    stage: Stage,
    /// When the phase that is open began and when it is over at the earliest, s.
    phase: (f64, f64),
    reached_s: f64,
    latest: Reading,
    /// Whether the pressure of an earlier step was let off before this one.
    is_let_off: bool,
    steady: Option<SteadyWatch>,
    strokes: Option<StrokeCount>,
    /// Since when nothing was said of what it waits for, s.
    waits_since_s: f64,
    /// Whether a person reads: phases are over when they have been read, not by rows.
    is_by_eye: bool,
}

impl Bench {
    /// A test of these steps.
    pub fn new(steps: Vec<Step>) -> Self {
        Self {
            steps,
            at: 0,
            stage: Stage::Waiting,
            phase: (0.0, 0.0),
            reached_s: 0.0,
            latest: Reading::default(),
            is_let_off: false,
            steady: None,
            strokes: None,
            waits_since_s: 0.0,
            is_by_eye: false,
        }
    }

    /// Where it stands.
    pub fn stage(&self) -> Stage {
        self.stage
    }

    /// The step it stands at, and its place; the last one when it is over.
    pub fn step_now(&self) -> Option<(usize, &Step)> {
        let at = self.at.min(self.steps.len().saturating_sub(1));
        self.steps.get(at).map(|step| (at, step))
    }

    /// How many steps there are.
    pub fn n_steps(&self) -> usize {
        self.steps.len()
    }

    /// Full strokes so far, of the step that counts them.
    pub fn strokes(&self) -> Option<u32> {
        self.strokes.as_ref().map(StrokeCount::count)
    }

    /// Bench time of its latest row, and when its phase, or its only hold, is to be over, s.
    pub fn progress_s(&self) -> (f64, f64) {
        match self.steps.as_slice() {
            [
                Step {
                    id,
                    act: Act::Hold(hold),
                    ..
                },
            ] if id.is_empty() => {
                let plan = &hold.plan;
                (self.reached_s, plan.settle().value + plan.length().value)
            }
            _ => (self.reached_s, self.phase.1.max(self.reached_s)),
        }
    }

    /// Takes an event.
    pub fn take(&mut self, event: Event) -> Vec<Effect> {
        if self.stage == Stage::Over {
            return Vec::new();
        }
        match event {
            Event::Recorded(reading) => self.recorded(&reading),
            Event::Done => self.done(),
            Event::NotDone if self.stage == Stage::Asking => vec![Effect::Warn(
                "only Enter alone says that it is done; nothing goes on until then".into(),
            )],
            Event::NotDone => Vec::new(),
            Event::Typed(text) => self.typed(&text),
            Event::Decided { at_s, why } => self.decided(at_s, why),
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

    fn recorded(&mut self, reading: &Reading) -> Vec<Effect> {
        self.reached_s = self.reached_s.max(reading.time_s);
        self.latest = *reading;
        let mut effects = Vec::new();
        if self.stage == Stage::Waiting {
            effects.extend(self.enter());
        }
        self.watch(reading);
        // One row may end a phase and with it the next: each is looked at again.
        while let Some(next) = self.advance(reading) {
            effects.extend(next);
        }
        effects.extend(self.still_waits(reading));
        effects
    }

    fn watch(&mut self, reading: &Reading) {
        self.is_let_off |= self.has_fallen(reading, LET_OFF_BELOW);
        if let Some(strokes) = &mut self.strokes {
            let before = strokes.count();
            strokes.push(reading.x_m);
            if strokes.count() > before {
                self.waits_since_s = self.reached_s;
            }
        }
        if let (Some(steady), Some(own_pa)) = (&mut self.steady, self.steps.get(self.at)) {
            let chamber = own_pa.reach().map_or(Chamber::Cap, |reach| reach.chamber);
            steady.push(reading.time_s, reading.of(chamber));
        }
    }

    fn interrupt(&mut self, why: &str) -> Vec<Effect> {
        let open = match self.stage {
            Stage::Settling => Some(SETTLE),
            Stage::Holding => Some(HOLD),
            Stage::Dwelling => Some(DWELL),
            Stage::Vented => Some(VENTED),
            Stage::Stroking => Some(STROKES),
            Stage::Squeezing => Some(SQUEEZE),
            Stage::Waiting | Stage::Asking | Stage::Reaching | Stage::Typing | Stage::Over => None,
        };
        self.stage = Stage::Over;
        let end = open.map(|phase| Effect::PhaseEnds(self.name(phase), self.reached_s));
        end.into_iter()
            .chain([Effect::Finish(Ending::Interrupted(why.into()))])
            .collect()
    }

    fn entry(&self, kind: EntryKind, text: &str) -> Effect {
        Effect::Entry(Entry {
            at_s: self.reached_s,
            step: self.steps[self.at].id.clone(),
            kind,
            text: text.into(),
        })
    }

    /// A phase's name with that of its step.
    fn name(&self, phase: &str) -> String {
        let id = self.steps.get(self.at).map_or("", |step| &step.id);
        phase_name(id, phase)
    }

    fn title(&self) -> String {
        let step = &self.steps[self.at];
        format!(
            "Step {} of {}: {}",
            self.at + 1,
            self.steps.len(),
            step.title
        )
    }
}

#[cfg(test)]
mod tests;
