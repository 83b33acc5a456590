//! A recording to a file: beside the place, to the disk, then into place.
//!
//! Invariant: whatever happens while writing, the final name is either absent or
//! names a complete file.

use super::ArchiveError;
use super::Cause;
use super::content;
use super::layout;
use super::library;
use super::signed;
use super::unlocked;
use crate::channel::AgainstSupply;
use crate::channel::NOMINAL_SUPPLY_V;
use crate::channel::PLAUSIBLE_SUPPLY_V;
use crate::channel::Role;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::RECORDING_VERSION;
use crate::recording::Recording;
use crate::recording::Track;
use crate::signature::BLOCK_BYTES;
use crate::signature::SigningKey;
use hdf5::Dataset;
use hdf5::File;
use hdf5::Group;
use hdf5::H5Type;
use hdf5::Location;
use hdf5::types::VarLenUnicode;
use std::path::Path;
use std::path::PathBuf;

/// Values in one compressed chunk. A reader unpacks at least one; a viewer that shows
/// a minute of 100 Hz needs one.
const CHUNK_VALUES: usize = 16_384;

/// Higher levels took longer and saved little on measured codes.
const DEFLATE_LEVEL: u8 = 4;

/// Writes a recording to `path`, whole or not at all.
///
/// # Errors
/// If the file exists or cannot be written; nothing is left under `path` then.
pub fn write(recording: &Recording, path: &Path) -> Result<(), ArchiveError> {
    write_with(recording, path, None)
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
    write_with(recording, path, Some(key))
}

fn write_with(
    recording: &Recording,
    path: &Path,
    key: Option<&SigningKey>,
) -> Result<(), ArchiveError> {
    if path.exists() {
        return Err(ArchiveError::Exists { path: path.into() });
    }
    let beside = beside(path);
    let written = write_beside(recording, path, &beside, key);
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

fn write_beside(
    recording: &Recording,
    path: &Path,
    beside: &Path,
    key: Option<&SigningKey>,
) -> Result<(), ArchiveError> {
    let failed = |step, cause: Cause| ArchiveError::Write {
        path: path.into(),
        step,
        cause,
    };
    {
        let _library = library();
        let block = key.map_or(0, |_| BLOCK_BYTES as u64);
        fill(recording, beside, block).map_err(|cause| failed("filling the file", cause.into()))?;
    }
    if let Some(key) = key {
        signed::fill(recording, beside, key).map_err(|cause| failed("signing it", cause.into()))?;
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

/// `n_block` bytes are left free at the start.
fn fill(recording: &Recording, path: &Path, n_block: u64) -> hdf5::Result<()> {
    let mut files = unlocked();
    files.with_fcpl(|creation| creation.userblock(n_block));
    let file = files.create(path)?;
    let heading = recording.heading();
    attr_text(&file, "NX_class", "NXroot")?;
    attr_text(&file, "default", layout::ENTRY)?;
    attr_text(&file, "creator", "stillrod")?;
    let entry = nexus_group(&file, layout::ENTRY, "NXentry")?;
    text(&entry, "title", &heading.run_id)?;
    text(&entry, "entry_identifier", &heading.run_id)?;
    let program = text(&entry, "program_name", "stillrod")?;
    attr_text(&program, "version", &heading.software)?;
    if let Ok(start) = jiff::Timestamp::from_millisecond(heading.started_utc_ms) {
        text(&entry, "start_time", &start.to_string())?;
    }
    fill_recording(&file, recording)?;
    nexus_group(&file, layout::INSTRUMENT, "NXinstrument")?;
    for (index, track) in recording.tracks().iter().enumerate() {
        fill_detector(&file, index, track)?;
    }
    fill_plots(&file, &entry, recording)?;
    file.flush()?;
    file.close()
}

fn fill_recording(file: &File, recording: &Recording) -> hdf5::Result<()> {
    let heading = recording.heading();
    let group = nexus_group(file, layout::RECORDING, "NXcollection")?;
    number(&group, "recording_version", RECORDING_VERSION)?;
    number(&group, "content_crc32c", content::checksum(recording))?;
    number(&group, "started_utc_ms", heading.started_utc_ms)?;
    for (name, value) in [
        ("run_id", &heading.run_id),
        ("time_zone", &heading.time_zone),
        ("software", &heading.software),
        ("source", &heading.source),
        ("setup_toml", &heading.setup_toml),
        ("shop_toml", &heading.shop_toml),
        ("practice", &heading.practice),
    ] {
        text(&group, name, value)?;
    }
    let (ending, reason) = match recording.ending() {
        Ending::Complete => (layout::COMPLETE, ""),
        Ending::Interrupted(reason) => (layout::INTERRUPTED, reason.as_str()),
    };
    text(&group, "ending", ending)?;
    text(&group, "ending_reason", reason)?;
    let time = list(&group, "time", recording.time_s())?;
    attr_text(&time, "units", "s")?;
    attr_text(&time, "long_name", "bench time")?;
    attr_text(&time, "target", "/entry/recording/time")?;

    let group = nexus_group(file, layout::GAPS, "NXcollection")?;
    let gaps = recording.gaps();
    marks(&group, "cause", gaps.iter().map(|gap| gap.cause.word()))?;
    marks_s(&group, "from_s", gaps.iter().map(|gap| gap.from_s))?;
    marks_s(&group, "until_s", gaps.iter().map(|gap| gap.until_s))?;

    let group = nexus_group(file, layout::PHASES, "NXcollection")?;
    let phases = recording.phases();
    marks(
        &group,
        "name",
        phases.iter().map(|phase| phase.name.as_str()),
    )?;
    marks_s(&group, "from_s", phases.iter().map(|phase| phase.from_s))?;
    marks_s(&group, "until_s", phases.iter().map(|phase| phase.until_s))?;

    // What is usual has none, and keeps the shape it had.
    let entries = recording.entries();
    if !entries.is_empty() {
        let group = nexus_group(file, layout::ENTRIES, "NXcollection")?;
        marks(&group, "kind", entries.iter().map(|e| e.kind.word()))?;
        marks(&group, "step", entries.iter().map(|e| e.step.as_str()))?;
        marks(&group, "text", entries.iter().map(|e| e.text.as_str()))?;
        marks_s(&group, "at_s", entries.iter().map(|e| e.at_s))?;
    }

    let group = nexus_group(file, layout::LOSS, "NXcollection")?;
    let loss = recording.loss();
    number(&group, "n_samples_lost", loss.n_samples_lost)?;
    number(&group, "n_frames_bad", loss.n_frames_bad)?;
    number(&group, "n_board_dropped", loss.n_board_dropped)?;
    number(&group, "n_bytes_overrun", loss.n_bytes_overrun)
}

fn fill_detector(file: &File, index: usize, track: &Track) -> hdf5::Result<()> {
    let channel = &track.channel;
    let path = format!("{}/{}", layout::INSTRUMENT, channel.role.word());
    let group = nexus_group(file, &path, "NXdetector")?;
    number(&group, "track_index", index as u64)?;
    text(&group, "description", channel.role.plain())?;
    text(&group, "local_name", &channel.label)?;
    text(&group, "serial_number", &channel.papers.serial)?;
    text(
        &group,
        "calibration_certificate",
        &channel.papers.certificate,
    )?;
    text(&group, "calibration_due", &channel.papers.due)?;
    if let Some(by) = channel.papers.by {
        text(&group, "calibration_by", by.word())?;
    }
    let (data, units) = match &track.codes {
        Codes::Raw(codes) | Codes::AgainstSupply { raw: codes, .. } => {
            (list(&group, "data", codes)?, "counts")
        }
        Codes::Si(values) => (list(&group, "data", values)?, channel.role.si_unit()),
    };
    attr_text(&data, "units", units)?;
    attr_text(&data, "si_unit", channel.role.si_unit())?;
    for (name, value) in [
        ("si_at_zero_code", channel.calibration.si_at_zero_code),
        ("si_per_code", channel.calibration.si_per_code),
        ("range_low_si", channel.range_si.0),
        ("range_high_si", channel.range_si.1),
        ("zero_error_si", channel.errors.zero_si),
        ("span_error_relative", channel.errors.span_relative),
        ("zero_error_si_per_k", channel.errors.zero_si_per_k),
    ] {
        attr_number(&data, name, value)?;
    }
    if channel.calibration.si_per_code_squared != 0.0 {
        let bend = channel.calibration.si_per_code_squared;
        attr_number(&data, "si_per_code_squared", bend)?;
    }
    attr_number(&data, "good_code_lowest", channel.good_codes.0)?;
    attr_number(&data, "good_code_highest", channel.good_codes.1)?;
    match &channel.against_supply {
        Some(against) => fill_against_supply(&data, against),
        None => Ok(()),
    }
}

/// Which channel the supply is, and all that a stranger needs to refer the codes to it.
fn fill_against_supply(data: &Dataset, against: &AgainstSupply) -> hdf5::Result<()> {
    attr_text(data, layout::SUPPLY_CHANNEL, Role::Supply.word())?;
    attr_number(data, "supply_nominal_v", NOMINAL_SUPPLY_V)?;
    attr_number(data, "supply_lowest_v", *PLAUSIBLE_SUPPLY_V.start())?;
    attr_number(data, "supply_highest_v", *PLAUSIBLE_SUPPLY_V.end())?;
    attr_number(data, "code_at_zero_volt", against.code_at_zero_volt)?;
    attr_number(data, "signal_code_lowest", against.signal_codes.0)?;
    attr_number(data, "signal_code_highest", against.signal_codes.1)?;
    attr_number(data, "supply_step_relative", against.supply_step_relative)
}

fn fill_plots(file: &File, entry: &Group, recording: &Recording) -> hdf5::Result<()> {
    let mut is_first = true;
    for plot in &layout::PLOTS {
        let tracks: Vec<&Track> = plot
            .roles
            .iter()
            .filter_map(|role| recording.track(*role))
            .collect();
        let Some((signal, others)) = tracks.split_first() else {
            continue;
        };
        if std::mem::take(&mut is_first) {
            attr_text(entry, "default", plot.group)?;
        }
        let group = nexus_group(file, &format!("{}/{}", layout::ENTRY, plot.group), "NXdata")?;
        text(&group, "title", plot.title)?;
        attr_text(&group, "signal", signal.channel.role.word())?;
        attr_text(&group, "axes", "time")?;
        attr_number(&group, "time_indices", 0_i32)?;
        if !others.is_empty() {
            let names = others
                .iter()
                .map(|track| unicode(track.channel.role.word()));
            group
                .new_attr_builder()
                .with_data(&names.collect::<hdf5::Result<Vec<_>>>()?)
                .create("auxiliary_signals")?;
        }
        file.link_hard(layout::TIME, &format!("{}/time", group.name()))?;
        for track in &tracks {
            let role = track.channel.role;
            let values: Vec<f32> = (0..track.len())
                .map(|index| layout::plotted(role, track.value(index).unwrap_or(f64::NAN)))
                .collect();
            let data = list(&group, role.word(), &values)?;
            attr_text(&data, "units", plot.units)?;
            attr_text(
                &data,
                "long_name",
                &format!("{} ({})", role.plain(), plot.units),
            )?;
        }
    }
    Ok(())
}

fn nexus_group(file: &File, path: &str, class: &str) -> hdf5::Result<Group> {
    let group = file.create_group(path)?;
    attr_text(&group, "NX_class", class)?;
    Ok(group)
}

fn unicode(text: &str) -> hdf5::Result<VarLenUnicode> {
    text.parse()
        .map_err(|_nul| hdf5::Error::from(format!("text {text:?} has a zero character in it")))
}

fn attr_text(place: &Location, name: &str, value: &str) -> hdf5::Result<()> {
    let value = unicode(value)?;
    place
        .new_attr::<VarLenUnicode>()
        .create(name)?
        .write_scalar(&value)
}

fn attr_number<T: H5Type>(place: &Location, name: &str, value: T) -> hdf5::Result<()> {
    place.new_attr::<T>().create(name)?.write_scalar(&value)
}

fn text(group: &Group, name: &str, value: &str) -> hdf5::Result<Dataset> {
    let dataset = group.new_dataset::<VarLenUnicode>().create(name)?;
    dataset.write_scalar(&unicode(value)?)?;
    Ok(dataset)
}

fn number<T: H5Type>(group: &Group, name: &str, value: T) -> hdf5::Result<()> {
    group.new_dataset::<T>().create(name)?.write_scalar(&value)
}

fn list<T: H5Type>(group: &Group, name: &str, values: &[T]) -> hdf5::Result<Dataset> {
    let builder = group.new_dataset_builder();
    if values.is_empty() {
        return builder.empty::<T>().shape(0).create(name);
    }
    builder
        .chunk(CHUNK_VALUES.min(values.len()))
        .shuffle()
        .deflate(DEFLATE_LEVEL)
        .fletcher32()
        .with_data(values)
        .create(name)
}

/// Texts of gaps or phases. Few, and variable-length texts cannot be compressed.
fn marks<'a>(
    group: &Group,
    name: &str,
    texts: impl Iterator<Item = &'a str>,
) -> hdf5::Result<Dataset> {
    let texts = texts.map(unicode).collect::<hdf5::Result<Vec<_>>>()?;
    let builder = group.new_dataset_builder();
    if texts.is_empty() {
        return builder.empty::<VarLenUnicode>().shape(0).create(name);
    }
    builder.with_data(&texts).create(name)
}

fn marks_s(group: &Group, name: &str, times_s: impl Iterator<Item = f64>) -> hdf5::Result<()> {
    let dataset = list(group, name, &times_s.collect::<Vec<_>>())?;
    attr_text(&dataset, "units", "s")
}
