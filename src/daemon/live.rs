//! A test on a real line: the link, the journal, the onlooker.
//!
//! The journal is brought to the disk each second of the clock on the wall. When the
//! test is over the recording is read back from its journal, archived, and checked.

use super::clock::Forward;
use super::closing::Closing;
use super::folder::Shelf;
use super::hand::Hand;
use super::hold_length::too_short_for;
use super::journal_file::JournalFile;
use super::journal_file::Stored;
use super::judgement::rule_of;
use super::judgement::shop_of_heading;
use super::onlooker::Onlooker;
use super::test_run::Step;
use super::test_run::TestRun;
use crate::account::Evaluation;
use crate::bench::Event;
use crate::link::Adapter;
use crate::link::Link;
use crate::link::Request;
use crate::recording::Heading;
use crate::settings::Test;
use std::time::Duration;
use tokio::task::JoinHandle;

/// Records one test on an adapter, up to its archive file.
///
/// # Errors
/// If the adapter cannot be opened, the setup does not fit the board, or the journal
/// cannot be begun. What happens later ends the recording as interrupted.
pub async fn record(
    adapter: Adapter,
    patience: Duration,
    shelf: &Shelf,
    heading: Heading,
    test: &Test,
    hand: &mut Hand,
    onlooker: &mut dyn Onlooker,
) -> anyhow::Result<Stored> {
    let (mut link, hello) = Link::open(adapter, patience).await?;
    let run_id = heading.run_id.clone();
    let rule = rule_of(shop_of_heading(&heading)?.as_ref());
    let (mut run, start) = TestRun::begin(heading, test, &hello)?;
    let channels: Vec<_> = run.latest().map(|(channel, _)| channel).collect();
    for sentence in too_short_for(test, &channels, rule) {
        onlooker.warn(&sentence);
    }
    let clock = Forward::start();
    let mut journal = JournalFile::create(&shelf.folder, &run_id, &start, clock.seconds())?;
    let mut figures = FiguresSoFar::default();
    link.begin_recording();
    link.send(Request::Start);
    loop {
        let step = tokio::select! {
            event = link.next() => run.take(event, link.loss())?,
            event = hand.next() => run.end(event, link.loss()),
            _ = tokio::signal::ctrl_c() => run.end(Event::Stopped, link.loss()),
        };
        let mut next = Some(step);
        let mut is_over = false;
        while let Some(step) = next.take().filter(|_| !is_over) {
            let step = match keep(&mut journal, &step, clock.seconds()) {
                Ok(()) => step,
                // The disk may take the ending although it refused the rows. Whatever step it
                // refused, nothing follows: without an ending the journal reads as interrupted.
                Err(error) => {
                    let ending = run.end(Event::DiskFailed(error.to_string()), link.loss());
                    let _ = journal.append(&ending.blocks);
                    Step {
                        warnings: vec![error.to_string()],
                        is_over: true,
                        ..ending
                    }
                }
            };
            for warning in &step.warnings {
                onlooker.warn(warning);
            }
            for text in &step.said {
                onlooker.say(text);
            }
            if let Some(ask) = &step.ask {
                // Whoever answers must be listening before anybody can answer.
                hand.asked(ask, &run);
                onlooker.ask(ask);
            }
            is_over = step.is_over;
            next = hand.due(&run).map(|event| run.end(event, link.loss()));
        }
        figures.follow(&run, clock.seconds()).await;
        onlooker.show(&run, figures.latest.as_ref());
        if is_over {
            break;
        }
    }
    link.send(Request::Stop);
    link.close().await;
    let stored = Closing::begin(journal, shelf.key.clone())
        .shown(onlooker)
        .await;
    onlooker.recorded();
    stored
}

/// Wall time between two looks at the figures, s.
const LOOK_EACH_S: f64 = 2.0;

/// The figures of the hold while it runs, made beside the loop that records.
#[derive(Debug, Default)]
struct FiguresSoFar {
    latest: Option<Evaluation>,
    coming: Option<JoinHandle<Option<Evaluation>>>,
    next_s: f64,
}

impl FiguresSoFar {
    /// Takes what is ready and asks for the next when it is time.
    async fn follow(&mut self, run: &TestRun, now_s: f64) {
        if let Some(coming) = self.coming.take_if(|coming| coming.is_finished()) {
            // A look that failed is no reason to stop recording; the next one comes.
            self.latest = coming.await.ok().flatten();
        }
        let Some(growing) = run.growing() else {
            self.latest = None;
            return;
        };
        if self.coming.is_none() && now_s >= self.next_s {
            let growing = growing.clone();
            self.coming = Some(tokio::task::spawn_blocking(move || growing.evaluation()));
            self.next_s = now_s + LOOK_EACH_S;
        }
    }
}

fn keep(
    journal: &mut JournalFile,
    step: &Step,
    now_s: f64,
) -> Result<(), super::journal_file::JournalFileError> {
    if !step.blocks.is_empty() {
        journal.append(&step.blocks)?;
    }
    journal.sync_if_due(now_s)?;
    Ok(())
}
