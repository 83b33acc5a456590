//! A quick look at a register that is too large to be checked whole each time it is opened.
//!
//! Reads both ends of every table and index, where the next rows go, and some certificates spread
//! over all years with test, unit, record and words. A file that was cut off, whose layout or
//! upper pages are spoiled, or whose indexes do not belong to its rows is found; a single page
//! spoiled somewhere inside mostly is not. Its pages are still checked when they are read, and a
//! write that meets one is refused whole. All of it is checked by [`Register::check`], before a
//! copy, and by a look at the signatures.
//!
//! [`Register::check`]: crate::register::Register::check

use crate::register::error::RegisterError;
use crate::register::error::sorted;
use crate::register::search;
use sqlx::Row as _;
use sqlx::SqliteConnection;
use sqlx::sqlite::SqliteRow;
use std::path::Path;

/// Up to this size a file is checked whole when it is opened: it takes up to a fifth of a second.
pub(super) const WHOLE_UP_TO_BYTES: u64 = 64 << 20;

/// Certificates that are looked at, spread evenly.
const N_SAMPLES: i64 = 16;

/// Looks at both ends and at some places in between.
pub(super) async fn quickly(path: &Path, all: &mut SqliteConnection) -> Result<(), RegisterError> {
    let found = look(all).await;
    match found.map_err(|error| sorted(path, "look through it", error))? {
        None => Ok(()),
        Some(finding) => Err(RegisterError::Damaged {
            path: path.to_owned(),
            finding,
        }),
    }
}

async fn look(all: &mut SqliteConnection) -> Result<Option<String>, sqlx::Error> {
    for table in tables(all).await? {
        ends(all, &table, "rowid").await?;
        for columns in indexes(all, &table).await? {
            ends(all, &table, &columns).await?;
        }
    }
    let last: Option<i64> = sqlx::query_scalar("SELECT max(id) FROM certificate")
        .fetch_one(&mut *all)
        .await?;
    let Some(last) = last else { return Ok(None) };
    for part in 1..=N_SAMPLES {
        let from = i64::try_from(i128::from(last) * i128::from(part) / i128::from(N_SAMPLES));
        let from = from.unwrap_or(last);
        let number: String =
            sqlx::query_scalar("SELECT number FROM certificate WHERE id >= $1 ORDER BY id LIMIT 1")
                .bind(from)
                .fetch_one(&mut *all)
                .await?;
        if let Some(finding) = sample(all, &number).await? {
            return Ok(Some(finding));
        }
    }
    Ok(None)
}

async fn tables(all: &mut SqliteConnection) -> Result<Vec<String>, sqlx::Error> {
    sqlx::query_scalar(
        "SELECT name FROM pragma_table_list WHERE type = 'table' AND schema = 'main'",
    )
    .fetch_all(all)
    .await
}

/// The columns of each index of a table, for sorting by it.
async fn indexes(all: &mut SqliteConnection, table: &str) -> Result<Vec<String>, sqlx::Error> {
    sqlx::query_scalar(
        "SELECT (SELECT group_concat(part.name) FROM pragma_index_info(one.name) AS part)
         FROM pragma_index_list($1) AS one",
    )
    .bind(table)
    .fetch_all(all)
    .await
}

/// Reads the first and the last row in an order; what the pages say must make sense.
async fn ends(all: &mut SqliteConnection, table: &str, order: &str) -> Result<(), sqlx::Error> {
    // So asked, an index of the rows that have such a value is taken, too.
    let column = order.split(',').next().unwrap_or(order);
    let first = order.replace(',', " ASC, ");
    let last = order.replace(',', " DESC, ");
    for order in [format!("{first} ASC"), format!("{last} DESC")] {
        let sql = format!(
            "SELECT * FROM \"{table}\" WHERE {column} IS NOT NULL ORDER BY {order} LIMIT 1"
        );
        sqlx::query(sqlx::AssertSqlSafe(sql))
            .fetch_optional(&mut *all)
            .await?;
    }
    Ok(())
}

/// One certificate by its number, with all that belongs to it.
async fn sample(all: &mut SqliteConnection, number: &str) -> Result<Option<String>, sqlx::Error> {
    let row: Option<SqliteRow> = sqlx::query(
        "SELECT entry.test_id, entry.started_utc_ms, json_valid(certificate.record_json) AS is_whole
         FROM entry JOIN certificate ON certificate.number = entry.number
         WHERE entry.number = $1",
    )
    .bind(number)
    .fetch_optional(&mut *all)
    .await?;
    let Some(row) = row else {
        return Ok(Some(format!("{number} has no test, or none of its number")));
    };
    if row.try_get::<i64, _>("is_whole")? != 1 {
        return Ok(Some(format!("the record of {number} is spoiled")));
    }
    let (test, started) = (row.try_get("test_id")?, row.try_get("started_utc_ms")?);
    let is_found = search::is_remembered(all, test, started, number).await?;
    Ok((!is_found).then(|| format!("{number} is not found by its words")))
}
