//! Opening the file of the register: what it is, whether it is whole, and its layout.
//!
//! Nothing is written before the file is known to be ours, not newer than this program, and
//! whole: all of a small one, and of one that gets a new layout; a large one is looked at
//! quickly (`look`). The layout is brought up to date by our own ordered list of
//! SQL files: the library's migrator takes no lock on SQLite, so that two programs
//! starting together would both migrate, and keeps its version in a table, which a
//! program cannot read before it trusts the file. The version is in the file's
//! header (`user_version`), and each step is one immediate transaction.

use std::io::Read as _;
use std::path::Path;
use std::time::Duration;

use sqlx::Connection as _;
use sqlx::SqliteConnection;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::sqlite::SqliteSynchronous;

use crate::register::error::RegisterError;
use crate::register::error::sorted;
use crate::register::look;
use crate::register::volume;

/// Marks a database file as a register; "stro" in ASCII.
const APPLICATION_ID: i64 = 0x7374_726f;

/// First bytes of every SQLite file (SQLite documentation, "Database File Format").
const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// The layouts in order; each file ends by setting `user_version` to its place.
pub(super) const LAYOUTS: &[&str] = &[
    include_str!("migrations/0001_units_tests_certificates.sql"),
    include_str!("migrations/0002_jobs_and_words.sql"),
    include_str!("migrations/0003_statements.sql"),
    include_str!("migrations/0004_build_of_units.sql"),
    include_str!("migrations/0005_judged_again.sql"),
];

/// Names of the triggers that keep rows as they are, in the layouts up to one.
pub(super) fn guards(layout: i64) -> impl Iterator<Item = &'static str> {
    let n_layouts = usize::try_from(layout).unwrap_or(0);
    let layouts = LAYOUTS.iter().take(n_layouts);
    let lines = layouts.flat_map(|layout| layout.lines());
    lines.filter_map(|line| line.strip_prefix("CREATE TRIGGER ")?.split(' ').next())
}

/// Newest layout version this program knows.
const NEWEST_LAYOUT: i64 = LAYOUTS.len() as i64;

/// How often the change to write-ahead logging is tried, 50 ms apart. SQLite does
/// not wait by itself there when another program opens the same new file.
const N_LOG_TRIES: u32 = 100;

/// How every connection to the file is made.
pub(super) fn options(path: &Path, busy: Duration) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(path)
        .foreign_keys(true)
        .busy_timeout(busy)
        .synchronous(SqliteSynchronous::Full)
}

/// Checks the file, makes it if there is none, and brings its layout up to date. One of more
/// bytes than named is only looked at quickly.
pub(super) async fn prepare(
    path: &Path,
    busy: Duration,
    whole_up_to_bytes: u64,
) -> Result<(), RegisterError> {
    check_place(path)?;
    check_magic(path)?;
    let mut connection =
        SqliteConnection::connect_with(&options(path, busy).create_if_missing(true))
            .await
            .map_err(|error| sorted(path, "open", error))?;
    let layout = check_ours(path, &mut connection).await?;
    let is_small = std::fs::metadata(path).is_ok_and(|file| file.len() <= whole_up_to_bytes);
    match is_small || layout < NEWEST_LAYOUT {
        true => check_whole(path, &mut connection).await?,
        false => look::quickly(path, &mut connection).await?,
    }
    log_ahead(path, &mut connection).await?;
    update_layout(path, &mut connection).await?;
    connection
        .close()
        .await
        .map_err(|error| sorted(path, "close", error))
}

fn check_place(path: &Path) -> Result<(), RegisterError> {
    let folder = match path.parent() {
        Some(parent) if parent.as_os_str().is_empty() => Path::new("."),
        Some(parent) => parent,
        None => path,
    };
    if !folder.is_dir() {
        return Err(RegisterError::NoFolder {
            path: path.to_owned(),
        });
    }
    match volume::remote(folder) {
        Some(volume) => Err(RegisterError::NetworkDrive {
            path: path.to_owned(),
            volume,
        }),
        None => Ok(()),
    }
}

/// An existing file must begin as a database does. An empty one counts as none:
/// that is what a crash between making and filling the file leaves.
pub(super) fn check_magic(path: &Path) -> Result<(), RegisterError> {
    let mut start = Vec::new();
    let read = std::fs::File::open(path).and_then(|file| file.take(16).read_to_end(&mut start));
    match read {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(()),
        Err(error) => Err(RegisterError::CannotOpen {
            path: path.to_owned(),
            source: error.into(),
        }),
        Ok(_) if start.is_empty() || start == MAGIC => Ok(()),
        Ok(_) => Err(RegisterError::NotADatabase {
            path: path.to_owned(),
        }),
    }
}

/// Whether the database is a register of ours and not newer than this program; its layout.
pub(super) async fn check_ours(
    path: &Path,
    connection: &mut SqliteConnection,
) -> Result<i64, RegisterError> {
    let failed = |error| sorted(path, "read the file", error);
    let n_tables: i64 = sqlx::query_scalar("SELECT count(*) FROM sqlite_schema")
        .fetch_one(&mut *connection)
        .await
        .map_err(failed)?;
    let application: i64 = sqlx::query_scalar("PRAGMA application_id")
        .fetch_one(&mut *connection)
        .await
        .map_err(failed)?;
    if application != APPLICATION_ID && (n_tables > 0 || application != 0) {
        return Err(RegisterError::Foreign {
            path: path.to_owned(),
        });
    }
    let found = layout_version(path, connection).await?;
    if found > NEWEST_LAYOUT {
        return Err(RegisterError::Newer {
            path: path.to_owned(),
            found,
            known: NEWEST_LAYOUT,
        });
    }
    Ok(found)
}

/// Pages, rows and indexes must agree.
pub(super) async fn check_whole(
    path: &Path,
    connection: &mut SqliteConnection,
) -> Result<(), RegisterError> {
    let finding: String = sqlx::query_scalar("PRAGMA integrity_check(1)")
        .fetch_one(connection)
        .await
        .map_err(|error| sorted(path, "check the file", error))?;
    if finding == "ok" {
        Ok(())
    } else {
        Err(RegisterError::Damaged {
            path: path.to_owned(),
            finding,
        })
    }
}

async fn layout_version(
    path: &Path,
    connection: &mut SqliteConnection,
) -> Result<i64, RegisterError> {
    sqlx::query_scalar("PRAGMA user_version")
        .fetch_one(connection)
        .await
        .map_err(|error| sorted(path, "read the layout version", error))
}

async fn log_ahead(path: &Path, connection: &mut SqliteConnection) -> Result<(), RegisterError> {
    let mut n_tries = 0;
    loop {
        let mode: Result<String, _> = sqlx::query_scalar("PRAGMA journal_mode = WAL")
            .fetch_one(&mut *connection)
            .await;
        n_tries += 1;
        match mode.map_err(|error| sorted(path, "switch to write-ahead logging", error)) {
            Ok(mode) if mode == "wal" => return Ok(()),
            Ok(mode) => {
                return Err(RegisterError::CannotOpen {
                    path: path.to_owned(),
                    source: format!("write-ahead logging is not possible there, only {mode}")
                        .into(),
                });
            }
            Err(RegisterError::Locked { .. }) if n_tries < N_LOG_TRIES => {
                tokio::time::sleep(Duration::from_millis(50)).await;
            }
            Err(error) => return Err(error),
        }
    }
}

async fn update_layout(
    path: &Path,
    connection: &mut SqliteConnection,
) -> Result<(), RegisterError> {
    let failed = |error| sorted(path, "bring the layout up to date", error);
    // Outside a transaction first: an up-to-date register opens without waiting for a writer.
    while layout_version(path, connection).await? < NEWEST_LAYOUT {
        let mut step = connection
            .begin_with("BEGIN IMMEDIATE")
            .await
            .map_err(failed)?;
        // Read again under the lock: another program may have been quicker.
        let found = layout_version(path, &mut step).await?;
        let next = usize::try_from(found).ok().and_then(|i| LAYOUTS.get(i));
        if let Some(layout) = next {
            sqlx::raw_sql(*layout)
                .execute(&mut *step)
                .await
                .map_err(failed)?;
        } else if found < 0 {
            return Err(RegisterError::Damaged {
                path: path.to_owned(),
                finding: format!("layout version {found}"),
            });
        }
        step.commit().await.map_err(failed)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_layout_sets_its_own_version_and_marks_the_file_as_ours() {
        for (index, layout) in LAYOUTS.iter().enumerate() {
            let line = format!("PRAGMA user_version = {};", index + 1);
            assert!(layout.trim_end().ends_with(&line), "{line}");
        }
        let mark = format!("PRAGMA application_id = {APPLICATION_ID};");
        assert!(LAYOUTS[0].contains(&mark), "{mark}");
    }
}
