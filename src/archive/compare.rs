//! Whether a file holds what was recorded: both are gone through side by side.
//!
//! Invariant: everything that was written is read back, also what follows from other things: plots,
//! overview and checksum.

use super::ArchiveError;
use super::bytes::LittleEndian;
use super::content::RowSums;
use super::held::Held;
use super::layout;
use super::overview::Builder;
use super::overview::block_sizes;
use super::overview::read_blocks;
use super::progress::Doing;
use super::progress::Progress;
use super::progress::Told;
use super::read::Source;
use super::shown::ShownTrack;
use super::shown::shown;
use super::write::next;
use crate::channel::Role;
use crate::recording::Codes;
use crate::recording::Piece;
use crate::recording::RowSource;
use std::ops::Range;
use std::path::Path;

/// Whether a file holds what a source hands out, to the last bit. Others may read finished
/// recordings meanwhile. Takes a few megabytes, however many rows there are.
///
/// # Errors
/// If the file cannot be read, or the source fails.
pub fn is_same<S: RowSource>(
    source: &mut S,
    path: &Path,
    told: Told<'_>,
) -> Result<bool, ArchiveError> {
    let outline = source.outline().clone();
    std::fs::File::open(path).map_err(|cause| ArchiveError::Open {
        path: path.into(),
        cause: cause.into(),
    })?;
    let mut file = Held::open(|| Source::open(path))?;
    if file.with(|file| file.outline())? != outline {
        return Ok(false);
    }
    let sizes = block_sizes(outline.n_rows);
    let roles: Vec<Role> = outline.lanes.iter().map(|l| l.channel.role).collect();
    let has_overview = file.with(|file| file.has(layout::OVERVIEW));
    let mut sums = RowSums::new(&outline);
    let mut builder = Builder::new(&outline);
    let mut bytes = LittleEndian::default();
    let mut n_done = 0;
    loop {
        told(Progress::new(
            Doing::ReadingBack,
            n_done as u64,
            outline.n_rows as u64,
        ));
        let piece = next(source, path)?;
        if piece.is_empty() {
            break;
        }
        let rows = n_done..n_done + piece.len();
        n_done = rows.end;
        let shown = shown(&piece);
        sums.take(&piece, &mut bytes);
        builder.take(&piece, &shown);
        let is_same = file.with(|file| {
            let mut is_same = is_same_piece(file, rows, &piece, &shown)?;
            builder.hand_out(|level, first, blocks| {
                if has_overview {
                    let at = first..first + blocks.len();
                    is_same &= read_blocks(file, sizes[level], &roles, at)?.is_same(&blocks);
                }
                Ok::<(), ArchiveError>(())
            })?;
            Ok::<bool, ArchiveError>(is_same)
        })?;
        if !is_same {
            return Ok(false);
        }
    }
    let stored = file.with(|file| file.stored_checksum())?;
    Ok(stored == sums.checksum(&outline))
}

fn is_same_piece(
    file: &Source,
    rows: Range<usize>,
    piece: &Piece,
    shown: &[ShownTrack],
) -> Result<bool, ArchiveError> {
    let bits = |list: &[f64]| list.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
    let times: Vec<f64> = file.slice(layout::TIME, rows.clone())?;
    if bits(&times) != bits(piece.time_s()) {
        return Ok(false);
    }
    for (track, shown) in piece.tracks().iter().zip(shown) {
        let role = track.channel.role;
        let data = format!("{}/{}/data", layout::INSTRUMENT, role.word());
        let is_same = match (&track.codes, file.codes(&data, rows.clone())?) {
            (Codes::Si(one), Codes::Si(other)) => bits(one) == bits(&other),
            (one, other) => one.raw() == other.raw(),
        };
        if !is_same {
            return Ok(false);
        }
        if let Some(field) = layout::plot_field(role) {
            let plotted: Vec<f32> = file.slice(&field, rows.clone())?;
            let differs = |(one, other): (&f32, &f32)| one.to_bits() != other.to_bits();
            if plotted.iter().zip(&shown.plotted).any(differs) {
                return Ok(false);
            }
        }
    }
    Ok(true)
}
