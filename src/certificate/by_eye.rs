//! What a paper says of instruments that a person read: which, how good, and every reading.

use crate::certificate::rows::SensorRow;
use crate::certificate::rows::sensor_scale;
use crate::certificate::sentence::Speech;
use crate::channel::ByEye;
use crate::channel::EyeInstrument;
use crate::channel::Role;
use crate::channel::instrument_of;
use crate::procedure::HOLD;
use crate::quantity::number;
use crate::recording::EntryKind;
use crate::recording::Recording;

/// The row of an instrument that a person read.
pub(super) fn read_by_eye(own: &EyeInstrument, row: SensorRow, speech: Speech) -> SensorRow {
    let scale = sensor_scale(own.role, speech.units);
    let size = |si: f64| number(si * scale.factor, si * scale.factor);
    let unit = scale.difference;
    let name = match own.papers.serial.as_str() {
        "" => String::new(),
        name => format!(" {name}"),
    };
    let range = row.range.split(", step").next().unwrap_or_default();
    SensorRow {
        line: format!(
            "{}{name}: {}; certificate: {}",
            own.role.plain(),
            own.described(),
            row.calibration
        ),
        range: format!("{range}, division {} {unit}", size(own.division_si)),
        uncertainty: format!(
            "reading {} {unit}, {}",
            size(own.reading_si()),
            row.uncertainty
        ),
        ..row
    }
}

/// What the list of sensors is called.
pub(super) fn sensors_title(by_eye: Option<&ByEye>) -> &'static str {
    match by_eye {
        Some(_) => "Read by eye, without a board",
        None => "Sensors",
    }
}

/// One look of a person at the instruments.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LookRow {
    /// When, in minutes of the hold; "missed" looks too.
    pub at: String,
    /// What was said, as it was said.
    pub said: String,
}

/// What a person read during the hold, look by look; nothing where a board read.
pub(super) fn looks(recording: &Recording) -> Vec<LookRow> {
    let Some(hold) = recording.phase(HOLD) else {
        return Vec::new();
    };
    let entries = recording.entries().iter();
    let within = entries.filter(|e| e.at_s >= hold.from_s && e.at_s <= hold.until_s);
    let rows = within.filter_map(|entry| {
        let of = |word: &str| {
            let role = Role::ALL.into_iter().find(|role| role.word() == word);
            let plain = role.map(|role| match role {
                // What the dial showed, not how far the rod stood out.
                Role::Position => instrument_of(role),
                _ => role.plain(),
            });
            plain.unwrap_or(word).to_owned()
        };
        let plain = |said: &str| match said.split_once(' ') {
            Some((word, value)) => format!("{} {value}", of(word)),
            None => of(said),
        };
        let said: Vec<String> = entry.text.split("; ").map(plain).collect();
        let said = said.join(", ");
        let said = match entry.kind {
            EntryKind::Look => said,
            EntryKind::Missed => format!("{said} was not read"),
            EntryKind::TakenBack => format!("taken back and read again: {said}"),
            EntryKind::Done | EntryKind::Reading | EntryKind::Decided => return None,
        };
        let minutes = (entry.at_s - hold.from_s) / 60.0;
        Some(LookRow {
            at: format!("{minutes:.1} min"),
            said,
        })
    });
    rows.collect()
}

/// Whether an instrument has no calibration certificate: then a paper is a report.
pub(super) fn lacks_papers(by_eye: Option<&ByEye>) -> bool {
    let instruments = by_eye.map_or(&[][..], |by_eye| &by_eye.instruments);
    instruments
        .iter()
        .any(|own| own.papers.certificate.is_empty())
}
