//! Which phases a shop would plan, and how each is plumbed.

use super::chance::Chance;
use super::machine::CHARGE_PA;
use super::machine::Machine;
use super::machine::Sort;
use stillrod::account::investigation::Step;
use stillrod::circuit::HoldingValve;
use stillrod::circuit::Port;
use stillrod::cylinder::Chamber;

/// What an instruction says of the charge, Pa.
const ADVISED_CHARGE_PA: f64 = 30e5;

/// The plumbing of a phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plumbing {
    /// What it is called in the tables.
    pub letter: &'static str,
    /// What the cap port sees.
    pub cap: Port,
    /// What the rod port sees.
    pub rod: Port,
    /// Load-holding valve on the side that holds.
    pub valve: HoldingValve,
    /// Both sides joined, pumped up and shut.
    pub joined: bool,
    /// The rod locked.
    pub locked: bool,
}

/// A phase that is to be held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Planned {
    /// Its plumbing.
    pub plumbing: Plumbing,
    /// How long it is counted, s.
    pub hold_s: f64,
    /// Whether somebody with clean rags looks, at breathers too.
    pub rags: bool,
    /// What the unloaded side is charged to, Pa.
    pub charge_pa: f64,
}

/// On its valve, the other side plugged.
fn on_valve(sort: Sort) -> Plumbing {
    let shut = if sort.has_rod_side() {
        Port::Blocked
    } else {
        Port::OpenToVessel
    };
    let (cap, rod) = match sort.holding() {
        Chamber::Cap => (Port::OnValve, shut),
        Chamber::Rod => (Port::Blocked, Port::OnValve),
    };
    let valve = match sort {
        Sort::Swapped => HoldingValve::InPlace,
        _ => HoldingValve::Absent,
    };
    Plumbing {
        letter: "A",
        cap,
        rod,
        valve,
        joined: false,
        locked: sort == Sort::Locked,
    }
}

/// Both ports plugged at the cylinder.
fn plugged(sort: Sort) -> Plumbing {
    Plumbing {
        letter: "B",
        cap: Port::Blocked,
        rod: match sort.has_rod_side() {
            true => Port::Blocked,
            false => Port::OpenToVessel,
        },
        valve: HoldingValve::Absent,
        ..on_valve(sort)
    }
}

/// The side that does not hold open to a vessel.
fn opened(from: Plumbing, chamber: Chamber) -> Plumbing {
    match chamber {
        Chamber::Cap => Plumbing {
            letter: "V",
            cap: Port::OpenToVessel,
            ..from
        },
        Chamber::Rod => Plumbing {
            letter: "V",
            rod: Port::OpenToVessel,
            ..from
        },
    }
}

/// Both ports joined, the rod locked.
fn joined() -> Plumbing {
    Plumbing {
        letter: "E",
        cap: Port::Blocked,
        rod: Port::Blocked,
        valve: HoldingValve::Absent,
        joined: true,
        locked: true,
    }
}

/// The phases of an investigation.
pub fn planned(machine: &Machine, chance: &mut Chance) -> Vec<Planned> {
    let plumbings = plumbings(machine.sort, chance);
    let planned = plumbings.into_iter().map(|plumbing| Planned {
        plumbing,
        hold_s: chance.even(300.0, 900.0).round(),
        rags: chance.happens(0.7),
        charge_pa: CHARGE_PA,
    });
    planned.collect()
}

fn plumbings(sort: Sort, chance: &mut Chance) -> Vec<Plumbing> {
    let (a, b) = (on_valve(sort), plugged(sort));
    let swapped = Plumbing {
        letter: "S",
        valve: HoldingValve::Swapped,
        ..a
    };
    let which = chance.even(0.0, 1.0);
    let is_joined = chance.happens(1.0 / 3.0);
    let mut plumbings = match (sort, which) {
        (Sort::Pushing, v) if v < 0.12 => vec![b],
        (Sort::Pushing, v) if v < 0.18 => vec![a],
        (Sort::Pushing, v) if v < 0.26 => vec![a, b, opened(b, Chamber::Rod)],
        (Sort::Pushing, v) if v < 0.33 => vec![a, opened(a, Chamber::Rod)],
        (Sort::Swapped, v) if v < 0.3 => vec![a, swapped, b],
        (Sort::Swapped, _) => vec![a, swapped],
        (Sort::Locked, v) if v < 0.25 => vec![b, opened(b, Chamber::Rod)],
        (Sort::DoubleRod, v) if v < 0.25 => vec![b],
        (Sort::DoubleRod, v) if v < 0.35 => vec![a, opened(a, Chamber::Rod)],
        (_, v) if v < 0.12 && sort != Sort::Pushing => vec![a],
        _ => vec![a, b],
    };
    if is_joined && matches!(sort, Sort::Pushing | Sort::DoubleRod | Sort::Locked) {
        plumbings.push(joined());
    }
    plumbings
}

/// The phase that a step asks for, when `base` is the plumbing it goes out from.
pub fn advised(step: Step, hold_s: f64, sort: Sort, base: Plumbing) -> Planned {
    let plumbing = match step {
        Step::Look { .. } | Step::HoldLonger { .. } => base,
        // Loaded again, whatever went before.
        Step::OpenToVessel(chamber) => Plumbing {
            joined: false,
            locked: sort == Sort::Locked,
            ..opened(base, chamber)
        },
        Step::PlugBoth => plugged(sort),
        Step::SwapValve(_) => Plumbing {
            valve: HoldingValve::Swapped,
            ..base
        },
        Step::JoinPorts => joined(),
    };
    Planned {
        plumbing,
        hold_s,
        rags: true,
        charge_pa: ADVISED_CHARGE_PA,
    }
}
