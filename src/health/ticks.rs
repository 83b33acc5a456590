//! A clock that runs oddly, as far as its own times show it.
//!
//! A clock that is wrong by the same part all the time does not show here: it takes another
//! clock to see it.

use super::Flag;
use super::reading::median;
use crate::recording::Codes;
use crate::recording::Recording;

/// An interval that is off by this part of the usual one is odd.
const ODD: f64 = 0.5;

/// So many odd ones are a sign.
const ODD_PART: f64 = 0.02;

/// The clock of a board keeps its rate to this part within a hold.
const RATE_PART: f64 = 5e-3;

/// Intervals that vary, or a rate that changed within the hold.
pub(super) fn uneven(recording: &Recording, (from_s, until_s): (f64, f64)) -> Option<Flag> {
    // Tables of other programs may have any intervals they like.
    let is_board = recording
        .tracks()
        .iter()
        .any(|track| matches!(track.codes, Codes::Raw(_)));
    let times = recording.time_s();
    let inside =
        &times[times.partition_point(|t| *t < from_s)..times.partition_point(|t| *t <= until_s)];
    if !is_board || inside.len() < 400 {
        return None;
    }
    let is_gap = |from_s: f64| {
        recording
            .gaps()
            .iter()
            .any(|g| (g.from_s - from_s).abs() < 1e-6)
    };
    let intervals: Vec<f64> = inside
        .windows(2)
        .filter(|w| !is_gap(w[0]))
        .map(|w| w[1] - w[0])
        .collect();
    let usual = median(intervals.clone());
    let quarter = intervals.len() / 4;
    let first = median(intervals[..quarter].to_vec());
    let last = median(intervals[intervals.len() - quarter..].to_vec());
    // Times are whole microseconds.
    let by_rounding = 2e-6 / usual;
    let changed = last / first - 1.0;
    if changed.abs() > RATE_PART + by_rounding {
        return Some(Flag::voids(format!(
            "the board's clock ran {:.1} % {} at the end of the hold than at its start, so no rate can be stated; have \
             the board looked at",
            100.0 * changed.abs(),
            if changed > 0.0 { "faster" } else { "slower" }
        )));
    }
    let n_odd = intervals
        .iter()
        .filter(|i| (*i / usual - 1.0).abs() > ODD)
        .count();
    let part = n_odd as f64 / intervals.len() as f64;
    (part > ODD_PART).then(|| {
        Flag::remark(format!(
            "{:.0} % of the intervals between readings are more than half off the usual {:.0} ms: the board is late or \
             stamps its times badly",
            100.0 * part,
            1e3 * usual
        ))
    })
}
