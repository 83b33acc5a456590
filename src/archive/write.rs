//! A recording to a file: beside the place, to the disk, then into place.
//!
//! Invariants: whatever happens while writing, the final name is either absent or
//! names a complete file; memory does not grow with the number of rows.

use super::ArchiveError;
use super::Cause;
use super::PIECE_ROWS;
use super::bytes::LittleEndian;
use super::content::RowSums;
use super::fill::Filling;
use super::held::Held;
use super::overview::Builder;
use super::overview::OverviewHashes;
use super::parts::Part;
use super::parts::RowHashes;
use super::parts::parts;
use super::progress::Doing;
use super::progress::Progress;
use super::progress::Told;
use super::shown::shown;
use super::signed;
use crate::recording::Recording;
use crate::recording::RowSource;
use crate::signature::BLOCK_BYTES;
use crate::signature::SigningKey;
use std::path::Path;
use std::path::PathBuf;

/// Writes a recording to `path`, whole or not at all.
///
/// # Errors
/// If the file exists or cannot be written; nothing is left under `path` then.
pub fn write(recording: &Recording, path: &Path) -> Result<(), ArchiveError> {
    write_rows(&mut recording.rows(), path, None, &mut |_| ())
}

/// Writes a recording with a signed block in front, whole or not at all.
///
/// # Errors
/// As [`write()`].
pub fn write_signed(
    recording: &Recording,
    path: &Path,
    key: &SigningKey,
) -> Result<(), ArchiveError> {
    write_rows(&mut recording.rows(), path, Some(key), &mut |_| ())
}

/// Writes what a source hands out, whole or not at all, signed if there is a key. Others may read
/// finished recordings meanwhile. Takes a few megabytes, however many rows there are.
///
/// # Errors
/// As [`write()`], and if the source fails.
pub fn write_rows<S: RowSource>(
    source: &mut S,
    path: &Path,
    key: Option<&SigningKey>,
    told: Told<'_>,
) -> Result<(), ArchiveError> {
    if path.exists() {
        return Err(ArchiveError::Exists { path: path.into() });
    }
    let beside = beside(path);
    let written = write_beside(source, path, &beside, key, told);
    if written.is_err() {
        // Left-overs are harmless and overwritten next time; the first error is the one to tell.
        let _ = std::fs::remove_file(&beside);
    }
    written
}

/// Temporary name in the same folder, so that the last step is a rename.
fn beside(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(".part");
    name.into()
}

fn write_beside<S: RowSource>(
    source: &mut S,
    path: &Path,
    beside: &Path,
    key: Option<&SigningKey>,
    told: Told<'_>,
) -> Result<(), ArchiveError> {
    let failed = |step, cause: Cause| ArchiveError::Write {
        path: path.into(),
        step,
        cause,
    };
    let parts = fill(source, path, beside, key.is_some(), told)?;
    if let Some(key) = key {
        let run_id = source.outline().heading.run_id.clone();
        signed::fill(run_id, parts, beside, key, told)
            .map_err(|cause| failed("signing it", cause.into()))?;
    }
    std::fs::File::open(beside)
        .and_then(|file| file.sync_all())
        .map_err(|cause| failed("bringing it to the disk", cause.into()))?;
    std::fs::rename(beside, path).map_err(|cause| failed("giving it its name", cause.into()))?;
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    std::fs::File::open(folder.unwrap_or(Path::new(".")))
        .and_then(|folder| folder.sync_all())
        .map_err(|cause| failed("bringing its name to the disk", cause.into()))
}

/// Fills a file piece by piece; its parts with their hashes, if it is to be signed.
fn fill<S: RowSource>(
    source: &mut S,
    path: &Path,
    beside: &Path,
    is_signed: bool,
    told: Told<'_>,
) -> Result<Vec<Part>, ArchiveError> {
    let failed = |cause: hdf5::Error| ArchiveError::Write {
        path: path.into(),
        step: "filling the file",
        cause: cause.into(),
    };
    let outline = source.outline().clone();
    let n_block = if is_signed { BLOCK_BYTES as u64 } else { 0 };
    let mut file = Held::open(|| Filling::create(beside, &outline, n_block)).map_err(failed)?;
    let mut sums = RowSums::new(&outline);
    let mut hashes = is_signed.then(|| RowHashes::new(&outline));
    let mut overview = OverviewHashes::new(outline.n_rows, outline.lanes.len());
    let mut builder = Builder::new(&outline);
    let mut bytes = LittleEndian::default();
    let mut n_done = 0;
    loop {
        let progress = Progress::new(Doing::Writing, n_done as u64, outline.n_rows as u64);
        told(progress);
        let piece = next(source, path)?;
        if piece.is_empty() {
            break;
        }
        n_done += piece.len();
        let shown = shown(&piece);
        sums.take(&piece, &mut bytes);
        if let Some(hashes) = &mut hashes {
            hashes.take(&piece, &shown, &mut bytes);
        }
        builder.take(&piece, &shown);
        file.with(|file| {
            file.write(&piece, &shown)?;
            builder.hand_out(|level, first, blocks| {
                if is_signed {
                    overview.take(level, &blocks);
                }
                file.overview().write(level, first, &blocks)
            })
        })
        .map_err(failed)?;
    }
    file.end(|file| file.close(sums.checksum(&outline)))
        .map_err(failed)?;
    let roles: Vec<_> = outline.lanes.iter().map(|l| l.channel.role).collect();
    Ok(hashes.map_or_else(Vec::new, |hashes| {
        parts(&outline, hashes, overview.parts(&roles))
    }))
}

/// The next rows of a source.
pub(super) fn next<S: RowSource>(
    source: &mut S,
    path: &Path,
) -> Result<crate::recording::Piece, ArchiveError> {
    source
        .next_piece(PIECE_ROWS)
        .map_err(|cause| ArchiveError::Rows {
            path: path.into(),
            cause: cause.into(),
        })
}
