//! Other loads, other kinds of cylinder, other valves.

use super::Inquiry;
use super::machine::Machine;
use super::machine::at_x;
use super::machine::fresh;
use super::machine::other;
use super::machine::plough;
use super::machine::spreader;
use super::machine::valve;
use super::phase;
use crate::circuit::HoldingValve;
use crate::circuit::Port;
use crate::cylinder::Kind;
use crate::rehearsal::physics::Leak;
use crate::rehearsal::scenario::Scenario;
use crate::rehearsal::scenario::Unit;

pub(super) fn all() -> Vec<Inquiry> {
    vec![
        hanging_seal(),
        hanging_valve(),
        double_rod(),
        ram(),
        vented(),
        telescopic(),
        swapped(),
    ]
}

fn hanging(name: &'static str, description: &'static str, machine: &Machine) -> Inquiry {
    // 10 kN hang on 1348 mm².
    let rod_bar = 74.2;
    let phases = vec![
        phase(
            "A",
            "The rod port, which holds the hanging load, stays on its valve.",
            fresh(machine.plumbed(Port::Blocked, Port::OnValve, rod_bar), 0.2),
        ),
        phase(
            "B",
            "Both ports are plugged at the cylinder.",
            at_x(machine.blocked(rod_bar), 0.16),
        ),
    ];
    Inquiry::new(name, description, phases)
}

fn hanging_seal() -> Inquiry {
    let machine = Machine {
        piston: Leak::laminar(2.5, 74.0),
        ..spreader()
    };
    hanging(
        "hanging-load-seal",
        "A hanging load sinks on over an empty cap side, plugged or not: the piston seal.",
        &machine,
    )
}

fn hanging_valve() -> Inquiry {
    let machine = Machine {
        rod_valve: valve(Leak::with_exponent(2.0, 74.0, 0.8)),
        ..spreader()
    };
    hanging(
        "hanging-load-valve",
        "A hanging load sinks on its valve and stands with the ports plugged: the valve.",
        &machine,
    )
}

fn double_rod() -> Inquiry {
    let unit = Unit {
        tag: "TV-0227",
        description: "steering cylinder, rod through both ends",
        machine: "sweeper 2",
        seal: "lip seal",
    };
    let machine = Machine {
        piston: Leak::laminar(2.0, 60.0),
        ..other(unit, Kind::DoubleRod, [50.0, 28.0, 5.0], 22.0, 8e3)
    };
    Inquiry::new(
        "double-rod-sinks-on",
        "A rod through both ends never locks: plugged, it sinks on at one speed.",
        vec![phase(
            "B",
            "Both ports are plugged at the cylinder, the rod side at 15 bar.",
            fresh(machine.blocked(15.0), 0.15),
        )],
    )
}

/// On the valve, then plugged, for a cylinder with one chamber.
fn one_chamber(machine: &Machine) -> Vec<super::InquiryPhase> {
    let plumbed = |port| machine.plumbed(port, Port::OpenToVessel, 0.0);
    vec![
        phase(
            "A",
            "The port stays on its valve in neutral.",
            fresh(plumbed(Port::OnValve), 0.2),
        ),
        phase(
            "B",
            "The port is plugged at the cylinder.",
            fresh(at_x(plumbed(Port::Blocked), 0.29), 0.1),
        ),
    ]
}

fn ram() -> Inquiry {
    let unit = Unit {
        tag: "TV-0405",
        description: "tail-lift ram",
        machine: "gritter 4",
        seal: "none (ram)",
    };
    let machine = Machine {
        gland: Leak::with_exponent(0.9, 76.0, 0.8),
        ..other(unit, Kind::Plunger, [63.0, 50.0, 5.0], 22.0, 15e3)
    };
    Inquiry::new(
        "ram-gland",
        "A ram has no piston seal: on its valve and plugged it loses the same, at the gland.",
        one_chamber(&machine),
    )
}

fn vented() -> Inquiry {
    let unit = Unit {
        tag: "TV-0411",
        description: "sweeper lift cylinder, rod side vented",
        machine: "sweeper 2",
        seal: "lip seal",
    };
    let machine = Machine {
        piston: Leak::laminar(1.2, 96.0),
        cap_valve: valve(Leak::with_exponent(0.8, 96.0, 0.8)),
        ..other(unit, Kind::SingleActing, [63.0, 36.0, 5.0], 22.0, 30e3)
    };
    Inquiry::new(
        "vented-rod-side",
        "Oil drips from the breather, and the valve leaks too.",
        one_chamber(&machine),
    )
}

fn telescopic() -> Inquiry {
    let unit = Unit {
        tag: "TV-0520",
        description: "spreader tipping ram, second stage",
        machine: "winter carrier 3",
        seal: "none (ram)",
    };
    let machine = Machine {
        cap_valve: valve(Leak::with_exponent(1.5, 76.0, 0.8)),
        ..other(unit, Kind::TelescopicStage, [80.0, 63.0, 6.0], 612.0, 24e3)
    };
    Inquiry::new(
        "telescopic-stage-valve",
        "One stage of a tipping ram sinks on its valve and stands with the port plugged.",
        one_chamber(&machine),
    )
}

fn swapped() -> Inquiry {
    let with = |holding: HoldingValve, scenario: Scenario| {
        let mut scenario = scenario;
        scenario.circuit.cap_holding_valve = holding;
        scenario
    };
    let own = Machine {
        cap_valve: valve(Leak::with_exponent(1.0, 96.0, 0.8)),
        ..plough()
    };
    let good = plough();
    Inquiry::new(
        "holding-valve-swapped",
        "With a known good load-holding valve in the place of its own the rod stands.",
        vec![
            phase(
                "A",
                "The machine's own load-holding valve sits on the cap port, its line vented.",
                with(HoldingValve::InPlace, fresh(own.on_valve(15.0), 0.2)),
            ),
            phase(
                "B",
                "A known good load-holding valve sits in its place.",
                with(HoldingValve::Swapped, at_x(good.on_valve(15.0), 0.29)),
            ),
        ],
    )
}
