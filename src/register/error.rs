//! Why the register could not be opened, read or written, and what to do.
//!
//! Database errors are sorted by SQLite's result code into the few cases that
//! call for different things from the operator; the cause stays attached.
//! Invariant: no type of the database crate is visible from outside the room.

use std::path::Path;
use std::path::PathBuf;

/// The cause below an error of the register.
type Cause = Box<dyn std::error::Error + Send + Sync>;

/// Why the register could not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum RegisterError {
    /// The folder that should hold the file does not exist.
    #[error("there is no folder for the register {}; create the folder, or correct the path", path.display())]
    NoFolder {
        /// The file asked for.
        path: PathBuf,
    },
    /// Another job of the unit is still open.
    #[error(
        "job {number} of {tag} is still open; write `number = {number}` below [job] of the sheet to enter \
         it anew, or close it first with `went_out`"
    )]
    JobOpen {
        /// Tag of the unit.
        tag: String,
        /// Number of the open job.
        number: i64,
    },
    /// The file would lie on a network drive.
    #[error(
        "the register {} would lie on a network drive ({volume}), where a lost connection damages it; \
         keep it on a disk of this computer and export copies to the share",
        path.display()
    )]
    NetworkDrive {
        /// The file asked for.
        path: PathBuf,
        /// The kind of file system, "nfs4".
        volume: String,
    },
    /// The file is no database.
    #[error(
        "{} is not a register: its content is no database; \
         move it away and put the last exported copy in its place",
        path.display()
    )]
    NotADatabase {
        /// The file.
        path: PathBuf,
    },
    /// The file is a database of some other program.
    #[error("{} is a database of another program; choose another path for the register", path.display())]
    Foreign {
        /// The file.
        path: PathBuf,
    },
    /// The file was written by a newer version of this program.
    #[error(
        "the register {} has layout version {found}, this program knows up to {known}; \
         install the newer program (the file was not touched)",
        path.display()
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Layout version of the file.
        found: i64,
        /// Newest layout version this program knows.
        known: i64,
    },
    /// The file is damaged.
    #[error(
        "the register {} is damaged ({finding}); \
         keep the file for repair and put the last exported copy in its place",
        path.display()
    )]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What the check found.
        finding: String,
    },
    /// The file or its folder cannot be written.
    #[error("the register {} cannot be written; allow writing to the file and its folder", path.display())]
    ReadOnly {
        /// The file.
        path: PathBuf,
        /// The cause.
        #[source]
        source: Cause,
    },
    /// The file cannot be opened or made.
    #[error(
        "the register {} cannot be opened or made; check that the path is a file and its folder can be written",
        path.display()
    )]
    CannotOpen {
        /// The file.
        path: PathBuf,
        /// The cause.
        #[source]
        source: Cause,
    },
    /// Another program holds the file.
    #[error(
        "the register {} is held by another program; close other programs that have it open, then try again",
        path.display()
    )]
    Locked {
        /// The file.
        path: PathBuf,
        /// The cause.
        #[source]
        source: Cause,
    },
    /// The disk is full or failed.
    #[error(
        "the disk of the register {} is full or failing; make room or replace it, then enter the test again",
        path.display()
    )]
    Disk {
        /// The file.
        path: PathBuf,
        /// The cause.
        #[source]
        source: Cause,
    },
    /// The run has been entered before with another archive file.
    #[error(
        "run {run_id} is in the register as {number} with an archive of hash {entered_sha256}, not {offered_sha256}; \
         the archive file was changed or exchanged: restore the original"
    )]
    OtherArchive {
        /// The run.
        run_id: String,
        /// Its certificate number.
        number: String,
        /// Hash in the register.
        entered_sha256: String,
        /// Hash offered now.
        offered_sha256: String,
    },
    /// A value that the register does not take.
    #[error("the register does not take {field} {value:?}: {wanted}")]
    Unfit {
        /// The field.
        field: &'static str,
        /// What it held.
        value: String,
        /// What it should hold.
        wanted: &'static str,
    },
    /// The certificate could not be signed, so it was not entered.
    #[error(
        "{number} was not signed and so not entered: {reason}; this is a fault of the program, report it"
    )]
    NotSigned {
        /// The number it would have had.
        number: String,
        /// Why.
        reason: String,
    },
    /// The copy would replace a file.
    #[error("{} exists; choose another name for the copy of the register", path.display())]
    CopyExists {
        /// The file that exists.
        path: PathBuf,
    },
    /// The copy was made but could not be forced to the disk.
    #[error("the copy {} may not have reached the disk; export again to another disk", path.display())]
    CopyUnsure {
        /// The copy.
        path: PathBuf,
        /// The cause.
        #[source]
        source: std::io::Error,
    },
    /// Anything else the database said.
    #[error("the register {} failed to {doing}; try again, and report this if it stays", path.display())]
    Database {
        /// The file.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// The cause.
        #[source]
        source: Cause,
    },
}

/// Sorts an error of the database by what the operator has to do about it.
///
/// Result codes: SQLite documentation, "Result and Error Codes"; the low byte is
/// the primary code.
pub(super) fn sorted(path: &Path, doing: &'static str, error: sqlx::Error) -> RegisterError {
    const BUSY: u32 = 5;
    const LOCKED: u32 = 6;
    const READONLY: u32 = 8;
    const IOERR: u32 = 10;
    const CORRUPT: u32 = 11;
    const FULL: u32 = 13;
    const CANTOPEN: u32 = 14;
    const NOTADB: u32 = 26;

    let path = path.to_owned();
    match primary_code(&error) {
        Some(BUSY | LOCKED) => RegisterError::Locked {
            path,
            source: error.into(),
        },
        Some(READONLY) => RegisterError::ReadOnly {
            path,
            source: error.into(),
        },
        Some(IOERR | FULL) => RegisterError::Disk {
            path,
            source: error.into(),
        },
        Some(CANTOPEN) => RegisterError::CannotOpen {
            path,
            source: error.into(),
        },
        Some(CORRUPT) => RegisterError::Damaged {
            path,
            finding: error.to_string(),
        },
        Some(NOTADB) => RegisterError::NotADatabase { path },
        _ => RegisterError::Database {
            path,
            doing,
            source: error.into(),
        },
    }
}

/// SQLite's primary result code, if the error came from SQLite.
fn primary_code(error: &sqlx::Error) -> Option<u32> {
    let code: u32 = error.as_database_error()?.code()?.parse().ok()?;
    Some(code & 0xff)
}
