//! A loss that stops or starts within the hold it is measured in.
//!
//! The mean over such a hold is that of two losses. Only the larger one tells what leaks, and
//! how much of the hold it took is chance: the mean passes nothing. One that fails still does.

use super::Judged;
use super::Outcome;
use crate::account::Turn;

/// Judges again what passed by the mean of a hold whose loss turned.
pub fn of_turn(judged: Judged, turn: &Turn) -> Judged {
    if judged.outcome != Outcome::Pass {
        return judged;
    }
    Judged {
        outcome: Outcome::Undecided,
        reason: format!(
            "{}, but the loss is not the same all through the hold: {}",
            judged.reason,
            turn.words()
        ),
        ..judged
    }
}
