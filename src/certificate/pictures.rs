//! The pictures of one certificate, and what each shows in words.
//!
//! All of them come from `chart`; here they are only asked for in the right size.

use crate::certificate::facts::Facts;
use crate::certificate::went::Went;
use crate::chart::AccountPicture;
use crate::chart::RecordPicture;
use crate::chart::Seen;
use crate::chart::Size;
use crate::chart::account_chart;
use crate::chart::circuit_drawing;
use crate::chart::circuit_size;
use crate::chart::fences;
use crate::chart::record_chart;
use crate::cylinder::Piece;
use crate::verdict::Outcome;

/// Pictures of one certificate.
pub(super) struct Pictures<'a> {
    facts: &'a Facts<'a>,
    /// The circuit and its size; None for a piece without one.
    pub circuit: Option<(String, Size)>,
    /// The ways that the oil took; None where nothing can be said of them.
    pub went: Option<Went>,
}

/// Width of the circuit in points.
const CIRCUIT_WIDTH: f64 = 156.0;

impl<'a> Pictures<'a> {
    /// The pictures these facts have.
    pub(super) fn new(facts: &'a Facts<'a>) -> Self {
        let circuit = match facts.subject.piece {
            Piece::Cylinder(_) => {
                let circuit = &facts.subject.circuit;
                let size = circuit_size(circuit, CIRCUIT_WIDTH);
                Some((circuit_drawing(circuit, facts.units, size), size))
            }
            Piece::Chamber(_) => None,
        };
        Self {
            facts,
            circuit,
            went: Went::of(facts),
        }
    }

    /// Whether there is an account to draw; one that is not valid is none.
    fn has_account(&self) -> bool {
        let is_broken = self.facts.verdict.outcome == Outcome::NotValid;
        !is_broken && self.facts.evaluation.is_some_and(|e| !e.lines.is_empty())
    }

    /// The circuit, where no other picture of the front shows how it was plumbed.
    pub(super) fn circuit_on_front(&self) -> Option<&(String, Size)> {
        let is_shown = self.went.as_ref().is_some_and(Went::shows_plumbing);
        self.circuit.as_ref().filter(|_| !is_shown)
    }

    /// Least height of the picture on the front at a width, in points; `chart` is that of a chart.
    pub(super) fn front_height(&self, width: f32, chart: f32) -> f32 {
        self.went.as_ref().map_or(chart, |went| went.height(width))
    }

    /// The picture on the front: the ways of the oil, else the chart.
    pub(super) fn front(&self, size: Size) -> String {
        match &self.went {
            Some(went) => went.drawing(size),
            None => self.main(size),
        }
    }

    /// The account over time for the back, where the front has the ways instead.
    pub(super) fn account(&self, size: Size) -> Option<String> {
        let is_behind = self.went.is_some() && self.has_account();
        is_behind.then(|| self.main(size))
    }

    /// Title of the picture on the front, and what it shows.
    pub(super) fn main_title(&self) -> &'static str {
        if self.went.is_some() || self.has_account() {
            "Where the oil went"
        } else {
            "What was recorded"
        }
    }

    /// The chart: the account, else the recording.
    pub(super) fn main(&self, size: Size) -> String {
        match self.facts.evaluation {
            Some(evaluation) if self.has_account() => {
                let (from, until) = evaluation.hold_s;
                let start = self.facts.recording.time_s().first().copied();
                let gaps: Vec<(f64, f64)> = self
                    .facts
                    .recording
                    .gaps()
                    .iter()
                    .map(|g| (g.from_s - from, g.until_s - from))
                    .filter(|g| g.1 > 0.0 && g.0 < until - from)
                    .collect();
                let fences = fences(self.facts.verdict.judged.iter().map(|j| &j.limit));
                account_chart(&AccountPicture {
                    lines: &evaluation.lines,
                    hold_length_s: until - from,
                    settle_s: from - start.unwrap_or(from),
                    gaps_s: &gaps,
                    fences: &fences,
                    units: self.facts.units,
                    size,
                    seen: Seen::OnPaper,
                })
            }
            _ => self.record_of(size),
        }
    }

    /// The record chart for the back; None if it is on the front already.
    pub(super) fn record(&self, size: Size) -> Option<String> {
        self.has_account().then(|| self.record_of(size))
    }

    fn record_of(&self, size: Size) -> String {
        let picture = RecordPicture {
            hold_s: self.facts.evaluation.map(|e| e.hold_s),
            units: self.facts.units,
            size,
        };
        record_chart(self.facts.recording, picture)
    }
}

/// What a picture shows, from the words it carries itself.
pub(super) fn words_of(svg: &str) -> String {
    let after = svg.split_once("aria-label=\"").map_or("", |s| s.1);
    let words = after.split_once('"').map_or("", |s| s.0);
    words
        .replace("&quot;", "\"")
        .replace("&lt;", "<")
        .replace("&amp;", "&")
}
