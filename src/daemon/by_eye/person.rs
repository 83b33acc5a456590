//! Who reads the instruments: a person at the terminal, or one at the practice bench.

use super::practice::PracticePerson;
use crate::bench::Ask;
use crate::bench::Question;
use crate::daemon::clock::Forward;
use crate::daemon::clock::now_utc_ms;
use crate::daemon::terminal::lines as lines_of_terminal;
use std::time::Duration;
use tokio::sync::mpsc::UnboundedReceiver;
use tokio::sync::mpsc::unbounded_channel;

/// By which the two clocks of a computer may part while a test runs, s; more, and it slept.
const SLEPT_S: f64 = 5.0;

/// What came next.
#[derive(Debug, Clone, PartialEq)]
pub enum Heard {
    /// A line was typed, at a bench time in s.
    Typed(f64, String),
    /// Time has come so far, s.
    Time(f64),
    /// Nobody can answer any more.
    Gone(f64),
    /// The recording cannot go on, and why.
    Broken(f64, String),
}

/// Who reads.
#[derive(Debug)]
pub enum Person {
    /// Lines of the terminal, by the clock of this computer.
    Terminal(Box<Terminal>),
    /// Somebody at the practice bench, in its own time.
    Practice(Box<PracticePerson>),
}

/// Lines of the terminal with the time they came at.
#[derive(Debug)]
pub struct Terminal {
    lines: UnboundedReceiver<(f64, String)>,
    clock: Forward,
    started_utc_ms: i64,
}

impl Person {
    /// A person at the terminal; time begins now.
    pub fn at_the_terminal() -> Self {
        let clock = Forward::start();
        // A terminal that cannot be read is one that is gone.
        let lines =
            lines_of_terminal(move || clock.seconds()).unwrap_or_else(|| unbounded_channel().1);
        Self::Terminal(Box::new(Terminal {
            lines,
            clock,
            started_utc_ms: now_utc_ms(),
        }))
    }

    /// Hears what a step asks.
    pub fn asked(&mut self, ask: &Ask, now_s: f64) {
        if let Self::Practice(person) = self {
            person.asked(ask, now_s);
        }
    }

    /// Hears a question.
    pub fn questioned(&mut self, question: &Question, now_s: f64) {
        if let Self::Practice(person) = self {
            person.questioned(question, now_s);
        }
    }

    /// What comes next, up to a bench time in s if one is given.
    pub async fn next(&mut self, due_s: Option<f64>) -> Heard {
        match self {
            Self::Practice(person) => person.next_paced(due_s).await,
            Self::Terminal(terminal) => terminal.next(due_s).await,
        }
    }
}

impl Terminal {
    async fn next(&mut self, due_s: Option<f64>) -> Heard {
        let now_s = self.clock.seconds();
        let wait_s = due_s.map_or(f64::from(u16::MAX), |due_s| (due_s - now_s).max(0.0));
        let heard = tokio::select! {
            line = self.lines.recv() => match line {
                Some((at_s, line)) => Heard::Typed(at_s, line),
                None => Heard::Gone(self.clock.seconds()),
            },
            () = tokio::time::sleep(Duration::from_secs_f64(wait_s)) => Heard::Time(self.clock.seconds()),
            _ = tokio::signal::ctrl_c() => Heard::Gone(self.clock.seconds()),
        };
        // A clock that only goes forward may stand while the computer sleeps.
        let by_calendar_s = (now_utc_ms() - self.started_utc_ms) as f64 / 1e3;
        let apart_s = by_calendar_s - self.clock.seconds();
        match apart_s.abs() > SLEPT_S {
            true => Heard::Broken(
                self.clock.seconds(),
                format!(
                    "the clock of the computer moved by {apart_s:.0} s, or it slept: times of readings cannot be trusted"
                ),
            ),
            false => heard,
        }
    }
}
