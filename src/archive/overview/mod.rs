//! Lowest, highest and mean value of blocks of rows, so that a long recording is seen at once.
//!
//! Blocks of 16 rows, of 256, and so on until they are few. A block that lost samples says so. They are made while the
//! recording is written, lie in the same file and are signed with it. Short
//! recordings have none: their rows are read as fast.
//!
//! Invariants: everything here follows from the rows and gaps of the recording; block `k` of a
//! level holds the rows from `k · size` on; a value that is not there counts for nothing.

mod build;
mod gaps;
mod place;

pub(super) use build::Builder;
pub(super) use gaps::GapWalk;
pub(super) use place::LevelFields;
pub(super) use place::OverviewOut;
pub(super) use place::read_blocks;
pub(super) use place::read_lanes;
pub(super) use place::read_times;

use crate::channel::Role;
use crate::signature::Digest;
use crate::signature::Hasher;

/// Rows of the smallest block, and blocks of a level in one of the next.
pub(super) const FACTOR: usize = 16;

/// Fewest rows of a recording that has an overview. Reading the rows of a shorter one takes no
/// longer than a look through an overview may; 0.3 s, 4 min at 1 kHz, 44 min at 100 Hz.
pub(super) const LEAST_ROWS: usize = 1 << 18;

/// A level with no more blocks is the last.
const ENOUGH_BLOCKS: usize = 2_048;

/// Blocks of a level in one compressed chunk.
pub(super) const CHUNK_BLOCKS: usize = 4_096;

/// Rows of a block in each level, smallest first; empty for a short recording.
pub(super) fn block_sizes(n_rows: usize) -> Vec<usize> {
    if n_rows < LEAST_ROWS {
        return Vec::new();
    }
    let mut sizes = vec![FACTOR];
    while let Some(last) = sizes
        .last()
        .filter(|n| n_rows.div_ceil(**n) > ENOUGH_BLOCKS)
    {
        sizes.push(last * FACTOR);
    }
    sizes
}

/// Blocks of one level that follow each other.
#[derive(Debug, Clone, Default)]
pub(super) struct Blocks {
    /// Bench time of the first row of each, s.
    pub(super) from_s: Vec<f64>,
    /// Bench time of the last row of each, s.
    pub(super) until_s: Vec<f64>,
    /// 1 where samples are missing in it or right before it.
    pub(super) has_gap: Vec<u8>,
    /// Each channel.
    pub(super) lanes: Vec<LaneBlocks>,
}

/// One channel in blocks that follow each other, in the units of the plots.
#[derive(Debug, Clone, Default)]
pub(super) struct LaneBlocks {
    /// Lowest value; NaN without any.
    pub(super) min: Vec<f32>,
    /// Highest value; NaN without any.
    pub(super) max: Vec<f32>,
    /// Mean value; NaN without any.
    pub(super) mean: Vec<f32>,
    /// How many values.
    pub(super) n_values: Vec<u32>,
}

impl Blocks {
    /// Number of blocks.
    pub(super) fn len(&self) -> usize {
        self.from_s.len()
    }

    /// Takes the first `n` out.
    fn split_front(&mut self, n: usize) -> Self {
        fn front<T>(list: &mut Vec<T>, n: usize) -> Vec<T> {
            let rest = list.split_off(n);
            std::mem::replace(list, rest)
        }
        let lanes = self.lanes.iter_mut().map(|lane| LaneBlocks {
            min: front(&mut lane.min, n),
            max: front(&mut lane.max, n),
            mean: front(&mut lane.mean, n),
            n_values: front(&mut lane.n_values, n),
        });
        Self {
            lanes: lanes.collect(),
            from_s: front(&mut self.from_s, n),
            until_s: front(&mut self.until_s, n),
            has_gap: front(&mut self.has_gap, n),
        }
    }

    /// Puts others behind these.
    pub(super) fn extend(&mut self, mut others: Self) {
        self.from_s.append(&mut others.from_s);
        self.until_s.append(&mut others.until_s);
        self.has_gap.append(&mut others.has_gap);
        self.lanes
            .resize_with(others.lanes.len(), LaneBlocks::default);
        for (lane, other) in self.lanes.iter_mut().zip(&mut others.lanes) {
            lane.min.append(&mut other.min);
            lane.max.append(&mut other.max);
            lane.mean.append(&mut other.mean);
            lane.n_values.append(&mut other.n_values);
        }
    }

    /// Some of them.
    pub(super) fn within(&self, blocks: std::ops::Range<usize>) -> Self {
        let mut rest = self.clone();
        rest.split_front(blocks.start);
        rest.split_front(blocks.len())
    }

    /// The same to the last bit.
    pub(super) fn is_same(&self, other: &Self) -> bool {
        let f64s = |one: &[f64], other: &[f64]| {
            let bits = |list: &[f64]| list.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
            bits(one) == bits(other)
        };
        let f32s = |one: &[f32], other: &[f32]| {
            let bits = |list: &[f32]| list.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
            bits(one) == bits(other)
        };
        let lanes = self.lanes.iter().zip(&other.lanes);
        f64s(&self.from_s, &other.from_s)
            && f64s(&self.until_s, &other.until_s)
            && self.has_gap == other.has_gap
            && self.lanes.len() == other.lanes.len()
            && lanes.into_iter().all(|(one, other)| {
                f32s(&one.min, &other.min)
                    && f32s(&one.max, &other.max)
                    && f32s(&one.mean, &other.mean)
                    && one.n_values == other.n_values
            })
    }
}

/// Hashes of an overview: of its times, and of each channel over all levels.
pub(super) struct OverviewHashes {
    levels: Vec<LevelHashes>,
}

struct LevelHashes {
    times: Hasher,
    lanes: Vec<Hasher>,
}

impl OverviewHashes {
    /// Before the first block.
    pub(super) fn new(n_rows: usize, n_lanes: usize) -> Self {
        let begun = |size: usize| {
            let mut hasher = Hasher::default();
            hasher.update(&(size as u64).to_le_bytes());
            hasher.update(&(n_rows.div_ceil(size) as u64).to_le_bytes());
            hasher
        };
        let level = |size: usize| LevelHashes {
            times: begun(size),
            lanes: (0..n_lanes).map(|_| begun(size)).collect(),
        };
        Self {
            levels: block_sizes(n_rows).into_iter().map(level).collect(),
        }
    }

    /// Takes the next blocks of a level.
    pub(super) fn take(&mut self, level: usize, blocks: &Blocks) {
        let hashes = &mut self.levels[level];
        let mut bytes = Vec::with_capacity(17 * blocks.len());
        for index in 0..blocks.len() {
            bytes.extend_from_slice(&blocks.from_s[index].to_le_bytes());
            bytes.extend_from_slice(&blocks.until_s[index].to_le_bytes());
            bytes.push(blocks.has_gap[index]);
        }
        hashes.times.update(&bytes);
        for (hasher, lane) in hashes.lanes.iter_mut().zip(&blocks.lanes) {
            bytes.clear();
            for index in 0..lane.min.len() {
                for value in [lane.min[index], lane.max[index], lane.mean[index]] {
                    bytes.extend_from_slice(&value.to_le_bytes());
                }
                bytes.extend_from_slice(&lane.n_values[index].to_le_bytes());
            }
            hasher.update(&bytes);
        }
    }

    /// Names of the parts and their hashes; none without an overview.
    pub(super) fn parts(self, roles: &[Role]) -> Vec<(String, Digest)> {
        if self.levels.is_empty() {
            return Vec::new();
        }
        let mut times = Hasher::default();
        let mut lanes: Vec<Hasher> = roles.iter().map(|_| Hasher::default()).collect();
        for level in self.levels {
            times.text(&level.times.finish().hex());
            for (whole, of_level) in lanes.iter_mut().zip(level.lanes) {
                whole.text(&of_level.finish().hex());
            }
        }
        let mut parts = vec![(part_of_times(), times.finish())];
        for (role, lane) in roles.iter().zip(lanes) {
            parts.push((part_of(*role), lane.finish()));
        }
        parts
    }
}

/// Name of the part that the times of an overview are.
pub(super) fn part_of_times() -> String {
    "overview time".into()
}

/// Name of the part that a channel's overview is.
pub(super) fn part_of(role: Role) -> String {
    format!("overview {}", role.word())
}

#[cfg(test)]
mod tests;
