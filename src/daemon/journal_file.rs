//! The journal on the disk, and its way into the archive.
//!
//! A journal is locked by the process that writes it. When a recording ends, its file
//! is written, read back and compared, piece by piece, and only then the journal goes. A journal
//! that is found later without its file, after a kill or a power cut, becomes an
//! interrupted recording. A journal of which something had to be cut is kept as
//! `.journal.done`: its tail is the only copy of whatever stands there.
//!
//! Invariants: a journal under its name is locked or nobody writes it; it ends with a whole
//! block unless the process died; at any moment each row is in the journal or in a
//! finished file.

use crate::archive;
use crate::archive::ArchiveError;
use crate::archive::Told;
use crate::recording::JournalError;
use crate::recording::JournalRows;
use crate::recording::Outline;
use crate::recording::Recording;
use crate::recording::RecordingError;
use crate::recording::TailReport;
use crate::recording::scan_journal;
use crate::signature::SigningKey;
use std::fs::File;
use std::fs::OpenOptions;
use std::fs::TryLockError;
use std::io;
use std::io::BufReader;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;

/// Longest time that rows wait for the disk, s.
pub const SYNC_INTERVAL_S: f64 = 1.0;

/// Bytes of a journal that are read at a time.
const READ_BYTES: usize = 1 << 18;

/// Why a journal could not be kept or stored.
#[derive(Debug, thiserror::Error)]
pub enum JournalFileError {
    /// The name of the run cannot be a file name.
    #[error("run `{run_id}` cannot be a file name; use letters, digits and dashes only")]
    RunId {
        /// The name.
        run_id: String,
    },
    /// A journal or a recording of that name is there already.
    #[error("{} exists already; give the run another name", path.display())]
    Exists {
        /// Where.
        path: PathBuf,
    },
    /// Another process writes this journal.
    #[error("{} is being written by another stillrod; wait until that test has ended", path.display())]
    InUse {
        /// Where.
        path: PathBuf,
    },
    /// The disk did not do as it was told.
    #[error("cannot {doing} {}; check that the folder is local, writable and not full", path.display())]
    Disk {
        /// What was tried.
        doing: &'static str,
        /// Where.
        path: PathBuf,
        /// What the system said.
        #[source]
        cause: io::Error,
    },
    /// The journal cannot be read.
    #[error("{} cannot be read as a journal", path.display())]
    Journal {
        /// Where.
        path: PathBuf,
        /// Why.
        #[source]
        cause: JournalError,
    },
    /// The journal holds no consistent recording.
    #[error("{} holds no recording", path.display())]
    Recording {
        /// Where.
        path: PathBuf,
        /// Why.
        #[source]
        cause: RecordingError,
    },
    /// The archive file could not be written or read back.
    #[error(transparent)]
    Archive(#[from] ArchiveError),
    /// What was read back is not what was recorded.
    #[error(
        "{} does not hold what was recorded; the journal beside it was kept: check the disk and the memory of this computer",
        path.display()
    )]
    Differs {
        /// Where.
        path: PathBuf,
    },
}

/// A journal that is being written. Dropped without [`JournalFile::finish`], it is
/// recovered at the next start.
#[derive(Debug)]
pub struct JournalFile {
    file: File,
    path: PathBuf,
    /// Length up to the last block that was written without error, bytes.
    n_bytes: u64,
    last_sync_s: f64,
    is_synced: bool,
}

impl JournalFile {
    /// Begins a journal for a run in a folder, with the bytes it begins with, and brings
    /// them to the disk. `now_s` is any clock that goes forward, in seconds.
    ///
    /// # Errors
    /// If the name is no file name, is taken, or the disk refuses.
    pub fn create(
        folder: &Path,
        run_id: &str,
        start: &[u8],
        now_s: f64,
    ) -> Result<Self, JournalFileError> {
        let path = journal_path(folder, run_id)?;
        for taken in [&path, &archive_path(folder, run_id)?] {
            if taken.exists() {
                return Err(JournalFileError::Exists {
                    path: taken.clone(),
                });
            }
        }
        let failed = |cause| disk("begin", &path, cause);
        // Locked before it has its name, so that nobody ever finds it unlocked.
        let unnamed = path.with_extension("journal.part");
        let file = OpenOptions::new()
            .create(true)
            .append(true)
            .open(&unnamed)
            .map_err(failed)?;
        lock(&file, &path)?;
        file.set_len(0).map_err(failed)?;
        (&file).write_all(start).map_err(failed)?;
        file.sync_all().map_err(failed)?;
        std::fs::rename(&unnamed, &path).map_err(failed)?;
        sync_folder(folder).map_err(failed)?;
        Ok(Self {
            file,
            path,
            n_bytes: start.len() as u64,
            last_sync_s: now_s,
            is_synced: true,
        })
    }

    /// Appends whole blocks.
    ///
    /// # Errors
    /// If the disk refuses. The file is then as before and may be appended to again; if even
    /// that failed, what was written since the last good block is cut when it is read.
    pub fn append(&mut self, blocks: &[u8]) -> Result<(), JournalFileError> {
        self.is_synced = false;
        if let Err(cause) = (&self.file).write_all(blocks) {
            // Half a block would hide all blocks behind it from the reader.
            let _ = self.file.set_len(self.n_bytes);
            return Err(disk("append to", &self.path, cause));
        }
        self.n_bytes += blocks.len() as u64;
        Ok(())
    }

    /// Brings what was appended to the disk if the last time is [`SYNC_INTERVAL_S`] ago.
    /// Takes some milliseconds, tens on a busy disk. True if it did.
    ///
    /// # Errors
    /// If the disk refuses.
    pub fn sync_if_due(&mut self, now_s: f64) -> Result<bool, JournalFileError> {
        if self.is_synced || now_s - self.last_sync_s < SYNC_INTERVAL_S {
            return Ok(false);
        }
        self.last_sync_s = now_s;
        self.sync()?;
        Ok(true)
    }

    /// Brings what was appended to the disk now.
    ///
    /// # Errors
    /// If the disk refuses.
    pub fn sync(&mut self) -> Result<(), JournalFileError> {
        let synced = self.file.sync_data();
        synced.map_err(|cause| disk("bring to the disk", &self.path, cause))?;
        self.is_synced = true;
        Ok(())
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Bytes appended so far.
    pub fn n_bytes(&self) -> u64 {
        self.n_bytes
    }

    /// Ends the journal and stores what it holds as a recording, signed if there is a key.
    /// Memory does not grow with its length; it takes some seconds for a million rows.
    ///
    /// # Errors
    /// If the journal cannot be read back, or the archive cannot be written or does not read back
    /// as the same; the journal is kept then.
    pub fn finish(self, key: Option<&SigningKey>) -> Result<Stored, JournalFileError> {
        self.finish_telling(key, &mut |_| ())
    }

    /// The same, and tells how far it is: some hundred times a minute.
    ///
    /// # Errors
    /// As [`JournalFile::finish`].
    pub fn finish_telling(
        mut self,
        key: Option<&SigningKey>,
        told: Told<'_>,
    ) -> Result<Stored, JournalFileError> {
        self.sync()?;
        store(&self.path, key, told)
    }
}

/// A recording that is in the archive.
#[derive(Debug)]
pub struct Stored {
    /// Where.
    pub path: PathBuf,
    /// All of it but its rows.
    pub outline: Outline,
    /// How much of the journal could be read.
    pub tail: TailReport,
}

impl Stored {
    /// The recording with its rows, all of them in memory: 8 bytes a row and 4 for each channel.
    ///
    /// # Errors
    /// If the file cannot be read, or is not as it was written.
    pub fn recording(&self) -> Result<Recording, ArchiveError> {
        archive::read(&self.path)
    }
}

/// Writes a recording into the folder as `RUN.h5`, reads it back, compares, and removes its
/// journal if there is one. Returns the path.
///
/// # Errors
/// If the file exists, cannot be written, or does not read back as the same recording.
pub fn store_recording(
    folder: &Path,
    recording: &Recording,
    key: Option<&SigningKey>,
) -> Result<PathBuf, JournalFileError> {
    let run_id = &recording.heading().run_id;
    let path = archive_path(folder, run_id)?;
    archive::write_rows(&mut recording.rows(), &path, key, &mut |_| ())?;
    if !archive::is_same(&mut recording.rows(), &path, &mut |_| ())? {
        return Err(JournalFileError::Differs { path });
    }
    let journal = journal_path(folder, run_id)?;
    if journal.exists() {
        std::fs::remove_file(&journal).map_err(|cause| disk("remove", &journal, cause))?;
    }
    Ok(path)
}

/// What became of one journal found at the start.
#[derive(Debug)]
pub struct Recovered {
    /// The journal.
    pub journal: PathBuf,
    /// The recording it became, or why it stays as it is.
    pub outcome: Result<Stored, JournalFileError>,
}

/// Makes recordings of all journals in a folder that nobody writes. Journals that cannot be
/// stored stay untouched, and so do those in use.
///
/// # Errors
/// If the folder cannot be listed; troubles with single journals are in the list.
pub fn recover(
    folder: &Path,
    key: Option<&SigningKey>,
) -> Result<Vec<Recovered>, JournalFileError> {
    let failed = |cause| disk("list", folder, cause);
    let mut journals = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        if path.extension().is_some_and(|end| end == "journal") {
            journals.push(path);
        }
    }
    journals.sort();
    Ok(journals
        .into_iter()
        .map(|journal| Recovered {
            outcome: recover_one(&journal, key),
            journal,
        })
        .collect())
}

fn recover_one(journal: &Path, key: Option<&SigningKey>) -> Result<Stored, JournalFileError> {
    let file = File::open(journal).map_err(|cause| disk("open", journal, cause))?;
    lock(&file, journal)?;
    store(journal, key, &mut |_| ())
}

/// The lock on the journal is held by the caller.
fn store(
    journal: &Path,
    key: Option<&SigningKey>,
    told: Told<'_>,
) -> Result<Stored, JournalFileError> {
    let unreadable = |cause| JournalFileError::Journal {
        path: journal.into(),
        cause,
    };
    let (outline, tail) = scan_journal(opened(journal)?).map_err(unreadable)?;
    let outline = outline
        .checked()
        .map_err(|cause| JournalFileError::Recording {
            path: journal.into(),
            cause,
        })?;
    let rows = || JournalRows::begin(opened(journal)?, outline.clone()).map_err(unreadable);
    // Under the name of the journal, not of its heading: it may have been renamed by hand.
    let path = journal.with_extension("h5");
    // The power may have gone between the archive's rename and the journal's end.
    if !path.exists() {
        archive::write_rows(&mut rows()?, &path, key, told)?;
    }
    if !archive::is_same(&mut rows()?, &path, told)? {
        return Err(JournalFileError::Differs { path });
    }
    if tail.cut.is_some() {
        let done = journal.with_extension("journal.done");
        std::fs::rename(journal, &done).map_err(|cause| disk("rename", journal, cause))?;
    } else {
        std::fs::remove_file(journal).map_err(|cause| disk("remove", journal, cause))?;
    }
    Ok(Stored {
        path,
        outline,
        tail,
    })
}

fn opened(journal: &Path) -> Result<BufReader<File>, JournalFileError> {
    let file = File::open(journal).map_err(|cause| disk("read", journal, cause))?;
    Ok(BufReader::with_capacity(READ_BYTES, file))
}

fn lock(file: &File, path: &Path) -> Result<(), JournalFileError> {
    match file.try_lock() {
        Ok(()) => Ok(()),
        Err(TryLockError::WouldBlock) => Err(JournalFileError::InUse { path: path.into() }),
        Err(TryLockError::Error(cause)) => Err(disk("lock", path, cause)),
    }
}

fn sync_folder(folder: &Path) -> io::Result<()> {
    File::open(folder)?.sync_all()
}

fn journal_path(folder: &Path, run_id: &str) -> Result<PathBuf, JournalFileError> {
    named(folder, run_id, "journal")
}

fn archive_path(folder: &Path, run_id: &str) -> Result<PathBuf, JournalFileError> {
    named(folder, run_id, "h5")
}

fn named(folder: &Path, run_id: &str, extension: &str) -> Result<PathBuf, JournalFileError> {
    let is_name = !run_id.is_empty()
        && run_id.len() <= 100
        && run_id
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || c == '-');
    if !is_name {
        return Err(JournalFileError::RunId {
            run_id: run_id.into(),
        });
    }
    Ok(folder.join(format!("{run_id}.{extension}")))
}

fn disk(doing: &'static str, path: &Path, cause: io::Error) -> JournalFileError {
    JournalFileError::Disk {
        doing,
        path: path.into(),
        cause,
    }
}

#[cfg(test)]
mod tests;
