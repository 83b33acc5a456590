//! Leak paths, and which of them a plumbing can tell apart.
//!
//! A place where oil is counted (a chamber, a vessel) shows a sum of paths. A path is
//! told apart when it is alone in a sum, or is left when the others of its sum are
//! known from elsewhere. Sizes and pressures play no part here.

use crate::cylinder::Chamber;

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

/// A place where oil is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// In a shut-in chamber, from pressure, position and temperature. The cap side counts
    /// what it loses, the rod side what it gains.
    Chamber(Chamber),
    /// In a vessel at a chamber's open port, by eye. While the rod moves inwards the rod
    /// side draws in A_r·u, which has to be added to what the vessel collects.
    Vessel(Chamber),
    /// At the breather of a vented rod side, by eye.
    Breather,
}

/// What is counted at a place: the sum of `gains` less the sum of `losses`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sum {
    /// Where.
    pub place: Place,
    /// Paths that count up.
    pub gains: Vec<Path>,
    /// Paths that count down.
    pub losses: Vec<Path>,
}

impl Sum {
    /// The piston alone.
    pub(super) fn of_piston(place: Place) -> Self {
        Self {
            place,
            gains: vec![Path::Piston],
            losses: Vec::new(),
        }
    }
}

/// Paths that these sums give one by one, in the order of [`Path`]. Leave out the sums
/// that nobody reads, such as that of a vessel without a scale.
pub fn told_apart(sums: &[Sum]) -> Vec<Path> {
    let mut known: Vec<Path> = Vec::new();
    // Each round finds one path more or ends.
    while let Some(found) = sums.iter().find_map(|sum| {
        let mut open = sum
            .gains
            .iter()
            .chain(&sum.losses)
            .filter(|p| !known.contains(p));
        match (open.next(), open.next()) {
            (Some(only), None) => Some(*only),
            _ => None,
        }
    }) {
        known.push(found);
    }
    known.sort_unstable();
    known
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::Beside;
    use crate::circuit::Circuit;
    use crate::circuit::HoldingValve;
    use crate::circuit::NoAccount;
    use crate::circuit::Port;
    use crate::circuit::RodHold;
    use crate::cylinder::Kind;

    const FREE: RodHold = RodHold::PushedIn { load: None };

    #[track_caller]
    fn check(circuit: &Circuit, kind: Kind, exist: &[Path], chambers: &[Path], all: &[Path]) {
        let sums = circuit.what_is_measured(kind);
        let read: Vec<Sum> = sums
            .iter()
            .filter(|s| matches!(s.place, Place::Chamber(_)))
            .cloned()
            .collect();
        assert_eq!(circuit.paths(kind), exist, "paths that exist");
        assert_eq!(told_apart(&read), chambers, "from the chambers alone");
        assert_eq!(told_apart(&sums), all, "with vessels read too");
    }

    #[test]
    fn two_plugs_leave_cap_loss_and_rod_gain_and_no_single_path() {
        let circuit = Circuit::plain(Port::Blocked, Port::Blocked, FREE);
        let exist = [Path::Piston, Path::Gland, Path::CapPort, Path::RodPort];
        check(&circuit, Kind::DoubleActing, &exist, &[], &[]);
        let sums = circuit.what_is_measured(Kind::DoubleActing);
        assert_eq!(sums[0].gains, [Path::Piston, Path::CapPort]);
        assert_eq!(sums[1].gains, [Path::Piston]);
        assert_eq!(sums[1].losses, [Path::Gland, Path::RodPort]);
    }

    #[test]
    fn a_vessel_at_the_rod_port_shows_the_piston_and_leaves_the_gland_without_pressure() {
        let circuit = Circuit::plain(Port::Blocked, Port::OpenToVessel, RodHold::Locked);
        let both = [Path::Piston, Path::CapPort];
        check(&circuit, Kind::DoubleActing, &both, &[], &both);
        let reason = circuit.external_paths(Chamber::Rod);
        assert_eq!(reason, Err(NoAccount::Open { side: "rod" }));
    }

    #[test]
    fn a_valve_on_the_port_adds_its_own_way_out() {
        let circuit = Circuit::plain(Port::OnValve, Port::OpenToVessel, FREE);
        let outside = [Path::CapPort, Path::CapValve];
        assert_eq!(circuit.external_paths(Chamber::Cap), Ok(outside.to_vec()));
        let exist = [Path::Piston, Path::CapPort, Path::CapValve];
        // The vessel gives the piston; plug and valve stay together.
        check(&circuit, Kind::DoubleActing, &exist, &[], &[Path::Piston]);
    }

    #[test]
    fn a_plug_behind_a_load_holding_valve_tests_valve_and_cylinder_together() {
        let circuit = Circuit {
            cap_holding_valve: HoldingValve::InPlace,
            ..Circuit::plain(Port::Blocked, Port::Blocked, FREE)
        };
        let outside = [Path::CapPort, Path::CapValve];
        assert_eq!(circuit.external_paths(Chamber::Cap), Ok(outside.to_vec()));
        let outside = [Path::Gland, Path::RodPort];
        assert_eq!(circuit.external_paths(Chamber::Rod), Ok(outside.to_vec()));
    }

    #[test]
    fn without_a_piston_seal_there_are_gland_and_valve_only() {
        let circuit = Circuit::plain(Port::OnValve, Port::OpenToVessel, FREE);
        let exist = [Path::Gland, Path::CapPort, Path::CapValve];
        for kind in [Kind::Plunger, Kind::TelescopicStage] {
            check(&circuit, kind, &exist, &[], &[]);
        }
    }

    #[test]
    fn a_vented_piston_shows_its_bypass_at_the_breather() {
        let circuit = Circuit::plain(Port::Blocked, Port::OpenToVessel, FREE);
        let both = [Path::Piston, Path::CapPort];
        check(&circuit, Kind::SingleActing, &both, &[], &both);
    }

    #[test]
    fn a_supplied_side_has_no_account_and_what_passes_the_piston_shows_on_the_other() {
        let circuit = Circuit::plain(
            Port::Supplied,
            Port::Blocked,
            RodHold::PulledOut { load: None },
        );
        let exist = [Path::Piston, Path::Gland, Path::CapPort, Path::RodPort];
        check(&circuit, Kind::DoubleActing, &exist, &[], &[]);
        let sums = circuit.what_is_measured(Kind::DoubleActing);
        assert_eq!(sums.len(), 1, "{sums:?}");
        let reason = circuit.external_paths(Chamber::Cap).expect_err("supplied");
        assert!(reason.to_string().contains("makes up what leaks"));
        assert!(!circuit.shows_leak_down());
        // With a vessel on the other side the piston is alone.
        let vessel = Circuit::plain(Port::Supplied, Port::OpenToVessel, RodHold::Bottomed);
        let exist = [Path::Piston, Path::CapPort];
        check(&vessel, Kind::DoubleActing, &exist, &[], &[Path::Piston]);
    }

    #[test]
    fn a_line_with_another_cylinder_shows_nothing_of_this_one() {
        let shared = |cap, rod| Circuit {
            beside: Some(Beside::OnLine),
            ..Circuit::plain(cap, rod, FREE)
        };
        let circuit = shared(Port::OnValve, Port::OnValve);
        assert_eq!(circuit.what_is_measured(Kind::DoubleActing), []);
        let reason = circuit.external_paths(Chamber::Cap).expect_err("shared");
        assert!(reason.to_string().contains("another cylinder"), "{reason}");
        // A plugged side is this one's alone.
        let sums = shared(Port::OnValve, Port::Blocked).what_is_measured(Kind::DoubleActing);
        assert_eq!(sums.len(), 1);
        assert_eq!(sums[0].place, Place::Chamber(Chamber::Rod));
    }

    #[test]
    fn with_the_rod_held_the_side_that_is_shut_in_holds() {
        let holding = |cap, rod| Circuit::plain(cap, rod, RodHold::Locked).holding_chamber();
        assert_eq!(holding(Port::Blocked, Port::Blocked), Chamber::Cap);
        assert_eq!(holding(Port::Blocked, Port::OpenToVessel), Chamber::Cap);
        assert_eq!(holding(Port::OpenToVessel, Port::Blocked), Chamber::Rod);
        assert_eq!(holding(Port::Supplied, Port::OnValve), Chamber::Rod);
    }
}
