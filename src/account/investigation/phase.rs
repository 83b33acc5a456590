//! One phase of an investigation: a hold with its plumbing, and what eyes saw of it.

use crate::account::Evaluation;
use crate::account::Fluid;
use crate::account::Subject;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::Seen;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Kind;
use crate::oil::Oil;

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

impl<'a> Phase<'a> {
    /// The plumbing.
    pub fn circuit(&self) -> &'a Circuit {
        &self.subject.circuit
    }

    /// The cylinder, if the piece is one.
    pub fn cylinder(&self) -> Option<&'a Cylinder> {
        self.subject.piece.cylinder()
    }

    /// The cylinder's kind; None for a plain chamber, such as the rig's own hoses.
    pub fn kind(&self) -> Option<Kind> {
        self.cylinder().map(Cylinder::kind)
    }

    /// Whether what is collected at a chamber has passed the piston: its port is open, or it
    /// is the vented side of a piston.
    pub fn shows_piston(&self, chamber: Chamber) -> bool {
        let vented = self.kind() == Some(Kind::SingleActing) && chamber == Chamber::Rod;
        let has_piston = self.kind().is_some_and(Kind::has_piston_seal);
        vented || (has_piston && self.circuit().port(chamber) == Port::OpenToVessel)
    }

    /// The oil, if it is filled with oil.
    pub fn oil(&self) -> Option<&'a Oil> {
        match &self.subject.fluid {
            Fluid::Oil(oil) => Some(oil),
            Fluid::Gas => None,
        }
    }
}
