//! The state machine of one test: events in, effects out.
//!
//! It knows the steps and sees the readings, asks people for what is theirs to do, decides when
//! a pressure is reached, when a side has settled, when a hold ends and when a test is over.
//! It touches nothing: the daemon carries its effects out, live, in rehearsal and in replay.
//!
//! Invariants: a test that is over stays over; only steps that were reached row by row, one
//! after the other, end as complete.

mod alarm;
mod ask;
mod by_eye;
mod steady;

pub use alarm::Alarm;
pub use ask::Answer;
pub use ask::Ask;
use ask::Standing;
pub use by_eye::ByEye;
pub use by_eye::EyeEffect;
pub use by_eye::Question;
pub use by_eye::WRONG;

use crate::cylinder::Chamber;
use crate::procedure::Act;
use crate::procedure::DWELL;
use crate::procedure::ENDS_BELOW;
use crate::procedure::HOLD;
use crate::procedure::Reach;
use crate::procedure::SETTLE;
use crate::procedure::SHORTEST_HOLD_S;
use crate::procedure::STROKES;
use crate::procedure::Step;
use crate::procedure::StrokeCount;
use crate::procedure::VENTED;
use crate::procedure::phase_name;
use crate::quantity::unit::second;
use crate::recording::Ending;
use crate::recording::Entry;
use crate::recording::EntryKind;
use steady::SteadyWatch;

/// Above this nothing is opened, moved or unlocked, Pa gauge (common practice, no source).
const SAFE_PA: f64 = 6e5;

/// A pressure below this part of what is asked for was let off: what stands from the step before
/// would else count as reached before anybody has pumped.
const LET_OFF_BELOW: f64 = 0.5;

/// A side that has lost this much of its pressure while it should settle leaks more than
/// settling could hide: it counts at once, while there is a pressure that drives the leak.
const COUNTS_BELOW: f64 = 0.85;

/// What the sensors said at one instant; None for what is missing or outside its good band.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reading {
    /// Bench time, s.
    pub time_s: f64,
    /// Cap-end pressure, Pa gauge.
    pub cap_pa: Option<f64>,
    /// Rod-end pressure, Pa gauge.
    pub rod_pa: Option<f64>,
    /// Extension, m.
    pub x_m: Option<f64>,
}

/// All that can happen to a test.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// A row is on its way into the journal.
    Recorded(Reading),
    /// A person says that what was asked for is done.
    Done,
    /// A person typed something else.
    NotDone,
    /// A person typed a reading.
    Typed(String),
    /// A look at the hold so far decided it.
    Decided {
        /// Bench time of the look, s: there the hold ends.
        at_s: f64,
        /// Why, in words.
        why: String,
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
    PhaseBegins(String, f64),
    /// A phase ends at a bench time in seconds.
    PhaseEnds(String, f64),
    /// Ask a person for something.
    Ask(Ask),
    /// Keep what a person said.
    Entry(Entry),
    /// Tell people now.
    Warn(String),
    /// Say back what was understood.
    Say(String),
    /// The test is over: end the journal with this.
    Finish(Ending),
}

/// Where a test stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Nothing recorded yet.
    Waiting,
    /// A person is asked to get the step ready.
    Asking,
    /// A person is bringing the pressure up and the rod to its place.
    Reaching,
    /// Settling; nothing counts yet.
    Settling,
    /// The counted hold.
    Holding,
    /// A pressure is kept.
    Dwelling,
    /// Both sides stand open.
    Vented,
    /// The rod goes its strokes.
    Stroking,
    /// A person is asked for a reading.
    Typing,
    /// Over.
    Over,
}

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
        effects
    }

    fn watch(&mut self, reading: &Reading) {
        self.is_let_off |= self.has_fallen(reading, LET_OFF_BELOW);
        if let Some(strokes) = &mut self.strokes {
            strokes.push(reading.x_m);
        }
        if let (Some(steady), Some(own_pa)) = (&mut self.steady, self.steps.get(self.at)) {
            let chamber = own_pa.reach().map_or(Chamber::Cap, |reach| reach.chamber);
            steady.push(reading.time_s, of(reading, chamber));
        }
    }

    /// What follows from time and readings, if anything does.
    fn advance(&mut self, reading: &Reading) -> Option<Vec<Effect>> {
        let until_s = self.phase.1;
        let is_due = !self.is_by_eye && self.reached_s >= until_s;
        match self.stage {
            Stage::Reaching => {
                let reach = *self.steps[self.at].reach()?;
                let is_there = self.is_let_off && is_met(&reach, reading);
                is_there.then(|| self.begin_kept(self.reached_s))
            }
            Stage::Settling if self.has_fallen(reading, COUNTS_BELOW) => {
                Some(self.count(self.reached_s))
            }
            Stage::Settling if is_due => self.settled(),
            Stage::Holding if is_due => Some(self.end_phase(HOLD, until_s)),
            Stage::Holding
                if self.reached_s >= self.phase.0 + SHORTEST_HOLD_S
                    && self.has_fallen(reading, ENDS_BELOW) =>
            {
                Some(self.end_phase(HOLD, self.reached_s))
            }
            Stage::Dwelling if is_due => Some(self.end_phase(DWELL, until_s)),
            Stage::Vented if is_due => Some(self.end_phase(VENTED, until_s)),
            Stage::Stroking => {
                let Act::Strokes { count, .. } = self.steps[self.at].act else {
                    return None;
                };
                (self.strokes()? >= count).then(|| self.end_phase(STROKES, self.reached_s))
            }
            _ => None,
        }
    }

    /// The pressure that stands while something is to be opened, moved or unlocked; None if
    /// nothing is, or none stands.
    fn standing(&self, step: &Step) -> Option<Standing> {
        let is_handled = match &step.act {
            Act::Confirm | Act::Reading(_) => false,
            // A load on the machine stands on its pressure.
            Act::Hold(_) => step.reach().is_some(),
            Act::Vented { .. } | Act::Strokes { .. } | Act::Dwell { .. } => true,
        };
        let pressures = [Chamber::Cap, Chamber::Rod]
            .map(|chamber| (chamber, of(&self.latest, chamber).unwrap_or(0.0)));
        let [cap, rod] = pressures;
        let (chamber, pressure_pa) = if rod.1 > cap.1 { rod } else { cap };
        (is_handled && pressure_pa > SAFE_PA).then_some(Standing {
            chamber,
            pressure_pa,
        })
    }

    /// Whether the pressure that was asked for has fallen below a part of it.
    fn has_fallen(&self, reading: &Reading, part: f64) -> bool {
        let reach = self.steps.get(self.at).and_then(Step::reach);
        reach.is_some_and(|reach| {
            of(reading, reach.chamber).is_some_and(|pa| pa < part * reach.pressure.pa())
        })
    }

    /// The earliest end of settling is there.
    fn settled(&mut self) -> Option<Vec<Effect>> {
        let waited_s = self.reached_s - self.phase.0;
        let is_steady = self
            .steady
            .as_ref()
            .is_none_or(|watch| watch.is_steady() || waited_s >= watch.at_most_s());
        if !is_steady {
            return None;
        }
        // What has its time alone to wait for begins at that time and not at the row after.
        let at_s = match self.steady {
            Some(_) => self.reached_s,
            None => self.phase.1,
        };
        Some(self.count(at_s))
    }

    /// From here on it counts.
    fn count(&mut self, at_s: f64) -> Vec<Effect> {
        let Act::Hold(hold) = &self.steps[self.at].act else {
            return Vec::new();
        };
        let length_s = hold.plan.length().get::<second>();
        self.steady = None;
        self.stage = Stage::Holding;
        self.phase = (at_s, at_s + length_s);
        vec![
            Effect::PhaseEnds(self.name(SETTLE), at_s),
            Effect::PhaseBegins(self.name(HOLD), at_s),
        ]
    }

    fn end_phase(&mut self, phase: &str, at_s: f64) -> Vec<Effect> {
        let mut effects = vec![Effect::PhaseEnds(self.name(phase), at_s)];
        effects.extend(self.next());
        effects
    }

    fn next(&mut self) -> Vec<Effect> {
        self.at += 1;
        self.steady = None;
        self.strokes = None;
        self.is_let_off = self.has_fallen(&self.latest, LET_OFF_BELOW);
        self.enter()
    }

    /// Comes to a step.
    fn enter(&mut self) -> Vec<Effect> {
        let Some(step) = self.steps.get(self.at) else {
            self.stage = Stage::Over;
            return vec![Effect::Finish(Ending::Complete)];
        };
        let is_reading = matches!(step.act, Act::Reading(_));
        if step.asks_first() || is_reading {
            self.stage = if is_reading {
                Stage::Typing
            } else {
                Stage::Asking
            };
            let standing = self.standing(step);
            return vec![Effect::Ask(Ask::ready(step, self.title(), standing))];
        }
        // Only a hold without a procedure begins unasked, with the recording.
        self.begin(0.0)
    }

    fn done(&mut self) -> Vec<Effect> {
        if self.stage != Stage::Asking {
            return Vec::new();
        }
        let step = &self.steps[self.at];
        if let Some(standing) = self.standing(step) {
            let again = Ask::ready(step, self.title(), Some(standing));
            return vec![Effect::Warn(standing.warning()), Effect::Ask(again)];
        }
        let mut effects = vec![self.entry(EntryKind::Done, "")];
        effects.extend(self.begin(self.reached_s));
        effects
    }

    /// Ends a hold that may end as decided, at a time within it.
    fn decided(&mut self, at_s: f64, why: String) -> Vec<Effect> {
        let may_end = match self.steps.get(self.at).map(|step| &step.act) {
            Some(Act::Hold(hold)) => hold.plan.ends_as_decided(),
            _ => false,
        };
        let is_within = at_s >= self.phase.0 + SHORTEST_HOLD_S && at_s < self.phase.1;
        if self.stage != Stage::Holding || !may_end || !is_within {
            return Vec::new();
        }
        let entry = Entry {
            at_s,
            step: self.steps[self.at].id.clone(),
            kind: EntryKind::Decided,
            text: why,
        };
        let mut effects = vec![Effect::Entry(entry)];
        effects.extend(self.end_phase(HOLD, at_s));
        effects
    }

    fn typed(&mut self, text: &str) -> Vec<Effect> {
        let Some(Step {
            act: Act::Reading(asked),
            ..
        }) = self.steps.get(self.at)
        else {
            return Vec::new();
        };
        match asked.understood(text) {
            Err(why) => {
                let again = Ask::ready(&self.steps[self.at], self.title(), None);
                vec![Effect::Warn(why), Effect::Ask(again)]
            }
            Ok(understood) => {
                let mut effects = vec![
                    self.entry(EntryKind::Reading, text.trim()),
                    Effect::Say(format!("Understood: {}.", understood.said_back())),
                ];
                effects.extend(self.next());
                effects
            }
        }
    }

    /// Begins what the step does, at a bench time.
    fn begin(&mut self, at_s: f64) -> Vec<Effect> {
        let step = &self.steps[self.at];
        match &step.act {
            Act::Confirm | Act::Reading(_) => self.next(),
            Act::Vented { length } => {
                self.phase = (at_s, at_s + length.get::<second>());
                self.open(Stage::Vented, VENTED, at_s)
            }
            Act::Strokes { stroke, .. } => {
                self.strokes = Some(StrokeCount::new(stroke.value));
                self.phase = (at_s, f64::INFINITY);
                self.open(Stage::Stroking, STROKES, at_s)
            }
            Act::Dwell { .. } | Act::Hold(_) => match step.reach() {
                Some(reach) => {
                    let ask = Ask::reach(step, self.title(), *reach, self.is_let_off);
                    self.stage = Stage::Reaching;
                    self.phase = (at_s, at_s);
                    vec![Effect::Ask(ask)]
                }
                None => self.begin_kept(at_s),
            },
        }
    }

    /// The pressure is there: it settles, or is kept.
    fn begin_kept(&mut self, at_s: f64) -> Vec<Effect> {
        match &self.steps[self.at].act {
            Act::Dwell { length, .. } => {
                self.phase = (at_s, at_s + length.get::<second>());
                self.open(Stage::Dwelling, DWELL, at_s)
            }
            Act::Hold(hold) => {
                self.phase = (at_s, at_s + hold.plan.settle().get::<second>());
                self.steady = hold.steady.map(|rule| SteadyWatch::new(rule, at_s));
                self.open(Stage::Settling, SETTLE, at_s)
            }
            _ => Vec::new(),
        }
    }

    fn open(&mut self, stage: Stage, phase: &str, at_s: f64) -> Vec<Effect> {
        self.stage = stage;
        vec![Effect::PhaseBegins(self.name(phase), at_s)]
    }

    fn interrupt(&mut self, why: &str) -> Vec<Effect> {
        let open = match self.stage {
            Stage::Settling => Some(SETTLE),
            Stage::Holding => Some(HOLD),
            Stage::Dwelling => Some(DWELL),
            Stage::Vented => Some(VENTED),
            Stage::Stroking => Some(STROKES),
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

fn of(reading: &Reading, chamber: Chamber) -> Option<f64> {
    match chamber {
        Chamber::Cap => reading.cap_pa,
        Chamber::Rod => reading.rod_pa,
    }
}

fn is_met(reach: &Reach, reading: &Reading) -> bool {
    let own_pa = of(reading, reach.chamber);
    reach.is_met(own_pa, of(reading, reach.chamber.other()), reading.x_m)
}

#[cfg(test)]
mod tests;
