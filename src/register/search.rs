//! Finding tests and jobs by words and days.
//!
//! The words of each are indexed by the database's own index of words, which differs from engine to
//! engine: its speech stays in this file. A search finds what has every word of it, each as the
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
use sqlx::SqliteConnection;

/// Longest text to search for, in characters; the rest is not looked at.
const LONGEST_SEARCH: usize = 200;

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
        let rows = match asked(text) {
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
        let versions: Vec<i64> = match asked(text) {
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

/// What a text asks for, in the speech of the index.
#[derive(Debug, PartialEq, Eq)]
enum Asked {
    Everything,
    Words(String),
    /// Signs in which there is no word.
    Nothing,
}

/// Each word as the beginning of one; what stands together ("TV-0312") must stand together.
fn asked(text: &str) -> Asked {
    let text: String = text.chars().take(LONGEST_SEARCH).collect();
    if text.trim().is_empty() {
        return Asked::Everything;
    }
    // The index reads a text only up to a NUL.
    let words = text.split(|c: char| c.is_whitespace() || c == '\0');
    let words = words.filter(|word| word.chars().any(char::is_alphanumeric));
    let words: Vec<String> = words
        .map(|word| format!("\"{}\"*", word.replace('"', "\"\"")))
        .collect();
    match words.is_empty() {
        true => Asked::Nothing,
        false => Asked::Words(words.join(" ")),
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
    fn what_is_typed_is_looked_for_and_never_obeyed() {
        let words = |text: &str| Asked::Words(text.into());
        assert_eq!(asked("  "), Asked::Everything);
        assert_eq!(asked("TV-0312  plough"), words("\"TV-0312\"* \"plough\"*"));
        assert_eq!(asked("a\" OR b*"), words("\"a\"\"\"* \"OR\"* \"b*\"*"));
        assert_eq!(asked("tv\0--"), words("\"tv\"*"));
        assert_eq!(asked("% _ \" *"), Asked::Nothing);
    }

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
