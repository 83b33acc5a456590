//! The ways that oil can take in an investigation, as unknowns of one fit over all phases.
//!
//! What is another thing in another phase is another way: a plug is none of the machine's
//! parts, a valve that was swapped is not the machine's own, and a piston seal need not
//! leak backwards as it leaks forwards. Whatever lies behind a port that is on its valve
//! counts as the valve, with its line and fittings.

use crate::account::Drive;
use crate::circuit::Circuit;
use crate::circuit::HoldingValve;
use crate::circuit::Port;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;

/// A way that oil can take.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Way {
    /// Past the piston, out of this chamber.
    Piston(Chamber),
    /// Out at the gland.
    Gland,
    /// Past plug, fitting or hose of a port that was blocked.
    Plug(Chamber),
    /// Through the valve on a port, with its line and fittings.
    Valve(Chamber, HoldingValve),
    /// Through a valve that stands at its setting, where it opens as it should.
    Opened(Chamber),
    /// Out of the rig's own hoses, where they were held by themselves.
    Rig(Chamber),
}

/// A sum of ways: what flows along `gains` less what flows along `losses`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct WaySum {
    pub gains: Vec<Way>,
    pub losses: Vec<Way>,
}

impl Way {
    /// The word of its figure in data files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Piston(_) => "piston_bypass",
            Self::Gland => "gland_leakage",
            Self::Plug(Chamber::Cap) => "cap_port_leakage",
            Self::Plug(Chamber::Rod) => "rod_port_leakage",
            Self::Valve(Chamber::Cap, _) => "cap_valve_leakage",
            Self::Valve(Chamber::Rod, _) => "rod_valve_leakage",
            Self::Opened(Chamber::Cap) => "cap_valve_opened",
            Self::Opened(Chamber::Rod) => "rod_valve_opened",
            Self::Rig(Chamber::Cap) => "cap_rig_leakage",
            Self::Rig(Chamber::Rod) => "rod_rig_leakage",
        }
    }

    /// What a fitter calls the part, with its article.
    pub fn part(self) -> &'static str {
        match self {
            Self::Piston(Chamber::Cap) => "the piston seal",
            Self::Piston(Chamber::Rod) => "the piston seal (from the rod side)",
            Self::Gland => "the gland",
            Self::Plug(Chamber::Cap) => "the cap-port plug or its hose",
            Self::Plug(Chamber::Rod) => "the rod-port plug or its hose",
            Self::Valve(Chamber::Cap, HoldingValve::Absent) => "the valve on the cap port",
            Self::Valve(Chamber::Cap, HoldingValve::InPlace) => {
                "the load-holding valve on the cap port"
            }
            Self::Valve(Chamber::Cap, HoldingValve::Swapped) => {
                "the swapped-in valve on the cap port"
            }
            Self::Opened(Chamber::Cap) => "the valve on the cap port at its setting",
            Self::Opened(Chamber::Rod) => "the valve on the rod port at its setting",
            Self::Rig(Chamber::Cap) => "the rig's hose at the cap port",
            Self::Rig(Chamber::Rod) => "the rig's hose at the rod port",
            Self::Valve(Chamber::Rod, HoldingValve::Absent) => "the valve on the rod port",
            Self::Valve(Chamber::Rod, HoldingValve::InPlace) => {
                "the load-holding valve on the rod port"
            }
            Self::Valve(Chamber::Rod, HoldingValve::Swapped) => {
                "the swapped-in valve on the rod port"
            }
        }
    }

    /// The port that it hangs on, if it does.
    pub fn port(self) -> Option<Chamber> {
        match self {
            Self::Plug(at) | Self::Valve(at, _) | Self::Opened(at) | Self::Rig(at) => Some(at),
            Self::Piston(_) | Self::Gland => None,
        }
    }

    /// Whether it is a part of the cylinder, that a rebuild mends.
    pub fn is_of_cylinder(self) -> bool {
        matches!(self, Self::Piston(_) | Self::Gland)
    }

    /// Whether it was put in for the test in place of the machine's own.
    pub fn is_put_in(self) -> bool {
        matches!(self, Self::Valve(_, HoldingValve::Swapped))
    }

    /// Whether oil along it runs from rod to cap, against the sign of a bypass.
    pub fn is_backwards(self) -> bool {
        self == Self::Piston(Chamber::Rod)
    }

    /// Pressure that drives it over a hold, Pa; never negative. None where it was not measured.
    pub(super) fn driven_by(self, kind: Option<Kind>, drive: &Drive) -> Option<Vec<f64>> {
        let outwards = |p: &Vec<f64>| p.iter().map(|p| p.max(0.0)).collect();
        // A side without pressure of its own is at the atmosphere.
        let rod = || match chambers(kind).contains(&Chamber::Rod) {
            true => drive.p_rod_pa.clone(),
            false => Some(vec![0.0; drive.p_cap_pa.len()]),
        };
        match self {
            Self::Piston(from) => {
                let rod = rod()?;
                let pairs = drive.p_cap_pa.iter().zip(&rod);
                // Below the atmosphere there is nothing that could draw more.
                let across = pairs.map(|(c, r)| c.max(-1e5) - r.max(-1e5));
                let sign = if from == Chamber::Cap { 1.0 } else { -1.0 };
                Some(across.map(|d| (sign * d).max(0.0)).collect())
            }
            Self::Gland if !has_piston(kind) => Some(outwards(&drive.p_cap_pa)),
            Self::Gland
            | Self::Plug(Chamber::Rod)
            | Self::Valve(Chamber::Rod, _)
            | Self::Opened(Chamber::Rod)
            | Self::Rig(Chamber::Rod) => rod().as_ref().map(outwards),
            Self::Plug(Chamber::Cap)
            | Self::Valve(Chamber::Cap, _)
            | Self::Opened(Chamber::Cap)
            | Self::Rig(Chamber::Cap) => Some(outwards(&drive.p_cap_pa)),
        }
    }
}

/// Chambers of a piece that can hold pressure; a plain chamber counts as a cap side.
pub(super) fn chambers(kind: Option<Kind>) -> &'static [Chamber] {
    kind.map_or(&[Chamber::Cap], Kind::chambers)
}

/// Whether oil can pass a piston in it.
pub(super) fn has_piston(kind: Option<Kind>) -> bool {
    kind.is_some_and(Kind::has_piston_seal)
}

/// Ways out of the piece at one end, the gland among them.
pub(super) fn outlets(circuit: &Circuit, kind: Option<Kind>, chamber: Chamber) -> Vec<Way> {
    let mut ways = Vec::new();
    let gland_end = match has_piston(kind) {
        true => Chamber::Rod,
        false => Chamber::Cap,
    };
    if kind.is_some() && chamber == gland_end {
        ways.push(Way::Gland);
    }
    let valve = circuit.holding_valve(chamber);
    match circuit.port(chamber) {
        Port::OnValve => ways.push(Way::Valve(chamber, valve)),
        // Behind a load-holding valve a plug stops what its seat would pass.
        Port::Blocked if kind.is_some() => ways.push(Way::Plug(chamber)),
        Port::Blocked | Port::OpenToVessel | Port::Supplied => {}
    }
    let is_shut = matches!(circuit.port(chamber), Port::Blocked | Port::OnValve);
    if is_shut && (kind.is_none() || circuit.hose(chamber).value > 0.0) {
        ways.push(Way::Rig(chamber));
    }
    ways
}

/// What a chamber's sum consists of: the cap side counts what it loses, the rod side what
/// it gains.
pub(super) fn sum_of(circuit: &Circuit, kind: Option<Kind>, chamber: Chamber) -> WaySum {
    let (into_rod, into_cap) = (Way::Piston(Chamber::Cap), Way::Piston(Chamber::Rod));
    let (mut gains, mut losses) = match has_piston(kind) {
        true => (vec![into_rod], vec![into_cap]),
        false => (Vec::new(), Vec::new()),
    };
    let out = outlets(circuit, kind, chamber);
    match chamber {
        Chamber::Cap => gains.extend(out),
        Chamber::Rod => losses.extend(out),
    }
    WaySum { gains, losses }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::RodHold;

    fn drive(cap: f64, rod: f64) -> Drive {
        Drive {
            zero_pa: [0.0; 2],
            p_cap_pa: vec![cap],
            p_rod_pa: Some(vec![rod]),
            oil_k: None,
            x_m: 0.1,
            length_s: 600.0,
        }
    }

    #[track_caller]
    fn check(way: Way, kind: Kind, cap: f64, rod: f64, expected: f64) {
        let found = way
            .driven_by(Some(kind), &drive(cap, rod))
            .expect("measured");
        assert_eq!(found, [expected], "{way:?} of {kind:?}");
    }

    #[test]
    fn each_way_is_driven_by_the_pressure_before_it() {
        let kind = Kind::DoubleActing;
        check(Way::Piston(Chamber::Cap), kind, 100e5, 15e5, 85e5);
        check(Way::Piston(Chamber::Rod), kind, 100e5, 15e5, 0.0);
        check(Way::Piston(Chamber::Rod), kind, -0.9e5, 50e5, 50.9e5);
        check(Way::Gland, kind, 100e5, 15e5, 15e5);
        check(Way::Gland, kind, 100e5, -0.9e5, 0.0);
        check(Way::Plug(Chamber::Cap), kind, 100e5, 15e5, 100e5);
        check(Way::Gland, Kind::Plunger, 100e5, 0.0, 100e5);
    }

    #[test]
    fn behind_a_valve_all_counts_as_the_valve() {
        let circuit = Circuit::plain(Port::OnValve, Port::Blocked, RodHold::Locked);
        let cap = sum_of(&circuit, Some(Kind::DoubleActing), Chamber::Cap);
        let valve = Way::Valve(Chamber::Cap, HoldingValve::Absent);
        assert_eq!(cap.gains, [Way::Piston(Chamber::Cap), valve]);
        assert_eq!(cap.losses, [Way::Piston(Chamber::Rod)]);
        let rod = sum_of(&circuit, Some(Kind::DoubleActing), Chamber::Rod);
        assert_eq!(rod.losses[1..], [Way::Gland, Way::Plug(Chamber::Rod)]);
        let ram = sum_of(&circuit, Some(Kind::Plunger), Chamber::Cap);
        assert_eq!(ram.gains, [Way::Gland, valve]);
    }
}
