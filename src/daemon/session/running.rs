//! The one test that may run: begun, spoken to, ended.

use super::page_hand::PageHand;
use super::page_hand::Said;
use super::practice::PracticeBoard;
use super::seen::RigTold;
use super::seen::Seen;
use super::seen::Told;
use super::standing::About;
use super::standing::Board;
use super::standing::Over;
use super::standing::Phase;
use super::standing::Standing;
use crate::daemon::conduct::Conducted;
use crate::daemon::conduct::NamedText;
use crate::daemon::conduct::Task;
use crate::daemon::conduct::conduct_seen;
use crate::daemon::hand::Hand;
use crate::daemon::paper::chain;
use crate::daemon::rehearse::PRACTICE;
use crate::link::Adapter;
use crate::rehearsal::Pace;
use crate::settings::Test;
use anyhow::Context;
use std::panic::AssertUnwindSafe;
use std::panic::catch_unwind;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::MutexGuard;
use std::sync::PoisonError;
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::sync::mpsc::UnboundedReceiver;
use tokio::sync::mpsc::UnboundedSender;
use tokio::sync::mpsc::unbounded_channel;
use tokio::sync::watch;

/// How long an adapter that was pulled is waited for, at the practice bench as well: whoever looks on
/// sees what it is.
const WAITS: Duration = Duration::from_secs(60);

/// What is said where this program broke.
const FAULT: &str = "the program has a fault and ended the test; what was recorded is in its journal, and becomes an \
                     interrupted recording at the next start";

/// Where the readings come from.
#[derive(Debug, Clone, PartialEq)]
pub enum Source {
    /// A board on an adapter.
    Adapter(PathBuf),
    /// A piece of the practice bench by its name, so many times as fast as real; None as fast as
    /// it can.
    Practice(String, Option<f64>),
}

/// A test that somebody wants done.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// What is on the bench.
    pub setup: NamedText,
    /// The shop's file, if there is one.
    pub shop: Option<NamedText>,
    /// Where the readings come from.
    pub source: Source,
    /// The data folder.
    pub folder: PathBuf,
    /// Who answers: a mark of one browser.
    pub who: String,
}

/// The place where a test may run.
#[derive(Debug)]
pub struct OnTheBench {
    told: Told,
    state: Mutex<State>,
}

#[derive(Debug, Default)]
struct State {
    n_runs: u64,
    who: String,
    said: Option<UnboundedSender<Said>>,
    thread: Option<JoinHandle<()>>,
    /// Warnings up to this number were read.
    read_until: u64,
}

impl Default for OnTheBench {
    fn default() -> Self {
        Self {
            told: watch::Sender::new(Board::default()),
            state: Mutex::default(),
        }
    }
}

impl OnTheBench {
    /// How the test stands; None if none is on the bench.
    pub fn standing(&self) -> Option<Arc<Standing>> {
        self.told.borrow().standing.clone()
    }

    /// Waits until the bench is another than at its change `last`; which change it is at then.
    pub async fn changed(&self, last: u64) -> u64 {
        let mut told = self.told.subscribe();
        let changed = told.wait_for(|board| board.n_changes != last).await;
        changed.map_or(last, |board| board.n_changes)
    }

    /// Whether this is who answers.
    pub fn is_answered_by(&self, who: &str) -> bool {
        self.state().who == who
    }

    /// Up to which number messages were read.
    pub fn read_until(&self) -> u64 {
        self.state().read_until
    }

    /// Begins a test. False if one is under way: then nothing is done.
    ///
    /// # Errors
    /// If the settings cannot be used, or the system gives no thread.
    pub fn begin(&self, wanted: Wanted) -> anyhow::Result<bool> {
        let task = task(&wanted);
        let (_, test) = task.settings()?;
        let mut state = self.state();
        if state.thread.as_ref().is_some_and(|t| !t.is_finished()) {
            return Ok(false);
        }
        state.n_runs += 1;
        state.who = wanted.who;
        state.read_until = 0;
        let (say, said) = unbounded_channel();
        state.said = Some(say);
        let rig = RigTold::default();
        let unit = test.first_setup().unit.clone();
        let about = About {
            tag: unit.tag,
            description: unit.description,
            title: test.title.clone(),
            is_practice: matches!(wanted.source, Source::Practice(..)),
        };
        let mut seen = Seen::new(state.n_runs, about, self.told.clone(), Arc::clone(&rig));
        let source = wanted.source;
        let thread = std::thread::Builder::new().name("bench".into());
        let thread = thread.spawn(move || {
            // A fault of ours must not leave a bench that looks as if it still recorded.
            let whole =
                AssertUnwindSafe(|| carried_out(&task, &source, &test, (said, rig), &mut seen));
            let over = match catch_unwind(whole) {
                Ok(conducted) => over(conducted),
                Err(_) => Over::Failed(FAULT.into()),
            };
            seen.over(over);
        });
        state.thread = Some(thread.context("no thread for the test can be had")?);
        Ok(true)
    }

    /// Says something to the test, if this is who answers. False if not, or if nothing runs.
    pub fn say(&self, who: &str, said: Said) -> bool {
        let state = self.state();
        let said_to = state.said.as_ref().filter(|_| state.who == who);
        said_to.is_some_and(|to| to.send(said).is_ok())
    }

    /// Messages up to a number were read by who answers; what was not said yet cannot have been.
    pub fn read(&self, who: &str, until: u64) {
        let standing = self.standing();
        let last = standing.and_then(|s| s.messages.last().map(|message| message.number));
        let until = until.min(last.unwrap_or(0));
        let mut state = self.state();
        if state.who == who {
            state.read_until = state.read_until.max(until);
            drop(state);
            self.look_again();
        }
    }

    /// From now on this is who answers.
    pub fn take_over(&self, who: &str) {
        self.state().who = who.into();
        self.look_again();
    }

    /// Takes a test that is over off the bench.
    pub fn clear(&self, who: &str) {
        let standing = self.standing();
        let phase = standing.as_ref().map(|standing| &standing.phase);
        if self.is_answered_by(who) && matches!(phase, Some(Phase::Over(_))) {
            self.told.send_modify(|board| {
                board.n_changes += 1;
                board.standing = None;
            });
        }
    }

    /// Ends a recording that runs and waits until it is kept.
    pub fn end(&self) {
        let thread = {
            let mut state = self.state();
            if let Some(said) = &state.said {
                // Whoever listens is gone if the test is over.
                let _ = said.send(Said::Stop);
            }
            state.thread.take()
        };
        if let Some(thread) = thread {
            // A thread that broke has told nobody more than its journal.
            let _ = thread.join();
        }
    }

    fn look_again(&self) {
        self.told.send_modify(|board| board.n_changes += 1);
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn task(wanted: &Wanted) -> Task {
    let (practice, word) = match &wanted.source {
        Source::Adapter(_) => (String::new(), "hold".to_owned()),
        Source::Practice(name, _) => (PRACTICE.into(), name.clone()),
    };
    Task {
        setup: wanted.setup.clone(),
        shop: wanted.shop.clone(),
        practice,
        word,
        patience: WAITS,
        folder: wanted.folder.clone(),
        quiet: true,
    }
}

fn over(conducted: anyhow::Result<Conducted>) -> Over {
    match conducted {
        Ok(Conducted::Refused(reasons)) => Over::Refused(reasons),
        Ok(Conducted::Done {
            entered, archive, ..
        }) => Over::Entered {
            number: entered.number.clone(),
            outcome: entered.found.outcome(),
            headline: entered.found.headline(),
            text: entered.found.text(),
            archive,
        },
        Err(error) => Over::Failed(chain(&error)),
    }
}

/// The whole test, on this thread.
fn carried_out(
    task: &Task,
    source: &Source,
    test: &Test,
    (said, rig): (UnboundedReceiver<Said>, RigTold),
    seen: &mut Seen,
) -> anyhow::Result<Conducted> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .context("no runtime for the test can be had")?;
    // The board of the practice bench plays as long as it is held here.
    let (board, adapter, hand) = match source {
        Source::Adapter(path) => {
            let hand = PageHand::new(said, None, rig);
            (None, Adapter::new(path), Hand::Page(Box::new(hand)))
        }
        Source::Practice(name, speed) => {
            let pace = speed.map_or(Pace::AsFastAsItCan, Pace::Times);
            let (board, hand) = PracticeBoard::start(name, pace, test, (said, rig))?;
            let adapter = board.adapter();
            (Some(board), adapter, hand)
        }
    };
    let conducted = runtime.block_on(conduct_seen(task, adapter, hand, seen));
    drop(board);
    conducted
}
