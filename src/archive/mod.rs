//! One finished recording, one HDF5 file, written whole.
//!
//! The file follows the NeXus base classes, so that general viewers plot it by
//! themselves: raw codes with their calibration in `/entry/instrument`, calibrated
//! values in bar, mm and °C in the `NXdata` groups, everything else that a recording
//! holds in `/entry/recording`. It stands alone: nothing outside it is needed to read
//! the recording again. What a recording means is decided elsewhere. A signed file begins
//! with a block of 4096 bytes that anybody can read as text; HDF5 lies behind it. A long recording
//! has an overview of itself in `/entry/overview`, so that any stretch of it is shown at once.
//!
//! Invariants: a file under its final name is complete; what is read equals what was
//! written to the last bit, or is an error; one operation at a time holds the library; writing and
//! looking take memory that does not grow with the length of a recording, [`read()`] takes all of it.

mod bytes;
mod compare;
mod content;
mod fields;
mod fill;
mod held;
mod layout;
mod opened;
mod overview;
mod parts;
mod pointers;
mod progress;
mod put;
mod read;
mod shown;
mod signed;
mod window;
mod write;

pub use compare::is_same;
pub use opened::Opened;
pub use opened::SignedBlock;
pub use opened::window;
pub use progress::Doing;
pub use progress::Progress;
pub use progress::Told;
pub use read::read;
pub use signed::check;
pub use write::write;
pub use write::write_rows;
pub use write::write_signed;

use hdf5::FileBuilder;
use hdf5::plist::file_access::MetadataCacheConfig;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::MutexGuard;
use std::sync::PoisonError;

/// What went wrong underneath, with its own words.
pub type Cause = Box<dyn std::error::Error + Send + Sync>;

/// Rows that are written or compared at a time, and values in one compressed chunk of a list with
/// an entry for each row. A reader unpacks at least one; a viewer that shows a minute of 100 Hz
/// needs one.
const PIECE_ROWS: usize = 16_384;

/// Why a recording was not written or read.
#[derive(Debug, thiserror::Error)]
pub enum ArchiveError {
    /// A file of that name is there already; recordings are never replaced.
    #[error("{} exists and is not replaced; move it away or give the run another name", path.display())]
    Exists {
        /// Where.
        path: PathBuf,
    },
    /// The file could not be written.
    #[error("cannot write {} ({step}); check that the folder is local, writable and not full", path.display())]
    Write {
        /// Where.
        path: PathBuf,
        /// At which step.
        step: &'static str,
        /// What the system or library said.
        #[source]
        cause: Cause,
    },
    /// The rows could not be had from where they come from.
    #[error("the rows for {} cannot be had", path.display())]
    Rows {
        /// Where they were to go.
        path: PathBuf,
        /// Why not.
        #[source]
        cause: Cause,
    },
    /// The file could not be opened at all.
    #[error("cannot open {}; check that it is there and may be read", path.display())]
    Open {
        /// Where.
        path: PathBuf,
        /// What the system said.
        #[source]
        cause: Cause,
    },
    /// It is no HDF5 file, or one that was cut off.
    #[error(
        "{} is no whole HDF5 file; it was cut off or is of another kind: take a backup of it, or its journal",
        path.display()
    )]
    NoHdf5 {
        /// Where.
        path: PathBuf,
        /// What the library said.
        #[source]
        cause: Cause,
    },
    /// An HDF5 file without a recording of ours.
    #[error("{} is an HDF5 file of another program (no {field}); choose a recording made by stillrod", path.display())]
    Foreign {
        /// Where.
        path: PathBuf,
        /// What a recording would have.
        field: &'static str,
    },
    /// Written by a later version.
    #[error("{} holds a recording of version {found}, this program knows {known}; use a newer stillrod", path.display())]
    Newer {
        /// Where.
        path: PathBuf,
        /// Version found.
        found: u32,
        /// Newest version known.
        known: u32,
    },
    /// A field is missing, has another type or size, or holds what cannot be.
    #[error("{field} in {} is missing or damaged ({what}); take a backup of the file", path.display())]
    Field {
        /// Where.
        path: PathBuf,
        /// Which field, as a path inside the file.
        field: String,
        /// What is wrong with it.
        what: String,
    },
    /// All fields can be read, and are not what was written.
    #[error(
        "{} was changed after it was written, by damage or by hand (checksum {computed:#010x}, was {stored:#010x}); \
         take a backup of the file",
        path.display()
    )]
    Changed {
        /// Where.
        path: PathBuf,
        /// Checksum of what was read.
        computed: u32,
        /// Checksum that was written.
        stored: u32,
    },
}

/// Whoever holds this may use the HDF5 library. Its own lock covers single calls only,
/// and closing a handle is a call, too.
fn library() -> MutexGuard<'static, ()> {
    static LIBRARY: Mutex<()> = Mutex::new(());
    let guard = LIBRARY.lock().unwrap_or_else(PoisonError::into_inner);
    // Errors are reported by us, once; not by the library on the terminal.
    hdf5::silence_errors(true);
    guard
}

/// Most bytes of its tables of chunks that the library keeps, as they are in the file; in memory
/// they take ten times as much. It would keep all of those that a long recording has.
const TABLES_BYTES: usize = 1 << 21;

/// How files are opened and created: without a lock of the library's own.
///
/// A lock goes with the open file, also into every program that this one starts while it
/// is open; a viewer would then be refused a finished recording for as long as that
/// program runs, and some network folders know no locks at all. Nothing is lost: a file
/// is filled under a temporary name and never changes under its final one.
fn unlocked() -> FileBuilder {
    let mut files = FileBuilder::new();
    let tables = MetadataCacheConfig {
        max_size: TABLES_BYTES,
        ..MetadataCacheConfig::default()
    };
    files.with_fapl(|access| {
        // Chunks go straight through: each list is written and read from its first to its last, and
        // kept chunks of a hundred lists would be memory for nothing.
        access.chunk_cache(1, 0, 1.0);
        access.file_locking(false).mdc_config(&tables)
    });
    files
}

#[cfg(test)]
mod tests;
