//! The test as the page sees it: what it is told becomes a [`Standing`] that anybody can read.
//!
//! Invariant: memory does not grow with the length of a test; old messages make room for new.

use super::standing::About;
use super::standing::Asked;
use super::standing::Board;
use super::standing::Message;
use super::standing::Over;
use super::standing::Phase;
use super::standing::ReadingNow;
use super::standing::RigState;
use super::standing::Standing;
use super::standing::StepNow;
use super::steady::ReadingState;
use super::steady::Recent;
use crate::account::Evaluation;
use crate::archive::Progress;
use crate::bench::Ask;
use crate::bench::Stage;
use crate::cylinder::Ratings;
use crate::daemon::clock;
use crate::daemon::onlooker::Onlooker;
use crate::daemon::test_run::LineState;
use crate::daemon::test_run::TestRun;
use crate::procedure::Act;
use crate::settings::Setup;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::PoisonError;
use tokio::sync::watch;

/// Messages that are kept for the page; all that matters is in the journal as well.
const MOST_MESSAGES: usize = 50;

/// What the hand that works the practice rig tells of it.
pub type RigTold = Arc<Mutex<Option<RigState>>>;

/// Where everybody reads what is on the bench.
pub type Told = watch::Sender<Board>;

/// Onlooker of the page.
#[derive(Debug)]
pub struct Seen {
    now: Standing,
    told: Told,
    rig: RigTold,
    recent: Vec<Recent>,
    n_messages: u64,
    n_asked: u64,
    /// Step and setup that `now` was made of last.
    at_step: Option<usize>,
    /// The evaluation that was shown last, by the end of what it saw.
    looked_s: f64,
}

impl Seen {
    /// A test that is about to start.
    pub fn new(run: u64, about: About, told: Told, rig: RigTold) -> Self {
        let seen = Self {
            now: Standing {
                run,
                about: Arc::new(about),
                phase: Phase::Starting,
                stage: Stage::Waiting,
                step: None,
                setup: None,
                hold: None,
                ratings: Ratings::default(),
                progress_s: (0.0, 0.0),
                settling_s: 0.0,
                asked: None,
                readings: Vec::new(),
                line: LineState::Heard,
                strokes: None,
                so_far: None,
                look: 0,
                gaps_s: Arc::from([]),
                messages: Arc::from([]),
            },
            told,
            rig,
            recent: Vec::new(),
            n_messages: 0,
            n_asked: 0,
            at_step: None,
            looked_s: f64::NEG_INFINITY,
        };
        seen.tell();
        seen
    }

    /// The test is over.
    pub fn over(&mut self, over: Over) {
        self.now.phase = Phase::Over(Box::new(over));
        self.now.asked = None;
        self.now.stage = Stage::Over;
        self.tell();
    }

    fn tell(&self) {
        let standing = Some(Arc::new(self.now.clone()));
        self.told.send_modify(|board| {
            board.n_changes += 1;
            board.standing = standing;
        });
    }

    fn message(&mut self, is_warning: bool, text: &str) {
        self.n_messages += 1;
        let kept = self.now.messages.iter().cloned();
        let too_many = (self.now.messages.len() + 1).saturating_sub(MOST_MESSAGES);
        let message = Message {
            number: self.n_messages,
            is_warning,
            text: text.into(),
            at_utc_ms: clock::now_utc_ms(),
        };
        self.now.messages = kept.skip(too_many).chain([message]).collect();
        self.tell();
    }

    fn readings(&mut self, run: &TestRun) {
        let (reached_s, _) = run.bench().progress_s();
        if self.recent.is_empty() {
            let roles = run.latest().map(|(channel, _)| channel.role);
            self.recent = roles.map(Recent::new).collect();
        }
        let is_heard = run.line() == LineState::Heard;
        for (recent, (_, si)) in self.recent.iter_mut().zip(run.latest()) {
            // What is not heard is not a reading, however good the last one was.
            recent.push(reached_s, si.filter(|_| is_heard));
        }
        self.now.readings = run
            .latest()
            .zip(&self.recent)
            .map(|((channel, _), recent)| ReadingNow {
                role: channel.role,
                si: recent.latest(),
                state: match run.line() {
                    LineState::Heard => recent.state(),
                    LineState::Silent | LineState::Gone => ReadingState::Lost,
                },
            })
            .collect();
    }

    fn step(&mut self, run: &TestRun) {
        let at = run.bench().step_now().map(|(at, _)| at);
        if at == self.at_step {
            return;
        }
        self.at_step = at;
        let planned = run.planned_now();
        self.now.step = planned
            .filter(|planned| !planned.step.id.is_empty())
            .map(|planned| StepNow {
                index: at.unwrap_or(0),
                n_steps: run.bench().n_steps(),
                title: planned.step.title.clone(),
            });
        self.now.hold = planned.and_then(|planned| match &planned.step.act {
            Act::Hold(hold) => Some(hold.clone()),
            _ => None,
        });
        let own = planned.and_then(|planned| planned.own_setup());
        self.now.setup = own.cloned().map(Arc::<Setup>::new);
        if let Some(ratings) = planned
            .and_then(|planned| planned.ratings)
            .or(own.map(|setup| setup.ratings))
        {
            self.now.ratings = ratings;
        }
    }

    /// Figures are of a hold that counts now; those of the one before would look like it.
    fn figures(&mut self, so_far: Option<&Evaluation>) {
        let so_far = so_far.filter(|_| self.now.stage == Stage::Holding);
        let until_s = so_far.map_or(f64::NEG_INFINITY, |e| e.hold_s.1);
        if until_s == self.looked_s {
            return;
        }
        self.looked_s = until_s;
        self.now.look += 1;
        self.now.so_far = so_far.cloned().map(Arc::new);
    }
}

impl Onlooker for Seen {
    fn warn(&mut self, text: &str) {
        self.message(true, text);
    }

    fn say(&mut self, text: &str) {
        self.message(false, text);
    }

    fn ask(&mut self, ask: &Ask) {
        self.n_asked += 1;
        self.now.asked = Some(Asked {
            number: self.n_asked,
            ask: ask.clone(),
            rig: None,
        });
        self.tell();
    }

    fn show(&mut self, run: &TestRun, so_far: Option<&Evaluation>) {
        self.now.phase = Phase::Running;
        self.now.stage = run.bench().stage();
        self.now.progress_s = run.bench().progress_s();
        self.now.settling_s = run.settling_s();
        self.now.strokes = run.bench().strokes();
        self.now.line = run.line();
        if self.now.gaps_s.len() != run.gaps_s().len() {
            self.now.gaps_s = run.gaps_s().into();
        }
        self.readings(run);
        self.step(run);
        self.figures(so_far);
        let is_asked = matches!(
            self.now.stage,
            Stage::Asking | Stage::Typing | Stage::Reaching | Stage::Squeezing | Stage::Stroking
        );
        let rig = self.rig.lock().unwrap_or_else(PoisonError::into_inner);
        self.now.asked = self
            .now
            .asked
            .take()
            .filter(|_| is_asked)
            .map(|asked| Asked {
                rig: rig.clone(),
                ..asked
            });
        drop(rig);
        self.tell();
    }

    fn storing(&mut self, progress: Progress) {
        self.now.phase = Phase::Storing(Some(progress));
        self.now.asked = None;
        self.tell();
    }

    fn recorded(&mut self) {
        self.now.phase = Phase::Storing(None);
        self.tell();
    }
}
