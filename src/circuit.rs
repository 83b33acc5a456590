//! What is plumbed to each port, how the rod is held, and what follows from it.
//!
//! From the plumbing alone it says which leak paths can exist in a phase. Whether
//! they can be told apart depends on which chambers carry readable pressure too,
//! so `account` asks here and decides there.

use crate::cylinder::Chamber;
use crate::quantity::Force;
use crate::quantity::Volume;

/// What a port of the piece sees during the hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Port {
    /// Plugged at the cylinder: only the plug itself can leak.
    Blocked,
    /// On its valve, in neutral: the valve and the plumbing to it can leak.
    OnValve,
    /// Open to a vessel at the atmosphere.
    OpenToVessel,
}

/// How the rod is held during the hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RodHold {
    /// Free under a load that pushes it in; the cap side carries.
    PushedIn {
        /// The load, if it is known.
        load: Option<Force>,
    },
    /// Free under a load that pulls it out; the rod side carries.
    PulledOut {
        /// The load, if it is known.
        load: Option<Force>,
    },
    /// Locked by a mechanical stop in mid-stroke.
    Locked,
    /// The piston stands on an end of its stroke.
    Bottomed,
}

/// A way out for oil. Positive flow is in the direction of leaking.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Path {
    /// Past the piston, cap to rod.
    Piston,
    /// Out at the gland.
    Gland,
    /// Past the plug, fitting or hose at the cap port.
    CapPort,
    /// Past the plug, fitting or hose at the rod port.
    RodPort,
    /// Through the valve on the cap port.
    CapValve,
    /// Through the valve on the rod port.
    RodValve,
}

/// The plumbing of one phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circuit {
    /// What the cap port sees.
    pub cap_port: Port,
    /// What the rod port sees.
    pub rod_port: Port,
    /// How the rod is held.
    pub rod: RodHold,
    /// Where the oil temperature probe sits, if there is one in the oil.
    pub probe: Option<Chamber>,
    /// Oil in the hose between cap port and plug or valve; zero without a hose.
    pub cap_hose: Volume,
    /// The same at the rod port.
    pub rod_hose: Volume,
}

impl Circuit {
    /// What a port sees.
    pub fn port(&self, chamber: Chamber) -> Port {
        match chamber {
            Chamber::Cap => self.cap_port,
            Chamber::Rod => self.rod_port,
        }
    }

    /// The chamber that holds the load: the rod side when the load pulls, else the cap side.
    pub fn holding_chamber(&self) -> Chamber {
        match self.rod {
            RodHold::PulledOut { .. } => Chamber::Rod,
            RodHold::PushedIn { .. } | RodHold::Locked | RodHold::Bottomed => Chamber::Cap,
        }
    }

    /// Ways out of one chamber that lead out of the cylinder.
    pub fn external_paths(&self, chamber: Chamber) -> Vec<Path> {
        let port = match (chamber, self.port(chamber)) {
            (_, Port::OpenToVessel) => None,
            (Chamber::Cap, Port::Blocked) => Some(vec![Path::CapPort]),
            (Chamber::Rod, Port::Blocked) => Some(vec![Path::RodPort]),
            (Chamber::Cap, Port::OnValve) => Some(vec![Path::CapPort, Path::CapValve]),
            (Chamber::Rod, Port::OnValve) => Some(vec![Path::RodPort, Path::RodValve]),
        };
        let mut paths = port.unwrap_or_default();
        if chamber == Chamber::Rod {
            paths.insert(0, Path::Gland);
        }
        paths
    }
}

impl Path {
    /// The name of its figure in data files.
    pub fn figure_word(self) -> &'static str {
        match self {
            Self::Piston => "piston_bypass",
            Self::Gland => "gland_leakage",
            Self::CapPort => "cap_port_leakage",
            Self::RodPort => "rod_port_leakage",
            Self::CapValve => "cap_valve_leakage",
            Self::RodValve => "rod_valve_leakage",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_valve_on_the_port_adds_its_own_way_out() {
        let circuit = Circuit {
            cap_port: Port::OnValve,
            rod_port: Port::OpenToVessel,
            rod: RodHold::PushedIn { load: None },
            probe: None,
            cap_hose: Volume::default(),
            rod_hose: Volume::default(),
        };
        assert_eq!(
            circuit.external_paths(Chamber::Cap),
            [Path::CapPort, Path::CapValve]
        );
        assert_eq!(circuit.external_paths(Chamber::Rod), [Path::Gland]);
    }
}
