//! A file to the recording it holds.
//!
//! Only raw codes and what belongs to a recording are read; the plots are for viewers, the overview
//! is for looking at a stretch.
//!
//! Invariants: sizes are checked before memory is taken for them; a recording is
//! returned only if its checksum is the one that was written.

use super::ArchiveError;
use super::content;
use super::layout;
use super::library;
use super::unlocked;
use crate::channel::AgainstSupply;
use crate::channel::CalibratedBy;
use crate::channel::Calibration;
use crate::channel::Channel;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::channel::SensorPapers;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::Entry;
use crate::recording::EntryKind;
use crate::recording::Form;
use crate::recording::Gap;
use crate::recording::GapCause;
use crate::recording::Heading;
use crate::recording::Lane;
use crate::recording::Loss;
use crate::recording::Outline;
use crate::recording::Parts;
use crate::recording::PhaseMark;
use crate::recording::RECORDING_VERSION;
use crate::recording::Recording;
use crate::recording::Track;
use hdf5::Dataset;
use hdf5::File;
use std::cell::RefCell;
use std::collections::HashMap;
use std::ops::Range;
use std::path::Path;
use std::path::PathBuf;

/// Reads the recording in a file.
///
/// # Errors
/// If the file cannot be opened, is of another kind, or is not as it was written.
pub fn read(path: &Path) -> Result<Recording, ArchiveError> {
    // The library would say the same of a missing and of a damaged file.
    std::fs::File::open(path).map_err(|cause| ArchiveError::Open {
        path: path.into(),
        cause: cause.into(),
    })?;
    let _library = library();
    let source = Source::open(path)?;
    let outline = source.outline()?;
    let time_s = source.slice(layout::TIME, 0..outline.n_rows)?;
    let tracks = outline.lanes.into_iter().map(|lane| {
        let data = in_group(
            &in_group(layout::INSTRUMENT, lane.channel.role.word()),
            "data",
        );
        Ok(Track {
            codes: source.codes(&data, 0..outline.n_rows)?,
            channel: lane.channel,
        })
    });
    let parts = Parts {
        heading: outline.heading,
        time_s,
        tracks: tracks.collect::<Result<_, ArchiveError>>()?,
        gaps: outline.gaps,
        phases: outline.phases,
        entries: outline.entries,
        loss: outline.loss,
        ending: outline.ending,
    };
    let recording =
        Recording::new(parts).map_err(|error| source.bad(layout::RECORDING, &error.to_string()))?;
    let stored = source.stored_checksum()?;
    let computed = content::checksum(&recording);
    if computed != stored {
        return Err(ArchiveError::Changed {
            path: path.into(),
            computed,
            stored,
        });
    }
    Ok(recording)
}

/// An open file, read field by field.
pub(super) struct Source {
    pub(super) file: File,
    pub(super) path: PathBuf,
    /// Opening a list takes as long as reading a little of it.
    pub(super) opened: RefCell<HashMap<String, Dataset>>,
}

impl Source {
    /// Opens a file that holds a recording of a version that is known.
    pub(super) fn open(path: &Path) -> Result<Self, ArchiveError> {
        let file = unlocked().open(path);
        let file = file.map_err(|cause| ArchiveError::NoHdf5 {
            path: path.into(),
            cause: cause.into(),
        })?;
        let source = Self::new(file, path);
        source.check_version()?;
        Ok(source)
    }

    /// Of an open file at a path.
    pub(super) fn new(file: File, path: &Path) -> Self {
        Self {
            file,
            path: path.into(),
            opened: RefCell::default(),
        }
    }

    /// All of the recording but its rows; each list of them is as long as the times are.
    pub(super) fn outline(&self) -> Result<Outline, ArchiveError> {
        let n_rows = self.length(layout::TIME, layout::MAX_ROWS)?;
        Ok(Outline {
            heading: self.heading()?,
            lanes: self.lanes(n_rows)?,
            n_rows,
            gaps: self.gaps()?,
            phases: self.phases()?,
            entries: self.entries()?,
            loss: self.loss()?,
            ending: self.ending()?,
        })
    }

    /// The checksum that was written.
    pub(super) fn stored_checksum(&self) -> Result<u32, ArchiveError> {
        self.number(layout::CHECKSUM)
    }

    /// Whether the file has a group or list of that name.
    pub(super) fn has(&self, field: &str) -> bool {
        self.file.link_exists(field)
    }

    fn check_version(&self) -> Result<(), ArchiveError> {
        if !self.file.link_exists(layout::ENTRY)
            || !self.file.link_exists(layout::RECORDING)
            || !self.file.link_exists(layout::VERSION)
        {
            return Err(ArchiveError::Foreign {
                path: self.path.clone(),
                field: layout::VERSION,
            });
        }
        let found: u32 = self.number(layout::VERSION)?;
        if found > RECORDING_VERSION {
            return Err(ArchiveError::Newer {
                path: self.path.clone(),
                found,
                known: RECORDING_VERSION,
            });
        }
        Ok(())
    }

    pub(super) fn heading(&self) -> Result<Heading, ArchiveError> {
        let text = |name| self.text(&in_group(layout::RECORDING, name));
        Ok(Heading {
            run_id: text("run_id")?,
            started_utc_ms: self.number(&in_group(layout::RECORDING, "started_utc_ms"))?,
            time_zone: text("time_zone")?,
            software: text("software")?,
            source: text("source")?,
            setup_toml: text("setup_toml")?,
            shop_toml: text("shop_toml")?,
            practice: text("practice")?,
        })
    }

    fn lanes(&self, n_rows: usize) -> Result<Vec<Lane>, ArchiveError> {
        let instrument = self.file.group(layout::INSTRUMENT);
        let instrument =
            instrument.map_err(|error| self.bad(layout::INSTRUMENT, &error.to_string()))?;
        let mut lanes = Vec::new();
        for role in Role::ALL {
            if !instrument.link_exists(role.word()) {
                continue;
            }
            let group = in_group(layout::INSTRUMENT, role.word());
            let data = in_group(&group, "data");
            let index: u64 = self.number(&in_group(&group, "track_index"))?;
            let lane = Lane {
                channel: self.channel(role, &group)?,
                form: self.form(&data)?,
            };
            let n_found = self.length(&data, layout::MAX_ROWS)?;
            if n_found != n_rows {
                let what = format!("it has {n_found} entries for {n_rows} times");
                return Err(self.bad(&data, &what));
            }
            lanes.push((index, lane));
        }
        lanes.sort_by_key(|(index, _)| *index);
        Ok(lanes.into_iter().map(|(_, lane)| lane).collect())
    }

    pub(super) fn channel(&self, role: Role, group: &str) -> Result<Channel, ArchiveError> {
        let data = in_group(group, "data");
        let number = |name| self.attr::<f64>(&data, name);
        let text = |name| self.text(&in_group(group, name));
        Ok(Channel {
            role,
            label: text("local_name")?,
            calibration: Calibration {
                si_at_zero_code: number("si_at_zero_code")?,
                si_per_code: number("si_per_code")?,
                si_per_code_squared: self.bend(&data)?,
            },
            good_codes: (
                self.attr(&data, "good_code_lowest")?,
                self.attr(&data, "good_code_highest")?,
            ),
            range_si: (number("range_low_si")?, number("range_high_si")?),
            errors: SensorErrors {
                zero_si: number("zero_error_si")?,
                span_relative: number("span_error_relative")?,
                zero_si_per_k: number("zero_error_si_per_k")?,
            },
            papers: SensorPapers {
                serial: text("serial_number")?,
                certificate: text("calibration_certificate")?,
                due: text("calibration_due")?,
                by: self.calibrated_by(group)?,
            },
            against_supply: self.against_supply(&data)?,
        })
    }

    /// Written only where codes are read against the supply.
    fn against_supply(&self, data: &str) -> Result<Option<AgainstSupply>, ArchiveError> {
        if self.dataset(data)?.attr(layout::SUPPLY_CHANNEL).is_err() {
            return Ok(None);
        }
        Ok(Some(AgainstSupply {
            code_at_zero_volt: self.attr(data, "code_at_zero_volt")?,
            signal_codes: (
                self.attr(data, "signal_code_lowest")?,
                self.attr(data, "signal_code_highest")?,
            ),
            supply_step_relative: self.attr(data, "supply_step_relative")?,
        }))
    }

    /// Written only where a calibration is bent.
    fn bend(&self, data: &str) -> Result<f64, ArchiveError> {
        match self.dataset(data)?.attr("si_per_code_squared") {
            Ok(_) => self.attr(data, "si_per_code_squared"),
            Err(_) => Ok(0.0),
        }
    }

    /// Written only where the shop said it.
    fn calibrated_by(&self, group: &str) -> Result<Option<CalibratedBy>, ArchiveError> {
        let field = in_group(group, "calibration_by");
        if !self.file.link_exists(&field) {
            return Ok(None);
        }
        let word = self.text(&field)?;
        let by = CalibratedBy::from_word(&word);
        by.map(Some)
            .ok_or_else(|| self.bad(&field, &format!("`{word}` is no one who calibrates")))
    }

    /// What the entries of a channel are.
    pub(super) fn form(&self, field: &str) -> Result<Form, ArchiveError> {
        let is_raw = self.is_of::<i32>(&self.dataset(field)?);
        Ok(if is_raw { Form::Raw } else { Form::Si })
    }

    /// Some entries of a channel.
    pub(super) fn codes(&self, field: &str, rows: Range<usize>) -> Result<Codes, ArchiveError> {
        match self.form(field)? {
            Form::Raw => self.slice(field, rows).map(Codes::Raw),
            Form::Si => self.slice(field, rows).map(Codes::Si),
        }
    }

    pub(super) fn gaps(&self) -> Result<Vec<Gap>, ArchiveError> {
        let field = in_group(layout::GAPS, "cause");
        let (from_s, until_s) = self.spans(layout::GAPS, &field)?;
        let words = self.texts(&field, from_s.len())?;
        let spans = from_s.into_iter().zip(until_s).zip(words);
        spans
            .map(|((from_s, until_s), word)| {
                let cause = GapCause::from_word(&word)
                    .ok_or_else(|| self.bad(&field, &format!("`{word}` is no cause of a gap")))?;
                Ok(Gap {
                    from_s,
                    until_s,
                    cause,
                })
            })
            .collect()
    }

    pub(super) fn phases(&self) -> Result<Vec<PhaseMark>, ArchiveError> {
        let field = in_group(layout::PHASES, "name");
        let (from_s, until_s) = self.spans(layout::PHASES, &field)?;
        let names = self.texts(&field, from_s.len())?;
        let spans = from_s.into_iter().zip(until_s).zip(names);
        Ok(spans
            .map(|((from_s, until_s), name)| PhaseMark {
                name,
                from_s,
                until_s,
            })
            .collect())
    }

    pub(super) fn entries(&self) -> Result<Vec<Entry>, ArchiveError> {
        if !self.file.link_exists(layout::ENTRIES) {
            return Ok(Vec::new());
        }
        let field = in_group(layout::ENTRIES, "kind");
        let n_entries = self.length(&field, layout::MAX_MARKS)?;
        let at_s: Vec<f64> = self.list(&in_group(layout::ENTRIES, "at_s"), n_entries)?;
        let texts = |name| self.texts(&in_group(layout::ENTRIES, name), n_entries);
        let (steps, words) = (texts("step")?, texts("text")?);
        let entries = texts("kind")?.into_iter().zip(at_s).zip(steps).zip(words);
        entries
            .map(|(((kind, at_s), step), text)| {
                let known = EntryKind::from_word(&kind);
                let kind =
                    known.ok_or_else(|| self.bad(&field, &format!("`{kind}` is no entry")))?;
                Ok(Entry {
                    at_s,
                    step,
                    kind,
                    text,
                })
            })
            .collect()
    }

    fn spans(&self, group: &str, words: &str) -> Result<(Vec<f64>, Vec<f64>), ArchiveError> {
        let n_marks = self.length(words, layout::MAX_MARKS)?;
        let from_s = self.list(&in_group(group, "from_s"), n_marks)?;
        let until_s = self.list(&in_group(group, "until_s"), n_marks)?;
        Ok((from_s, until_s))
    }

    pub(super) fn loss(&self) -> Result<Loss, ArchiveError> {
        let count = |name| self.number(&in_group(layout::LOSS, name));
        Ok(Loss {
            n_samples_lost: count("n_samples_lost")?,
            n_frames_bad: count("n_frames_bad")?,
            n_board_dropped: count("n_board_dropped")?,
            n_bytes_overrun: count("n_bytes_overrun")?,
        })
    }

    pub(super) fn ending(&self) -> Result<Ending, ArchiveError> {
        let field = in_group(layout::RECORDING, "ending");
        let reason = self.text(&in_group(layout::RECORDING, "ending_reason"))?;
        match self.text(&field)?.as_str() {
            layout::COMPLETE => Ok(Ending::Complete),
            layout::INTERRUPTED => Ok(Ending::Interrupted(reason)),
            other => Err(self.bad(&field, &format!("`{other}` is no ending"))),
        }
    }
}

fn in_group(group: &str, name: &str) -> String {
    format!("{group}/{name}")
}
