//! What fitters see, one inquiry for each, with what is behind it.

use super::Inquiry;
use super::machine::Machine;
use super::machine::at_x;
use super::machine::fresh;
use super::machine::lasting;
use super::machine::phase_a;
use super::machine::phase_b;
use super::machine::phase_e;
use super::machine::plough;
use super::machine::valve;
use super::phase;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::quantity::GaugePressure;
use crate::rehearsal::physics::Leak;
use crate::rehearsal::physics::RodNature;
use crate::rehearsal::physics::WayOut;

pub(super) fn all() -> Vec<Inquiry> {
    let mut all = plugged();
    all.extend(in_neutral());
    all.extend([cooling(), creeps_by_spool(), creeps_by_seal()]);
    all
}

fn plugged() -> Vec<Inquiry> {
    let valve_leaks = Machine {
        cap_valve: valve(Leak::with_exponent(1.5, 96.0, 0.8)),
        ..plough()
    };
    let seal = Machine {
        piston: Leak::laminar(2.0, 96.0),
        ..plough()
    };
    let gland_too = Machine {
        gland: Leak::with_exponent(1.2, 30.0, 0.8),
        ..seal.clone()
    };
    let plug = Machine {
        cap_plug: Leak::with_exponent(1.5, 96.0, 0.7),
        ..plough()
    };
    vec![
        Inquiry::new(
            "plugged-it-stands",
            "It drifts in neutral and stands with the ports plugged: valve or line.",
            vec![phase_a(&valve_leaks), phase_b(&valve_leaks)],
        ),
        Inquiry::new(
            "plugged-drift-dies-away",
            "Plugged, the drift dies away while both pressures come together: the piston seal.",
            vec![phase_b(&seal)],
        ),
        Inquiry::new(
            "plugged-drift-goes-on",
            "Plugged, it drifts on with pressure on both sides: piston seal and gland.",
            vec![phase_b(&gland_too), phase_e(&gland_too)],
        ),
        Inquiry::new(
            "plugged-rod-side-empty",
            "Plugged, it drifts on with the rod side empty and the cap plug wet: the plug.",
            vec![
                phase(
                    "B",
                    "Both ports are plugged at the cylinder, the rod side without pressure.",
                    plug.blocked(0.0),
                ),
                phase_e(&plug),
            ],
        ),
    ]
}

fn in_neutral() -> Vec<Inquiry> {
    let both = Machine {
        piston: Leak::laminar(2.0, 96.0),
        cap_valve: valve(Leak::with_exponent(1.0, 96.0, 0.8)),
        ..plough()
    };
    let valve_leaks = Machine {
        cap_valve: valve(Leak::with_exponent(1.5, 96.0, 0.8)),
        ..plough()
    };
    let seal = Machine {
        piston: Leak::laminar(1.2, 96.0),
        ..plough()
    };
    let locked = Circuit {
        probe: seal.base.circuit.probe,
        ..Circuit::plain(Port::Blocked, Port::OpenToVessel, RodHold::Locked)
    };
    vec![
        Inquiry::new(
            "neutral-pressures-close-in",
            "In neutral the rod side rises while it drifts on: piston seal and valve.",
            vec![phase_a(&both), phase_b(&both)],
        ),
        Inquiry::new(
            "neutral-glass-gives-oil",
            "In neutral the open rod side draws oil in as fast as the rod moves: the valve.",
            vec![phase(
                "A",
                "The cap port stays on its valve, the rod port is open to a glass.",
                valve_leaks.plumbed(Port::OnValve, Port::OpenToVessel, 0.0),
            )],
        ),
        Inquiry::new(
            "steady-oil-at-the-rod-port",
            "Cap port plugged, rod port open: oil comes steadily, more with the rod locked.",
            vec![
                phase(
                    "C",
                    "The cap port is plugged, the rod port open to a glass, the rod free.",
                    fresh(seal.plumbed(Port::Blocked, Port::OpenToVessel, 0.0), 0.2),
                ),
                phase(
                    "D",
                    "The same with the rod locked.",
                    at_x(seal.held(locked, [96e5, 0.0]), 0.29),
                ),
            ],
        ),
    ]
}

fn cooling() -> Inquiry {
    let machine = plough();
    Inquiry::new(
        "only-cooling",
        "It sinks while the oil cools and stands when that is over: no leak.",
        vec![
            phase(
                "B",
                "Both ports are plugged, the oil 3 K warmer than the tube.",
                fresh(machine.blocked(25.0), 3.0),
            ),
            phase(
                "B2",
                "The same an hour later.",
                lasting(fresh(at_x(machine.blocked(25.0), 0.298), 0.05), 60.0, 900.0),
            ),
        ],
    )
}

/// A cylinder without load on a worn spool that passes its supply of 100 bar to both ports.
fn unloaded(piston: Leak, spool: Leak) -> Machine {
    let mut machine = plough();
    machine.base.specimen.motion = RodNature::Free {
        load_n: 0.0,
        friction_n: 250.0,
        viscous_n_s_per_m: 2e4,
    };
    machine.base.specimen.start.x_m = 0.15;
    let line = WayOut::Line {
        line_pa: 100e5,
        through: spool,
    };
    Machine {
        piston,
        cap_valve: line,
        rod_valve: line,
        ..machine
    }
}

/// Cap side supplied, rod side shut: what the rod does then is the piston seal.
fn supplied(machine: &Machine) -> super::InquiryPhase {
    let supply_pa = 100e5;
    let cylinder = machine.base.specimen.cylinder;
    let ratio = cylinder.cap_area().value / cylinder.annulus_area().value;
    let circuit = Circuit {
        probe: machine.base.circuit.probe,
        supply: Some(GaugePressure::from_pa(supply_pa)),
        ..Circuit::plain(
            Port::Supplied,
            Port::Blocked,
            RodHold::PulledOut { load: None },
        )
    };
    let start = [supply_pa, ratio * supply_pa];
    phase(
        "M",
        "No load, the cap side supplied with 100 bar, the rod port plugged.",
        at_x(fresh(machine.held(circuit, start), 0.2), 0.2),
    )
}

/// Both ports on the worn spool, as the machine stands in neutral.
fn neutral(machine: &Machine) -> super::InquiryPhase {
    let cylinder = machine.base.specimen.cylinder;
    let ratio = cylinder.cap_area().value / cylinder.annulus_area().value;
    let circuit = Circuit {
        probe: machine.base.circuit.probe,
        ..Circuit::plain(
            Port::OnValve,
            Port::OnValve,
            RodHold::PulledOut { load: None },
        )
    };
    let start = [85e5, 85e5 * ratio];
    phase(
        "A",
        "No load, both ports on their spool in neutral, the pump running.",
        fresh(machine.held(circuit, start), 0.2),
    )
}

fn creeps_by_spool() -> Inquiry {
    let machine = unloaded(Leak::laminar(0.01, 96.0), Leak::laminar(4.0, 50.0));
    Inquiry::new(
        "creeps-out-by-the-spool",
        "Without load it creeps out in neutral, and stands on a steady supply: the spool passes the supply.",
        vec![neutral(&machine), supplied(&machine)],
    )
}

fn creeps_by_seal() -> Inquiry {
    let machine = unloaded(Leak::laminar(2.5, 50.0), Leak::laminar(4.0, 50.0));
    Inquiry::new(
        "creeps-out-by-the-seal",
        "Without load it creeps out on a steady supply of the cap side alone: the piston seal.",
        vec![supplied(&machine)],
    )
}
