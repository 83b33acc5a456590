//! A new file with everything of a recording but its rows, and the lists that take these.
//!
//! Invariant: a list is filled from its first row to its last, once.

use super::layout;
use super::overview::OverviewOut;
use super::put;
use super::shown::ShownTrack;
use super::unlocked;
use crate::channel::AgainstSupply;
use crate::channel::NOMINAL_SUPPLY_V;
use crate::channel::PLAUSIBLE_SUPPLY_V;
use crate::channel::Role;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::Form;
use crate::recording::Lane;
use crate::recording::Outline;
use crate::recording::Piece;
use crate::recording::RECORDING_VERSION;
use hdf5::Dataset;
use hdf5::File;
use hdf5::Group;
use hdf5::H5Type;
use std::path::Path;

/// A file that is being filled.
pub(super) struct Filling {
    file: File,
    time: Dataset,
    codes: Vec<Dataset>,
    /// As many as there are channels; a role without a plot has none.
    plots: Vec<Option<Dataset>>,
    overview: OverviewOut,
    n_rows: usize,
}

impl Filling {
    /// Makes the file; `n_block` bytes are left free at the start.
    pub(super) fn create(path: &Path, outline: &Outline, n_block: u64) -> hdf5::Result<Self> {
        let mut files = unlocked();
        files.with_fcpl(|creation| creation.userblock(n_block));
        let file = files.create(path)?;
        let heading = &outline.heading;
        put::attr_text(&file, "NX_class", "NXroot")?;
        put::attr_text(&file, "default", layout::ENTRY)?;
        put::attr_text(&file, "creator", "stillrod")?;
        let entry = put::nexus_group(&file, layout::ENTRY, "NXentry")?;
        put::text(&entry, "title", &heading.run_id)?;
        put::text(&entry, "entry_identifier", &heading.run_id)?;
        let program = put::text(&entry, "program_name", "stillrod")?;
        put::attr_text(&program, "version", &heading.software)?;
        if let Ok(start) = jiff::Timestamp::from_millisecond(heading.started_utc_ms) {
            put::text(&entry, "start_time", &start.to_string())?;
        }
        fill_recording(&file, outline)?;
        let time = row_list::<f64>(&file, layout::TIME, outline.n_rows)?;
        put::attr_text(&time, "units", "s")?;
        put::attr_text(&time, "long_name", "bench time")?;
        put::attr_text(&time, "target", "/entry/recording/time")?;
        put::nexus_group(&file, layout::INSTRUMENT, "NXinstrument")?;
        let lanes = outline.lanes.iter().enumerate();
        let codes = lanes.map(|(index, lane)| fill_detector(&file, index, lane, outline.n_rows));
        Ok(Self {
            codes: codes.collect::<hdf5::Result<_>>()?,
            plots: fill_plots(&file, &entry, outline)?,
            overview: OverviewOut::create(&file, outline)?,
            time,
            file,
            n_rows: 0,
        })
    }

    /// Writes the next rows.
    pub(super) fn write(&mut self, piece: &Piece, shown: &[ShownTrack]) -> hdf5::Result<()> {
        let at = self.n_rows..self.n_rows + piece.len();
        put::slice(&self.time, at.clone(), piece.time_s())?;
        for (data, track) in self.codes.iter().zip(piece.tracks()) {
            match &track.codes {
                Codes::Raw(codes) | Codes::AgainstSupply { raw: codes, .. } => {
                    put::slice(data, at.clone(), codes)?;
                }
                Codes::Si(values) => put::slice(data, at.clone(), values)?,
            }
        }
        for (data, track) in self.plots.iter().zip(shown) {
            if let Some(data) = data {
                put::slice(data, at.clone(), &track.plotted)?;
            }
        }
        self.n_rows = at.end;
        Ok(())
    }

    /// Where the overview goes.
    pub(super) fn overview(&self) -> &OverviewOut {
        &self.overview
    }

    /// Writes the checksum of all that was written, and closes the file.
    pub(super) fn close(self, checksum: u32) -> hdf5::Result<()> {
        let Self {
            file,
            time,
            codes,
            plots,
            overview,
            n_rows: _,
        } = self;
        drop((time, codes, plots, overview));
        let group = file.group(layout::RECORDING)?;
        put::number(&group, "content_crc32c", checksum)?;
        drop(group);
        file.flush()?;
        file.close()
    }
}

/// A list with an entry for each row.
fn row_list<T: H5Type>(file: &File, path: &str, n_rows: usize) -> hdf5::Result<Dataset> {
    put::empty_list::<T>(file, path, n_rows, super::PIECE_ROWS)
}

fn fill_recording(file: &File, outline: &Outline) -> hdf5::Result<()> {
    let heading = &outline.heading;
    let group = put::nexus_group(file, layout::RECORDING, "NXcollection")?;
    put::number(&group, "recording_version", RECORDING_VERSION)?;
    put::number(&group, "started_utc_ms", heading.started_utc_ms)?;
    for (name, value) in [
        ("run_id", &heading.run_id),
        ("time_zone", &heading.time_zone),
        ("software", &heading.software),
        ("source", &heading.source),
        ("setup_toml", &heading.setup_toml),
        ("shop_toml", &heading.shop_toml),
        ("practice", &heading.practice),
    ] {
        put::text(&group, name, value)?;
    }
    let (ending, reason) = match &outline.ending {
        Ending::Complete => (layout::COMPLETE, ""),
        Ending::Interrupted(reason) => (layout::INTERRUPTED, reason.as_str()),
    };
    put::text(&group, "ending", ending)?;
    put::text(&group, "ending_reason", reason)?;

    let group = put::nexus_group(file, layout::GAPS, "NXcollection")?;
    let gaps = &outline.gaps;
    put::marks(&group, "cause", gaps.iter().map(|gap| gap.cause.word()))?;
    put::marks_s(&group, "from_s", gaps.iter().map(|gap| gap.from_s))?;
    put::marks_s(&group, "until_s", gaps.iter().map(|gap| gap.until_s))?;

    let group = put::nexus_group(file, layout::PHASES, "NXcollection")?;
    let phases = &outline.phases;
    put::marks(
        &group,
        "name",
        phases.iter().map(|phase| phase.name.as_str()),
    )?;
    put::marks_s(&group, "from_s", phases.iter().map(|phase| phase.from_s))?;
    put::marks_s(&group, "until_s", phases.iter().map(|phase| phase.until_s))?;

    // What is usual has none, and keeps the shape it had.
    let entries = &outline.entries;
    if !entries.is_empty() {
        let group = put::nexus_group(file, layout::ENTRIES, "NXcollection")?;
        put::marks(&group, "kind", entries.iter().map(|e| e.kind.word()))?;
        put::marks(&group, "step", entries.iter().map(|e| e.step.as_str()))?;
        put::marks(&group, "text", entries.iter().map(|e| e.text.as_str()))?;
        put::marks_s(&group, "at_s", entries.iter().map(|e| e.at_s))?;
    }

    let group = put::nexus_group(file, layout::LOSS, "NXcollection")?;
    let loss = outline.loss;
    put::number(&group, "n_samples_lost", loss.n_samples_lost)?;
    put::number(&group, "n_frames_bad", loss.n_frames_bad)?;
    put::number(&group, "n_board_dropped", loss.n_board_dropped)?;
    put::number(&group, "n_bytes_overrun", loss.n_bytes_overrun)
}

/// A channel with its calibration; its entries are to be filled.
fn fill_detector(file: &File, index: usize, lane: &Lane, n_rows: usize) -> hdf5::Result<Dataset> {
    let channel = &lane.channel;
    let path = format!("{}/{}", layout::INSTRUMENT, channel.role.word());
    let group = put::nexus_group(file, &path, "NXdetector")?;
    put::number(&group, "track_index", index as u64)?;
    put::text(&group, "description", channel.role.plain())?;
    put::text(&group, "local_name", &channel.label)?;
    put::text(&group, "serial_number", &channel.papers.serial)?;
    put::text(
        &group,
        "calibration_certificate",
        &channel.papers.certificate,
    )?;
    put::text(&group, "calibration_due", &channel.papers.due)?;
    if let Some(by) = channel.papers.by {
        put::text(&group, "calibration_by", by.word())?;
    }
    let at = format!("{path}/data");
    let (data, units) = match lane.form {
        Form::Raw => (row_list::<i32>(file, &at, n_rows)?, "counts"),
        Form::Si => (row_list::<f64>(file, &at, n_rows)?, channel.role.si_unit()),
    };
    put::attr_text(&data, "units", units)?;
    put::attr_text(&data, "si_unit", channel.role.si_unit())?;
    for (name, value) in [
        ("si_at_zero_code", channel.calibration.si_at_zero_code),
        ("si_per_code", channel.calibration.si_per_code),
        ("range_low_si", channel.range_si.0),
        ("range_high_si", channel.range_si.1),
        ("zero_error_si", channel.errors.zero_si),
        ("span_error_relative", channel.errors.span_relative),
        ("zero_error_si_per_k", channel.errors.zero_si_per_k),
    ] {
        put::attr_number(&data, name, value)?;
    }
    if channel.calibration.si_per_code_squared != 0.0 {
        let bend = channel.calibration.si_per_code_squared;
        put::attr_number(&data, "si_per_code_squared", bend)?;
    }
    put::attr_number(&data, "good_code_lowest", channel.good_codes.0)?;
    put::attr_number(&data, "good_code_highest", channel.good_codes.1)?;
    if let Some(against) = &channel.against_supply {
        fill_against_supply(&data, against)?;
    }
    Ok(data)
}

/// Which channel the supply is, and all that a stranger needs to refer the codes to it.
fn fill_against_supply(data: &Dataset, against: &AgainstSupply) -> hdf5::Result<()> {
    put::attr_text(data, layout::SUPPLY_CHANNEL, Role::Supply.word())?;
    put::attr_number(data, "supply_nominal_v", NOMINAL_SUPPLY_V)?;
    put::attr_number(data, "supply_lowest_v", *PLAUSIBLE_SUPPLY_V.start())?;
    put::attr_number(data, "supply_highest_v", *PLAUSIBLE_SUPPLY_V.end())?;
    put::attr_number(data, "code_at_zero_volt", against.code_at_zero_volt)?;
    put::attr_number(data, "signal_code_lowest", against.signal_codes.0)?;
    put::attr_number(data, "signal_code_highest", against.signal_codes.1)?;
    put::attr_number(data, "supply_step_relative", against.supply_step_relative)
}

/// The lists of the plots, in the order of the channels.
fn fill_plots(file: &File, entry: &Group, outline: &Outline) -> hdf5::Result<Vec<Option<Dataset>>> {
    let mut lists = vec![None; outline.lanes.len()];
    let mut is_first = true;
    for plot in &layout::PLOTS {
        let place = |role: &Role| outline.lanes.iter().position(|l| l.channel.role == *role);
        let tracks: Vec<(usize, Role)> = plot
            .roles
            .iter()
            .filter_map(|role| Some((place(role)?, *role)))
            .collect();
        let Some((signal, others)) = tracks.split_first() else {
            continue;
        };
        if std::mem::take(&mut is_first) {
            put::attr_text(entry, "default", plot.group)?;
        }
        let path = format!("{}/{}", layout::ENTRY, plot.group);
        let group = put::nexus_group(file, &path, "NXdata")?;
        put::text(&group, "title", plot.title)?;
        put::attr_text(&group, "signal", signal.1.word())?;
        put::attr_text(&group, "axes", "time")?;
        put::attr_number(&group, "time_indices", 0_i32)?;
        let others: Vec<String> = others.iter().map(|other| other.1.word().into()).collect();
        put::attr_texts(&group, "auxiliary_signals", &others)?;
        file.link_hard(layout::TIME, &format!("{}/time", group.name()))?;
        for (index, role) in tracks {
            let at = format!("{path}/{}", role.word());
            let data = row_list::<f32>(file, &at, outline.n_rows)?;
            put::attr_text(&data, "units", plot.units)?;
            let words = format!("{} ({})", role.plain(), plot.units);
            put::attr_text(&data, "long_name", &words)?;
            lists[index] = Some(data);
        }
    }
    Ok(lists)
}
