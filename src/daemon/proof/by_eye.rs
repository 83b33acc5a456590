//! What a step showed whose instruments a person read.

use super::zeros::SensorZero;
use crate::channel::ByEye;
use crate::channel::Role;
use crate::health::ZeroLook;
use crate::health::zero_repeats_si;
use crate::procedure::VENTED;
use crate::procedure::phase_name;
use crate::recording::EntryKind;
use crate::recording::Recording;

/// What gauges showed while a step had both sides open: their last reading there.
pub(super) fn zeros_read(recording: &Recording, by_eye: &ByEye, id: &str) -> Vec<SensorZero> {
    let Some(mark) = recording.phase(&phase_name(id, VENTED)) else {
        return Vec::new();
    };
    let rows = recording.rows_within(mark.from_s, mark.until_s);
    [Role::CapPressure, Role::RodPressure]
        .into_iter()
        .filter_map(|role| {
            let track = recording.track(role)?;
            let instrument = by_eye.instrument(role)?;
            let mean_si = rows.clone().rev().find_map(|row| track.value(row))?;
            Some(SensorZero {
                role,
                look: ZeroLook {
                    mean_si,
                    standard_si: instrument.reading_si(),
                    ambient_k: None,
                    repeats_si: zero_repeats_si(role),
                },
                errors: track.channel.errors,
            })
        })
        .collect()
}

/// Full strokes as the person counted them.
pub(super) fn strokes_counted(recording: &Recording, id: &str) -> Option<u32> {
    let mut entries = recording.entries().iter();
    let said = entries.find(|entry| entry.step == id && entry.kind == EntryKind::Reading)?;
    said.text.trim().parse().ok()
}
