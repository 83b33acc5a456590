//! Who does what a procedure asks: a person at the terminal or the page, or nobody where nothing
//! is asked.

use super::rig_operator::RigOperator;
use super::session::PageHand;
use super::terminal::lines as lines_of_terminal;
use super::test_run::TestRun;
use crate::bench::Answer;
use crate::bench::Ask;
use crate::bench::Event;
use tokio::sync::mpsc::UnboundedReceiver;

/// Who answers what a test asks.
#[derive(Debug)]
pub enum Hand {
    /// Nobody: the test asks nothing.
    Nobody,
    /// Lines of the terminal.
    Terminal {
        /// What was typed and not yet taken.
        lines: UnboundedReceiver<((), String)>,
        /// What is asked now.
        answer: Option<Answer>,
    },
    /// The operator of the practice rig.
    Rig(Box<RigOperator>),
    /// A person at the page.
    Page(Box<PageHand>),
}

impl Hand {
    /// A person at the terminal.
    pub fn terminal() -> Self {
        // Without lines nothing is ever done, and the test can still be stopped.
        lines_of_terminal(|| ()).map_or(Self::Nobody, |lines| Self::Terminal {
            lines,
            answer: None,
        })
    }

    /// Hears what is asked.
    pub fn asked(&mut self, ask: &Ask, run: &TestRun) {
        match self {
            Self::Nobody => {}
            Self::Terminal { lines, answer } => {
                // What was typed before it was asked answers nothing.
                while lines.try_recv().is_ok() {}
                *answer = Some(ask.answer);
            }
            Self::Rig(operator) => operator.asked(ask, run.bench().progress_s().0),
            Self::Page(hand) => hand.asked(ask, run.bench().progress_s().0),
        }
    }

    /// What is done by now, by the time of the test.
    pub fn due(&mut self, run: &TestRun) -> Option<Event> {
        match self {
            Self::Nobody | Self::Terminal { .. } => None,
            Self::Rig(operator) => operator.due(run.bench().progress_s().0),
            Self::Page(hand) => hand.due(run.bench().progress_s().0),
        }
    }

    /// What is done next, whenever that is.
    pub async fn next(&mut self) -> Event {
        let (lines, answer) = match self {
            Self::Terminal { lines, answer } => (lines, answer),
            Self::Page(hand) => return hand.next().await,
            Self::Nobody | Self::Rig(_) => return std::future::pending().await,
        };
        loop {
            let Some(((), line)) = lines.recv().await else {
                // Nobody can answer any more.
                return Event::Stopped;
            };
            match answer {
                Some(Answer::Done) if line.trim().is_empty() => {
                    *answer = None;
                    return Event::Done;
                }
                Some(Answer::Done) => return Event::NotDone,
                Some(Answer::Typed(_)) => return Event::Typed(line),
                // Readings answer it, or nothing is asked.
                Some(Answer::Reach(_)) | None => {}
            }
        }
    }
}
