//! Somebody at the practice bench without a board: works the cylinder, reads gauge, dial and
//! thermometer, and types what they show, in the time of the bench.
//!
//! A few seconds pass between a question and its answer, now and then many; a number is
//! mistyped now and then and taken back, as people do.

use super::person::Heard;
use crate::bench::Answer;
use crate::bench::Ask;
use crate::bench::Question;
use crate::channel::ByEye;
use crate::channel::Role;
use crate::daemon::rig_operator::seen_as_typed;
use crate::procedure::Act;
use crate::procedure::Reach;
use crate::rehearsal::StiffError;
use crate::rehearsal::rig::EyeRig;
use crate::rehearsal::rig::Habits;
use crate::rehearsal::rig::Handling;
use crate::rehearsal::rig::Passed;
use crate::settings::Test;
use std::collections::VecDeque;
use std::time::Duration;

/// Time to read what a step asks, s.
const READS_S: f64 = 4.0;

/// Time between the end of a handling and the word that it is done, s.
const SAYS_S: f64 = 1.0;

/// Pressure that strokes are run with, Pa gauge.
const STROKE_PA: f64 = 12e5;

/// What has to stand for a while is pumped a little over.
const OVER: f64 = 1.04;

/// Somebody who reads the practice bench.
#[derive(Debug)]
pub struct PracticePerson {
    rig: EyeRig,
    habits: Habits,
    test: Test,
    by_eye: ByEye,
    now_s: f64,
    coming: VecDeque<(f64, Said)>,
    reach: Option<Reach>,
    step: String,
    pressed_s: f64,
    passed: Passed,
    failed: Option<StiffError>,
    /// Times real time; as fast as it can without.
    speed: Option<f64>,
}

/// What is typed when its time has come.
#[derive(Debug, Clone, PartialEq)]
enum Said {
    Line(String),
    /// What an instrument shows then.
    Shows(Role),
}

impl PracticePerson {
    /// Somebody at a rig, for a test that is read by eye.
    pub fn new(rig: EyeRig, habits: Habits, test: Test, by_eye: ByEye) -> Self {
        Self {
            rig,
            habits,
            test,
            by_eye,
            now_s: 0.0,
            coming: VecDeque::new(),
            reach: None,
            step: String::new(),
            pressed_s: 0.0,
            passed: Passed::default(),
            failed: None,
            speed: None,
        }
    }

    /// The same at a pace: so many times real time.
    #[must_use]
    pub fn at_speed(self, speed: Option<f64>) -> Self {
        Self { speed, ..self }
    }

    /// Hears what a step asks.
    pub(super) fn asked(&mut self, ask: &Ask, now_s: f64) {
        self.now_s = self.now_s.max(now_s);
        self.step.clone_from(&ask.step);
        self.reach = None;
        let begins_s = self.now_s + READS_S;
        match ask.answer {
            Answer::Done => {
                let act = self.act();
                let is_worked = !matches!(act, Some(Act::Confirm) | None);
                let takes_s = match is_worked {
                    true => self.work(begins_s, Handling::Vent),
                    false => 0.0,
                };
                self.says(begins_s + takes_s + SAYS_S, String::new());
            }
            Answer::Reach(reach) => self.reach = Some(reach),
            Answer::Typed(asked) => {
                let at = self.rig.at(begins_s);
                let went = self.took(at).map(|now| now.passed_kg.since(&self.passed));
                let since_s = begins_s - self.pressed_s;
                let line = seen_as_typed(asked, &went.unwrap_or_default(), since_s);
                self.says(begins_s, line);
            }
        }
    }

    /// Hears a question.
    pub(super) fn questioned(&mut self, question: &Question, now_s: f64) {
        self.now_s = self.now_s.max(now_s);
        match question {
            Question::Read { role, brings, .. } => {
                let mut from_s = self.now_s;
                if let Some(reach) = self.reach.filter(|_| *brings) {
                    from_s = self.now_s + READS_S;
                    from_s += self.press(from_s, &reach) + SAYS_S;
                }
                let at_s = from_s + self.habits.answers_after_s();
                self.coming.push_back((at_s, Said::Shows(*role)));
            }
            Question::Strokes { .. } => {
                let count = match self.act() {
                    Some(Act::Strokes { count, .. }) => count,
                    _ => 0,
                };
                let strokes = Handling::Strokes {
                    count,
                    low_pa: STROKE_PA,
                    x_m: 0.5 * self.rig.stroke_m(),
                };
                let begins_s = self.now_s + READS_S;
                let ends_s = begins_s + self.work(begins_s, strokes);
                self.says(ends_s + SAYS_S, count.to_string());
            }
            Question::Stand { .. } => self.says(self.now_s + SAYS_S, String::new()),
        }
    }

    /// What comes next, at its pace.
    pub(super) async fn next_paced(&mut self, due_s: Option<f64>) -> Heard {
        let before_s = self.now_s;
        let heard = self.next(due_s);
        if let Some(speed) = self.speed {
            let passed_s = (self.now_s - before_s).max(0.0) / speed;
            tokio::time::sleep(Duration::from_secs_f64(passed_s)).await;
        }
        heard
    }

    /// What comes next.
    pub(super) fn next(&mut self, due_s: Option<f64>) -> Heard {
        if let Some(error) = self.failed.take() {
            return Heard::Broken(self.now_s, error.to_string());
        }
        let said_s = self.coming.front().map(|(at_s, _)| *at_s);
        match (said_s, due_s) {
            (Some(said_s), due_s) if due_s.is_none_or(|due_s| said_s <= due_s) => {
                let line = match self.coming.pop_front() {
                    Some((_, Said::Line(line))) => line,
                    Some((_, Said::Shows(role))) => self.shows(role, said_s),
                    None => String::new(),
                };
                self.now_s = self.now_s.max(said_s);
                Heard::Typed(self.now_s, line)
            }
            (_, Some(due_s)) => {
                self.now_s = self.now_s.max(due_s);
                Heard::Time(self.now_s)
            }
            _ => Heard::Gone(self.now_s),
        }
    }

    fn says(&mut self, at_s: f64, line: String) {
        self.coming.push_back((at_s, Said::Line(line)));
    }

    fn act(&self) -> Option<Act> {
        let planned = self.test.steps.iter().find(|p| p.step.id == self.step)?;
        Some(planned.step.act.clone())
    }

    fn took<T>(&mut self, found: Result<T, StiffError>) -> Option<T> {
        match found {
            Ok(found) => Some(found),
            Err(error) => {
                self.failed = Some(error);
                None
            }
        }
    }

    /// Begins a handling; the time it takes, s.
    fn work(&mut self, begins_s: f64, handling: Handling) -> f64 {
        self.rig.act(begins_s, handling);
        handling.takes_s()
    }

    fn press(&mut self, begins_s: f64, reach: &Reach) -> f64 {
        let planned = self.test.steps.iter().find(|p| p.step.id == self.step);
        let Some(setup) = planned.and_then(|p| p.own_setup()) else {
            return 0.0;
        };
        let circuit = setup.subject.circuit;
        let is_kept = matches!(planned.map(|p| &p.step.act), Some(Act::Dwell { .. }));
        let out_m = match reach.chamber {
            crate::cylinder::Chamber::Cap => self.rig.stroke_m(),
            crate::cylinder::Chamber::Rod => 0.0,
        };
        let handling = Handling::Press {
            circuit,
            x_m: reach.at.map_or(out_m, |at| at.value),
            holding_pa: if is_kept { OVER } else { 1.0 } * reach.pressure.pa(),
            other_pa: reach.other.map_or(0.0, |other| other.pa()),
        };
        let before = self.rig.at(begins_s);
        self.passed = self
            .took(before)
            .map(|now| now.passed_kg)
            .unwrap_or_default();
        self.pressed_s = begins_s;
        self.work(begins_s, handling)
    }

    /// What an instrument shows, as it is typed.
    fn shows(&mut self, role: Role, at_s: f64) -> String {
        // It is read a moment before it is typed.
        let read_s = (at_s - self.habits.types_for_s()).max(self.rig.reached_s());
        let now = self.rig.at(read_s);
        let Some(now) = self.took(now) else {
            return String::new();
        };
        let true_si = match role {
            Role::CapPressure => now.p_cap_pa,
            Role::RodPressure => now.p_rod_pa,
            Role::Position => self.rig.dial_m(&now),
            Role::OilTemperature | Role::WallTemperature => self.rig.felt_k(),
            // Nobody reads it by eye.
            Role::Supply => return String::new(),
        };
        let place = self
            .by_eye
            .instruments
            .iter()
            .position(|own| own.role == role);
        let Some((place, own)) = place.zip(self.by_eye.instrument(role)) else {
            return String::new();
        };
        let shown = self.habits.reads(place, true_si);
        let text = own.typed(shown.clamp(own.range_si.0 - 0.04 * own.span_si(), own.range_si.1));
        // A number alone, with a comma, as people type.
        text.split(' ').next().unwrap_or_default().replace('.', ",")
    }
}
