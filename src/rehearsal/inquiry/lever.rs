//! The lever test and the rig by itself.

use super::Inquiry;
use super::machine::Machine;
use super::machine::at_x;
use super::machine::fresh;
use super::machine::lasting;
use super::machine::phase_a;
use super::machine::phase_b;
use super::machine::plough;
use super::machine::valve;
use super::phase;
use crate::circuit::Port;
use crate::rehearsal::physics::Leak;

pub(super) fn all() -> Vec<Inquiry> {
    let piston = Machine {
        piston: Leak::laminar(6.0, 96.0),
        ..plough()
    };
    let on_valve = Machine {
        cap_valve: valve(Leak::with_exponent(6.0, 96.0, 0.8)),
        ..plough()
    };
    vec![
        lever(
            "lever-test-seal",
            "The rod sinks faster once the rod side is open: the piston seal.",
            &piston,
        ),
        lever(
            "lever-test-valve",
            "The rod sinks as before once the rod side is open: the valve.",
            &on_valve,
        ),
        rig(),
    ]
}

fn lever(name: &'static str, description: &'static str, machine: &Machine) -> Inquiry {
    let phases = vec![
        phase(
            "A",
            "The cap port stays on its valve, the rod port is plugged.",
            lasting(fresh(machine.on_valve(15.0), 0.2), 480.0, 300.0),
        ),
        phase(
            "B",
            "The same with the rod side opened to a glass.",
            at_x(
                machine.plumbed(Port::OnValve, Port::OpenToVessel, 0.0),
                0.28,
            ),
        ),
    ];
    Inquiry::new(name, description, phases)
}

/// Of what the hold on the rig shows, the rig itself takes five sixths.
fn rig() -> Inquiry {
    let machine = Machine {
        piston: Leak::laminar(0.07, 96.0),
        cap_valve: valve(Leak::with_exponent(0.35, 96.0, 0.8)),
        ..plough()
    };
    let longer = |mut phase: super::InquiryPhase| {
        phase.scenario = lasting(phase.scenario, 60.0, 600.0);
        phase
    };
    Inquiry::new(
        "rig-takes-most",
        "Hoses and valves of the rig lose five times what the cylinder does.",
        vec![longer(phase_a(&machine)), longer(phase_b(&machine))],
    )
}
