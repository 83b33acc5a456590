//! What a test that is read by eye asks of the state machine of all tests.

use crate::bench::Bench;
use crate::bench::Effect;
use crate::bench::Stage;
use crate::procedure::DWELL;
use crate::procedure::HOLD;
use crate::procedure::STROKES;
use crate::procedure::Step;
use crate::procedure::VENTED;
use crate::recording::Entry;
use crate::recording::EntryKind;

impl Bench {
    /// A test of these steps whose instruments a person reads.
    pub(super) fn by_eye(steps: Vec<Step>) -> Self {
        Self {
            is_by_eye: true,
            ..Self::new(steps)
        }
    }

    /// Time has come so far, s.
    pub(super) fn reaches(&mut self, at_s: f64) {
        self.reached_s = self.reached_s.max(at_s);
    }

    /// When the open phase began, s.
    pub(super) fn phase_from_s(&self) -> f64 {
        self.phase.0
    }

    /// The open phase is over, at a bench time in seconds: it has lasted and was read.
    pub(super) fn phase_over(&mut self, at_s: f64) -> Vec<Effect> {
        self.reaches(at_s);
        match self.stage {
            Stage::Settling => self.count(at_s),
            Stage::Holding => self.end_phase(HOLD, at_s),
            Stage::Dwelling => self.end_phase(DWELL, at_s),
            Stage::Vented => self.end_phase(VENTED, at_s),
            Stage::Stroking => self.end_phase(STROKES, at_s),
            // Squeezing needs a board (`Test::not_by_eye`).
            Stage::Squeezing
            | Stage::Waiting
            | Stage::Asking
            | Stage::Reaching
            | Stage::Typing
            | Stage::Over => Vec::new(),
        }
    }

    /// An entry of the step it stands at.
    pub(super) fn noted(&self, at_s: f64, kind: EntryKind, text: String) -> Effect {
        let step = self.step_now().map(|(_, step)| step.id.clone());
        Effect::Entry(Entry {
            at_s,
            step: step.unwrap_or_default(),
            kind,
            text,
        })
    }
}
