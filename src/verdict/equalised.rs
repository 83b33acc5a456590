//! Pressures that have met: a rod that stands because nothing pushes any more.
//!
//! Both sides at one pressure leave no leak to be measured, so nothing passes by it. Where
//! the meeting itself was seen, what moved until then is held against the limit.

use super::Judged;
use super::Outcome;
use crate::account::FigureName;
use crate::account::Met;
use crate::quantity::number;

/// Judges again what a leaking piston would hide by letting the pressures meet.
pub(super) fn after_meeting(judged: Judged, met: &Met) -> Judged {
    use FigureName::{CapLoss, Drift, LeakDown, PistonBypass, RodGain};
    let hidden = matches!(
        judged.limit.figure,
        Drift | LeakDown | CapLoss | RodGain | PistonBypass
    );
    if !hidden {
        return judged;
    }
    let clause = met.clause();
    let Some(seen) = met.seen else {
        return match judged.outcome {
            Outcome::Pass => Judged {
                outcome: Outcome::Undecided,
                reason: clause,
                ..judged
            },
            _ => judged,
        };
    };
    if judged.outcome == Outcome::Fail {
        let reason = format!("{}; {clause}", judged.reason);
        return Judged { reason, ..judged };
    }
    let limit = &judged.limit;
    let until_then = match limit.figure {
        Drift => seen.sink_m.abs() / seen.time_s,
        // Pressure that rises to that of the other side is no small loss.
        LeakDown => f64::INFINITY,
        _ => seen.passed_m3 / seen.time_s,
    } / limit.si_per_unit;
    let (outcome, added) = if until_then.is_infinite() {
        (Outcome::Fail, String::new())
    } else if until_then > limit.number {
        let size = number(until_then, 0.1 * until_then);
        let added = format!(
            "; until then at least {size} {} on the mean, over the limit of {}",
            limit.unit, limit.text
        );
        (Outcome::Fail, added)
    } else {
        let added =
            "; what moved until then is within the limit, what leaks now cannot be measured";
        (Outcome::Undecided, added.into())
    };
    Judged {
        outcome,
        reason: format!("{clause}{added}"),
        ..judged
    }
}
