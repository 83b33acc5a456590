//! Files that belong to a unit or to one of its jobs: photos, a drawing, a delivery note.
//!
//! The register keeps what a file is of, and its hash; the file lies beside it.

use super::Register;
use super::entry::LONGEST_TEXT;
use super::entry::unfit;
use super::error::RegisterError;
use super::error::sorted;
use sqlx::Row as _;
use sqlx::sqlite::SqliteRow;

/// A file of a unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Attachment {
    /// Tag of the unit.
    pub tag: String,
    /// Number of the job it belongs to.
    pub job: Option<i64>,
    /// SHA-256 of the file, 64 lower-case hexadecimal digits.
    pub sha256: String,
    /// How its name ends, "jpg"; ASCII letters and digits, or nothing.
    pub ending: String,
    /// Size, bytes.
    pub size_bytes: i64,
    /// Its name where it came from.
    pub name: String,
    /// What it shows, in words.
    pub about: String,
    /// When it was added, UTC ms since 1970.
    pub added_utc_ms: i64,
    /// Time zone of the shop, as text.
    pub time_zone: String,
    /// Who added it, by role.
    pub role: String,
}

impl Attachment {
    /// Name of the file beside the register.
    pub fn file_name(&self) -> String {
        match self.ending.is_empty() {
            true => self.sha256.clone(),
            false => format!("{}.{}", self.sha256, self.ending),
        }
    }

    fn check(&self) -> Result<(), RegisterError> {
        for (field, text) in [("role", &self.role), ("name", &self.name)] {
            if text.trim().is_empty() {
                return Err(unfit(field, text, "it must not be empty"));
            }
        }
        for (field, text) in [
            ("role", &self.role),
            ("name", &self.name),
            ("about", &self.about),
        ] {
            if text.len() > LONGEST_TEXT {
                return Err(unfit(field, text, "shorten it to 4000 bytes"));
            }
        }
        let is_plain = self.ending.bytes().all(|b| b.is_ascii_alphanumeric());
        if !is_plain || self.ending.len() > 8 {
            return Err(unfit(
                "file name",
                &self.name,
                "let it end in up to 8 letters or digits",
            ));
        }
        Ok(())
    }
}

impl Register {
    /// Adds a file to a unit; the same file twice is one. Returns whether it is new.
    ///
    /// # Errors
    /// If the unit, or a job of that number of it, is not known, or a text is missing or too long.
    pub async fn attach(&self, attachment: &Attachment) -> Result<bool, RegisterError> {
        attachment.check()?;
        let failed = |error| sorted(&self.path, "attach a file", error);
        let mut all = self
            .writer
            .begin_with("BEGIN IMMEDIATE")
            .await
            .map_err(failed)?;
        let unit: Option<i64> = sqlx::query_scalar("SELECT id FROM unit WHERE tag = $1")
            .bind(&attachment.tag)
            .fetch_optional(&mut *all)
            .await
            .map_err(failed)?;
        let Some(unit) = unit else {
            return Err(unfit(
                "unit tag",
                &attachment.tag,
                "there is no unit of this tag; test it or enter a job first",
            ));
        };
        if let Some(job) = attachment.job {
            let known: Option<i64> =
                sqlx::query_scalar("SELECT id FROM job WHERE id = $1 AND unit = $2")
                    .bind(job)
                    .bind(unit)
                    .fetch_optional(&mut *all)
                    .await
                    .map_err(failed)?;
            if known.is_none() {
                let wanted = "the unit has no job of this number";
                return Err(unfit("job number", &job.to_string(), wanted));
            }
        }
        let written = sqlx::query(
            "INSERT INTO attachment (unit, job, sha256, ending, size_bytes, name, about,
                 added_utc_ms, time_zone, role)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
             ON CONFLICT (unit, sha256) DO NOTHING",
        )
        .bind(unit)
        .bind(attachment.job)
        .bind(&attachment.sha256)
        .bind(&attachment.ending)
        .bind(attachment.size_bytes)
        .bind(&attachment.name)
        .bind(&attachment.about)
        .bind(attachment.added_utc_ms)
        .bind(&attachment.time_zone)
        .bind(&attachment.role)
        .execute(&mut *all)
        .await
        .map_err(failed)?;
        all.commit().await.map_err(failed)?;
        Ok(written.rows_affected() == 1)
    }

    /// Files of a unit, the last added first.
    pub async fn attachments_of_unit(&self, tag: &str) -> Result<Vec<Attachment>, RegisterError> {
        let failed = |error| sorted(&self.path, "list the files of a unit", error);
        let rows = sqlx::query(
            "SELECT attachment.*, unit.tag FROM attachment JOIN unit ON unit.id = attachment.unit
             WHERE unit.tag = $1 ORDER BY attachment.id DESC",
        )
        .bind(tag)
        .fetch_all(&self.readers)
        .await
        .map_err(failed)?;
        let read = rows.iter().map(read).collect::<Result<_, _>>();
        read.map_err(failed)
    }
}

fn read(row: &SqliteRow) -> Result<Attachment, sqlx::Error> {
    Ok(Attachment {
        tag: row.try_get("tag")?,
        job: row.try_get("job")?,
        sha256: row.try_get("sha256")?,
        ending: row.try_get("ending")?,
        size_bytes: row.try_get("size_bytes")?,
        name: row.try_get("name")?,
        about: row.try_get("about")?,
        added_utc_ms: row.try_get("added_utc_ms")?,
        time_zone: row.try_get("time_zone")?,
        role: row.try_get("role")?,
    })
}
