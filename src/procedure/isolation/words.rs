//! What to do and what to look out for, in the words that fit rod and kind.
//!
//! A rod that is locked carries no load: nothing is raised, blocked or loaded again, it is
//! pumped up. A kind with one port has one plug.

use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;

/// Words for the rod as it is held in the phases.
pub(super) struct Words {
    /// Whether a load is on the rod.
    pub loaded: bool,
    /// Before anything else.
    pub first: &'static str,
    /// How it comes under pressure at first.
    pub raise: String,
    /// Before a fitting is opened.
    pub down: &'static str,
    /// How it comes under pressure again.
    pub again: String,
}

/// The words for a rod as it is found, and the side that is pressed.
pub(super) fn of(found: RodHold, holding: Chamber) -> Words {
    let side = holding.word();
    match found {
        RodHold::PushedIn { .. } | RodHold::PulledOut { .. } => Words {
            loaded: true,
            first: "",
            raise: "raise the load".into(),
            down: "Block the load, let the pressure down",
            again: "load again".into(),
        },
        RodHold::Locked | RodHold::Bottomed => Words {
            loaded: false,
            first: match found {
                RodHold::Bottomed => {
                    "Move the piston off the end of its stroke first, to a stop in mid-stroke: on the end the seat hides the seal. "
                }
                _ => "",
            },
            raise: format!("pump the {side} side up to the test pressure"),
            down: "Let the pressure down",
            again: format!("pump the {side} side up again"),
        },
    }
}

impl Words {
    /// Caution of the hold as found.
    pub(super) fn as_found(&self) -> &'static str {
        match self.loaded {
            true => "Nobody under or near the load: it may sink at any time.",
            false => LOCKED,
        }
    }

    /// Caution where a valve is taken out.
    pub(super) fn swapped(&self) -> String {
        match self.loaded {
            true => "Without its valve nothing holds the load: block it mechanically first, and nobody under it afterwards."
                .into(),
            false => format!("{LOCKED} Open a fitting only at zero on both gauges."),
        }
    }

    /// Caution where the ports are plugged.
    pub(super) fn plugged(&self, kind: Kind) -> String {
        let plugs = match kind {
            Kind::DoubleActing | Kind::DoubleRod => {
                "Steel plugs rated for the pressure that a failing seal can bring."
            }
            Kind::SingleActing | Kind::Plunger | Kind::TelescopicStage => {
                "A steel plug rated for the pressure."
            }
        };
        match self.loaded {
            true => format!(
                "Nobody under the load, and no load on a test plug alone: a block close under it catches it. The load must hang \
                 or stand free of the block: one that rests on it does not load the cylinder, and the hold shows nothing. \
                 {plugs} Open a fitting only at zero on both gauges and without load."
            ),
            false => format!("{LOCKED} {plugs} Open a fitting only at zero on both gauges."),
        }
    }
}

/// Where a lock stands against the pressure.
const LOCKED: &str =
    "The lock must stand the test pressure times the piston's area: nobody in line with the rod.";

/// Which plugs go where.
pub(super) fn plugs(kind: Kind) -> &'static str {
    match kind {
        Kind::DoubleActing | Kind::DoubleRod => "plug the ports at the cylinder",
        Kind::SingleActing => "plug the port at the cylinder (the breather stays open)",
        Kind::Plunger | Kind::TelescopicStage => "plug the port at the cylinder",
    }
}

/// What the plugged hold tells, and where to look.
pub(super) fn plugged_tells(kind: Kind) -> (&'static str, &'static str) {
    match kind {
        Kind::Plunger | Kind::TelescopicStage => (
            "Whether the cylinder holds by itself: what is left is gland and plug.",
            " Look at gland and plug.",
        ),
        Kind::SingleActing => (
            "Whether the cylinder holds by itself; what passes the piston comes out at the breather.",
            " Catch what comes out at the breather.",
        ),
        Kind::DoubleActing | Kind::DoubleRod => (
            "Whether the cylinder holds by itself, and what passes the piston.",
            " Wipe gland and plugs dry and look at them at the end.",
        ),
    }
}
