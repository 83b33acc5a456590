//! Jobs in the register: entering a version of one, and reading them back.

use super::Register;
use super::entry::unfit;
use super::error::RegisterError;
use super::error::sorted;
use super::job::Decision;
use super::job::Finding;
use super::job::Job;
use super::job::JobEntered;
use super::job::JobState;
use super::job::NewJob;
use super::job::PartUsed;
use super::rows::known_unit;
use super::rows::word_in;
use super::search;
use sqlx::Row as _;
use sqlx::SqliteConnection;
use sqlx::SqlitePool;
use sqlx::sqlite::SqliteRow;
use std::collections::BTreeMap;

/// Jobs that are looked at for open ones: what is open is among the last.
const LOOKED_AT: i64 = 10_000;

impl Register {
    /// Enters a job, or another version of one. A sheet that says nothing new is not entered again.
    ///
    /// # Errors
    /// If something is missing or too long, there is no job of that number, it is of another unit, or
    /// it was withdrawn; without a number, if another job of the unit is still open.
    pub async fn enter_job(&self, job: &NewJob) -> Result<JobEntered, RegisterError> {
        let doing = "enter the job";
        let mut all = self.begin(doing).await?;
        let entered = self.enter_job_in(&mut all, job).await?;
        let done = all.commit().await;
        done.map_err(|error| sorted(&self.path, doing, error))?;
        Ok(entered)
    }

    /// Writes a version of a job under a lock that is held.
    pub(super) async fn enter_job_in(
        &self,
        all: &mut SqliteConnection,
        job: &NewJob,
    ) -> Result<JobEntered, RegisterError> {
        job.check()?;
        let failed = |error| sorted(&self.path, "enter the job", error);
        let (number, before) = match job.number {
            None => match open_job(all, &job.unit.tag).await.map_err(failed)? {
                Some((number, version, sheet)) if sheet == job.sheet => {
                    return Ok(JobEntered {
                        number,
                        version,
                        unchanged: true,
                    });
                }
                Some((number, ..)) => {
                    return Err(RegisterError::JobOpen {
                        tag: job.unit.tag.clone(),
                        number,
                    });
                }
                None => (open(all, job).await.map_err(failed)?, None),
            },
            Some(number) => (number, Some(last(all, number).await.map_err(failed)?)),
        };
        if let Some(before) = &before {
            let wrong = |wanted| unfit("job number", &number.to_string(), wanted);
            let Some(before) = before else {
                return Err(wrong(
                    "there is no job of this number; leave it away to open one",
                ));
            };
            if before.tag != job.unit.tag {
                return Err(wrong("this job is of another unit"));
            }
            if before.state == JobState::Withdrawn.word() {
                return Err(wrong(
                    "this job was withdrawn; leave the number away to open another",
                ));
            }
            if before.sheet == job.sheet && before.state == job.state.word() {
                return Ok(JobEntered {
                    number,
                    version: before.version,
                    unchanged: true,
                });
            }
        }
        let version = before.flatten().map_or(0, |before| before.version) + 1;
        insert_version(all, job, number, version)
            .await
            .map_err(failed)?;
        Ok(JobEntered {
            number,
            version,
            unchanged: false,
        })
    }

    /// All versions of a job, the last first; empty if there is none of this number.
    pub async fn job(&self, number: i64) -> Result<Vec<Job>, RegisterError> {
        let versions =
            sqlx::query_scalar("SELECT id FROM job_version WHERE job = $1 ORDER BY version DESC")
                .bind(number)
                .fetch_all(&self.readers)
                .await
                .map_err(|error| sorted(&self.path, "read a job", error))?;
        self.job_versions(&versions).await
    }

    /// Jobs of a unit as they stand now, the last that came in first.
    pub async fn jobs_of_unit(&self, tag: &str) -> Result<Vec<Job>, RegisterError> {
        let versions = sqlx::query_scalar(
            "SELECT job_now.id FROM job_now JOIN unit ON unit.id = job_now.unit
             WHERE unit.tag = $1 ORDER BY job_now.came_in DESC, job_now.job DESC",
        )
        .bind(tag)
        .fetch_all(&self.readers)
        .await
        .map_err(|error| sorted(&self.path, "list the jobs of a unit", error))?;
        self.job_versions(&versions).await
    }

    /// Jobs as they stand now in the order of their numbers, at most 1000 behind a number.
    pub async fn jobs_after(&self, number: i64) -> Result<Vec<Job>, RegisterError> {
        let versions =
            sqlx::query_scalar("SELECT id FROM job_now WHERE job > $1 ORDER BY job LIMIT $2")
                .bind(number)
                .bind(super::LONGEST_LIST)
                .fetch_all(&self.readers)
                .await
                .map_err(|error| sorted(&self.path, "list the jobs", error))?;
        self.job_versions(&versions).await
    }

    /// Open jobs, the first that came in first, at most `n`; and how many there are. Of a register
    /// with more than 10 000 jobs only the last so many are looked at.
    pub async fn open_jobs(&self, n: u32) -> Result<(Vec<Job>, i64), RegisterError> {
        let rows: Vec<i64> = sqlx::query_scalar(
            "SELECT id FROM job_now
             WHERE state = 'open' AND job > (SELECT coalesce(max(id), 0) - $1 FROM job)
             ORDER BY came_in, job",
        )
        .bind(LOOKED_AT)
        .fetch_all(&self.readers)
        .await
        .map_err(|error| sorted(&self.path, "list the open jobs", error))?;
        let shown = &rows[..rows.len().min(n as usize)];
        Ok((self.job_versions(shown).await?, rows.len() as i64))
    }

    /// Versions of jobs by their rows, in that order.
    pub(super) async fn job_versions(&self, rows: &[i64]) -> Result<Vec<Job>, RegisterError> {
        read(&self.readers, rows)
            .await
            .map_err(|error| match error {
                sqlx::Error::Decode(found) => RegisterError::Damaged {
                    path: self.path.clone(),
                    finding: found.to_string(),
                },
                other => sorted(&self.path, "read a job", other),
            })
    }
}

/// What the last version of a job said.
struct Last {
    version: i64,
    tag: String,
    state: String,
    sheet: String,
}

async fn last(all: &mut SqliteConnection, number: i64) -> Result<Option<Last>, sqlx::Error> {
    let row = sqlx::query(
        "SELECT job_now.version, unit.tag, job_now.state, job_now.sheet
         FROM job_now JOIN unit ON unit.id = job_now.unit WHERE job_now.job = $1",
    )
    .bind(number)
    .fetch_optional(all)
    .await?;
    row.map(|row| {
        Ok(Last {
            version: row.try_get("version")?,
            tag: row.try_get("tag")?,
            state: row.try_get("state")?,
            sheet: row.try_get("sheet")?,
        })
    })
    .transpose()
}

/// The job of a unit that is open: its number, version and sheet.
async fn open_job(
    all: &mut SqliteConnection,
    tag: &str,
) -> Result<Option<(i64, i64, String)>, sqlx::Error> {
    sqlx::query_as(
        "SELECT job_now.job, job_now.version, job_now.sheet
         FROM job_now JOIN unit ON unit.id = job_now.unit
         WHERE unit.tag = $1 AND job_now.state = 'open' ORDER BY job_now.job DESC LIMIT 1",
    )
    .bind(tag)
    .fetch_optional(all)
    .await
}

async fn open(all: &mut SqliteConnection, job: &NewJob) -> Result<i64, sqlx::Error> {
    let by = (job.role.clone(), job.entered_utc_ms);
    let unit = known_unit(all, &job.unit, by).await?;
    sqlx::query_scalar("INSERT INTO job (unit) VALUES ($1) RETURNING id")
        .bind(unit)
        .fetch_one(all)
        .await
}

async fn insert_version(
    all: &mut SqliteConnection,
    job: &NewJob,
    number: i64,
    version: i64,
) -> Result<(), sqlx::Error> {
    let row: i64 = sqlx::query_scalar(
        "INSERT INTO job_version (job, version, entered_utc_ms, time_zone, role, state, reason,
             came_in, went_out, symptom, decision, sheet)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12) RETURNING id",
    )
    .bind(number)
    .bind(version)
    .bind(job.entered_utc_ms)
    .bind(&job.time_zone)
    .bind(&job.role)
    .bind(job.state.word())
    .bind(&job.reason)
    .bind(&job.came_in)
    .bind(&job.went_out)
    .bind(&job.symptom)
    .bind(job.decision.map_or("", Decision::word))
    .bind(&job.sheet)
    .fetch_one(&mut *all)
    .await?;
    for finding in &job.findings {
        sqlx::query(
            "INSERT INTO finding (job_version, part, condition, structural, measured_m, limit_m)
             VALUES ($1, $2, $3, $4, $5, $6)",
        )
        .bind(row)
        .bind(&finding.part)
        .bind(&finding.condition)
        .bind(i64::from(finding.structural))
        .bind(finding.measured_m)
        .bind(finding.limit_m)
        .execute(&mut *all)
        .await?;
    }
    for part in &job.parts {
        sqlx::query(
            "INSERT INTO part_used (job_version, part, count, price_hundredths, from_kit)
             VALUES ($1, $2, $3, $4, $5)",
        )
        .bind(row)
        .bind(&part.part)
        .bind(i64::from(part.count))
        .bind(i64::from(part.price_hundredths))
        .bind(i64::from(part.from_kit))
        .execute(&mut *all)
        .await?;
    }
    search::remember_job(all, job, row).await
}

/// Three questions for all of them: one for each of a hundred jobs would take as long as people
/// notice.
async fn read(all: &SqlitePool, rows: &[i64]) -> Result<Vec<Job>, sqlx::Error> {
    let list = format!("{rows:?}");
    let of_list = async |sql: &'static str| sqlx::query(sql).bind(&list).fetch_all(all).await;
    let versions = of_list(
        "SELECT job_version.*, unit.tag FROM job_version
         JOIN job ON job.id = job_version.job JOIN unit ON unit.id = job.unit
         WHERE job_version.id IN (SELECT value FROM json_each($1))",
    )
    .await?;
    let mut jobs = BTreeMap::new();
    for row in &versions {
        jobs.insert(row.try_get::<i64, _>("id")?, version(row)?);
    }
    let findings = of_list(
        "SELECT * FROM finding
         WHERE job_version IN (SELECT value FROM json_each($1)) ORDER BY id",
    )
    .await?;
    for row in &findings {
        if let Some(job) = jobs.get_mut(&row.try_get::<i64, _>("job_version")?) {
            job.findings.push(finding(row)?);
        }
    }
    let parts = of_list(
        "SELECT * FROM part_used
         WHERE job_version IN (SELECT value FROM json_each($1)) ORDER BY id",
    )
    .await?;
    for row in &parts {
        if let Some(job) = jobs.get_mut(&row.try_get::<i64, _>("job_version")?) {
            job.parts.push(part(row)?);
        }
    }
    Ok(rows.iter().filter_map(|row| jobs.remove(row)).collect())
}

/// A version without findings and parts.
fn version(row: &SqliteRow) -> Result<Job, sqlx::Error> {
    let decision = match row.try_get::<&str, _>("decision")? {
        "" => None,
        _ => Some(word_in(row, "decision", &Decision::ALL, Decision::word)?),
    };
    Ok(Job {
        number: row.try_get("job")?,
        version: row.try_get("version")?,
        tag: row.try_get("tag")?,
        entered_utc_ms: row.try_get("entered_utc_ms")?,
        time_zone: row.try_get("time_zone")?,
        role: row.try_get("role")?,
        state: word_in(row, "state", &JobState::ALL, JobState::word)?,
        reason: row.try_get("reason")?,
        came_in: row.try_get("came_in")?,
        went_out: row.try_get("went_out")?,
        symptom: row.try_get("symptom")?,
        decision,
        findings: Vec::new(),
        parts: Vec::new(),
        sheet: row.try_get("sheet")?,
    })
}

fn finding(row: &SqliteRow) -> Result<Finding, sqlx::Error> {
    Ok(Finding {
        part: row.try_get("part")?,
        condition: row.try_get("condition")?,
        structural: row.try_get::<i64, _>("structural")? == 1,
        measured_m: row.try_get("measured_m")?,
        limit_m: row.try_get("limit_m")?,
    })
}

fn part(row: &SqliteRow) -> Result<PartUsed, sqlx::Error> {
    Ok(PartUsed {
        part: row.try_get("part")?,
        count: row.try_get("count")?,
        price_hundredths: row.try_get("price_hundredths")?,
        from_kit: row.try_get::<i64, _>("from_kit")? == 1,
    })
}
