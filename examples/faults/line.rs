//! Faults of the line and the clock, done to a recording: rows that are missing with the gaps and
//! counts that tell of them, times by a clock that runs oddly, an end before its time.

use std::ops::Range;
use stillrod::recording::Codes;
use stillrod::recording::Ending;
use stillrod::recording::Gap;
use stillrod::recording::GapCause;
use stillrod::recording::Parts;

/// Rows of one block, as the rig's board sends them.
const BLOCK_ROWS: usize = 10;

/// Where blocks are lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lost {
    /// The board dropped them, and counted it.
    OnTheBoard,
    /// They came damaged.
    OnTheWay,
}

/// A share of the blocks is missing, evenly spread.
pub fn lose(parts: &mut Parts, share: f64, lost: Lost) {
    let every = (1.0 / share).round() as usize;
    let n_blocks = parts.time_s.len() / BLOCK_ROWS;
    // From the end, so that rows before keep their places.
    for block in (1..n_blocks - 1).rev().filter(|block| block % every == 0) {
        let from = block * BLOCK_ROWS;
        cut(parts, from..from + BLOCK_ROWS, GapCause::Lost);
        match lost {
            Lost::OnTheBoard => parts.loss.n_board_dropped += BLOCK_ROWS as u64,
            Lost::OnTheWay => {
                parts.loss.n_samples_lost += BLOCK_ROWS as u64;
                parts.loss.n_frames_bad += 1;
            }
        }
    }
    parts.gaps.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
}

/// The board is silent for a while because it starts again.
pub fn restart(parts: &mut Parts, at_s: f64, silent_s: f64) {
    let row = |time_s: f64| parts.time_s.partition_point(|t| *t < time_s);
    let rows = row(at_s)..row(at_s + silent_s);
    cut(parts, rows, GapCause::Restarted);
}

/// The adapter is pulled, and the recording ends where it was.
pub fn pull(parts: &mut Parts, at_s: f64) {
    let n = parts.time_s.partition_point(|t| *t < at_s);
    remove(parts, n..parts.time_s.len());
    parts.phases.retain(|phase| phase.from_s < at_s);
    for phase in &mut parts.phases {
        phase.until_s = phase.until_s.min(at_s);
    }
    parts.entries.retain(|entry| entry.at_s < at_s);
    parts.ending = Ending::Interrupted("the adapter was pulled".into());
}

/// All times by a clock that runs faster from one of them on: the host knows no other.
pub fn stretch(parts: &mut Parts, factor: f64, from_s: f64) {
    let by_clock = |at_s: &mut f64| *at_s += (factor - 1.0) * (*at_s - from_s).max(0.0);
    parts.time_s.iter_mut().for_each(by_clock);
    for gap in &mut parts.gaps {
        by_clock(&mut gap.from_s);
        by_clock(&mut gap.until_s);
    }
    for phase in &mut parts.phases {
        by_clock(&mut phase.from_s);
        by_clock(&mut phase.until_s);
    }
    let entries = parts.entries.iter_mut();
    entries.for_each(|entry| by_clock(&mut entry.at_s));
}

/// Takes rows out that have others before and after them, and notes the gap.
fn cut(parts: &mut Parts, rows: Range<usize>, cause: GapCause) {
    parts.gaps.push(Gap {
        from_s: parts.time_s[rows.start - 1],
        until_s: parts.time_s[rows.end],
        cause,
    });
    remove(parts, rows);
}

fn remove(parts: &mut Parts, rows: Range<usize>) {
    parts.time_s.drain(rows.clone());
    for track in &mut parts.tracks {
        match &mut track.codes {
            Codes::Raw(codes) | Codes::AgainstSupply { raw: codes, .. } => {
                drop(codes.drain(rows.clone()));
            }
            Codes::Si(values) => drop(values.drain(rows.clone())),
        }
    }
}
