//! A test that a person reads: the same steps and the same state machine, with readings that
//! are asked for at stated times in the place of rows that a board sends.
//!
//! Pure as the rest: words and times in, effects out. Nothing here knows who types. A reading
//! stands for the middle of the time between the question and the word; how long that was is
//! kept with it.
//!
//! Invariants: rows rise in time; a row is given out once it can no longer be taken back; a
//! phase is over when its last look is through or was given up, never by itself.

mod follow;
mod look;
mod phase;
mod reading;
mod settle;

use super::Bench;
use super::Effect;
use super::Event;
use super::Reading;
use super::Stage;
use super::advance::SAFE_PA;
use crate::channel::EyeInstrument;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::procedure::Act;
use crate::procedure::Step;
use crate::recording::EntryKind;
use look::Look;
use look::Purpose;
use settle::EyeSettling;

/// What takes the last reading back.
pub const WRONG: &str = "wrong";

/// How long a look is waited for that no other follows, s.
const GIVEN_UP_S: f64 = 120.0;

/// Time that readings are apart at least, s: what comes in one breath is one look.
const APART_S: f64 = 1e-3;

/// Something that is wanted of the person now, beside what the steps ask.
#[derive(Debug, Clone, PartialEq)]
pub enum Question {
    /// Read an instrument.
    Read {
        /// What it measures.
        role: Role,
        /// The words.
        words: String,
        /// Whether the pressure is to be brought up before it is read.
        brings: bool,
    },
    /// Say how many full strokes were run.
    Strokes {
        /// The words.
        words: String,
    },
    /// Say that the readings of a hold stand.
    Stand {
        /// The words.
        words: String,
    },
}

/// What shall be done.
#[derive(Debug, Clone, PartialEq)]
pub enum EyeEffect {
    /// As for any test.
    Bench(Effect),
    /// Keep a row: its time in s, and what was read of each instrument, SI.
    Row(f64, Vec<Option<f64>>),
    /// Ask the person.
    Ask(Question),
}

/// A test that is read by eye.
#[derive(Debug, Clone, PartialEq)]
pub struct ByEye {
    bench: Bench,
    instruments: Vec<EyeInstrument>,
    /// What was read last of each instrument, SI.
    last: Vec<Option<f64>>,
    /// Looks of this phase that are to come, the next one last, s.
    to_come_s: Vec<f64>,
    open: Option<Look>,
    /// A look that is through and can still be taken back.
    closed: Option<Look>,
    /// Whether a reading of the closed look is asked for again.
    is_mending: bool,
    /// Whether the last readings of a hold are through and only have to stand.
    is_standing: bool,
    settling: Option<EyeSettling>,
    /// Step and stage that were followed last.
    followed: Option<(usize, Stage)>,
    last_row_s: f64,
    /// How far out the rod stands at the start of each step, m.
    stood_m: Vec<Option<f64>>,
    /// What the dial showed first in this phase, m.
    dial_first_m: Option<f64>,
    out: Vec<EyeEffect>,
}

impl ByEye {
    /// A test of these steps with these instruments; `stood_m` is how far out the rod stands at
    /// the start of each step, m, where anybody knows.
    pub fn new(
        steps: Vec<Step>,
        instruments: Vec<EyeInstrument>,
        stood_m: Vec<Option<f64>>,
    ) -> Self {
        Self {
            bench: Bench::by_eye(steps),
            last: vec![None; instruments.len()],
            instruments,
            to_come_s: Vec::new(),
            open: None,
            closed: None,
            is_mending: false,
            is_standing: false,
            settling: None,
            followed: None,
            last_row_s: f64::NEG_INFINITY,
            stood_m,
            dial_first_m: None,
            out: Vec::new(),
        }
    }

    /// The state machine of its steps.
    pub fn bench(&self) -> &Bench {
        &self.bench
    }

    /// Begins at 0 s.
    pub fn begin(&mut self) -> Vec<EyeEffect> {
        let first = Event::Recorded(Reading::default());
        self.pass(first, 0.0);
        self.given()
    }

    /// When something is due by itself, s; None while nothing is.
    pub fn due_s(&self) -> Option<f64> {
        if let Some(open) = &self.open {
            return Some(open.until_s).filter(|s| s.is_finite());
        }
        self.to_come_s.last().copied()
    }

    /// Time has come so far, s.
    pub fn at(&mut self, now_s: f64) -> Vec<EyeEffect> {
        while self.due_s().is_some_and(|due_s| due_s <= now_s) {
            let due_s = self.due_s().unwrap_or(now_s);
            self.bench.reaches(due_s);
            match self.open.is_some() {
                true => self.give_up(due_s),
                false => self.next_look(due_s),
            }
        }
        self.bench.reaches(now_s);
        self.given()
    }

    /// The test ends before its end, and why.
    pub fn ends(&mut self, why: Event) -> Vec<EyeEffect> {
        self.flush();
        let effects = self.bench.take(why);
        self.keep(effects);
        self.given()
    }

    /// Hears what was typed, at a bench time in seconds.
    pub fn typed(&mut self, text: &str, now_s: f64) -> Vec<EyeEffect> {
        let mut before = self.at(now_s);
        let word = text.trim();
        if word.eq_ignore_ascii_case(WRONG) {
            self.take_back();
        } else if self.is_mending || self.open.is_some() {
            self.read(word, now_s);
        } else if self.is_standing {
            self.stands(word, now_s);
        } else {
            match self.bench.stage() {
                Stage::Asking if word.is_empty() => self.done(now_s),
                Stage::Asking => self.pass(Event::NotDone, now_s),
                Stage::Typing => self.pass(Event::Typed(text.into()), now_s),
                Stage::Stroking => self.strokes(word, now_s),
                _ => self.warn("nothing is asked now; the next look is asked for by itself"),
            }
        }
        before.extend(self.given());
        before
    }

    fn given(&mut self) -> Vec<EyeEffect> {
        std::mem::take(&mut self.out)
    }

    fn warn(&mut self, text: &str) {
        self.out.push(EyeEffect::Bench(Effect::Warn(text.into())));
    }

    fn say(&mut self, text: String) {
        self.out.push(EyeEffect::Bench(Effect::Say(text)));
    }

    fn keep(&mut self, effects: Vec<Effect>) {
        self.out.extend(effects.into_iter().map(EyeEffect::Bench));
    }

    /// Gives an event to the bench and follows where it leads.
    fn pass(&mut self, event: Event, now_s: f64) {
        self.bench.reaches(now_s);
        let effects = self.bench.take(event);
        self.keep(effects);
        self.follow();
    }

    fn over(&mut self, at_s: f64) {
        self.flush();
        let effects = self.bench.phase_over(at_s);
        self.keep(effects);
        self.follow();
    }

    /// A person says that a step is ready; what stands under pressure is read first.
    fn done(&mut self, now_s: f64) {
        let stands = |role| {
            let place = self.place(role)?;
            self.last[place].filter(|pa| *pa > SAFE_PA)
        };
        let is_pressed = stands(Role::CapPressure).or(stands(Role::RodPressure));
        let handles = self
            .bench
            .step_now()
            .is_some_and(|(_, step)| match step.act {
                Act::Confirm | Act::Reading(_) | Act::Squeeze { .. } => false,
                Act::Hold(_) => step.reach().is_some(),
                Act::Vented { .. } | Act::Strokes { .. } | Act::Dwell { .. } => true,
            });
        match is_pressed.is_some() && handles {
            true => self.look(Purpose::LetOff, now_s, f64::INFINITY),
            false => self.pass(Event::Done, now_s),
        }
    }

    fn strokes(&mut self, word: &str, now_s: f64) {
        let Some((
            _,
            Step {
                act: Act::Strokes { count, .. },
                ..
            },
        )) = self.bench.step_now()
        else {
            return;
        };
        let count = *count;
        match word.parse::<u32>() {
            Ok(run) if run >= count => {
                let entry = self.bench.noted(now_s, EntryKind::Reading, run.to_string());
                self.out.push(EyeEffect::Bench(entry));
                self.say(format!("Understood: {run} full strokes."));
                self.over(now_s);
            }
            Ok(run) => {
                self.warn(&format!(
                    "{run} full strokes, and {count} are asked for: run the others"
                ));
                self.ask_strokes(count);
            }
            Err(_) => {
                self.warn(&format!("`{word}` is no number of strokes"));
                self.ask_strokes(count);
            }
        }
    }

    fn ask_strokes(&mut self, count: u32) {
        let words = format!("Run {count} full strokes, then type how many were run.");
        self.out.push(EyeEffect::Ask(Question::Strokes { words }));
    }

    fn stands(&mut self, word: &str, now_s: f64) {
        if !word.is_empty() {
            self.warn(&format!(
                "Enter alone, or `{WRONG}` to take the last reading back"
            ));
            return;
        }
        self.is_standing = false;
        let at_s = self.closed.as_ref().map_or(now_s, Look::middle_s);
        self.over(at_s.max(self.last_row_s + APART_S));
    }

    fn place(&self, role: Role) -> Option<usize> {
        self.instruments.iter().position(|own| own.role == role)
    }
}

fn pressure_role(chamber: Chamber) -> Role {
    match chamber {
        Chamber::Cap => Role::CapPressure,
        Chamber::Rod => Role::RodPressure,
    }
}

#[cfg(test)]
mod tests;
