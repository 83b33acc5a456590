//! Rows to blocks, and blocks to larger ones.

use super::Blocks;
use super::CHUNK_BLOCKS;
use super::GapWalk;
use super::block_sizes;
use crate::archive::layout;
use crate::archive::shown::ShownTrack;
use crate::channel::Role;
use crate::recording::Outline;
use crate::recording::Piece;

/// Makes the blocks of all levels while rows go by. Memory does not grow with them as long as
/// [`Builder::hand_out`] is called.
pub(in crate::archive) struct Builder {
    levels: Vec<Level>,
    gaps: GapWalk,
    roles: Vec<Role>,
    n_rows: usize,
    n_taken: usize,
}

/// A level with its block that is not full yet, and the full ones.
struct Level {
    size: usize,
    open: Open,
    ready: Blocks,
    n_given: usize,
}

#[derive(Clone)]
struct Open {
    n_rows: usize,
    from_s: f64,
    until_s: f64,
    has_gap: bool,
    lanes: Vec<Stat>,
}

/// What is known of the values of a block.
#[derive(Clone, Copy)]
struct Stat {
    n_values: u32,
    min: f32,
    max: f32,
    sum_si: f64,
}

impl Stat {
    const NONE: Self = Self {
        n_values: 0,
        min: f32::INFINITY,
        max: f32::NEG_INFINITY,
        sum_si: 0.0,
    };

    fn with(self, other: Self) -> Self {
        Self {
            n_values: self.n_values + other.n_values,
            min: self.min.min(other.min),
            max: self.max.max(other.max),
            sum_si: self.sum_si + other.sum_si,
        }
    }
}

impl Open {
    fn new(n_lanes: usize) -> Self {
        Self {
            n_rows: 0,
            from_s: f64::NAN,
            until_s: f64::NAN,
            has_gap: false,
            lanes: vec![Stat::NONE; n_lanes],
        }
    }

    fn merge(&mut self, other: &Self) {
        if self.n_rows == 0 {
            self.from_s = other.from_s;
        }
        self.until_s = other.until_s;
        self.n_rows += other.n_rows;
        self.has_gap |= other.has_gap;
        for (stat, other) in self.lanes.iter_mut().zip(&other.lanes) {
            *stat = stat.with(*other);
        }
    }
}

impl Builder {
    /// For a recording; makes nothing of a short one.
    pub(in crate::archive) fn new(outline: &Outline) -> Self {
        Self::with_sizes(outline, &block_sizes(outline.n_rows))
    }

    /// With blocks of other sizes, each a multiple of the one before.
    pub(in crate::archive) fn with_sizes(outline: &Outline, sizes: &[usize]) -> Self {
        let n_lanes = outline.lanes.len();
        let level = |size: &usize| Level {
            size: *size,
            open: Open::new(n_lanes),
            ready: empty(n_lanes),
            n_given: 0,
        };
        Self {
            levels: sizes.iter().map(level).collect(),
            gaps: GapWalk::new(&outline.gaps, f64::NEG_INFINITY),
            roles: outline.lanes.iter().map(|lane| lane.channel.role).collect(),
            n_rows: outline.n_rows,
            n_taken: 0,
        }
    }

    /// Takes the next rows.
    pub(in crate::archive) fn take(&mut self, piece: &Piece, shown: &[ShownTrack]) {
        let mut at = 0;
        while at < piece.len() && !self.levels.is_empty() {
            let Level { size, open, .. } = &mut self.levels[0];
            let until = piece.len().min(at + *size - open.n_rows);
            if open.n_rows == 0 {
                open.from_s = piece.time_s()[at];
            }
            open.until_s = piece.time_s()[until - 1];
            open.n_rows += until - at;
            for (stat, track) in open.lanes.iter_mut().zip(shown) {
                for index in at..until {
                    let (si, plotted) = (track.si[index], track.plotted[index]);
                    if !si.is_nan() {
                        stat.n_values += 1;
                        stat.sum_si += si;
                        stat.min = stat.min.min(plotted);
                        stat.max = stat.max.max(plotted);
                    }
                }
            }
            self.n_taken += until - at;
            at = until;
            if self.levels[0].open.n_rows == self.levels[0].size || self.n_taken == self.n_rows {
                self.close_smallest();
            }
        }
    }

    /// Closes the open block of the first level, and those of the others that are full by that.
    fn close_smallest(&mut self) {
        let is_last = self.n_taken == self.n_rows;
        let open = &mut self.levels[0].open;
        open.has_gap = self.gaps.step(match is_last {
            true => f64::INFINITY,
            false => open.until_s,
        });
        for index in 0..self.levels.len() {
            let level = &mut self.levels[index];
            let n_lanes = level.open.lanes.len();
            let closed = std::mem::replace(&mut level.open, Open::new(n_lanes));
            push(&mut level.ready, &closed, &self.roles);
            let Some(next) = self.levels.get_mut(index + 1) else {
                break;
            };
            next.open.merge(&closed);
            if next.open.n_rows < next.size && !is_last {
                break;
            }
        }
    }

    /// Hands out what is ready: level, number of the first block, and the blocks, as many as one
    /// chunk holds; at the end the rest.
    pub(in crate::archive) fn hand_out<E>(
        &mut self,
        mut take: impl FnMut(usize, usize, Blocks) -> Result<(), E>,
    ) -> Result<(), E> {
        let is_over = self.n_taken == self.n_rows;
        for (index, level) in self.levels.iter_mut().enumerate() {
            while level.ready.len() >= CHUNK_BLOCKS || (is_over && level.ready.len() > 0) {
                let n_now = level.ready.len().min(CHUNK_BLOCKS);
                let blocks = level.ready.split_front(n_now);
                take(index, level.n_given, blocks)?;
                level.n_given += n_now;
            }
        }
        Ok(())
    }
}

fn empty(n_lanes: usize) -> Blocks {
    Blocks {
        lanes: vec![super::LaneBlocks::default(); n_lanes],
        ..Blocks::default()
    }
}

fn push(blocks: &mut Blocks, closed: &Open, roles: &[Role]) {
    blocks.from_s.push(closed.from_s);
    blocks.until_s.push(closed.until_s);
    blocks.has_gap.push(u8::from(closed.has_gap));
    for ((lane, stat), role) in blocks.lanes.iter_mut().zip(&closed.lanes).zip(roles) {
        lane.n_values.push(stat.n_values);
        if stat.n_values == 0 {
            lane.min.push(f32::NAN);
            lane.max.push(f32::NAN);
            lane.mean.push(f32::NAN);
        } else {
            let mean_si = stat.sum_si / f64::from(stat.n_values);
            lane.min.push(stat.min);
            lane.max.push(stat.max);
            lane.mean.push(layout::plotted(*role, mean_si));
        }
    }
}
