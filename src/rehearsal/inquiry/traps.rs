//! Holds that look like something else.

use super::Inquiry;
use super::machine::Machine;
use super::machine::at_x;
use super::machine::fresh;
use super::machine::lasting;
use super::machine::opening_at;
use super::machine::phase_b;
use super::machine::plough;
use super::phase;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::quantity::GaugePressure;
use crate::rehearsal::physics::Leak;

pub(super) fn all() -> Vec<Inquiry> {
    vec![locked_by_its_leak(), counterbalance(), small_glass()]
}

fn locked_by_its_leak() -> Inquiry {
    let machine = Machine {
        piston: Leak::laminar(20.0, 96.0),
        ..plough()
    };
    let phases = vec![
        phase(
            "A",
            "Both ports are plugged; the hold counts once the rod stands.",
            lasting(machine.blocked(15.0), 700.0, 300.0),
        ),
        phase(
            "B",
            "The cap port is plugged, the rod port open to a glass.",
            at_x(
                machine.plumbed(Port::Blocked, Port::OpenToVessel, 0.0),
                0.28,
            ),
        ),
    ];
    Inquiry::new(
        "rod-stands-on-a-bad-seal",
        "A bad piston seal locks the rod once both pressures are one, and looks good.",
        phases,
    )
}

fn counterbalance() -> Inquiry {
    let setting_bar = 125.1;
    let machine = Machine {
        piston: Leak::laminar(10.0, 96.0),
        cap_valve: opening_at(setting_bar),
        ..plough()
    };
    let mut on_valve = machine.on_valve(15.0);
    on_valve.circuit = Circuit {
        opens_at: Some(GaugePressure::from_pa(setting_bar * 1e5)),
        ..on_valve.circuit
    };
    let phases = vec![
        phase(
            "A",
            "The cap port stays on its counterbalance valve, set to 1.3 times the load.",
            lasting(fresh(on_valve, 0.3), 240.0, 300.0),
        ),
        phase_b(&machine),
    ];
    Inquiry::new(
        "good-valve-looks-bad",
        "A worn piston seal drives the pressure to the setting of a good valve: the drift is steady.",
        phases,
    )
}

fn small_glass() -> Inquiry {
    let machine = Machine {
        piston: Leak::laminar(1.5, 96.0),
        ..plough()
    };
    let phases = vec![phase(
        "A",
        "The cap port stays on its valve, the rod port is open to a glass and the rod moves.",
        machine.plumbed(Port::OnValve, Port::OpenToVessel, 0.0),
    )];
    Inquiry::new(
        "glass-shows-a-third",
        "While the rod moves the glass shows a third of what passes the piston of this size.",
        phases,
    )
}
