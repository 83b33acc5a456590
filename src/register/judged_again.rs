//! Tests that were judged again by other limits. What came out first stands beside them, unchanged.

use super::Register;
use super::entry::LONGEST_TEXT;
use super::entry::unfit;
use super::error::RegisterError;
use super::error::sorted;
use super::rows::outcome_in;
use crate::verdict::Outcome;
use sqlx::Row as _;
use sqlx::sqlite::SqliteRow;

/// Most judgements of one test that are listed, the latest ones.
const MOST_LISTED: u32 = 50;

/// A test that was judged again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JudgedAgain {
    /// Number of its paper, which stands as it is.
    pub number: String,
    /// When, UTC ms since 1970.
    pub at_utc_ms: i64,
    /// Time zone of the shop, as text.
    pub time_zone: String,
    /// Who did, by role.
    pub role: String,
    /// The limits that were taken, as they were chosen or typed; at least one.
    pub limits: Vec<String>,
    /// What came out by them.
    pub outcome: Outcome,
    /// The sentence that decided.
    pub headline: String,
    /// Name and version of the program.
    pub software: String,
    /// The record as JSON.
    pub record_json: String,
}

impl Register {
    /// Keeps a judgement by other limits. Nothing of the test, its paper or its statement changes.
    ///
    /// # Errors
    /// If there is no such number, or role or limits are missing.
    pub async fn keep_judged_again(&self, judged: &JudgedAgain) -> Result<(), RegisterError> {
        let limits = judged.limits.join("\n");
        for (field, text) in [("role", &judged.role), ("limits", &limits)] {
            if text.trim().is_empty() || text.len() > LONGEST_TEXT {
                return Err(unfit(field, text, "write a few words, up to 4000 bytes"));
            }
        }
        let doing = "keep what was judged again";
        let failed = |error| sorted(&self.path, doing, error);
        let mut all = self.begin(doing).await?;
        let kept = sqlx::query(
            "INSERT INTO judged_again (certificate, judged_utc_ms, time_zone, role, limits, outcome, headline,
                                       software, record_json)
             SELECT id, $2, $3, $4, $5, $6, $7, $8, $9 FROM certificate WHERE number = $1",
        )
        .bind(&judged.number)
        .bind(judged.at_utc_ms)
        .bind(&judged.time_zone)
        .bind(judged.role.trim())
        .bind(&limits)
        .bind(judged.outcome.word())
        .bind(&judged.headline)
        .bind(&judged.software)
        .bind(&judged.record_json)
        .execute(&mut *all)
        .await
        .map_err(failed)?;
        if kept.rows_affected() != 1 {
            let number = &judged.number;
            return Err(unfit("number", number, "there is no paper of this number"));
        }
        all.commit().await.map_err(failed)
    }

    /// How a test was judged again, the latest first; at most 50.
    pub async fn judged_again(&self, number: &str) -> Result<Vec<JudgedAgain>, RegisterError> {
        let failed = |error| sorted(&self.path, "list what was judged again", error);
        let rows = sqlx::query(
            "SELECT judged_again.*, certificate.number FROM judged_again
             JOIN certificate ON certificate.id = judged_again.certificate
             WHERE certificate.number = $1 ORDER BY judged_again.id DESC LIMIT $2",
        )
        .bind(number)
        .bind(MOST_LISTED)
        .fetch_all(&self.readers)
        .await
        .map_err(failed)?;
        let read: Result<Vec<JudgedAgain>, sqlx::Error> = rows.iter().map(read).collect();
        read.map_err(failed)
    }
}

fn read(row: &SqliteRow) -> Result<JudgedAgain, sqlx::Error> {
    let limits: String = row.try_get("limits")?;
    Ok(JudgedAgain {
        number: row.try_get("number")?,
        at_utc_ms: row.try_get("judged_utc_ms")?,
        time_zone: row.try_get("time_zone")?,
        role: row.try_get("role")?,
        limits: limits.lines().map(str::to_owned).collect(),
        outcome: outcome_in(row)?,
        headline: row.try_get("headline")?,
        software: row.try_get("software")?,
        record_json: row.try_get("record_json")?,
    })
}
