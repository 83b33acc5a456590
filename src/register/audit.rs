//! A look at a whole register: each row against its statement, and the chain of them.
//!
//! Nothing is written, not even a new layout; a file that no program has open is read as
//! it lies there. What is found is told in sentences that name the row.
//!
//! What a chain cannot show by itself: that its last rows were cut off. For that its head,
//! number and hash of the last statement, must be known from elsewhere.

use std::path::Path;
use std::path::PathBuf;

use sqlx::Connection as _;
use sqlx::Row as _;
use sqlx::SqliteConnection;
use sqlx::sqlite::SqliteRow;

use crate::register::BUSY;
use crate::register::error::RegisterError;
use crate::register::error::sorted;
use crate::register::fields::Fields;
use crate::register::file;
use crate::signature::Digest;
use crate::signature::PublicKey;

mod chain;

use chain::Chain;

/// Rows that are read at a time: their records are long.
const PORTION: i64 = 100;

/// A link of the chain: a certificate and the hash of its signed statement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// Its number.
    pub number: String,
    /// Hash of statement and signature.
    pub digest: Digest,
}

/// The file of a recording that a row names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Audited {
    /// Number of the certificate.
    pub number: String,
    /// Name of the file.
    pub archive_file: String,
    /// Its hash, 64 hexadecimal digits.
    pub archive_sha256: String,
}

/// What a look at a register found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Audit {
    /// What is not as it was signed, in sentences.
    pub differs: Vec<String>,
    /// Numbers from before there were signatures.
    pub not_signed: Vec<String>,
    /// All signed certificates in the order of the chain.
    pub chain: Vec<Head>,
    /// Keys of all genuine statements.
    pub keys: Vec<PublicKey>,
    /// The files that the rows name.
    pub archives: Vec<Audited>,
    /// Papers that no longer count: number and reason.
    pub withdrawn: Vec<(String, String)>,
}

/// One certificate with all that belongs to it, as it lies in the file.
struct Row {
    id: i64,
    number: String,
    series: String,
    year: i64,
    sequence: i64,
    record: String,
    archive: Option<(String, String)>,
    fields: Fields,
    statement: Option<Kept>,
}

/// What a file of its layout has.
#[derive(Clone, Copy)]
struct There {
    has_statements: bool,
    has_build: bool,
}

/// A statement as it lies in the file.
struct Kept {
    row_fields: String,
    text: String,
    signature: String,
}

/// Looks at a register.
///
/// # Errors
/// If the file is none, is damaged as a database, or cannot be read.
pub async fn audit(path: &Path) -> Result<Audit, RegisterError> {
    // Without a log beside it no program has the file open, and it can be read as it is, also
    // where nothing may be written. One that was opened meanwhile is read again.
    let log = PathBuf::from(format!("{}-wal", path.display()));
    if !log.exists() {
        let found = audit_with(path, true).await;
        if !log.exists() {
            return found;
        }
    }
    audit_with(path, false).await
}

async fn audit_with(path: &Path, is_at_rest: bool) -> Result<Audit, RegisterError> {
    file::check_magic(path)?;
    let options = file::options(path, BUSY)
        .read_only(true)
        .immutable(is_at_rest);
    let mut connection = SqliteConnection::connect_with(&options)
        .await
        .map_err(|error| sorted(path, "open", error))?;
    let layout = file::check_ours(path, &mut connection).await?;
    file::check_whole(path, &mut connection).await?;
    let found = all_rows(&mut connection, layout).await;
    let found = found.map_err(|error| sorted(path, "look through it", error));
    connection
        .close()
        .await
        .map_err(|error| sorted(path, "close", error))?;
    found
}

async fn all_rows(all: &mut SqliteConnection, layout: i64) -> Result<Audit, sqlx::Error> {
    let names: Vec<String> = sqlx::query_scalar("SELECT name FROM sqlite_schema")
        .fetch_all(&mut *all)
        .await?;
    let is_there = |name: &&str| names.iter().any(|found| found == name);
    let has_statements = is_there(&"statement");
    let mut chain = Chain::default();
    if has_statements {
        // What keeps rows as they are is all there, or taken away. A number of the layout that was
        // put back hides none: where there are statements there were four layouts, and the fifth
        // has a table of its own.
        let least = if is_there(&"judged_again") { 5 } else { 4 };
        let layout = layout.max(least);
        for guard in file::guards(layout).filter(|guard| !is_there(guard)) {
            chain.differs(format!("the guard `{guard}` of the tables is gone"));
        }
        lost(all, &mut chain).await?;
    }
    let has_build =
        sqlx::query_scalar("SELECT count(*) FROM pragma_table_info('unit') WHERE name = 'bore_um'")
            .fetch_one(&mut *all)
            .await
            .map(|n: i64| n > 0)?;
    let there = There {
        has_statements,
        has_build,
    };
    let mut after = i64::MIN;
    loop {
        let rows = portion(all, there, after).await?;
        let Some(last) = rows.last() else {
            let mut audit = chain.finish();
            if has_statements {
                audit.withdrawn = withdrawn(all).await?;
            }
            return Ok(audit);
        };
        after = last.id;
        rows.into_iter().for_each(|row| chain.take(row));
    }
}

async fn withdrawn(all: &mut SqliteConnection) -> Result<Vec<(String, String)>, sqlx::Error> {
    sqlx::query_as(
        "SELECT certificate.number, withdrawal.reason FROM withdrawal
         JOIN certificate ON certificate.id = withdrawal.certificate ORDER BY certificate.id",
    )
    .fetch_all(all)
    .await
}

/// Statements and tests whose certificate is not there any more.
async fn lost(all: &mut SqliteConnection, chain: &mut Chain) -> Result<(), sqlx::Error> {
    let texts: Vec<String> = sqlx::query_scalar(
        "SELECT text FROM statement WHERE certificate NOT IN (SELECT id FROM certificate)
         ORDER BY certificate",
    )
    .fetch_all(&mut *all)
    .await?;
    for text in texts {
        let number = text.lines().find_map(|line| line.strip_prefix("number: "));
        let number = number.unwrap_or("a certificate");
        chain.differs(format!(
            "{number}: its row was taken away, its statement is left"
        ));
    }
    let runs: Vec<String> = sqlx::query_scalar(
        "SELECT run_id FROM test WHERE id NOT IN (SELECT test FROM certificate) ORDER BY id",
    )
    .fetch_all(all)
    .await?;
    for run in runs {
        chain.differs(format!("run {run}: the test has no certificate"));
    }
    Ok(())
}

async fn portion(
    all: &mut SqliteConnection,
    there: There,
    after: i64,
) -> Result<Vec<Row>, sqlx::Error> {
    let (fields, columns, join) = match there.has_statements {
        true => (
            Fields::selected(there.has_build),
            "statement.row_fields, statement.text, statement.signature",
            "LEFT JOIN statement ON statement.certificate = certificate.id",
        ),
        false => (
            Fields::none_selected(),
            "NULL AS row_fields, NULL AS text, NULL AS signature",
            "",
        ),
    };
    let sql = format!(
        "SELECT {fields}, certificate.id AS id, certificate.number AS number, series, year, sequence,
             record_json, test.archive_file AS file, test.archive_sha256 AS hash, {columns}
         FROM certificate LEFT JOIN test ON test.id = certificate.test
         LEFT JOIN unit ON unit.id = test.unit {join}
         WHERE certificate.id > $1 ORDER BY certificate.id LIMIT $2"
    );
    let rows = sqlx::query(sqlx::AssertSqlSafe(sql))
        .bind(after)
        .bind(PORTION)
        .fetch_all(all)
        .await?;
    rows.iter().map(read).collect()
}

fn read(row: &SqliteRow) -> Result<Row, sqlx::Error> {
    let file: Option<String> = row.try_get("file")?;
    let hash: Option<String> = row.try_get("hash")?;
    let text: Option<String> = row.try_get("text")?;
    let statement = match text {
        None => None,
        Some(text) => Some(Kept {
            row_fields: row.try_get("row_fields")?,
            signature: row.try_get("signature")?,
            text,
        }),
    };
    Ok(Row {
        id: row.try_get("id")?,
        number: row.try_get("number")?,
        series: row.try_get("series")?,
        year: row.try_get("year")?,
        sequence: row.try_get("sequence")?,
        record: row.try_get("record_json")?,
        archive: file.zip(hash),
        fields: Fields::of_row(row)?,
        statement,
    })
}
