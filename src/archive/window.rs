//! One look at a stretch of a recording: which rows, from which level, in which columns.
//!
//! Invariants: what is read does not grow with the recording, nor with the stretch; a column
//! is made of whole blocks of one level, or of rows.

use super::ArchiveError;
use super::PIECE_ROWS;
use super::layout;
use super::opened::Made;
use super::opened::piece_of;
use super::overview::Blocks;
use super::overview::GapWalk;
use super::overview::LevelFields;
use super::overview::block_sizes;
use super::overview::read_blocks;
use super::read::Source;
use crate::channel::Channel;
use crate::channel::Role;
use crate::recording::Band;
use crate::recording::Gap;
use crate::recording::Outline;
use crate::recording::Stretch;
use crate::recording::Window;
use crate::recording::WindowLane;
use std::ops::Range;

/// Most columns of a picture; no screen shows more.
const MOST_COLUMNS: usize = 4_096;

/// Blocks of the level that is read for one column, at least.
const BLOCKS_PER_COLUMN: usize = 2;

/// What is asked for.
pub(super) struct Look<'a> {
    outline: &'a Outline,
    from_s: f64,
    until_s: f64,
    n_columns: usize,
    channels: Vec<&'a Channel>,
    gaps: Vec<Gap>,
}

impl<'a> Look<'a> {
    pub(super) fn new(
        outline: &'a Outline,
        (from_s, until_s): (f64, f64),
        n_columns: usize,
        roles: &[Role],
    ) -> Self {
        let channels = outline.lanes.iter().map(|lane| &lane.channel);
        let reaches_in = |gap: &&Gap| gap.until_s >= from_s && gap.from_s <= until_s;
        Self {
            outline,
            from_s,
            until_s,
            n_columns: n_columns.clamp(1, MOST_COLUMNS),
            channels: channels.filter(|c| roles.contains(&c.role)).collect(),
            gaps: outline.gaps.iter().filter(reaches_in).copied().collect(),
        }
    }

    /// The rows within the two times.
    pub(super) fn rows(
        &self,
        source: &Source,
        has_overview: bool,
    ) -> Result<Range<usize>, ArchiveError> {
        if self
            .from_s
            .partial_cmp(&self.until_s)
            .is_none_or(|order| order.is_gt())
        {
            return Ok(0..0);
        }
        let sizes = match has_overview {
            true => block_sizes(self.outline.n_rows),
            false => vec![PIECE_ROWS],
        };
        let find = Finder {
            source,
            n_rows: self.outline.n_rows,
            sizes,
            has_overview,
        };
        let first = find.row(|time_s| time_s < self.from_s)?;
        let end = find.row(|time_s| time_s <= self.until_s)?;
        Ok(first..end.max(first))
    }

    /// Largest blocks that are fine enough for so many rows; None if the rows themselves are to be
    /// read.
    fn size(&self, rows: &Range<usize>, sizes: impl Iterator<Item = usize>) -> Option<usize> {
        let n_each = rows.len() / self.n_columns;
        sizes.filter(|n| n * BLOCKS_PER_COLUMN <= n_each).max()
    }

    /// Whether a recording without an overview needs one for these rows.
    pub(super) fn needs_blocks(&self, rows: &Range<usize>) -> bool {
        let sizes = block_sizes(self.outline.n_rows);
        self.size(rows, sizes.into_iter().skip(1)).is_some()
    }

    /// The window, from a file.
    pub(super) fn window(
        &self,
        source: &Source,
        rows: Range<usize>,
        has_overview: bool,
    ) -> Result<Window, ArchiveError> {
        let sizes = match has_overview {
            true => block_sizes(self.outline.n_rows),
            false => Vec::new(),
        };
        let Some(size) = self.size(&rows, sizes.into_iter()) else {
            return self.window_of_rows(source, rows);
        };
        let at = rows.start / size..rows.end.div_ceil(size);
        let roles: Vec<Role> = self.channels.iter().map(|c| c.role).collect();
        let blocks = read_blocks(source, size, &roles, at.clone())?;
        Ok(self.window_of_blocks(&blocks, size, at, rows))
    }

    /// The window, from levels in memory, which have all channels.
    pub(super) fn window_of_made(
        &self,
        made: &Made,
        rows: Range<usize>,
    ) -> Result<Window, ArchiveError> {
        let sizes = made.levels.iter().map(|level| level.0);
        let size = self.size(&rows, sizes).unwrap_or(usize::MAX);
        let level = made.levels.iter().find(|level| level.0 == size);
        let Some((size, blocks)) = level else {
            return Ok(self.closed(Columns::new(self, &rows), rows, 1));
        };
        let at = rows.start / size..rows.end.div_ceil(*size);
        let mut blocks = blocks.within(at.clone());
        let lanes = self.outline.lanes.iter().zip(blocks.lanes);
        let wanted = lanes.filter(|(l, _)| self.channels.iter().any(|c| c.role == l.channel.role));
        blocks.lanes = wanted.map(|(_, blocks)| blocks).collect();
        Ok(self.window_of_blocks(&blocks, *size, at, rows))
    }

    fn window_of_rows(&self, source: &Source, rows: Range<usize>) -> Result<Window, ArchiveError> {
        let mut columns = Columns::new(self, &rows);
        let mut roles: Vec<Role> = self.channels.iter().map(|c| c.role).collect();
        if self.channels.iter().any(|c| c.against_supply.is_some()) {
            roles.push(Role::Supply);
        }
        let mut from = rows.start;
        while from < rows.end {
            // No chunk is unpacked twice.
            let until = rows.end.min((from / PIECE_ROWS + 1) * PIECE_ROWS);
            let piece = piece_of(source, self.outline, from..until, &roles)?;
            let tracks = piece.tracks().iter();
            let wanted = tracks.filter(|t| self.channels.iter().any(|c| c.role == t.channel.role));
            let values: Vec<Vec<f64>> = wanted.map(|track| track.values()).collect();
            for (index, time_s) in piece.time_s().iter().enumerate() {
                columns.reach(from + index, *time_s);
                columns.rows(*time_s, 1, false);
                for (lane, values) in values.iter().enumerate() {
                    let si = values[index];
                    if !si.is_nan() {
                        columns.band(lane, si, si, si, 1);
                    }
                }
            }
            from = until;
        }
        Ok(self.closed(columns, rows, 1))
    }

    fn window_of_blocks(
        &self,
        blocks: &Blocks,
        size: usize,
        at: Range<usize>,
        rows: Range<usize>,
    ) -> Window {
        let mut columns = Columns::new(self, &rows);
        for index in 0..blocks.len() {
            let first_row = (at.start + index) * size;
            columns.reach(first_row, blocks.from_s[index]);
            let n_rows = size.min(self.outline.n_rows - first_row);
            columns.rows(blocks.until_s[index], n_rows, blocks.has_gap[index] != 0);
            for (lane, list) in blocks.lanes.iter().enumerate() {
                let role = self.channels[lane].role;
                let si = |plotted: f32| layout::si(role, plotted);
                let n_values = list.n_values[index] as usize;
                if n_values > 0 {
                    let (min, max) = (si(list.min[index]), si(list.max[index]));
                    columns.band(lane, min, max, si(list.mean[index]), n_values);
                }
            }
        }
        self.closed(columns, rows, size)
    }

    /// With gaps and marks.
    fn closed(&self, mut columns: Columns, rows: Range<usize>, n_rows_each: usize) -> Window {
        if n_rows_each == 1 {
            columns.find_gaps(&self.gaps, self.from_s, rows.end == self.outline.n_rows);
        }
        let column_s = columns.width_s;
        let is_listed = |gap: &&Gap| columns.is_rows || gap.until_s - gap.from_s >= column_s;
        let channels = self.channels.iter().zip(columns.bands);
        let lane = |(channel, bands): (&&Channel, _)| WindowLane {
            channel: (*channel).clone(),
            bands,
        };
        let phases = self.outline.phases.iter();
        let entries = self.outline.entries.iter();
        Window {
            from_s: self.from_s,
            until_s: self.until_s,
            n_rows: rows.len(),
            n_rows_each,
            gaps: self.gaps.iter().filter(is_listed).copied().collect(),
            n_gaps: self.gaps.len(),
            lanes: channels.map(lane).collect(),
            columns: columns.stretches,
            phases: phases
                .filter(|p| p.until_s >= self.from_s && p.from_s <= self.until_s)
                .cloned()
                .collect(),
            entries: entries
                .filter(|e| (self.from_s..=self.until_s).contains(&e.at_s))
                .cloned()
                .collect(),
        }
    }
}

/// Finds rows by their time without reading all times.
struct Finder<'a> {
    source: &'a Source,
    n_rows: usize,
    /// Rows of the blocks whose first times are known, smallest first.
    sizes: Vec<usize>,
    has_overview: bool,
}

impl Finder<'_> {
    /// The first row whose time is not before.
    fn row(&self, is_before: impl Fn(f64) -> bool) -> Result<usize, ArchiveError> {
        let mut rows = 0..self.n_rows;
        for size in self.sizes.iter().rev() {
            let blocks = rows.start / size..rows.end.div_ceil(*size);
            let first_not = match self.has_overview {
                true => {
                    let field = LevelFields::new(*size).times();
                    let times: Vec<f64> = self.source.slice(&field, blocks.clone())?;
                    blocks.start + times.partition_point(|time_s| is_before(*time_s))
                }
                false => self.block(*size, blocks, &is_before)?,
            };
            let Some(block) = first_not.checked_sub(1) else {
                return Ok(0);
            };
            rows = block * size..((block + 1) * size).min(self.n_rows);
        }
        let times: Vec<f64> = self.source.slice(layout::TIME, rows.clone())?;
        Ok(rows.start + times.partition_point(|time_s| is_before(*time_s)))
    }

    /// The first block whose first row is not before, by halves.
    fn block(
        &self,
        size: usize,
        blocks: Range<usize>,
        is_before: impl Fn(f64) -> bool,
    ) -> Result<usize, ArchiveError> {
        let (mut low, mut high) = (blocks.start, blocks.end);
        while low < high {
            let middle = low + (high - low) / 2;
            let row = middle * size;
            let times: Vec<f64> = self.source.slice(layout::TIME, row..row + 1)?;
            if times.iter().all(|time_s| is_before(*time_s)) {
                low = middle + 1;
            } else {
                high = middle;
            }
        }
        Ok(low)
    }
}

/// Columns that are being filled from left to right.
struct Columns {
    from_s: f64,
    width_s: f64,
    n_columns: usize,
    /// Each row has its own column.
    is_rows: bool,
    first_row: usize,
    number: Option<usize>,
    stretches: Vec<Stretch>,
    bands: Vec<Vec<Option<Band>>>,
}

impl Columns {
    fn new(look: &Look<'_>, rows: &Range<usize>) -> Self {
        Self {
            from_s: look.from_s,
            width_s: (look.until_s - look.from_s) / look.n_columns as f64,
            n_columns: look.n_columns,
            is_rows: rows.len() <= look.n_columns,
            first_row: rows.start,
            number: None,
            stretches: Vec::new(),
            bands: vec![Vec::new(); look.channels.len()],
        }
    }

    /// Goes to the column of a row.
    fn reach(&mut self, row: usize, time_s: f64) {
        let number = match self.is_rows {
            true => row.saturating_sub(self.first_row),
            false => {
                (((time_s - self.from_s) / self.width_s).max(0.0) as usize).min(self.n_columns - 1)
            }
        };
        if self.number != Some(number) {
            self.number = Some(number);
            self.stretches.push(Stretch {
                from_s: time_s,
                until_s: time_s,
                n_rows: 0,
                has_gap: false,
            });
            self.bands.iter_mut().for_each(|bands| bands.push(None));
        }
    }

    fn rows(&mut self, until_s: f64, n_rows: usize, has_gap: bool) {
        if let Some(stretch) = self.stretches.last_mut() {
            stretch.until_s = until_s;
            stretch.n_rows += n_rows;
            stretch.has_gap |= has_gap;
        }
    }

    fn band(&mut self, lane: usize, min_si: f64, max_si: f64, mean_si: f64, n_values: usize) {
        let Some(band) = self.bands[lane].last_mut() else {
            return;
        };
        let Some(known) = band else {
            *band = Some(Band {
                min_si,
                max_si,
                mean_si,
                n_values,
            });
            return;
        };
        let n_all = known.n_values + n_values;
        known.min_si = known.min_si.min(min_si);
        known.max_si = known.max_si.max(max_si);
        known.mean_si += (mean_si - known.mean_si) * (n_values as f64 / n_all as f64);
        known.n_values = n_all;
    }

    fn find_gaps(&mut self, gaps: &[Gap], before_s: f64, is_end: bool) {
        let mut walk = GapWalk::new(gaps, before_s);
        let n_columns = self.stretches.len();
        for (index, stretch) in self.stretches.iter_mut().enumerate() {
            let is_last = is_end && index + 1 == n_columns;
            stretch.has_gap = walk.step(match is_last {
                true => f64::INFINITY,
                false => stretch.until_s,
            });
        }
    }
}

#[cfg(test)]
mod tests;
