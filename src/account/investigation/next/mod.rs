//! Which phase to hold next: the one that would tell what is open.
//!
//! Each phase that could be held is tried on paper, again and again: with flows that the sums
//! so far leave possible, played as far as a hold of them would go, measured with errors and
//! looked at as eyes do. What it tells in nearly all of these trials is what it is advised
//! for; the least work that tells most is advised. Where no phase tells in nearly all, that
//! which tells in most is named as no more than that.

mod candidate;
mod played;
mod step;
mod trial;

pub use step::Step;

use super::source::Source;
use super::sums::Sums;
use super::way::Way;
use super::way::chambers;
use crate::cylinder::Chamber;
use crate::fit::SharesError;
use candidate::Candidate;
use candidate::candidates;
use trial::Told;
use trial::Trials;

/// A phase that would tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Next {
    /// What to do.
    pub step: Step,
    /// Which open ways it would tell of.
    pub tells: Vec<Way>,
    /// How long to hold, s.
    pub hold_s: f64,
    /// Whether it tells nearly always; else it does in most trials only.
    pub is_sure: bool,
    /// The side that is to be charged before, if one is.
    pub charged: Option<Chamber>,
    /// Whether the piece has one side only that holds pressure.
    pub is_one_sided: bool,
}

/// The next phase that would tell most of what is open, the least work first; None if
/// nothing is open, or nothing that is known here can be relied on to tell.
///
/// # Errors
/// If the sums cannot be solved: a fault of the program.
pub(super) fn next(
    sources: &[Source<'_>],
    sums: &Sums,
    open: &[Way],
) -> Result<Option<Next>, SharesError> {
    if open.is_empty() {
        return Ok(None);
    }
    let trials = Trials::of(sources, sums, open)?;
    let candidates = candidates(sources);
    let sure = told_most(&trials, &candidates, Told::NearlyAlways);
    Ok(sure.or_else(|| told_most(&trials, &candidates, Told::Mostly)))
}

/// The candidate that tells of most ways as often as that, the first of several.
fn told_most(trials: &Trials<'_, '_>, candidates: &[Candidate<'_>], often: Told) -> Option<Next> {
    let mut found: Option<Next> = None;
    for candidate in candidates {
        let tells = trials.told_by(&candidate.source, often);
        if tells.len() > found.as_ref().map_or(0, |next| next.tells.len()) {
            found = Some(Next {
                step: candidate.step,
                tells,
                hold_s: candidate.source.drive.length_s,
                is_sure: often == Told::NearlyAlways,
                charged: candidate.charged,
                is_one_sided: chambers(candidate.source.kind).len() < 2,
            });
        }
    }
    found
}
