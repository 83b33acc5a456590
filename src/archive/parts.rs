//! The named parts of a recording and their hashes, so that what was changed has a name.
//!
//! The same functions hash what is to be written and what is read back from a file, part
//! by part and piece by piece: one that cannot be read does not hide the others.
//!
//! Invariants: a field that comes to a channel or a heading has to be hashed here, or this does not
//! compile; two parts with the same hash input are the same part, so every text and
//! list goes in with its length.

use super::ArchiveError;
use super::PIECE_ROWS;
use super::bytes::LittleEndian;
use super::layout;
use super::overview::CHUNK_BLOCKS;
use super::overview::OverviewHashes;
use super::overview::block_sizes;
use super::overview::part_of;
use super::overview::part_of_times;
use super::overview::read_lanes;
use super::overview::read_times;
use super::read::Source;
use super::shown::ShownTrack;
use crate::channel::AgainstSupply;
use crate::channel::CalibratedBy;
use crate::channel::Calibration;
use crate::channel::Channel;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::channel::SensorPapers;
use crate::recording::Ending;
use crate::recording::Entry;
use crate::recording::Form;
use crate::recording::Gap;
use crate::recording::Heading;
use crate::recording::Loss;
use crate::recording::Outline;
use crate::recording::PhaseMark;
use crate::recording::Piece;
use crate::signature::Digest;
use crate::signature::Hasher;
use std::ops::Range;

/// A part and its hash.
pub(super) type Part = (String, Digest);

/// Hashes of the lists of rows, while these go by.
pub(super) struct RowHashes {
    time: Hasher,
    codes: Vec<Hasher>,
    plots: Vec<Hasher>,
}

impl RowHashes {
    /// Before the first row.
    pub(super) fn new(outline: &Outline) -> Self {
        let n_rows = outline.n_rows;
        let lanes = &outline.lanes;
        Self {
            time: list_of(n_rows),
            codes: lanes.iter().map(|l| codes_of(l.form, n_rows)).collect(),
            plots: lanes.iter().map(|_| list_of(n_rows)).collect(),
        }
    }

    /// Takes the next rows.
    pub(super) fn take(&mut self, piece: &Piece, shown: &[ShownTrack], bytes: &mut LittleEndian) {
        self.time.update(bytes.of_f64(piece.time_s()));
        for (hasher, track) in self.codes.iter_mut().zip(piece.tracks()) {
            hasher.update(bytes.of_codes(&track.codes));
        }
        for (hasher, track) in self.plots.iter_mut().zip(shown) {
            hasher.update(bytes.of_f32(&track.plotted));
        }
    }
}

/// A list of so many entries, before the first.
fn list_of(n_entries: usize) -> Hasher {
    let mut hasher = Hasher::default();
    hasher.update(&(n_entries as u64).to_le_bytes());
    hasher
}

/// What a channel delivered, before the first entry.
fn codes_of(form: Form, n_entries: usize) -> Hasher {
    let mut hasher = Hasher::default();
    hasher.text(match form {
        Form::Raw => "counts",
        Form::Si => "SI",
    });
    hasher.update(&(n_entries as u64).to_le_bytes());
    hasher
}

/// All parts of a recording, in the order in which they are stated.
pub(super) fn parts(outline: &Outline, rows: RowHashes, overview: Vec<Part>) -> Vec<Part> {
    let heading = &outline.heading;
    let mut parts = vec![
        named("heading", of_heading(heading, &outline.ending)),
        named("setup", of_text(&heading.setup_toml)),
        named("shop", of_text(&heading.shop_toml)),
        named("time", rows.time.finish()),
    ];
    let lanes = outline.lanes.iter().zip(rows.codes).zip(rows.plots);
    for ((lane, codes), plot) in lanes {
        let role = lane.channel.role;
        parts.push(for_role("codes", role, codes.finish()));
        parts.push(for_role("calibration", role, of_channel(&lane.channel)));
        parts.push(for_role("plot", role, plot.finish()));
    }
    parts.extend([
        named("gaps", of_gaps(&outline.gaps)),
        named("phases", of_phases(&outline.phases)),
        named("entries", of_entries(&outline.entries)),
        named("loss", of_loss(&outline.loss)),
    ]);
    parts.extend(overview);
    parts
}

/// The same of a file, as far as each can be read.
pub(super) fn parts_of_file(source: &Source) -> Vec<(String, Result<Digest, ArchiveError>)> {
    let mut bytes = LittleEndian::default();
    let times = lane_hash(source, layout::TIME, list_of, |source, at| {
        Ok(bytes.of_f64(&source.slice(layout::TIME, at)?).to_vec())
    });
    let heading = source.heading();
    let setup = source.text(&format!("{}/setup_toml", layout::RECORDING));
    let shop = source.text(&format!("{}/shop_toml", layout::RECORDING));
    let ending = source.ending();
    let heading = heading.and_then(|heading| Ok(of_heading(&heading, &ending?)));
    let mut parts = vec![
        ("heading".to_owned(), heading),
        ("setup".to_owned(), setup.map(|text| of_text(&text))),
        ("shop".to_owned(), shop.map(|text| of_text(&text))),
        ("time".to_owned(), times),
    ];
    let there = |role: &Role| source.has(&format!("{}/{}", layout::INSTRUMENT, role.word()));
    let roles: Vec<Role> = Role::ALL.into_iter().filter(there).collect();
    for role in &roles {
        let group = format!("{}/{}", layout::INSTRUMENT, role.word());
        let data = format!("{group}/data");
        let codes = source.form(&data).and_then(|form| {
            let begin = |n_rows| codes_of(form, n_rows);
            lane_hash(source, &data, begin, |source, at| {
                Ok(bytes.of_codes(&source.codes(&data, at)?).to_vec())
            })
        });
        let plot = layout::plot_field(*role).map_or_else(
            || Ok(list_of(0).finish()),
            |field| {
                lane_hash(source, &field, list_of, |source, at| {
                    Ok(bytes.of_f32(&source.slice(&field, at)?).to_vec())
                })
            },
        );
        let channel = source.channel(*role, &group);
        for (word, found) in [
            ("codes", codes),
            ("calibration", channel.map(|channel| of_channel(&channel))),
            ("plot", plot),
        ] {
            parts.push((format!("{word} {}", role.word()), found));
        }
    }
    parts.extend([
        ("gaps".to_owned(), source.gaps().map(|gaps| of_gaps(&gaps))),
        (
            "phases".to_owned(),
            source.phases().map(|phases| of_phases(&phases)),
        ),
        (
            "entries".to_owned(),
            source.entries().map(|entries| of_entries(&entries)),
        ),
        ("loss".to_owned(), source.loss().map(|loss| of_loss(&loss))),
    ]);
    parts.extend(overview_of_file(source, &roles));
    parts
}

/// The hash of a list in a file, read in pieces, by its own length: one that is damaged must not
/// hide the others.
fn lane_hash(
    source: &Source,
    field: &str,
    begin: impl FnOnce(usize) -> Hasher,
    mut bytes: impl FnMut(&Source, Range<usize>) -> Result<Vec<u8>, ArchiveError>,
) -> Result<Digest, ArchiveError> {
    let n_entries = source.length(field, layout::MAX_ROWS)?;
    let mut hasher = begin(n_entries);
    for from in (0..n_entries).step_by(PIECE_ROWS) {
        let at = from..(from + PIECE_ROWS).min(n_entries);
        hasher.update(&bytes(source, at)?);
    }
    Ok(hasher.finish())
}

/// Parts of the overview; each channel by itself.
fn overview_of_file(
    source: &Source,
    roles: &[Role],
) -> Vec<(String, Result<Digest, ArchiveError>)> {
    if !source.has(layout::OVERVIEW) {
        return Vec::new();
    }
    // Times and each channel by themselves: one that is damaged must not hide the others.
    let hashed = |role: Option<Role>| -> Result<Vec<Part>, ArchiveError> {
        let n_rows = source.length(layout::TIME, layout::MAX_ROWS)?;
        let roles = role.as_slice();
        let mut hashes = OverviewHashes::new(n_rows, roles.len());
        for (level, size) in block_sizes(n_rows).into_iter().enumerate() {
            let n_blocks = n_rows.div_ceil(size);
            for first in (0..n_blocks).step_by(CHUNK_BLOCKS) {
                let at = first..(first + CHUNK_BLOCKS).min(n_blocks);
                let blocks = match roles {
                    [] => read_times(source, size, at)?,
                    roles => read_lanes(source, size, roles, at)?,
                };
                hashes.take(level, &blocks);
            }
        }
        Ok(hashes.parts(roles))
    };
    let only = |role| hashed(role).map(|mut parts| parts.pop().map_or(Digest::ZERO, |p| p.1));
    let mut parts = vec![(part_of_times(), only(None))];
    parts.extend(roles.iter().map(|role| (part_of(*role), only(Some(*role)))));
    parts
}

/// What a part is called in a sentence.
pub(super) fn in_words(part: &str) -> String {
    let (word, role) = part.split_once(' ').unwrap_or((part, ""));
    match (word, role) {
        ("codes", role) => format!("the codes of channel {role}"),
        ("calibration", role) => format!("the calibration of channel {role}"),
        ("plot", role) => format!("the plotted values of channel {role}"),
        ("overview", "time") => "the times of its overview".into(),
        ("overview", role) => format!("the overview of channel {role}"),
        ("time", _) => "the times of its rows".into(),
        ("setup", _) => "the text of its setup".into(),
        ("shop", _) => "the text of its shop file".into(),
        ("heading", _) => "its heading: run, start, program, source, ending".into(),
        (other, _) => format!("its {other}"),
    }
}

fn named(name: &str, digest: Digest) -> Part {
    (name.to_owned(), digest)
}

fn for_role(word: &str, role: Role, digest: Digest) -> Part {
    (format!("{word} {}", role.word()), digest)
}

fn of_text(text: &str) -> Digest {
    hashed(|hasher| hasher.text(text))
}

fn of_heading(heading: &Heading, ending: &Ending) -> Digest {
    let Heading {
        run_id,
        started_utc_ms,
        time_zone,
        software,
        source,
        // Parts of their own.
        setup_toml: _,
        shop_toml: _,
        practice,
    } = heading;
    hashed(|hasher| {
        hasher.update(&started_utc_ms.to_le_bytes());
        let reason = match ending {
            Ending::Complete => layout::COMPLETE,
            Ending::Interrupted(reason) => reason,
        };
        let is_complete = *ending == Ending::Complete;
        hasher.update(&[u8::from(is_complete)]);
        for text in [run_id, time_zone, software, source, practice] {
            hasher.text(text);
        }
        hasher.text(reason);
    })
}

fn of_channel(channel: &Channel) -> Digest {
    let Channel {
        // In the name of the part.
        role: _,
        label,
        calibration:
            Calibration {
                si_at_zero_code,
                si_per_code,
                si_per_code_squared,
            },
        good_codes: (lowest, highest),
        range_si: (low_si, high_si),
        errors:
            SensorErrors {
                zero_si,
                span_relative,
                zero_si_per_k,
            },
        papers:
            SensorPapers {
                serial,
                certificate,
                due,
                by,
            },
        against_supply,
    } = channel;
    hashed(|hasher| {
        let numbers = [
            si_at_zero_code,
            si_per_code,
            si_per_code_squared,
            low_si,
            high_si,
            zero_si,
            span_relative,
            zero_si_per_k,
        ];
        list(hasher, &numbers, |number| number.to_le_bytes());
        list(hasher, &[lowest, highest], |code| code.to_le_bytes());
        for text in [label, serial, certificate, due] {
            hasher.text(text);
        }
        hasher.text(by.map_or("", CalibratedBy::word));
        if let Some(AgainstSupply {
            code_at_zero_volt,
            signal_codes: (lowest, highest),
            supply_step_relative,
        }) = against_supply
        {
            hasher.text("against supply");
            let numbers = [code_at_zero_volt, supply_step_relative];
            list(hasher, &numbers, |number| number.to_le_bytes());
            list(hasher, &[lowest, highest], |code| code.to_le_bytes());
        }
    })
}

fn of_gaps(gaps: &[Gap]) -> Digest {
    hashed(|hasher| {
        for gap in gaps {
            list(hasher, &[gap.from_s, gap.until_s], |s| s.to_le_bytes());
            hasher.text(gap.cause.word());
        }
    })
}

fn of_phases(phases: &[PhaseMark]) -> Digest {
    hashed(|hasher| {
        for phase in phases {
            list(hasher, &[phase.from_s, phase.until_s], |s| s.to_le_bytes());
            hasher.text(&phase.name);
        }
    })
}

fn of_entries(entries: &[Entry]) -> Digest {
    hashed(|hasher| {
        for entry in entries {
            list(hasher, &[entry.at_s], |s| s.to_le_bytes());
            for text in [entry.kind.word(), &entry.step, &entry.text] {
                hasher.text(text);
            }
        }
    })
}

fn of_loss(loss: &Loss) -> Digest {
    let totals = [
        loss.n_samples_lost,
        loss.n_frames_bad,
        loss.n_board_dropped,
        loss.n_bytes_overrun,
    ];
    hashed(|hasher| list(hasher, &totals, |total| total.to_le_bytes()))
}

fn hashed(add: impl FnOnce(&mut Hasher)) -> Digest {
    let mut hasher = Hasher::default();
    add(&mut hasher);
    hasher.finish()
}

/// A short list.
fn list<T, const N: usize>(hasher: &mut Hasher, values: &[T], bytes: impl Fn(&T) -> [u8; N]) {
    hasher.update(&(values.len() as u64).to_le_bytes());
    for value in values {
        hasher.update(&bytes(value));
    }
}
