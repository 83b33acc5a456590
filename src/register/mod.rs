//! The shop's register: which unit came in why and was tested when, what came out, and the
//! numbers of the certificates.
//!
//! Takes finished tests and sheets of jobs from the shell and judges nothing. A test, its number
//! and the record behind its paper are written in one transaction, so that there is never a
//! number without a test nor a paper that cannot be made again. Nothing is deleted and nothing
//! changed without a trace: jobs have versions, units remember what they were, papers are
//! withdrawn with a reason. The signed statement of a certificate is made there, too;
//! `audit` looks at all of them without writing.
//!
//! Invariants: numbers are consecutive in each series and year and never given
//! twice; a run is entered once; every write begins by taking the write lock (a
//! transaction that reads first and writes later fails at once when another program
//! wrote in between); lists are sorted by instants, never by local time.

mod attachment;
mod audit;
mod build;
mod came_back;
mod copy;
mod entry;
mod error;
mod fields;
mod file;
mod job;
mod jobs;
mod judged_again;
mod look;
mod many;
mod number;
mod rows;
mod search;
mod sensors;
mod signing;
mod units;
mod volume;
mod withdrawn;
mod words;
mod worth;

#[cfg(test)]
mod tests;

use std::path::Path;
use std::path::PathBuf;
use std::time::Duration;

use sqlx::Sqlite;
use sqlx::SqliteConnection;
use sqlx::SqlitePool;
use sqlx::Transaction;
use sqlx::sqlite::SqlitePoolOptions;
use sqlx::sqlite::SqliteRow;

pub use crate::register::attachment::Attachment;
pub use crate::register::audit::Audit;
pub use crate::register::audit::Audited;
pub use crate::register::audit::Head;
pub use crate::register::audit::audit;
pub use crate::register::build::Build;
pub use crate::register::came_back::CameBack;
pub use crate::register::entry::Bench;
pub use crate::register::entry::Entered;
pub use crate::register::entry::Entry;
pub use crate::register::entry::NewTest;
pub use crate::register::entry::PaperKind;
pub use crate::register::entry::SensorUsed;
pub use crate::register::entry::Unit;
pub use crate::register::error::RegisterError;
use crate::register::error::sorted;
pub use crate::register::job::Decision;
pub use crate::register::job::Finding;
pub use crate::register::job::Job;
pub use crate::register::job::JobEntered;
pub use crate::register::job::JobState;
pub use crate::register::job::NewJob;
pub use crate::register::job::PartUsed;
pub use crate::register::judged_again::JudgedAgain;
pub use crate::register::many::Many;
pub use crate::register::number::NumberPrefix;
pub use crate::register::number::bench_of;
use crate::register::rows::Paper;
use crate::register::rows::entry_of_run;
use crate::register::rows::insert_test;
use crate::register::rows::read_entry;
pub use crate::register::search::Period;
pub use crate::register::sensors::SensorKnown;
use crate::register::signing::SigningError;
pub use crate::register::units::UnitNow;
pub use crate::register::units::UnitsOf;
pub use crate::register::withdrawn::Withdrawal;
pub use crate::register::worth::Hundredths;
pub use crate::register::worth::Item;
pub use crate::register::worth::Points;
pub use crate::register::worth::Rates;
pub use crate::register::worth::Rebuilding;
pub use crate::register::worth::Replacing;
pub use crate::register::worth::Worth;
pub use crate::register::worth::worth;
use crate::signature::SignedStatement;
use crate::signature::SigningKey;

/// How long a write waits for another program to finish its own.
const BUSY: Duration = Duration::from_secs(5);

/// How long a caller waits for its turn among the callers of this program.
const TURN: Duration = Duration::from_secs(60);

/// Readers beside the one writer.
const N_READERS: u32 = 4;

/// Most rows in one list; a longer list is cut there.
const LONGEST_LIST: u32 = 1_000;

/// The open register. Cheap to clone; all clones share the one writer.
#[derive(Debug, Clone)]
pub struct Register {
    path: PathBuf,
    writer: SqlitePool,
    readers: SqlitePool,
}

impl Register {
    /// Opens the register in a file, and makes it if there is none.
    ///
    /// The file is checked first; one that is foreign, newer or damaged is left as it is. Of one
    /// of more than 64 MB both ends and some places in between are looked at; all of it is
    /// checked by [`Register::check`], before a copy, and by [`audit`].
    pub async fn open(path: &Path) -> Result<Self, RegisterError> {
        Self::open_with(path, BUSY, look::WHOLE_UP_TO_BYTES).await
    }

    async fn open_with(
        path: &Path,
        busy: Duration,
        whole_up_to_bytes: u64,
    ) -> Result<Self, RegisterError> {
        file::prepare(path, busy, whole_up_to_bytes).await?;
        let pool = || SqlitePoolOptions::new().acquire_timeout(TURN);
        let options = file::options(path, busy);
        let writer = pool()
            .max_connections(1)
            .connect_with(options.clone())
            .await
            .map_err(|error| sorted(path, "open", error))?;
        let readers = pool()
            .max_connections(N_READERS)
            .connect_lazy_with(options.read_only(true));
        Ok(Self {
            path: path.to_owned(),
            writer,
            readers,
        })
    }

    /// Where the file is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Enters a test, gives it its number, and stores the record made for that number,
    /// all or nothing.
    ///
    /// `make_record` is given the number and returns the record behind the paper as
    /// JSON; it runs while the register is locked, so it should only write text. A run
    /// entered before with the same archive hash gives its entry again, and
    /// `make_record` is not called.
    pub async fn record_test<F>(
        &self,
        test: &NewTest,
        make_record: F,
    ) -> Result<Entered, RegisterError>
    where
        F: FnOnce(&str) -> String + Send,
    {
        self.record(test, make_record, None).await
    }

    /// As [`Register::record_test`], with a signed statement of the certificate, which names
    /// the statement before it. All or nothing, in the same transaction.
    pub async fn record_signed<F>(
        &self,
        test: &NewTest,
        make_record: F,
        key: &SigningKey,
    ) -> Result<Entered, RegisterError>
    where
        F: FnOnce(&str) -> String + Send,
    {
        self.record(test, make_record, Some(key)).await
    }

    async fn record<F>(
        &self,
        test: &NewTest,
        make_record: F,
        key: Option<&SigningKey>,
    ) -> Result<Entered, RegisterError>
    where
        F: FnOnce(&str) -> String + Send,
    {
        let doing = "enter the test";
        let mut all = self.begin(doing).await?;
        let entered = self.record_in(&mut all, test, make_record, key).await?;
        let done = all.commit().await;
        done.map_err(|error| sorted(&self.path, doing, error))?;
        Ok(entered)
    }

    /// The write lock, before anything is read.
    async fn begin(
        &self,
        doing: &'static str,
    ) -> Result<Transaction<'static, Sqlite>, RegisterError> {
        let failed = |error| sorted(&self.path, doing, error);
        match self.writer.begin_with("BEGIN IMMEDIATE").await {
            // The database ends a transaction by itself when the disk is full; the connection still
            // counts it as begun, and would refuse every other. So there is a new one.
            Err(sqlx::Error::InvalidSavePointStatement) => {
                let stuck = self.writer.acquire().await.map_err(failed)?;
                stuck.close().await.map_err(failed)?;
                let begun = self.writer.begin_with("BEGIN IMMEDIATE").await;
                begun.map_err(failed)
            }
            begun => begun.map_err(failed),
        }
    }

    /// Writes a test and its paper under a lock that is held.
    async fn record_in<F>(
        &self,
        all: &mut SqliteConnection,
        test: &NewTest,
        make_record: F,
        key: Option<&SigningKey>,
    ) -> Result<Entered, RegisterError>
    where
        F: FnOnce(&str) -> String + Send,
    {
        test.check()?;
        let failed = |error| sorted(&self.path, "enter the test", error);
        if let Some(known) = entry_of_run(all, &test.run_id).await.map_err(failed)? {
            return self.known_again(test, &self.entry(&known)?);
        }
        let test_id = insert_test(all, test).await.map_err(failed)?;
        let paper = Paper::next(all, test).await.map_err(failed)?;
        let record = make_record(&paper.number);
        paper
            .insert(all, test, test_id, &record)
            .await
            .map_err(failed)?;
        sensors::remember(all, test, test_id)
            .await
            .map_err(failed)?;
        search::remember_test(all, test, test_id, &paper.number)
            .await
            .map_err(failed)?;
        if let Some(key) = key {
            let stated = signing::sign(all, test, (&paper.number, &record), key).await;
            stated.map_err(|error| match error {
                SigningError::Database(error) => failed(error),
                SigningError::Unfit(reason) => RegisterError::NotSigned {
                    number: paper.number.clone(),
                    reason,
                },
            })?;
        }
        Ok(Entered {
            test_id,
            certificate_number: paper.number,
        })
    }

    fn known_again(&self, test: &NewTest, known: &Entry) -> Result<Entered, RegisterError> {
        if known.archive_sha256 == test.archive_sha256 {
            Ok(Entered {
                test_id: known.test_id,
                certificate_number: known.certificate_number.clone(),
            })
        } else {
            Err(RegisterError::OtherArchive {
                run_id: test.run_id.clone(),
                number: known.certificate_number.clone(),
                entered_sha256: known.archive_sha256.clone(),
                offered_sha256: test.archive_sha256.clone(),
            })
        }
    }

    /// The test of a run, if it has been entered.
    pub async fn find_by_run(&self, run_id: &str) -> Result<Option<Entry>, RegisterError> {
        let row = sqlx::query("SELECT * FROM entry WHERE run_id = $1")
            .bind(run_id)
            .fetch_optional(&self.readers)
            .await
            .map_err(|error| sorted(&self.path, "look up a run", error))?;
        row.map(|row| self.entry(&row)).transpose()
    }

    /// The test behind a certificate number, if there is one.
    pub async fn find_by_number(&self, number: &str) -> Result<Option<Entry>, RegisterError> {
        let row = sqlx::query("SELECT * FROM entry WHERE number = $1")
            .bind(number)
            .fetch_optional(&self.readers)
            .await
            .map_err(|error| sorted(&self.path, "look up a number", error))?;
        row.map(|row| self.entry(&row)).transpose()
    }

    /// The record behind a certificate as JSON, as it was stored with the number.
    pub async fn record_json(&self, number: &str) -> Result<Option<String>, RegisterError> {
        sqlx::query_scalar("SELECT record_json FROM certificate WHERE number = $1")
            .bind(number)
            .fetch_optional(&self.readers)
            .await
            .map_err(|error| sorted(&self.path, "read a record", error))
    }

    /// The signed statement of a certificate; None for one from before there were any.
    pub async fn statement(&self, number: &str) -> Result<Option<SignedStatement>, RegisterError> {
        let found = signing::statement_of(&self.readers, number)
            .await
            .map_err(|error| sorted(&self.path, "read a statement", error))?;
        found.transpose().map_err(|finding| RegisterError::Damaged {
            path: self.path.clone(),
            finding: format!("the statement of {number}: {finding}"),
        })
    }

    /// Tests of one unit, latest start first, at most 1000.
    pub async fn tests_of_unit(&self, tag: &str) -> Result<Vec<Entry>, RegisterError> {
        let rows = sqlx::query(
            "SELECT * FROM entry WHERE tag = $1 ORDER BY started_utc_ms DESC, test_id DESC LIMIT $2",
        )
        .bind(tag)
        .bind(LONGEST_LIST)
        .fetch_all(&self.readers)
        .await
        .map_err(|error| sorted(&self.path, "list the tests of a unit", error))?;
        self.entries(&rows)
    }

    /// The latest `n` tests, latest start first, at most 1000.
    pub async fn latest(&self, n: u32) -> Result<Vec<Entry>, RegisterError> {
        let rows =
            sqlx::query("SELECT * FROM entry ORDER BY started_utc_ms DESC, test_id DESC LIMIT $1")
                .bind(n.min(LONGEST_LIST))
                .fetch_all(&self.readers)
                .await
                .map_err(|error| sorted(&self.path, "list the latest tests", error))?;
        self.entries(&rows)
    }

    /// Tests in the order in which they were entered, at most 1000 behind a row.
    pub async fn tests_after(&self, test_id: i64) -> Result<Vec<Entry>, RegisterError> {
        let rows = sqlx::query("SELECT * FROM entry WHERE test_id > $1 ORDER BY test_id LIMIT $2")
            .bind(test_id)
            .bind(LONGEST_LIST)
            .fetch_all(&self.readers)
            .await
            .map_err(|error| sorted(&self.path, "list the tests", error))?;
        self.entries(&rows)
    }

    /// Closes all connections; the log is written back into the file.
    pub async fn close(self) {
        self.readers.close().await;
        self.writer.close().await;
    }

    fn entries(&self, rows: &[SqliteRow]) -> Result<Vec<Entry>, RegisterError> {
        rows.iter().map(|row| self.entry(row)).collect()
    }

    fn entry(&self, row: &SqliteRow) -> Result<Entry, RegisterError> {
        read_entry(row).map_err(|error| RegisterError::Damaged {
            path: self.path.clone(),
            finding: error.to_string(),
        })
    }
}
