//! One phase of an investigation: a hold with its plumbing, and what eyes saw of it.

use crate::account::Evaluation;
use crate::account::FigureName;
use crate::account::Fluid;
use crate::account::Subject;
use crate::circuit::Circuit;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Kind;
use crate::oil::Oil;

/// What is looked at during a hold: clean and dry at its start, what at its end?
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// Nothing came out: not two drops.
    Dry,
    /// Oil came out.
    Wet,
}

/// Oil that was collected from an open port or a breather.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Collected {
    /// Of which chamber.
    pub chamber: Chamber,
    /// How much over the counted hold, m³; negative if the vessel gave oil.
    pub volume_m3: f64,
    /// Its standard uncertainty, m³.
    pub standard_m3: f64,
}

/// What eyes saw of a phase; None where nobody looked.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Seen {
    /// At the gland.
    pub gland: Option<Look>,
    /// At the cap port with its plug.
    pub cap_port: Option<Look>,
    /// At the rod port with its plug.
    pub rod_port: Option<Look>,
    /// In a vessel.
    pub collected: Option<Collected>,
}

/// A phase.
#[derive(Debug, Clone, Copy)]
pub struct Phase<'a> {
    /// What people call it: its letter or the name of its recording.
    pub label: &'a str,
    /// Piece, fluid and plumbing.
    pub subject: &'a Subject,
    /// What its hold showed.
    pub evaluation: &'a Evaluation,
    /// What eyes saw.
    pub seen: Seen,
}

impl Phase<'_> {
    /// The plumbing.
    pub fn circuit(&self) -> &Circuit {
        &self.subject.circuit
    }

    /// The cylinder, if the piece is one.
    pub fn cylinder(&self) -> Option<&Cylinder> {
        self.subject.piece.cylinder()
    }

    /// The cylinder's kind; a plain chamber counts as a ram that does not move.
    pub fn kind(&self) -> Kind {
        self.cylinder().map_or(Kind::Plunger, Cylinder::kind)
    }

    /// The oil, if it is filled with oil.
    pub fn oil(&self) -> Option<&Oil> {
        match &self.subject.fluid {
            Fluid::Oil(oil) => Some(oil),
            Fluid::Gas => None,
        }
    }

    /// Oil past the piston into a chamber that is open, by what was collected there and how
    /// far the rod moved, with its standard uncertainty, m³/s.
    pub(super) fn past_piston(&self) -> Option<(Chamber, f64, f64)> {
        let collected = self.seen.collected?;
        let cylinder = self.cylinder()?;
        let chamber = collected.chamber;
        let (from, until) = self.evaluation.hold_s;
        let length_s = until - from;
        let flow = collected.volume_m3 / length_s;
        let of_flow = collected.standard_m3 / length_s;
        // A vented side is full of air: nothing is drawn in that would be missed.
        if !cylinder.kind().chambers().contains(&chamber) {
            return Some((chamber, flow, of_flow));
        }
        let drift = self.evaluation.figure(FigureName::Drift)?;
        let moved = drift.measured?;
        let area = match chamber {
            Chamber::Cap => cylinder.cap_area().value,
            Chamber::Rod => -cylinder.annulus_area().value,
        };
        let of_moved = area.abs() * moved.standard_si;
        Some((
            chamber,
            flow + area * moved.value_si,
            of_flow.hypot(of_moved),
        ))
    }
}
