//! Finding tests and jobs by words and days.
//!
//! The words of each are indexed by the database's own index of words, which differs from engine to
//! engine: its speech stays in this file and in `words`. A search finds what has every word of it, each as the
//! beginning of one: "tv-0312 plough" finds TV-0312, plough lift cylinder. Case and accents do not
//! count. The latest come first.

use super::LONGEST_LIST;
use super::Register;
use super::entry::Entry;
use super::entry::NewTest;
use super::error::RegisterError;
use super::error::sorted;
use super::job::Job;
use super::job::NewJob;
use super::words::Asked;
use super::words::Index;
use super::words::asked;
use sqlx::SqliteConnection;

/// By which the row of a test's words is more than its start in milliseconds; as in the layout.
const ROWS_IN_A_MS: i64 = 1 << 20;

/// Instants between which a test must have begun, UTC ms since 1970; both count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Period {
    /// The first.
    pub from_utc_ms: i64,
    /// The last.
    pub until_utc_ms: i64,
}

impl Period {
    /// Any time.
    pub const ALWAYS: Self = Self {
        from_utc_ms: 0,
        until_utc_ms: i64::MAX / ROWS_IN_A_MS - 1,
    };

    fn rows(self) -> (i64, i64) {
        let row = |ms: i64| ms.clamp(0, Self::ALWAYS.until_utc_ms) * ROWS_IN_A_MS;
        (
            row(self.from_utc_ms),
            row(self.until_utc_ms) + ROWS_IN_A_MS - 1,
        )
    }
}

impl Register {
    /// Tests of a period that have each of these words in number, tag, description, machine, serial
    /// number or seal, as they were when they were tested; latest start first, at most `n` and at
    /// most 1000. Without any word all tests of the period.
    pub async fn matching(
        &self,
        text: &str,
        period: Period,
        n: u32,
    ) -> Result<Vec<Entry>, RegisterError> {
        let n = n.min(LONGEST_LIST);
        let failed = |error| sorted(&self.path, "search", error);
        let asked = asked(&self.readers, Index::Tests, text).await;
        let rows = match asked.map_err(failed)? {
            Asked::Everything => {
                sqlx::query(
                    "SELECT * FROM entry WHERE started_utc_ms BETWEEN $1 AND $2
                     ORDER BY started_utc_ms DESC, test_id DESC LIMIT $3",
                )
                .bind(period.from_utc_ms)
                .bind(period.until_utc_ms)
                .bind(n)
                .fetch_all(&self.readers)
                .await
            }
            Asked::Words(words) => {
                let (first, last) = period.rows();
                sqlx::query(
                    "SELECT entry.* FROM
                         (SELECT rowid AS row FROM test_words
                          WHERE test_words MATCH $1 AND rowid BETWEEN $2 AND $3
                          ORDER BY rowid DESC LIMIT $4) AS found
                     JOIN entry ON entry.started_utc_ms = found.row / 1048576
                               AND entry.test_id % 1048576 = found.row % 1048576
                     ORDER BY found.row DESC",
                )
                .bind(words)
                .bind(first)
                .bind(last)
                .bind(n)
                .fetch_all(&self.readers)
                .await
            }
            Asked::Nothing => Ok(Vec::new()),
        };
        self.entries(&rows.map_err(failed)?)
    }

    /// Jobs, as they stand now, that have each of these words in tag, machine, symptom, findings or
    /// parts; the last entered first, at most `n` and at most 1000. Without any word all jobs.
    pub async fn jobs_matching(&self, text: &str, n: u32) -> Result<Vec<Job>, RegisterError> {
        let n = n.min(LONGEST_LIST);
        let failed = |error| sorted(&self.path, "search", error);
        let asked = asked(&self.readers, Index::Jobs, text).await;
        let versions: Vec<i64> = match asked.map_err(failed)? {
            Asked::Everything => {
                sqlx::query_scalar("SELECT id FROM job_now ORDER BY id DESC LIMIT $1")
                    .bind(n)
                    .fetch_all(&self.readers)
                    .await
            }
            Asked::Words(words) => {
                sqlx::query_scalar(
                    "SELECT job_now.id FROM job_words
                     JOIN job_now ON job_now.id = job_words.rowid
                     WHERE job_words MATCH $1 ORDER BY job_words.rowid DESC LIMIT $2",
                )
                .bind(words)
                .bind(n)
                .fetch_all(&self.readers)
                .await
            }
            Asked::Nothing => Ok(Vec::new()),
        }
        .map_err(failed)?;
        self.job_versions(&versions).await
    }
}

/// Enters the words of a test that was written.
pub(super) async fn remember_test(
    all: &mut SqliteConnection,
    test: &NewTest,
    test_id: i64,
    number: &str,
) -> Result<(), sqlx::Error> {
    let unit = test.unit.texts().map(|(_, text)| text.as_str()).join(" ");
    sqlx::query("INSERT INTO test_words (rowid, words) VALUES ($1, $2)")
        .bind(test.started_utc_ms * ROWS_IN_A_MS + test_id % ROWS_IN_A_MS)
        .bind(format!("{number} {unit}"))
        .execute(all)
        .await?;
    Ok(())
}

/// Whether a test is found by its number.
pub(super) async fn is_remembered(
    all: &mut SqliteConnection,
    test_id: i64,
    started_utc_ms: i64,
    number: &str,
) -> Result<bool, sqlx::Error> {
    let found: Option<i64> =
        sqlx::query_scalar("SELECT rowid FROM test_words WHERE test_words MATCH $1 AND rowid = $2")
            .bind(format!("\"{number}\""))
            .bind(started_utc_ms * ROWS_IN_A_MS + test_id % ROWS_IN_A_MS)
            .fetch_optional(all)
            .await?;
    Ok(found.is_some())
}

/// Enters the words of a version of a job that was written.
pub(super) async fn remember_job(
    all: &mut SqliteConnection,
    job: &NewJob,
    version_id: i64,
) -> Result<(), sqlx::Error> {
    let unit = job.unit.texts().map(|(_, text)| text.as_str());
    let findings = job
        .findings
        .iter()
        .flat_map(|f| [f.part.as_str(), f.condition.as_str()]);
    let parts = job.parts.iter().map(|p| p.part.as_str());
    let own = [job.symptom.as_str(), job.reason.as_str()];
    let words: Vec<&str> = unit
        .into_iter()
        .chain(own)
        .chain(findings)
        .chain(parts)
        .collect();
    sqlx::query("INSERT INTO job_words (rowid, words) VALUES ($1, $2)")
        .bind(version_id)
        .bind(words.join(" "))
        .execute(all)
        .await?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_period_takes_in_its_ends() {
        let (first, last) = Period {
            from_utc_ms: 5,
            until_utc_ms: 6,
        }
        .rows();
        assert_eq!((first, last), (5 << 20, (7 << 20) - 1));
        let (first, last) = Period::ALWAYS.rows();
        assert!(first == 0 && last > 0);
    }
}
