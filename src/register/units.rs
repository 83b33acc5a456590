//! Lists of units: all, those of a machine, those with a kind of seal; and units told of by hand.

use super::LONGEST_LIST;
use super::Register;
use super::entry::LONGEST_TEXT;
use super::entry::Unit;
use super::entry::unfit;
use super::error::RegisterError;
use super::error::sorted;
use super::rows::OUTCOMES;
use super::rows::known_unit;
use super::rows::read_unit;
use super::rows::word_in;
use crate::verdict::Outcome;
use sqlx::Row as _;
use sqlx::sqlite::SqliteRow;
use std::collections::BTreeMap;

/// Which units.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitsOf<'a> {
    /// All.
    Shop,
    /// The one of this tag.
    Tag(&'a str),
    /// Those of a machine, as it is written.
    Machine(&'a str),
    /// Those with a seal, as it is written.
    Seal(&'a str),
}

/// A unit as it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitNow {
    /// As last described.
    pub unit: Unit,
    /// How often it was tested.
    pub n_tests: i64,
    /// How many jobs it had, without withdrawn ones.
    pub n_jobs: i64,
    /// Its last test: start (UTC ms since 1970), number and outcome.
    pub last: Option<(i64, String, Outcome)>,
    /// Number of its open job.
    pub open_job: Option<i64>,
}

impl Register {
    /// Units in the order of their tags, at most 1000 behind `after`.
    pub async fn units(&self, of: UnitsOf<'_>, after: &str) -> Result<Vec<UnitNow>, RegisterError> {
        let failed = |error| sorted(&self.path, "list units", error);
        let (is, wanted) = match of {
            UnitsOf::Shop => ("$1 = ''", ""),
            UnitsOf::Tag(tag) => ("unit.tag = $1", tag),
            UnitsOf::Machine(machine) => ("unit.machine = $1", machine),
            UnitsOf::Seal(seal) => ("unit.seal = $1", seal),
        };
        let sql = format!(
            "SELECT unit.*, last.started_utc_ms, last.number, last.outcome,
                 (SELECT count(*) FROM test WHERE test.unit = unit.id) AS n_tests,
                 (SELECT count(*) FROM job_now
                  WHERE job_now.unit = unit.id AND job_now.state <> 'withdrawn') AS n_jobs,
                 (SELECT max(job_now.job) FROM job_now
                  WHERE job_now.unit = unit.id AND job_now.state = 'open') AS open_job
             FROM unit LEFT JOIN entry AS last ON last.test_id =
                 (SELECT test.id FROM test WHERE test.unit = unit.id
                  ORDER BY test.started_utc_ms DESC, test.id DESC LIMIT 1)
             WHERE {is} AND unit.tag > $2 ORDER BY unit.tag LIMIT $3"
        );
        let rows = sqlx::query(sqlx::AssertSqlSafe(sql))
            .bind(wanted)
            .bind(after)
            .bind(LONGEST_LIST)
            .fetch_all(&self.readers)
            .await
            .map_err(failed)?;
        let read = rows.iter().map(read).collect::<Result<_, _>>();
        read.map_err(failed)
    }

    /// The records behind the papers of a unit: row of the test and JSON, for the tests that
    /// [`Register::tests_of_unit`] lists.
    pub async fn records_of_unit(&self, tag: &str) -> Result<BTreeMap<i64, String>, RegisterError> {
        let rows: Result<Vec<(i64, String)>, _> = sqlx::query_as(
            "SELECT test.id, certificate.record_json FROM unit
             JOIN test ON test.unit = unit.id JOIN certificate ON certificate.test = test.id
             WHERE unit.tag = $1 ORDER BY test.started_utc_ms DESC, test.id DESC LIMIT $2",
        )
        .bind(tag)
        .bind(LONGEST_LIST)
        .fetch_all(&self.readers)
        .await;
        let rows = rows.map_err(|error| sorted(&self.path, "read the records of a unit", error))?;
        Ok(rows.into_iter().collect())
    }

    /// Enters a unit that somebody tells of. One that is known stays as its last test described it;
    /// returns how it stands then.
    ///
    /// # Errors
    /// If the tag is empty, or a text too long.
    pub async fn enter_unit(
        &self,
        unit: &Unit,
        role: &str,
        at_utc_ms: i64,
    ) -> Result<Unit, RegisterError> {
        if unit.tag.trim().is_empty() {
            return Err(unfit("unit tag", &unit.tag, "it must not be empty"));
        }
        for (field, text) in unit.texts() {
            if text.len() > LONGEST_TEXT {
                let start: String = text.chars().take(40).collect();
                return Err(unfit(field, &start, "shorten it to 4000 bytes"));
            }
        }
        let failed = |error| sorted(&self.path, "enter a unit", error);
        let mut all = self
            .writer
            .begin_with("BEGIN IMMEDIATE")
            .await
            .map_err(failed)?;
        let row = known_unit(&mut all, unit, (role.to_owned(), at_utc_ms))
            .await
            .map_err(failed)?;
        let now = sqlx::query("SELECT * FROM unit WHERE id = $1")
            .bind(row)
            .fetch_one(&mut *all)
            .await
            .and_then(|row| read_unit(&row, "kind"))
            .map_err(failed)?;
        all.commit().await.map_err(failed)?;
        Ok(now)
    }
}

fn read(row: &SqliteRow) -> Result<UnitNow, sqlx::Error> {
    let started: Option<i64> = row.try_get("started_utc_ms")?;
    let last = match started {
        Some(started) => Some((
            started,
            row.try_get("number")?,
            word_in(row, "outcome", &OUTCOMES, Outcome::word)?,
        )),
        None => None,
    };
    Ok(UnitNow {
        unit: read_unit(row, "kind")?,
        n_tests: row.try_get("n_tests")?,
        n_jobs: row.try_get("n_jobs")?,
        last,
        open_job: row.try_get("open_job")?,
    })
}
