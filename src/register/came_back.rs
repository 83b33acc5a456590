//! Rebuilds, and which of them came back.

use super::Register;
use super::error::RegisterError;
use super::error::sorted;
use sqlx::Row as _;
use sqlx::sqlite::SqliteRow;

/// A rebuild that went out, and the next visit of the same unit, if there was one. A visit after which
/// nothing was done (a yearly check that found nothing) is none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CameBack {
    /// Tag of the unit.
    pub tag: String,
    /// Its seal, as last described.
    pub seal: String,
    /// Number of the job that rebuilt it.
    pub job: i64,
    /// Day it went out.
    pub went_out: String,
    /// The next job: its number, the day it came in, why, and how many days later.
    pub next: Option<(i64, String, String, i64)>,
}

impl Register {
    /// All rebuilds that went out since a day ("2026-01-01", or "" for all), the first first.
    pub async fn rebuilds(&self, since_day: &str) -> Result<Vec<CameBack>, RegisterError> {
        let failed = |error| sorted(&self.path, "look for rebuilds that came back", error);
        let rows = sqlx::query(
            "SELECT unit.tag, unit.seal, done.job, done.went_out,
                 next.job AS next_job, next.came_in, next.symptom,
                 CAST(julianday(next.came_in) - julianday(done.went_out) AS INTEGER) AS days
             FROM job_now AS done
             JOIN unit ON unit.id = done.unit
             LEFT JOIN job_now AS next ON next.job =
                 (SELECT later.job FROM job_now AS later
                  WHERE later.unit = done.unit AND later.state <> 'withdrawn'
                    AND later.job <> done.job AND later.came_in >= done.went_out
                    AND later.decision <> 'leave'
                  ORDER BY later.came_in, later.job LIMIT 1)
             WHERE done.state = 'done' AND done.decision = 'rebuild' AND done.went_out >= $1
             ORDER BY done.went_out, done.job",
        )
        .bind(since_day)
        .fetch_all(&self.readers)
        .await
        .map_err(failed)?;
        let read = rows.iter().map(read).collect::<Result<_, _>>();
        read.map_err(failed)
    }
}

fn read(row: &SqliteRow) -> Result<CameBack, sqlx::Error> {
    let next: Option<i64> = row.try_get("next_job")?;
    let next = match next {
        Some(job) => Some((
            job,
            row.try_get("came_in")?,
            row.try_get("symptom")?,
            row.try_get("days")?,
        )),
        None => None,
    };
    Ok(CameBack {
        tag: row.try_get("tag")?,
        seal: row.try_get("seal")?,
        job: row.try_get("job")?,
        went_out: row.try_get("went_out")?,
        next,
    })
}
