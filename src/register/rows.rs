//! The rows of the register: how a test is written and an entry read back.
//!
//! Speaks SQL and the database crate's errors; what an error means to the operator
//! is decided by the caller. Whoever writes here holds the write lock already.
//! A word in a column that this program does not know is an error, never a guess.

use sqlx::Row as _;
use sqlx::SqliteConnection;
use sqlx::sqlite::SqliteRow;

use crate::register::build::BUILD;
use crate::register::build::Build;
use crate::register::entry::Bench;
use crate::register::entry::Entry;
use crate::register::entry::NewTest;
use crate::register::entry::PaperKind;
use crate::register::entry::Unit;
use crate::register::number;
use crate::verdict::Outcome;

/// The number a test is about to get.
pub(super) struct Paper {
    pub(super) number: String,
    series: String,
    year: i64,
    sequence: i64,
}

impl Paper {
    /// The next free number. Right only under the write lock.
    pub(super) async fn next(
        all: &mut SqliteConnection,
        test: &NewTest,
    ) -> Result<Self, sqlx::Error> {
        let series = test.prefix.series(test.bench);
        let year = number::year_of(test.issued_utc_ms, test.issued_utc_offset_s);
        let sequence = sqlx::query_scalar(
            "SELECT coalesce(max(sequence), 0) + 1 FROM certificate WHERE series = $1 AND year = $2",
        )
        .bind(&series)
        .bind(year)
        .fetch_one(all)
        .await?;
        Ok(Self {
            number: number::written(&series, year, sequence),
            series,
            year,
            sequence,
        })
    }

    pub(super) async fn insert(
        &self,
        all: &mut SqliteConnection,
        test: &NewTest,
        test_id: i64,
        record: &str,
    ) -> Result<(), sqlx::Error> {
        sqlx::query(
            "INSERT INTO certificate
                 (number, series, year, sequence, test, issued_utc_ms, kind, record_json)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8)",
        )
        .bind(&self.number)
        .bind(&self.series)
        .bind(self.year)
        .bind(self.sequence)
        .bind(test_id)
        .bind(test.issued_utc_ms)
        .bind(test.kind.word())
        .bind(record)
        .execute(all)
        .await?;
        Ok(())
    }
}

/// The row of a run, if it has been entered.
pub(super) async fn entry_of_run(
    all: &mut SqliteConnection,
    run_id: &str,
) -> Result<Option<SqliteRow>, sqlx::Error> {
    sqlx::query("SELECT * FROM entry WHERE run_id = $1")
        .bind(run_id)
        .fetch_optional(all)
        .await
}

/// Writes the rows of the unit and the test; returns the row of the test.
pub(super) async fn insert_test(
    all: &mut SqliteConnection,
    test: &NewTest,
) -> Result<i64, sqlx::Error> {
    let by = (format!("run {}", test.run_id), test.issued_utc_ms);
    // A test on the shop's bench brings the description up to date; a practice run leaves a unit
    // that is known as it is.
    let unit = match test.bench {
        Bench::Shop => described_unit(all, &test.unit, by).await?,
        Bench::Practice => known_unit(all, &test.unit, by).await?,
    };
    sqlx::query_scalar(
        "INSERT INTO test (run_id, unit, started_utc_ms, time_zone, outcome, headline,
             archive_file, archive_sha256, software, method_version, practice, job)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11,
                 (SELECT max(job_now.job) FROM job_now
                  WHERE job_now.unit = $2 AND job_now.state = 'open'))
         RETURNING id",
    )
    .bind(&test.run_id)
    .bind(unit)
    .bind(test.started_utc_ms)
    .bind(&test.time_zone)
    .bind(test.outcome.word())
    .bind(&test.headline)
    .bind(&test.archive_file)
    .bind(&test.archive_sha256)
    .bind(&test.software)
    .bind(i64::from(test.method_version))
    .bind(i64::from(test.bench == Bench::Practice))
    .fetch_one(all)
    .await
}

/// The row of a unit that stays described as it is, if it is known.
pub(super) async fn known_unit(
    all: &mut SqliteConnection,
    unit: &Unit,
    by: (String, i64),
) -> Result<i64, sqlx::Error> {
    match unit_by_tag(all, &unit.tag).await? {
        Some((id, _)) => Ok(id),
        None => insert_unit(all, unit, by).await,
    }
}

/// The row of a unit, described as it is now. Of how it is built, what is not said stays as it was.
async fn described_unit(
    all: &mut SqliteConnection,
    unit: &Unit,
    by: (String, i64),
) -> Result<i64, sqlx::Error> {
    let Some((id, known)) = unit_by_tag(all, &unit.tag).await? else {
        return insert_unit(all, unit, by).await;
    };
    let unit = Unit {
        build: unit.build.over(&known.build),
        ..unit.clone()
    };
    if unit == known {
        return Ok(id);
    }
    let sql = format!(
        "UPDATE unit SET {} WHERE id = {id}",
        UNIT_COLUMNS
            .iter()
            .enumerate()
            .map(|(index, column)| format!("{column} = ${}", index + 1))
            .collect::<Vec<_>>()
            .join(", ")
    );
    described(sqlx::query(sqlx::AssertSqlSafe(sql)), &unit, by)
        .execute(all)
        .await?;
    Ok(id)
}

/// All columns of a unit but its row, in the order in which they are bound.
const UNIT_COLUMNS: [&str; 15] = [
    "tag",
    "description",
    "machine",
    "serial",
    "seal",
    "described_by",
    "described_utc_ms",
    BUILD[0],
    BUILD[1],
    BUILD[2],
    BUILD[3],
    BUILD[4],
    BUILD[5],
    BUILD[6],
    BUILD[7],
];

async fn unit_by_tag(
    all: &mut SqliteConnection,
    tag: &str,
) -> Result<Option<(i64, Unit)>, sqlx::Error> {
    let row = sqlx::query("SELECT * FROM unit WHERE tag = $1")
        .bind(tag)
        .fetch_optional(all)
        .await?;
    row.map(|row| Ok((row.try_get("id")?, read_unit(&row, "kind")?)))
        .transpose()
}

async fn insert_unit(
    all: &mut SqliteConnection,
    unit: &Unit,
    by: (String, i64),
) -> Result<i64, sqlx::Error> {
    let places: Vec<String> = (1..=UNIT_COLUMNS.len()).map(|n| format!("${n}")).collect();
    let sql = format!(
        "INSERT INTO unit ({}) VALUES ({}) RETURNING id",
        UNIT_COLUMNS.join(", "),
        places.join(", ")
    );
    let row = described(sqlx::query(sqlx::AssertSqlSafe(sql)), unit, by)
        .fetch_one(all)
        .await?;
    row.try_get("id")
}

type Statement<'a> = sqlx::query::Query<'a, sqlx::Sqlite, sqlx::sqlite::SqliteArguments>;

/// Binds [`UNIT_COLUMNS`].
fn described<'a>(
    query: Statement<'a>,
    unit: &'a Unit,
    (who, at_utc_ms): (String, i64),
) -> Statement<'a> {
    let build = &unit.build;
    query
        .bind(&unit.tag)
        .bind(&unit.description)
        .bind(&unit.machine)
        .bind(&unit.serial)
        .bind(&unit.seal)
        .bind(who)
        .bind(at_utc_ms)
        .bind(build.kind_word())
        .bind(build.bore_um)
        .bind(build.rod_um)
        .bind(build.stroke_um)
        .bind(build.cap_rating_pa)
        .bind(build.rod_rating_pa)
        .bind(&build.ports)
        .bind(&build.holding_valve)
}

/// A unit from a row; its kind stands in the column named.
pub(super) fn read_unit(row: &SqliteRow, kind: &str) -> Result<Unit, sqlx::Error> {
    Ok(Unit {
        tag: row.try_get("tag")?,
        description: row.try_get("description")?,
        machine: row.try_get("machine")?,
        serial: row.try_get("serial")?,
        seal: row.try_get("seal")?,
        build: Build::of_row(row, kind)?,
    })
}

/// An entry from a row of the view `entry`.
pub(super) fn read_entry(row: &SqliteRow) -> Result<Entry, sqlx::Error> {
    Ok(Entry {
        test_id: row.try_get("test_id")?,
        certificate_number: row.try_get("number")?,
        run_id: row.try_get("run_id")?,
        unit: read_unit(row, "build_kind")?,
        started_utc_ms: row.try_get("started_utc_ms")?,
        time_zone: row.try_get("time_zone")?,
        outcome: outcome_in(row)?,
        headline: row.try_get("headline")?,
        archive_file: row.try_get("archive_file")?,
        archive_sha256: row.try_get("archive_sha256")?,
        software: row.try_get("software")?,
        method_version: row.try_get("method_version")?,
        bench: if row.try_get::<i64, _>("practice")? == 0 {
            Bench::Shop
        } else {
            Bench::Practice
        },
        kind: word_in(row, "kind", &KINDS, PaperKind::word)?,
        issued_utc_ms: row.try_get("issued_utc_ms")?,
        job: row.try_get("job")?,
        withdrawn: row.try_get("withdrawn")?,
    })
}

pub(super) const OUTCOMES: [Outcome; 5] = [
    Outcome::Pass,
    Outcome::Fail,
    Outcome::Undecided,
    Outcome::NotValid,
    Outcome::Measured,
];

const KINDS: [PaperKind; 2] = [PaperKind::Certificate, PaperKind::Report];

/// What came out, of a row.
pub(super) fn outcome_in(row: &SqliteRow) -> Result<Outcome, sqlx::Error> {
    word_in(row, "outcome", &OUTCOMES, Outcome::word)
}

/// The value whose word stands in a column.
pub(super) fn word_in<T: Copy>(
    row: &SqliteRow,
    column: &str,
    all: &[T],
    word: impl Fn(T) -> &'static str,
) -> Result<T, sqlx::Error> {
    let found: &str = row.try_get(column)?;
    all.iter()
        .copied()
        .find(|value| word(*value) == found)
        .ok_or_else(|| sqlx::Error::Decode(format!("{column} holds {found:?}").into()))
}
