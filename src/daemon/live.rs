//! A test on a real line: the link, the journal, the screen.
//!
//! The journal is brought to the disk each second of the clock on the wall. When the
//! test is over the recording is read back from its journal, archived, and checked.

use super::clock::Forward;
use super::journal_file::JournalFile;
use super::journal_file::Stored;
use super::screen::Screen;
use super::test_run::Step;
use super::test_run::TestRun;
use crate::bench::Event;
use crate::link::Adapter;
use crate::link::Link;
use crate::link::Request;
use crate::recording::Heading;
use crate::settings::Setup;
use anyhow::Context;
use std::path::Path;
use std::time::Duration;

/// Records one test on an adapter, up to its archive file.
///
/// # Errors
/// If the adapter cannot be opened, the setup does not fit the board, or the journal
/// cannot be begun. What happens later ends the recording as interrupted.
pub async fn record(
    adapter: Adapter,
    patience: Duration,
    folder: &Path,
    heading: Heading,
    setup: &Setup,
    screen: &Screen,
) -> anyhow::Result<Stored> {
    let (mut link, hello) = Link::open(adapter, patience).await?;
    let run_id = heading.run_id.clone();
    let (mut run, start) = TestRun::begin(heading, setup, &hello)?;
    let clock = Forward::start();
    let mut journal = JournalFile::create(folder, &run_id, &start, clock.seconds())?;
    link.begin_recording();
    link.send(Request::Start);
    loop {
        let step = tokio::select! {
            event = link.next() => run.take(event, link.loss())?,
            _ = tokio::signal::ctrl_c() => run.end(Event::Stopped, link.loss()),
        };
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
            screen.warn(warning);
        }
        screen.show(&run);
        if step.is_over {
            break;
        }
    }
    link.send(Request::Stop);
    link.close().await;
    screen.recorded();
    tokio::task::spawn_blocking(move || journal.finish())
        .await
        .context("the archive was not written")?
        .map_err(Into::into)
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
