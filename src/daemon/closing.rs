//! Closing a recording while somebody waits.

use super::journal_file::JournalFile;
use super::journal_file::Stored;
use super::onlooker::Onlooker;
use crate::archive::Progress;
use crate::signature::SigningKey;
use anyhow::Context;
use tokio::sync::watch;
use tokio::task::JoinHandle;

/// A recording that is being closed on a thread of its own.
#[derive(Debug)]
pub struct Closing {
    work: JoinHandle<anyhow::Result<Stored>>,
    told: watch::Receiver<Option<Progress>>,
}

impl Closing {
    /// Begins to close a journal.
    pub fn begin(journal: JournalFile, key: Option<SigningKey>) -> Self {
        let (tell, told) = watch::channel(None);
        let work = tokio::task::spawn_blocking(move || {
            let stored = journal.finish_telling(key.as_ref(), &mut |progress| {
                tell.send_replace(Some(progress));
            });
            stored.map_err(Into::into)
        });
        Self { work, told }
    }

    /// How far it is, for anybody who wants to show it; None before the first row.
    pub fn progress(&self) -> watch::Receiver<Option<Progress>> {
        self.told.clone()
    }

    /// Waits for the end and shows the way there.
    ///
    /// # Errors
    /// As [`JournalFile::finish`].
    pub async fn shown(mut self, onlooker: &mut dyn Onlooker) -> anyhow::Result<Stored> {
        while self.told.changed().await.is_ok() {
            let progress = *self.told.borrow_and_update();
            if let Some(progress) = progress {
                onlooker.storing(progress);
            }
        }
        self.work.await.context("the archive was not written")?
    }
}
