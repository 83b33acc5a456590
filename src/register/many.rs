//! Many entries as one: all of them or none.
//!
//! For whoever brings in what was kept elsewhere: each entry of its own waits for the disk once,
//! thousands together wait once. Every row is written by the same code as a single one.

use super::Register;
use super::entry::Entered;
use super::entry::NewTest;
use super::error::RegisterError;
use super::error::sorted;
use super::job::JobEntered;
use super::job::NewJob;
use sqlx::Sqlite;
use sqlx::Transaction;

/// Entries that are not in the register before [`Many::finish`]. Meanwhile nobody else can write.
///
/// An entry that is refused takes all others of it along, because the half of it may be written.
#[derive(Debug)]
pub struct Many {
    register: Register,
    all: Transaction<'static, Sqlite>,
}

impl Register {
    /// Begins many entries.
    ///
    /// # Errors
    /// If another program writes for too long.
    pub async fn many(&self) -> Result<Many, RegisterError> {
        Ok(Many {
            register: self.clone(),
            all: self.begin("enter many").await?,
        })
    }
}

impl Many {
    /// As [`Register::record_test`].
    ///
    /// # Errors
    /// As there; then nothing of all this is entered.
    pub async fn record_test<F>(
        mut self,
        test: &NewTest,
        make_record: F,
    ) -> Result<(Self, Entered), RegisterError>
    where
        F: FnOnce(&str) -> String + Send,
    {
        let entered = self
            .register
            .record_in(&mut self.all, test, make_record, None);
        let entered = entered.await?;
        Ok((self, entered))
    }

    /// As [`Register::enter_job`].
    ///
    /// # Errors
    /// As there; then nothing of all this is entered.
    pub async fn enter_job(mut self, job: &NewJob) -> Result<(Self, JobEntered), RegisterError> {
        let entered = self.register.enter_job_in(&mut self.all, job).await?;
        Ok((self, entered))
    }

    /// Writes all of it.
    ///
    /// # Errors
    /// If the disk refuses.
    pub async fn finish(self) -> Result<(), RegisterError> {
        let done = self.all.commit().await;
        done.map_err(|error| sorted(&self.register.path, "enter many", error))
    }
}
