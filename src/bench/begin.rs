//! Coming to a step, and beginning what it does.

use super::Ask;
use super::Bench;
use super::Effect;
use super::LET_OFF_BELOW;
use super::Stage;
use super::steady::SteadyWatch;
use crate::procedure::Act;
use crate::procedure::DWELL;
use crate::procedure::SETTLE;
use crate::procedure::SQUEEZE;
use crate::procedure::STROKES;
use crate::procedure::StrokeCount;
use crate::procedure::VENTED;
use crate::quantity::unit::second;
use crate::recording::Ending;

impl Bench {
    pub(super) fn next(&mut self) -> Vec<Effect> {
        self.at += 1;
        self.steady = None;
        self.strokes = None;
        self.is_let_off = self.has_fallen(&self.latest, LET_OFF_BELOW);
        self.enter()
    }

    /// Comes to a step.
    pub(super) fn enter(&mut self) -> Vec<Effect> {
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

    /// Begins what the step does, at a bench time.
    pub(super) fn begin(&mut self, at_s: f64) -> Vec<Effect> {
        self.waits_since_s = at_s;
        let step = &self.steps[self.at];
        match &step.act {
            Act::Confirm | Act::Reading(_) => self.next(),
            Act::Vented { length, .. } => {
                self.phase = (at_s, at_s + length.get::<second>());
                self.open(Stage::Vented, VENTED, at_s)
            }
            Act::Strokes { stroke, .. } => {
                self.strokes = Some(StrokeCount::new(stroke.value));
                self.phase = (at_s, f64::INFINITY);
                self.open(Stage::Stroking, STROKES, at_s)
            }
            Act::Squeeze { reach } => {
                let ask = Ask::reach(step, self.title(), *reach, self.is_let_off);
                self.phase = (at_s, f64::INFINITY);
                let mut effects = self.open(Stage::Squeezing, SQUEEZE, at_s);
                effects.push(Effect::Ask(ask));
                effects
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
    pub(super) fn begin_kept(&mut self, at_s: f64) -> Vec<Effect> {
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

    pub(super) fn open(&mut self, stage: Stage, phase: &str, at_s: f64) -> Vec<Effect> {
        self.stage = stage;
        vec![Effect::PhaseBegins(self.name(phase), at_s)]
    }
}
