//! One leak after the other, told apart by three holds: on the valve, plugged, and with
//! nothing across the piston.

use super::Inquiry;
use super::InquiryPhase;
use super::machine::Machine;
use super::machine::lasting;
use super::machine::phase_a;
use super::machine::phase_b;
use super::machine::phase_e;
use super::machine::plough;
use super::machine::valve;
use crate::rehearsal::physics::Leak;

pub(super) fn all() -> Vec<Inquiry> {
    let piston = Leak::laminar(1.2, 96.0);
    let gland = Leak::with_exponent(0.25, 96.0, 0.8);
    let larger_gland = Leak::with_exponent(0.8, 30.0, 0.8);
    vec![
        three(
            "three-holds-tight",
            "Nothing leaks, whatever is asked of it.",
            plough(),
        ),
        three(
            "three-holds-piston",
            "The piston seal passes 1.2 mL/min.",
            Machine { piston, ..plough() },
        ),
        three(
            "three-holds-gland",
            "The gland passes 0.25 mL/min at 96 bar.",
            Machine { gland, ..plough() },
        ),
        three(
            "gland-empties-the-rod-side",
            "The gland leaks so much that the rod side is empty before a hold is over.",
            Machine {
                gland: larger_gland,
                ..plough()
            },
        ),
        three(
            "three-holds-cap-plug",
            "The plug of the cap port passes 1 mL/min.",
            Machine {
                cap_plug: Leak::with_exponent(1.0, 96.0, 0.7),
                ..plough()
            },
        ),
        three(
            "three-holds-valve",
            "The valve on the cap port passes 1 mL/min; the cylinder is sound.",
            Machine {
                cap_valve: valve(Leak::with_exponent(1.0, 96.0, 0.9)),
                ..plough()
            },
        ),
        three(
            "three-holds-piston-and-gland",
            "Both the piston seal and the gland leak.",
            Machine {
                piston,
                gland: larger_gland,
                ..plough()
            },
        ),
    ]
}

fn three(name: &'static str, description: &'static str, machine: Machine) -> Inquiry {
    let phases = [phase_a(&machine), phase_b(&machine), phase_e(&machine)];
    let phases = phases.map(|phase| InquiryPhase {
        scenario: lasting(phase.scenario, 60.0, 600.0),
        ..phase
    });
    Inquiry::new(name, description, phases.to_vec())
}
