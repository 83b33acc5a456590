//! What is plumbed to each port, how the rod is held, and what follows from it.
//!
//! From the plumbing alone it says which leak paths can exist in a phase, which sums of
//! them show where, and which can be told apart. Whether a chamber carries readable
//! pressure too is for `account` to see: it asks here and decides there.
//!
//! Invariant: a chamber whose port is open, supplied or on a line with another cylinder has
//! no account; asking for its ways out gives the reason instead.

mod beside;
mod path;
mod seen;
mod stiffness;

pub use beside::Beside;
pub use path::Path;
pub use path::Place;
pub use path::Sum;
pub use path::told_apart;
pub use seen::Collected;
pub use seen::Look;
pub use seen::Seen;
pub use stiffness::Enclosure;
pub use stiffness::HOSE_STIFFNESS_PA;
pub use stiffness::MeasuredStiffness;
pub use stiffness::Pace;
pub use stiffness::Step;
pub use stiffness::StiffnessError;

use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Kind;
use crate::quantity::Force;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Pressure;
use crate::quantity::Volume;
use crate::quantity::unit::pascal;

/// What a port of the piece sees during the hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Port {
    /// Plugged at the cylinder: only the plug itself can leak.
    Blocked,
    /// On its valve, in neutral: the valve and the plumbing to it can leak.
    OnValve,
    /// Open to a vessel at the atmosphere; a breather is one.
    OpenToVessel,
    /// Joined to a pump or line that keeps its pressure up.
    Supplied,
}

/// A load-holding valve (check, counterbalance) mounted on a port of the cylinder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum HoldingValve {
    /// None there, or taken out for the test.
    Absent,
    /// In its place: what is plumbed to the port is plumbed behind it, and a shut port
    /// tests valve and cylinder together.
    InPlace,
    /// A known good one in the place of the machine's own.
    Swapped,
}

/// How the rod is held during the hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RodHold {
    /// Free under a load that pushes it in; the cap side carries.
    PushedIn {
        /// The load, if it is known.
        load: Option<Force>,
    },
    /// Free under a load or a pressure that pulls it out; the rod side carries.
    PulledOut {
        /// The load, if it is known.
        load: Option<Force>,
    },
    /// Locked by a mechanical stop in mid-stroke.
    Locked,
    /// The piston stands on an end of its stroke.
    Bottomed,
}

/// Why nothing can be said of the oil that a chamber loses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoAccount {
    /// Its oil goes to a vessel.
    #[error(
        "the {side} port is open to a vessel, so no oil volume of that side can be stated; \
         shut it, or correct `{side}_port` in the setup"
    )]
    Open {
        /// "cap" or "rod".
        side: &'static str,
    },
    /// What it loses is made up.
    #[error(
        "the {side} port is supplied, and the supply makes up what leaks, so no oil volume of that side can be stated; \
         shut the port off for the hold"
    )]
    Supplied {
        /// "cap" or "rod".
        side: &'static str,
    },
    /// Another cylinder is on its line.
    #[error(
        "the {side} port is on a line with another cylinder, so what leaves this one may have leaked in that one: \
         nothing of either by itself can be stated; plug the ports of this one, and hold again"
    )]
    OnLine {
        /// "cap" or "rod".
        side: &'static str,
    },
}

/// The plumbing of one phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circuit {
    /// What the cap port sees.
    pub cap_port: Port,
    /// What the rod port sees; [`Port::OpenToVessel`] where there is no rod-side chamber.
    pub rod_port: Port,
    /// Load-holding valve at the cap port.
    pub cap_holding_valve: HoldingValve,
    /// Load-holding valve at the rod port.
    pub rod_holding_valve: HoldingValve,
    /// Pressure at which the valve on the holding side opens by itself (counterbalance, line
    /// relief), if it has such a setting and it is known.
    pub opens_at: Option<GaugePressure>,
    /// Whether both ports were joined, pumped up and shut together, so that on purpose nothing
    /// drives oil past the piston.
    pub joined: bool,
    /// Highest pressure that the supply can bring, if a port is supplied and it is known.
    pub supply: Option<GaugePressure>,
    /// How the rod is held.
    pub rod: RodHold,
    /// A second cylinder that carries the same load, if there is one; a load that is stated
    /// is then what both carry.
    pub beside: Option<Beside>,
    /// Where the oil temperature probe sits, if there is one in the oil.
    pub probe: Option<Chamber>,
    /// Oil in the hose between cap port and plug or valve; zero without a hose.
    pub cap_hose: Volume,
    /// The same at the rod port.
    pub rod_hose: Volume,
    /// How stiff a chamber was when that was measured, if it was.
    pub stiffness: Option<MeasuredStiffness>,
}

impl Circuit {
    /// Ports and rod with nothing else: no load-holding valve, hose or probe.
    pub fn plain(cap_port: Port, rod_port: Port, rod: RodHold) -> Self {
        Self {
            cap_port,
            rod_port,
            cap_holding_valve: HoldingValve::Absent,
            rod_holding_valve: HoldingValve::Absent,
            opens_at: None,
            joined: false,
            supply: None,
            rod,
            beside: None,
            probe: None,
            cap_hose: Volume::default(),
            rod_hose: Volume::default(),
            stiffness: None,
        }
    }

    /// What a port sees.
    pub fn port(&self, chamber: Chamber) -> Port {
        match chamber {
            Chamber::Cap => self.cap_port,
            Chamber::Rod => self.rod_port,
        }
    }

    /// The load-holding valve at a port.
    pub fn holding_valve(&self, chamber: Chamber) -> HoldingValve {
        match chamber {
            Chamber::Cap => self.cap_holding_valve,
            Chamber::Rod => self.rod_holding_valve,
        }
    }

    /// Oil in the hose at a port; zero without a hose.
    pub fn hose(&self, chamber: Chamber) -> Volume {
        match chamber {
            Chamber::Cap => self.cap_hose,
            Chamber::Rod => self.rod_hose,
        }
    }

    /// Whether a chamber's oil is shut in: neither open to a vessel nor supplied, and on no line
    /// with another cylinder.
    pub fn is_shut_in(&self, chamber: Chamber) -> bool {
        self.no_account(chamber).is_none()
    }

    /// Why nothing can be said of the oil a chamber loses; None if it is shut in.
    pub fn no_account(&self, chamber: Chamber) -> Option<NoAccount> {
        let side = chamber.word();
        match self.port(chamber) {
            Port::OnValve if self.beside == Some(Beside::OnLine) => {
                Some(NoAccount::OnLine { side })
            }
            Port::Blocked | Port::OnValve => None,
            Port::OpenToVessel => Some(NoAccount::Open { side }),
            Port::Supplied => Some(NoAccount::Supplied { side }),
        }
    }

    /// The chamber that holds the load: the rod side when the load pulls, the cap side
    /// when it pushes. With the rod held there is no load, and it is the side that is
    /// shut in, the cap side if both are.
    pub fn holding_chamber(&self) -> Chamber {
        match self.rod {
            RodHold::PulledOut { .. } => Chamber::Rod,
            RodHold::PushedIn { .. } => Chamber::Cap,
            RodHold::Locked | RodHold::Bottomed => {
                if !self.is_shut_in(Chamber::Cap) && self.is_shut_in(Chamber::Rod) {
                    Chamber::Rod
                } else {
                    Chamber::Cap
                }
            }
        }
    }

    /// Whether the fall of pressure in the load-holding chamber says anything of a leak:
    /// only while nothing is supplied, to it or past the piston.
    pub fn shows_leak_down(&self) -> bool {
        self.is_shut_in(self.holding_chamber())
            && [self.cap_port, self.rod_port]
                .iter()
                .all(|port| *port != Port::Supplied)
    }

    /// What gives way round the oil of one chamber at the extension `x`.
    pub fn enclosure(&self, cylinder: &Cylinder, chamber: Chamber, x: Length) -> Enclosure {
        Enclosure {
            chamber: cylinder.volume(chamber, x),
            wall: cylinder.wall_stiffness(),
            hose: self.hose(chamber),
            hose_stiffness: Pressure::new::<pascal>(HOSE_STIFFNESS_PA),
        }
    }

    /// Ways out of one chamber that lead out of the cylinder, for a chamber whose losses
    /// can be accounted for.
    ///
    /// # Errors
    /// With the reason, if the chamber is open or supplied.
    pub fn external_paths(&self, chamber: Chamber) -> Result<Vec<Path>, NoAccount> {
        match self.no_account(chamber) {
            None => Ok(self.outlets(chamber)),
            Some(reason) => Err(reason),
        }
    }

    /// All ways that oil can take in this plumbing, in the order of [`Path`]. A gland
    /// with no pressure behind it is none.
    pub fn paths(&self, kind: Kind) -> Vec<Path> {
        let mut paths = Vec::new();
        if self.drives_piston(kind) {
            paths.push(Path::Piston);
        }
        for chamber in kind.chambers() {
            if self.port(*chamber) != Port::OpenToVessel {
                paths.extend(self.ways_out(kind, *chamber));
            }
        }
        paths.sort_unstable();
        paths
    }

    /// Whether anything drives oil past a piston seal.
    fn drives_piston(&self, kind: Kind) -> bool {
        kind.has_piston_seal() && !self.joined
    }

    /// Where leaks show in this plumbing, and which of them come together there.
    ///
    /// A shut-in chamber shows the sum of its ways out; an open one shows at its vessel
    /// what passes the piston; a supplied one shows nothing. Whether a chamber's pressure
    /// can be read is not asked.
    pub fn what_is_measured(&self, kind: Kind) -> Vec<Sum> {
        let piston = self.drives_piston(kind);
        let mut sums = Vec::new();
        for chamber in kind.chambers() {
            let own = self.ways_out(kind, *chamber);
            if matches!(self.no_account(*chamber), Some(NoAccount::OnLine { .. })) {
                continue;
            }
            match (self.port(*chamber), chamber) {
                (Port::Blocked | Port::OnValve, Chamber::Cap) => sums.push(Sum {
                    place: Place::Chamber(Chamber::Cap),
                    gains: piston
                        .then_some(Path::Piston)
                        .into_iter()
                        .chain(own)
                        .collect(),
                    losses: Vec::new(),
                }),
                (Port::Blocked | Port::OnValve, Chamber::Rod) => sums.push(Sum {
                    place: Place::Chamber(Chamber::Rod),
                    gains: piston.then_some(Path::Piston).into_iter().collect(),
                    losses: own,
                }),
                (Port::OpenToVessel, _) if piston => {
                    sums.push(Sum::of_piston(Place::Vessel(*chamber)))
                }
                (Port::OpenToVessel | Port::Supplied, _) => {}
            }
        }
        if kind == Kind::SingleActing {
            sums.push(Sum::of_piston(Place::Breather));
        }
        sums
    }

    /// Ways out of a chamber, the gland among them where this kind has it.
    fn ways_out(&self, kind: Kind, chamber: Chamber) -> Vec<Path> {
        let mut paths = self.outlets(chamber);
        // Without a piston seal the gland closes the one chamber there is.
        if chamber == Chamber::Cap && !kind.has_piston_seal() {
            paths.insert(0, Path::Gland);
        }
        paths
    }

    fn outlets(&self, chamber: Chamber) -> Vec<Path> {
        let (plug, valve) = match chamber {
            Chamber::Cap => (Path::CapPort, Path::CapValve),
            Chamber::Rod => (Path::RodPort, Path::RodValve),
        };
        let mut paths = match chamber {
            Chamber::Cap => vec![plug],
            Chamber::Rod => vec![Path::Gland, plug],
        };
        // Behind a load-holding valve a plug tests valve and cylinder together.
        let behind_valve = self.holding_valve(chamber) != HoldingValve::Absent;
        if self.port(chamber) == Port::OnValve || behind_valve {
            paths.push(valve);
        }
        paths
    }
}
