//! Leaks that are there at one pressure or at one place only.

use super::Inquiry;
use super::InquiryPhase;
use super::machine::Machine;
use super::machine::at_x;
use super::machine::fresh;
use super::machine::plough;
use super::phase;
use crate::circuit::Port;
use crate::rehearsal::physics::Leak;
use crate::rehearsal::physics::RodNature;
use crate::rehearsal::stock::GOOD_SEAL;

pub(super) fn all() -> Vec<Inquiry> {
    vec![low_pressure(), one_place(), seated()]
}

/// A worn lip that pressure closes, under a load in N.
fn lip(load_n: f64) -> Machine {
    let mut machine = plough();
    machine.base.specimen.motion = RodNature::Free {
        load_n,
        friction_n: 150.0,
        viscous_n_s_per_m: 2e4,
    };
    Machine {
        piston: Leak::laminar(1.0, 10.0).closed_at(25.0),
        ..machine
    }
}

fn low_pressure() -> Inquiry {
    let open = |load_n: f64| lip(load_n).plumbed(Port::Blocked, Port::OpenToVessel, 0.0);
    Inquiry::new(
        "leaks-at-low-pressure",
        "The lip of the piston seal leaks at 13 bar and is shut at 96 bar.",
        vec![
            phase(
                "L",
                "The cap port is plugged under 4 kN, the rod port open to a glass.",
                fresh(open(4e3), 0.1),
            ),
            phase(
                "H",
                "The same under 30 kN.",
                fresh(at_x(open(30e3), 0.29), 0.2),
            ),
        ],
    )
}

/// A tube that is scored from 180 to 240 mm of the stroke and good elsewhere.
fn scored_at(x_m: f64) -> Machine {
    let piston = match (0.18..0.24).contains(&x_m) {
        true => Leak::laminar(1.5, 96.0),
        false => GOOD_SEAL,
    };
    Machine { piston, ..plough() }
}

fn plugged_at(label: &'static str, what: &'static str, x_m: f64) -> InquiryPhase {
    let scenario = scored_at(x_m).blocked(15.0);
    phase(label, what, at_x(fresh(scenario, 0.15), x_m))
}

fn one_place() -> Inquiry {
    Inquiry::new(
        "leaks-at-one-place",
        "The tube is scored in mid-stroke: it leaks there and holds elsewhere.",
        vec![
            plugged_at("P1", "Both ports are plugged, the rod 100 mm out.", 0.10),
            plugged_at("P2", "Both ports are plugged, the rod 220 mm out.", 0.22),
            plugged_at("P3", "Both ports are plugged, the rod 320 mm out.", 0.32),
        ],
    )
}

/// At the end of the stroke a seat does what the piston seal should.
fn seated() -> Inquiry {
    use crate::circuit::Circuit;
    use crate::circuit::RodHold;
    let leaking = Machine {
        piston: Leak::laminar(1.5, 96.0),
        ..plough()
    };
    let on_seat = Machine {
        piston: Leak::NONE,
        ..plough()
    };
    let bottomed = Circuit {
        probe: on_seat.base.circuit.probe,
        ..Circuit::plain(Port::Blocked, Port::OpenToVessel, RodHold::Bottomed)
    };
    Inquiry::new(
        "leak-hidden-on-the-seat",
        "Fully in, the piston sits on the end of the tube and nothing passes; in mid-stroke it leaks.",
        vec![
            phase(
                "S",
                "The rod is fully in, the cap side pressed, the rod port open to a glass.",
                at_x(on_seat.held(bottomed, [96e5, 0.0]), 0.0),
            ),
            phase(
                "C",
                "The rod is in mid-stroke under its load, the rod port open to a glass.",
                at_x(
                    leaking.plumbed(Port::Blocked, Port::OpenToVessel, 0.0),
                    0.25,
                ),
            ),
        ],
    )
}
