//! A person at the page: what is pressed and typed there answers what was asked, once.
//!
//! At the practice bench the rig is worked by its operator as it is asked for, and the person
//! says when it is done, as at a real bench. A word that comes before the rig is ready waits for it.

use super::seen::RigTold;
use super::standing::RigState;
use crate::bench::Answer;
use crate::bench::Ask;
use crate::bench::Event;
use crate::daemon::rig_operator::RigOperator;
use std::sync::PoisonError;
use tokio::sync::mpsc::UnboundedReceiver;

/// What somebody says at the page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Said {
    /// What was asked under this number is done.
    Done(u64),
    /// What was typed for what was asked under this number.
    Typed(u64, String),
    /// End the recording.
    Stop,
}

/// The answers of the page.
#[derive(Debug)]
pub struct PageHand {
    said: UnboundedReceiver<Said>,
    /// Counts what was asked.
    n_asked: u64,
    answer: Option<Answer>,
    rig: Option<Rig>,
}

/// The practice rig behind it.
#[derive(Debug)]
struct Rig {
    operator: RigOperator,
    told: RigTold,
    /// Whether the operator has ended what it was asked.
    is_ready: bool,
    /// What the person said before that.
    waiting: Option<Event>,
}

impl PageHand {
    /// A person who says what comes from a channel; with the operator of the rig at the practice
    /// bench.
    pub fn new(
        said: UnboundedReceiver<Said>,
        operator: Option<RigOperator>,
        told: RigTold,
    ) -> Self {
        Self {
            said,
            n_asked: 0,
            answer: None,
            rig: operator.map(|operator| Rig {
                operator,
                told,
                is_ready: false,
                waiting: None,
            }),
        }
    }

    /// Hears what is asked, at a bench time in seconds.
    pub(in crate::daemon) fn asked(&mut self, ask: &Ask, at_s: f64) {
        self.n_asked += 1;
        self.answer = Some(ask.answer);
        if let Some(rig) = &mut self.rig {
            rig.operator.asked(ask, at_s);
            rig.waiting = None;
            // Readings say when a pressure is there.
            rig.is_ready = matches!(ask.answer, Answer::Reach(_));
            rig.tell((!rig.is_ready).then_some(RigState::Working));
        }
    }

    /// What is done by a bench time in seconds: at the practice bench alone.
    pub(in crate::daemon) fn due(&mut self, at_s: f64) -> Option<Event> {
        let rig = self.rig.as_mut()?;
        let event = rig.operator.due(at_s)?;
        rig.is_ready = true;
        rig.tell(Some(RigState::Ready(match event {
            Event::Typed(text) => Some(text),
            _ => None,
        })));
        let waiting = rig.waiting.take()?;
        self.taken(waiting)
    }

    /// What is said next, whenever that is.
    pub(in crate::daemon) async fn next(&mut self) -> Event {
        loop {
            // Without a page nobody can answer any more.
            let event = match self.said.recv().await {
                None | Some(Said::Stop) => return Event::Stopped,
                Some(Said::Done(number)) if self.is_asked(number, false) => Event::Done,
                Some(Said::Typed(number, text)) if self.is_asked(number, true) => {
                    Event::Typed(text)
                }
                // A press too many, or for what is over.
                Some(Said::Done(_) | Said::Typed(..)) => continue,
            };
            if let Some(rig) = self.rig.as_mut().filter(|rig| !rig.is_ready) {
                rig.waiting = Some(event);
            } else if let Some(event) = self.taken(event) {
                return event;
            }
        }
    }

    fn is_asked(&self, number: u64, is_typed: bool) -> bool {
        number == self.n_asked
            && match self.answer {
                Some(Answer::Done) => !is_typed,
                Some(Answer::Typed(_)) => is_typed,
                Some(Answer::Reach(_)) | None => false,
            }
    }

    /// An answer counts once; what was wrong with it is asked again under another number.
    fn taken(&mut self, event: Event) -> Option<Event> {
        self.answer.take().map(|_| event)
    }
}

impl Rig {
    fn tell(&self, state: Option<RigState>) {
        *self.told.lock().unwrap_or_else(PoisonError::into_inner) = state;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::procedure::Asked;
    use tokio::sync::mpsc::unbounded_channel;

    fn ask(answer: Answer) -> Ask {
        Ask {
            step: "zero".into(),
            title: String::new(),
            tell: Vec::new(),
            answer,
        }
    }

    /// What comes of words that were all said before anybody listened.
    async fn heard(answers: &[Answer], said: &[Said]) -> Event {
        let (say, listens) = unbounded_channel();
        let mut hand = PageHand::new(listens, None, RigTold::default());
        for answer in answers {
            hand.asked(&ask(*answer), 0.0);
        }
        for said in said {
            say.send(said.clone()).expect("somebody listens");
        }
        drop(say);
        hand.next().await
    }

    #[tokio::test]
    async fn only_an_answer_to_what_is_asked_now_counts() {
        let note = Answer::Typed(Asked::Note);
        let typed = |number, text: &str| Said::Typed(number, text.into());
        let cases = [
            (vec![Answer::Done], vec![Said::Done(1)], Event::Done),
            (vec![Answer::Done], vec![Said::Done(2)], Event::Stopped),
            (vec![Answer::Done], vec![typed(1, "x")], Event::Stopped),
            (
                vec![Answer::Done, note],
                vec![Said::Done(1), typed(2, "x")],
                Event::Typed("x".into()),
            ),
            (vec![note], vec![Said::Done(1)], Event::Stopped),
            (vec![], vec![Said::Done(0)], Event::Stopped),
            (
                vec![Answer::Done],
                vec![Said::Stop, Said::Done(1)],
                Event::Stopped,
            ),
        ];
        for (answers, said, expected) in cases {
            assert_eq!(heard(&answers, &said).await, expected, "{said:?}");
        }
    }

    #[tokio::test]
    async fn a_second_press_answers_nothing() {
        let (say, listens) = unbounded_channel();
        let mut hand = PageHand::new(listens, None, RigTold::default());
        hand.asked(&ask(Answer::Done), 0.0);
        for _ in 0..2 {
            say.send(Said::Done(1)).expect("somebody listens");
        }
        drop(say);
        assert_eq!(hand.next().await, Event::Done);
        assert_eq!(hand.next().await, Event::Stopped);
    }
}
