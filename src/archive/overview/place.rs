//! Where the blocks of a recording lie in its file.
//!
//! Each level is a group `entry/overview/rows_16`, with the times of its blocks, which of them lost
//! samples, how many values each holds, and an `NXdata` for each kind of value: a viewer
//! plots mean, lowest and highest.
//!
//! Invariant: what is written under a name is read under the same.

use super::Blocks;
use super::CHUNK_BLOCKS;
use super::LaneBlocks;
use super::block_sizes;
use crate::archive::ArchiveError;
use crate::archive::layout;
use crate::archive::layout::PLOTS;
use crate::archive::layout::Plot;
use crate::archive::put;
use crate::archive::read::Source;
use crate::channel::Role;
use crate::recording::Outline;
use hdf5::Dataset;
use hdf5::File;
use hdf5::H5Type;
use std::ops::Range;

/// Names of the lists of one level.
pub(in crate::archive) struct LevelFields {
    group: String,
}

impl LevelFields {
    /// Of the level with blocks of `size` rows.
    pub(in crate::archive) fn new(size: usize) -> Self {
        Self {
            group: format!("{}/rows_{size}", layout::OVERVIEW),
        }
    }

    /// Its group.
    pub(in crate::archive) fn group(&self) -> &str {
        &self.group
    }

    /// Times of the first rows, s.
    pub(in crate::archive) fn times(&self) -> String {
        format!("{}/time", self.group)
    }

    /// Times of the last rows, s.
    pub(in crate::archive) fn times_until(&self) -> String {
        format!("{}/time_until", self.group)
    }

    /// Which blocks lost samples.
    pub(in crate::archive) fn has_gap(&self) -> String {
        format!("{}/has_gap", self.group)
    }

    /// How many values of a channel each block holds.
    pub(in crate::archive) fn n_values(&self, role: Role) -> String {
        format!("{}/count_{}", self.group, role.word())
    }

    fn plot(&self, plot: &Plot) -> String {
        format!("{}/{}", self.group, plot.group)
    }

    /// Mean, lowest and highest value of a channel.
    pub(in crate::archive) fn values(&self, role: Role) -> [String; 3] {
        let plot = PLOTS.iter().find(|plot| plot.roles.contains(&role));
        let group = plot.map_or_else(|| self.group.clone(), |plot| self.plot(plot));
        SUFFIXES.map(|suffix| format!("{group}/{}{suffix}", role.word()))
    }
}

/// Ends of the names of mean, lowest and highest value.
const SUFFIXES: [&str; 3] = ["", "_min", "_max"];

/// The lists of all levels, to be filled.
pub(in crate::archive) struct OverviewOut {
    levels: Vec<LevelOut>,
}

struct LevelOut {
    from_s: Dataset,
    until_s: Dataset,
    has_gap: Dataset,
    lanes: Vec<LaneOut>,
}

struct LaneOut {
    /// Mean, lowest, highest.
    values: [Dataset; 3],
    n_values: Dataset,
}

impl OverviewOut {
    /// Makes the groups; none for a short recording.
    pub(in crate::archive) fn create(file: &File, outline: &Outline) -> hdf5::Result<Self> {
        let sizes = block_sizes(outline.n_rows);
        if !sizes.is_empty() {
            let group = put::nexus_group(file, layout::OVERVIEW, "NXcollection")?;
            let words = "lowest, highest and mean value of blocks of rows; all of it follows from \
                         the raw codes in /entry/instrument";
            put::text(&group, "description", words)?;
        }
        let levels = sizes.into_iter().map(|size| level(file, outline, size));
        Ok(Self {
            levels: levels.collect::<hdf5::Result<_>>()?,
        })
    }

    /// Writes blocks of a level, from block `first` on.
    pub(in crate::archive) fn write(
        &self,
        level: usize,
        first: usize,
        blocks: &Blocks,
    ) -> hdf5::Result<()> {
        let out = &self.levels[level];
        let at = first..first + blocks.len();
        put::slice(&out.from_s, at.clone(), &blocks.from_s)?;
        put::slice(&out.until_s, at.clone(), &blocks.until_s)?;
        put::slice(&out.has_gap, at.clone(), &blocks.has_gap)?;
        for (out, lane) in out.lanes.iter().zip(&blocks.lanes) {
            let lists = [&lane.mean, &lane.min, &lane.max];
            for (dataset, list) in out.values.iter().zip(lists) {
                put::slice(dataset, at.clone(), list)?;
            }
            put::slice(&out.n_values, at.clone(), &lane.n_values)?;
        }
        Ok(())
    }
}

fn level(file: &File, outline: &Outline, size: usize) -> hdf5::Result<LevelOut> {
    let fields = LevelFields::new(size);
    let n_blocks = outline.n_rows.div_ceil(size);
    let group = put::nexus_group(file, fields.group(), "NXcollection")?;
    put::number(&group, "rows_per_block", size as u64)?;
    let from_s = list::<f64>(file, &fields.times(), n_blocks)?;
    put::attr_text(&from_s, "units", "s")?;
    put::attr_text(
        &from_s,
        "long_name",
        "bench time of the first row of each block",
    )?;
    put::attr_text(&from_s, "target", &format!("/{}", fields.times()))?;
    let until_s = list::<f64>(file, &fields.times_until(), n_blocks)?;
    put::attr_text(&until_s, "units", "s")?;
    put::attr_text(
        &until_s,
        "long_name",
        "bench time of the last row of each block",
    )?;
    let has_gap = list::<u8>(file, &fields.has_gap(), n_blocks)?;
    let words = "1 where samples are missing in the block or right before it";
    put::attr_text(&has_gap, "long_name", words)?;
    for plot in &PLOTS {
        nexus_data(file, outline, &fields, plot)?;
    }
    let lane = |role: Role| {
        let [mean, min, max] = fields.values(role);
        let values = [
            value_list(file, &mean, role, "mean", n_blocks)?,
            value_list(file, &min, role, "lowest", n_blocks)?,
            value_list(file, &max, role, "highest", n_blocks)?,
        ];
        let n_values = list::<u32>(file, &fields.n_values(role), n_blocks)?;
        let words = format!("values of {} in each block", role.plain());
        put::attr_text(&n_values, "long_name", &words)?;
        Ok(LaneOut { values, n_values })
    };
    let lanes = outline.lanes.iter().map(|l| lane(l.channel.role));
    Ok(LevelOut {
        lanes: lanes.collect::<hdf5::Result<_>>()?,
        from_s,
        until_s,
        has_gap,
    })
}

/// The group that a viewer plots, without its values.
fn nexus_data(
    file: &File,
    outline: &Outline,
    fields: &LevelFields,
    plot: &Plot,
) -> hdf5::Result<()> {
    let is_there = |role: &&Role| outline.lanes.iter().any(|l| l.channel.role == **role);
    let roles = plot.roles.iter().filter(is_there);
    let names: Vec<String> = roles
        .flat_map(|role| SUFFIXES.map(|suffix| format!("{}{suffix}", role.word())))
        .collect();
    let Some((signal, others)) = names.split_first() else {
        return Ok(());
    };
    let group = put::nexus_group(file, &fields.plot(plot), "NXdata")?;
    put::text(&group, "title", plot.title)?;
    put::attr_text(&group, "signal", signal)?;
    put::attr_text(&group, "axes", "time")?;
    put::attr_number(&group, "time_indices", 0_i32)?;
    put::attr_texts(&group, "auxiliary_signals", others)?;
    file.link_hard(&fields.times(), &format!("{}/time", group.name()))
}

fn value_list(
    file: &File,
    path: &str,
    role: Role,
    which: &str,
    n_blocks: usize,
) -> hdf5::Result<Dataset> {
    let plot = PLOTS.iter().find(|plot| plot.roles.contains(&role));
    let units = plot.map_or(role.si_unit(), |plot| plot.units);
    let data = list::<f32>(file, path, n_blocks)?;
    put::attr_text(&data, "units", units)?;
    let words = format!("{which} {} of each block ({units})", role.plain());
    put::attr_text(&data, "long_name", &words)?;
    Ok(data)
}

fn list<T: H5Type>(file: &File, path: &str, n_blocks: usize) -> hdf5::Result<Dataset> {
    put::empty_list::<T>(file, path, n_blocks, CHUNK_BLOCKS)
}

/// Reads blocks of the level with blocks of `size` rows, for the channels named.
pub(in crate::archive) fn read_blocks(
    source: &Source,
    size: usize,
    roles: &[Role],
    at: Range<usize>,
) -> Result<Blocks, ArchiveError> {
    Ok(Blocks {
        lanes: read_lanes(source, size, roles, at.clone())?.lanes,
        ..read_times(source, size, at)?
    })
}

/// The same without the channels.
pub(in crate::archive) fn read_times(
    source: &Source,
    size: usize,
    at: Range<usize>,
) -> Result<Blocks, ArchiveError> {
    let fields = LevelFields::new(size);
    Ok(Blocks {
        from_s: source.slice(&fields.times(), at.clone())?,
        until_s: source.slice(&fields.times_until(), at.clone())?,
        has_gap: source.slice(&fields.has_gap(), at)?,
        lanes: Vec::new(),
    })
}

/// The same without the times.
pub(in crate::archive) fn read_lanes(
    source: &Source,
    size: usize,
    roles: &[Role],
    at: Range<usize>,
) -> Result<Blocks, ArchiveError> {
    let fields = LevelFields::new(size);
    let lane = |role: &Role| {
        let [mean, min, max] = fields.values(*role);
        Ok(LaneBlocks {
            min: source.slice(&min, at.clone())?,
            max: source.slice(&max, at.clone())?,
            mean: source.slice(&mean, at.clone())?,
            n_values: source.slice(&fields.n_values(*role), at.clone())?,
        })
    };
    let lanes = roles.iter().map(lane);
    Ok(Blocks {
        lanes: lanes.collect::<Result<_, ArchiveError>>()?,
        ..Blocks::default()
    })
}
