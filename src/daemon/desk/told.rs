//! Rows of the register as lines of the page.

use crate::daemon::clock;
use crate::page::view;
use crate::register::Bench;
use crate::register::Decision;
use crate::register::Entry;
use crate::register::Job;
use crate::register::JobState;
use crate::verdict::Outcome;

/// What came out.
pub(super) fn outcome(outcome: Outcome) -> view::Outcome {
    match outcome {
        Outcome::Pass => view::Outcome::Pass,
        Outcome::Fail => view::Outcome::Fail,
        Outcome::Undecided => view::Outcome::Undecided,
        Outcome::NotValid => view::Outcome::NotValid,
        Outcome::Measured => view::Outcome::Measured,
    }
}

/// A test in one line.
pub(super) fn test_line(entry: &Entry) -> view::TestLine {
    view::TestLine {
        at: clock::local(entry.started_utc_ms, &entry.time_zone).0,
        number: entry.certificate_number.clone(),
        tag: entry.unit.tag.clone(),
        outcome: outcome(entry.outcome),
        headline: entry.headline.clone(),
        withdrawn: entry.withdrawn.clone(),
        is_practice: entry.bench == Bench::Practice,
    }
}

/// A job in one line.
pub(super) fn job_line(job: &Job) -> view::JobLine {
    view::JobLine {
        number: job.number,
        tag: job.tag.clone(),
        came_in: job.came_in.clone(),
        went_out: job.went_out.clone(),
        symptom: job.symptom.clone(),
        state: match job.state {
            JobState::Open => view::JobState::Open,
            JobState::Done => view::JobState::Done,
            JobState::Withdrawn => view::JobState::Withdrawn,
        },
        decision: job.decision.map(|decision| match decision {
            Decision::Rebuild => view::Decision::Rebuild,
            Decision::Replace => view::Decision::Replace,
            Decision::Leave => view::Decision::Leave,
        }),
        reason: job.reason.clone(),
    }
}

/// The day of an instant as the shop writes it.
pub(super) fn day(utc_ms: i64, time_zone: &str) -> String {
    let (at, _) = clock::local(utc_ms, time_zone);
    at.chars().take(10).collect()
}
