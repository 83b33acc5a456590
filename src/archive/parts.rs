//! The named parts of a recording and their hashes, so that what was changed has a name.
//!
//! The same functions hash what is to be written and what is read back from a file, part
//! by part: one that cannot be read does not hide the others.
//!
//! Invariants: a field that comes to a channel or a heading has to be hashed here, or this does not
//! compile; two parts with the same hash input are the same part, so every text and
//! list goes in with its length.

use super::ArchiveError;
use super::layout;
use super::layout::PLOTS;
use super::layout::plotted;
use super::read::Source;
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
use crate::recording::Gap;
use crate::recording::Heading;
use crate::recording::Loss;
use crate::recording::PhaseMark;
use crate::recording::Recording;
use crate::recording::Track;
use crate::signature::Digest;
use crate::signature::Hasher;

/// A part and its hash.
type Part = (String, Digest);

/// All parts of a recording, in the order in which they are stated.
pub(super) fn parts(recording: &Recording) -> Vec<Part> {
    let heading = recording.heading();
    let mut parts = vec![
        named("heading", of_heading(heading, recording.ending())),
        named("setup", of_text(&heading.setup_toml)),
        named("shop", of_text(&heading.shop_toml)),
        named("time", of_times(recording.time_s())),
    ];
    for track in recording.tracks() {
        let role = track.channel.role;
        parts.push(for_role("codes", role, of_codes(&track.codes)));
        parts.push(for_role("calibration", role, of_channel(&track.channel)));
        parts.push(for_role("plot", role, of_plot(&plot(track))));
    }
    parts.extend([
        named("gaps", of_gaps(recording.gaps())),
        named("phases", of_phases(recording.phases())),
        named("entries", of_entries(recording.entries())),
        named("loss", of_loss(&recording.loss())),
    ]);
    parts
}

/// The same of a file, as far as each can be read.
pub(super) fn parts_of_file(source: &Source<'_>) -> Vec<(String, Result<Digest, ArchiveError>)> {
    // Each list by its own length: one that is damaged must not hide the others.
    let n_rows = |field: &str| source.length(field, layout::MAX_ROWS);
    let times = n_rows(layout::TIME).and_then(|n| source.list::<f64>(layout::TIME, n));
    let heading = source.heading();
    let setup = source.text(&format!("{}/setup_toml", layout::RECORDING));
    let shop = source.text(&format!("{}/shop_toml", layout::RECORDING));
    let ending = source.ending();
    let heading = heading.and_then(|heading| Ok(of_heading(&heading, &ending?)));
    let mut parts = vec![
        ("heading".to_owned(), heading),
        ("setup".to_owned(), setup.map(|text| of_text(&text))),
        ("shop".to_owned(), shop.map(|text| of_text(&text))),
        ("time".to_owned(), times.map(|times| of_times(&times))),
    ];
    for role in Role::ALL {
        let group = format!("{}/{}", layout::INSTRUMENT, role.word());
        if !source.has(&group) {
            continue;
        }
        let data = format!("{group}/data");
        let codes = n_rows(&data).and_then(|n| source.codes(&data, n));
        let channel = source.channel(role, &group);
        let plot = plot_field(role).map_or_else(
            || Ok(Vec::new()),
            |field| n_rows(&field).and_then(|n| source.list::<f32>(&field, n)),
        );
        for (word, found) in [
            ("codes", codes.map(|codes| of_codes(&codes))),
            ("calibration", channel.map(|channel| of_channel(&channel))),
            ("plot", plot.map(|values| of_plot(&values))),
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
    parts
}

/// What a part is called in a sentence.
pub(super) fn in_words(part: &str) -> String {
    let (word, role) = part.split_once(' ').unwrap_or((part, ""));
    match (word, role) {
        ("codes", role) => format!("the codes of channel {role}"),
        ("calibration", role) => format!("the calibration of channel {role}"),
        ("plot", role) => format!("the plotted values of channel {role}"),
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

fn plot_field(role: Role) -> Option<String> {
    let plot = PLOTS.iter().find(|plot| plot.roles.contains(&role))?;
    Some(format!("{}/{}/{}", layout::ENTRY, plot.group, role.word()))
}

/// Values of a channel as the plots have them.
fn plot(track: &Track) -> Vec<f32> {
    let value = |index| track.value(index).unwrap_or(f64::NAN);
    let values = 0..track.len();
    values
        .map(|index| plotted(track.channel.role, value(index)))
        .collect()
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

fn of_times(times_s: &[f64]) -> Digest {
    hashed(|hasher| list(hasher, times_s, |time_s| time_s.to_le_bytes()))
}

fn of_codes(codes: &Codes) -> Digest {
    hashed(|hasher| match codes {
        // What they are read against has a part of its own.
        Codes::Raw(codes) | Codes::AgainstSupply { raw: codes, .. } => {
            hasher.text("counts");
            list(hasher, codes, |code| code.to_le_bytes());
        }
        Codes::Si(values) => {
            hasher.text("SI");
            list(hasher, values, |value| value.to_le_bytes());
        }
    })
}

fn of_plot(values: &[f32]) -> Digest {
    hashed(|hasher| list(hasher, values, |value| value.to_le_bytes()))
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

fn list<T, const N: usize>(hasher: &mut Hasher, values: &[T], bytes: impl Fn(&T) -> [u8; N]) {
    // In portions: one value at a time is slow, all at once doubles the memory.
    const PORTION: usize = 8_192;
    hasher.update(&(values.len() as u64).to_le_bytes());
    let mut buffer = Vec::with_capacity(N * PORTION.min(values.len()));
    for portion in values.chunks(PORTION) {
        buffer.clear();
        portion
            .iter()
            .for_each(|value| buffer.extend_from_slice(&bytes(value)));
        hasher.update(&buffer);
    }
}
