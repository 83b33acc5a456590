//! Papers that no longer count.

use super::Register;
use super::entry::LONGEST_TEXT;
use super::entry::unfit;
use super::error::RegisterError;
use super::error::sorted;
use sqlx::Row as _;
use sqlx::sqlite::SqliteRow;

/// That a paper no longer counts, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Withdrawal {
    /// Its number.
    pub number: String,
    /// When, UTC ms since 1970.
    pub at_utc_ms: i64,
    /// Time zone of the shop, as text.
    pub time_zone: String,
    /// Who says so, by role.
    pub role: String,
    /// Why.
    pub reason: String,
}

impl Register {
    /// Withdraws a paper. It stays in the register, with the reason, and cannot be taken back: a new
    /// test makes a new paper.
    ///
    /// # Errors
    /// If there is no such number, it is withdrawn already, or role or reason are missing.
    pub async fn withdraw(&self, withdrawal: &Withdrawal) -> Result<(), RegisterError> {
        let number = &withdrawal.number;
        for (field, text) in [("role", &withdrawal.role), ("reason", &withdrawal.reason)] {
            if text.trim().is_empty() || text.len() > LONGEST_TEXT {
                return Err(unfit(field, text, "write a few words, up to 4000 bytes"));
            }
        }
        let failed = |error| sorted(&self.path, "withdraw a paper", error);
        let mut all = self
            .writer
            .begin_with("BEGIN IMMEDIATE")
            .await
            .map_err(failed)?;
        let known: Option<(i64, Option<String>)> = sqlx::query_as(
            "SELECT certificate.id, withdrawal.reason FROM certificate
             LEFT JOIN withdrawal ON withdrawal.certificate = certificate.id
             WHERE certificate.number = $1",
        )
        .bind(number)
        .fetch_optional(&mut *all)
        .await
        .map_err(failed)?;
        let certificate = match known {
            None => return Err(unfit("number", number, "there is no paper of this number")),
            Some((_, Some(_))) => return Err(unfit("number", number, "it is withdrawn already")),
            Some((certificate, None)) => certificate,
        };
        sqlx::query(
            "INSERT INTO withdrawal (certificate, withdrawn_utc_ms, time_zone, role, reason)
             VALUES ($1, $2, $3, $4, $5)",
        )
        .bind(certificate)
        .bind(withdrawal.at_utc_ms)
        .bind(&withdrawal.time_zone)
        .bind(&withdrawal.role)
        .bind(&withdrawal.reason)
        .execute(&mut *all)
        .await
        .map_err(failed)?;
        all.commit().await.map_err(failed)
    }

    /// How a paper was withdrawn; None if it was not.
    pub async fn withdrawal(&self, number: &str) -> Result<Option<Withdrawal>, RegisterError> {
        let failed = |error| sorted(&self.path, "look up a withdrawal", error);
        let row = sqlx::query(
            "SELECT withdrawal.* FROM withdrawal
             JOIN certificate ON certificate.id = withdrawal.certificate WHERE number = $1",
        )
        .bind(number)
        .fetch_optional(&self.readers)
        .await
        .map_err(failed)?;
        let read = |row: SqliteRow| {
            Ok(Withdrawal {
                number: number.into(),
                at_utc_ms: row.try_get("withdrawn_utc_ms")?,
                time_zone: row.try_get("time_zone")?,
                role: row.try_get("role")?,
                reason: row.try_get("reason")?,
            })
        };
        row.map(read).transpose().map_err(failed)
    }
}
