//! One hold out of a recording of many: a recording of its own, as if it had been alone.
//!
//! So a hold of a procedure is looked over, evaluated and drawn by the same code as a test
//! of one hold. Its time begins when its pressure was reached.

use super::Ending;
use super::Entry;
use super::Gap;
use super::Heading;
use super::Parts;
use super::PhaseMark;
use super::Recording;
use super::Track;
use std::ops::Range;

impl Recording {
    /// The rows from `from_s` to `until_s`, with time counted from `from_s`, under another
    /// setup. `phases` are those phases of this recording that become its own, and their new
    /// names; it is complete if `is_complete`, else interrupted as this one was. None if its times cannot be
    /// told apart any more.
    pub fn part(
        &self,
        (from_s, until_s): (f64, f64),
        setup_toml: &str,
        phases: &[(&str, &str)],
        is_complete: bool,
    ) -> Option<Self> {
        let rows = self.rows_within(from_s, until_s);
        let tracks = self.tracks().iter().map(|track| Track {
            channel: track.channel.clone(),
            // The part finds the supply of its own rows.
            codes: track.codes.within(rows.clone()),
        });
        let marks = phases.iter().filter_map(|(known, new)| {
            let mark = self.phase(known)?;
            Some(PhaseMark {
                name: (*new).into(),
                from_s: mark.from_s - from_s,
                until_s: mark.until_s - from_s,
            })
        });
        let gaps = self
            .gaps()
            .iter()
            .filter(|gap| gap.until_s > from_s && gap.from_s < until_s);
        let gaps = gaps.map(|gap| Gap {
            from_s: gap.from_s - from_s,
            until_s: gap.until_s - from_s,
            cause: gap.cause,
        });
        // That it ended as decided, and when instruments were read, goes with the hold; what
        // people said belongs to the steps.
        let of_hold = self.entries().iter().filter(|entry| {
            entry.kind.is_of_hold() && entry.at_s > from_s && entry.at_s <= until_s
        });
        let of_hold = of_hold.map(|entry| Entry {
            at_s: entry.at_s - from_s,
            step: String::new(),
            ..entry.clone()
        });
        let parts = Parts {
            heading: Heading {
                setup_toml: setup_toml.into(),
                ..self.heading().clone()
            },
            time_s: self.time_s()[rows.clone()]
                .iter()
                .map(|t| t - from_s)
                .collect(),
            tracks: tracks.collect(),
            gaps: gaps.collect(),
            phases: marks.collect(),
            entries: of_hold.collect(),
            loss: self.loss().shared(rows.len(), self.time_s().len()),
            ending: match is_complete {
                true => Ending::Complete,
                false => self.ending().clone(),
            },
        };
        // Times far from zero may fall together when they are counted from another start.
        Self::new(parts).ok()
    }

    /// Indices of the rows within a stretch of time, both ends included.
    pub fn rows_within(&self, from_s: f64, until_s: f64) -> Range<usize> {
        let times = self.time_s();
        let first = times.partition_point(|t| *t < from_s);
        first..times.partition_point(|t| *t <= until_s).max(first)
    }
}
