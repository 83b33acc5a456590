//! The supply of the ratiometric sensors wandered: nothing is void, but whoever reads the figures
//! should know what they were taken against.

use super::Flag;
use super::reading::Reading;
use crate::channel::NOMINAL_SUPPLY_V;
use crate::channel::Role;
use crate::recording::Recording;

/// From its lowest to its highest, by 5 V: a sound supply of a bench stays well within it (own
/// choice).
const WANDERS: f64 = 0.02;

/// A supply that went further than that in the hold.
pub(super) fn wandered(recording: &Recording, window: (f64, f64)) -> Option<Flag> {
    let supply = Reading::of(recording, recording.track(Role::Supply)?, window);
    let volts = supply.value_si.iter().copied();
    let lowest = volts.clone().fold(f64::INFINITY, f64::min);
    let highest = volts.fold(f64::NEG_INFINITY, f64::max);
    let part = (highest - lowest) / NOMINAL_SUPPLY_V;
    if part.is_nan() || part <= WANDERS {
        return None;
    }
    let of_piece = recording.tracks().iter().map(|track| &track.channel);
    let against: Vec<&str> = of_piece
        .filter(|channel| channel.against_supply.is_some())
        .map(|channel| channel.role.plain())
        .collect();
    let taken = match against.is_empty() {
        true => "no reading was taken against it, so a 0.5-4.5 V sensor on it read wrong; write \
                 `supply = \"measured\"` for it"
            .into(),
        false => format!("{} taken against it, row for row", against.join(" and ")),
    };
    Some(Flag::remark(format!(
        "the supply of the sensors went from {lowest:.2} to {highest:.2} V in the hold, by {:.1} % of 5 V: {taken}; look \
         for what draws on it",
        100.0 * part
    )))
}
