//! A finished recording that is looked at, stretch by stretch.
//!
//! Opening reads everything but rows and overview, and checks that the lists have the lengths that
//! they must have and that the signed block, if there is one, is genuine. It does **not** hash the
//! file: that is what [`super::check`] is for. Each compressed chunk has a checksum of its own that is
//! checked whenever it is read.
//!
//! Invariants: no file stays open; a look costs the same wherever it falls.

use super::ArchiveError;
use super::PIECE_ROWS;
use super::held::Held;
use super::layout;
use super::library;
use super::overview::Blocks;
use super::overview::Builder;
use super::overview::LevelFields;
use super::overview::block_sizes;
use super::read::Source;
use super::shown::shown;
use super::signed;
use super::window::Look;
use crate::channel::Role;
use crate::recording::Outline;
use crate::recording::Piece;
use crate::recording::Track;
use crate::recording::Window;
use std::fs::File;
use std::ops::Range;
use std::path::Path;
use std::path::PathBuf;
use std::sync::OnceLock;

/// What the block in front of a file is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SignedBlock {
    /// There is none.
    NotSigned,
    /// Its signature is of its text. Whether the file is as it says was not looked at.
    Genuine,
    /// It is not as it was signed, and what is wrong.
    Changed(String),
}

/// A recording whose rows stay in its file.
#[derive(Debug)]
pub struct Opened {
    path: PathBuf,
    outline: Outline,
    block: SignedBlock,
    has_overview: bool,
    /// For a long recording of a program that made no overview.
    made: OnceLock<Made>,
}

/// Levels that were made while looking.
#[derive(Debug)]
pub(super) struct Made {
    /// Rows of a block and the blocks, smallest first.
    pub(super) levels: Vec<(usize, Blocks)>,
}

/// Shows a stretch of the recording in a file, in at most so many columns; see [`Opened::window`].
/// Opens the file anew each time.
///
/// # Errors
/// As [`Opened::open`] and [`Opened::window`].
pub fn window(
    path: &Path,
    from_s: f64,
    until_s: f64,
    n_columns: usize,
    roles: &[Role],
) -> Result<Window, ArchiveError> {
    Opened::open(path)?.window(from_s, until_s, n_columns, roles)
}

impl Opened {
    /// Opens a file to look at it.
    ///
    /// # Errors
    /// If it cannot be opened, is of another kind, or is damaged where that shows without
    /// reading all of it.
    pub fn open(path: &Path) -> Result<Self, ArchiveError> {
        let failed = |cause: std::io::Error| ArchiveError::Open {
            path: path.into(),
            cause: cause.into(),
        };
        let mut file = File::open(path).map_err(failed)?;
        let block = match signed::stated(&mut file) {
            Ok(None) => SignedBlock::NotSigned,
            Ok(Some(_)) => SignedBlock::Genuine,
            Err(error) => SignedBlock::Changed(error.to_string()),
        };
        let _library = library();
        let source = Source::open(path)?;
        let outline = source.outline()?;
        let has_overview = source.has(layout::OVERVIEW);
        for size in block_sizes(outline.n_rows) {
            let field = LevelFields::new(size).times();
            let n_blocks = outline.n_rows.div_ceil(size);
            if has_overview && source.length(&field, n_blocks)? != n_blocks {
                return Err(source.bad(&field, "it is too short"));
            }
        }
        Ok(Self {
            path: path.into(),
            outline,
            block,
            has_overview,
            made: OnceLock::new(),
        })
    }

    /// All of the recording but its rows.
    pub fn outline(&self) -> &Outline {
        &self.outline
    }

    /// What its block is.
    pub fn block(&self) -> &SignedBlock {
        &self.block
    }

    /// Whether the file holds an overview of itself.
    pub fn has_overview(&self) -> bool {
        self.has_overview
    }

    /// Bench time of the first and of the last row, s; None without rows.
    ///
    /// # Errors
    /// If the times cannot be read.
    pub fn span_s(&self) -> Result<Option<(f64, f64)>, ArchiveError> {
        let Some(last) = self.outline.n_rows.checked_sub(1) else {
            return Ok(None);
        };
        let _library = library();
        let source = Source::open(&self.path)?;
        let first_s: Vec<f64> = source.slice(layout::TIME, 0..1)?;
        let last_s: Vec<f64> = source.slice(layout::TIME, last..last + 1)?;
        Ok(first_s.first().copied().zip(last_s.first().copied()))
    }

    /// Shows a stretch in at most `n_columns` columns (no more than 4096), for those of the channels that were recorded.
    ///
    /// Reads the rows where there are few for each column, else the level whose blocks are at most
    /// half a column. A long recording without an overview is gone through once, at the first look
    /// that needs it.
    ///
    /// # Errors
    /// If what is to be shown cannot be read.
    pub fn window(
        &self,
        from_s: f64,
        until_s: f64,
        n_columns: usize,
        roles: &[Role],
    ) -> Result<Window, ArchiveError> {
        let look = Look::new(&self.outline, (from_s, until_s), n_columns, roles);
        let rows = {
            let _library = library();
            let source = Source::open(&self.path)?;
            let rows = look.rows(&source, self.has_overview)?;
            if self.has_overview || !look.needs_blocks(&rows) {
                return look.window(&source, rows, self.has_overview);
            }
            rows
        };
        look.window_of_made(self.made()?, rows)
    }

    /// The levels of a file that has none.
    fn made(&self) -> Result<&Made, ArchiveError> {
        if let Some(made) = self.made.get() {
            return Ok(made);
        }
        let made = self.make()?;
        Ok(self.made.get_or_init(|| made))
    }

    fn make(&self) -> Result<Made, ArchiveError> {
        // The smallest blocks would take as much memory as all others together, 16 times.
        let sizes = block_sizes(self.outline.n_rows).split_off(1);
        let mut levels: Vec<(usize, Blocks)> = sizes
            .iter()
            .map(|size| (*size, Blocks::default()))
            .collect();
        let mut builder = Builder::with_sizes(&self.outline, &sizes);
        let mut file = Held::open(|| Source::open(&self.path))?;
        for from in (0..self.outline.n_rows).step_by(PIECE_ROWS) {
            let rows = from..(from + PIECE_ROWS).min(self.outline.n_rows);
            let piece = file.with(|file| piece(file, &self.outline, rows))?;
            builder.take(&piece, &shown(&piece));
            let handed = builder.hand_out(|level, _, blocks| {
                levels[level].1.extend(blocks);
                Ok::<(), std::convert::Infallible>(())
            });
            let Ok(()) = handed;
        }
        Ok(Made { levels })
    }
}

/// Some rows of a file, all channels.
pub(super) fn piece(
    source: &Source,
    outline: &Outline,
    rows: Range<usize>,
) -> Result<Piece, ArchiveError> {
    let roles: Vec<Role> = outline.lanes.iter().map(|l| l.channel.role).collect();
    piece_of(source, outline, rows, &roles)
}

/// Some rows of a file, some channels, in the order of the recording.
pub(super) fn piece_of(
    source: &Source,
    outline: &Outline,
    rows: Range<usize>,
    roles: &[Role],
) -> Result<Piece, ArchiveError> {
    let wanted = outline
        .lanes
        .iter()
        .filter(|lane| roles.contains(&lane.channel.role));
    let track = |channel: &crate::channel::Channel| {
        let data = format!("{}/{}/data", layout::INSTRUMENT, channel.role.word());
        Ok(Track {
            channel: channel.clone(),
            codes: source.codes(&data, rows.clone())?,
        })
    };
    let tracks = wanted.map(|lane| track(&lane.channel));
    let tracks = tracks.collect::<Result<_, ArchiveError>>()?;
    Ok(Piece::new(
        source.slice(layout::TIME, rows.clone())?,
        tracks,
    ))
}
