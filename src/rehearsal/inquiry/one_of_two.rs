//! Two cylinders on one load: which of them leaks?
//!
//! Each is a unit with an inquiry of its own: first on the valve that both are on, then plugged
//! at its own ports while the other stays on the valve.

use super::Inquiry;
use super::InquiryPhase;
use super::machine::Machine;
use super::machine::at_x;
use super::machine::fresh;
use super::machine::lasting;
use super::machine::plough;
use super::phase;
use crate::circuit::Beside;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::quantity::Force;
use crate::quantity::unit::newton;
use crate::rehearsal::physics::Leak;
use crate::rehearsal::physics::Lines;
use crate::rehearsal::physics::Partner;
use crate::rehearsal::physics::RodNature;
use crate::rehearsal::physics::WayOut;
use crate::rehearsal::scenario::Unit;

/// What one of two carries, N.
const SHARE_N: f64 = 15e3;

/// What both rod sides are charged to, bar.
const CHARGE_BAR: f64 = 25.0;

pub(super) fn all() -> Vec<Inquiry> {
    let sound = [left(), right()];
    let seal = Machine {
        piston: Leak::laminar(0.5, 50.0),
        ..right()
    };
    let fitting = Leak::with_exponent(0.5, 65.0, 0.7);
    let plug = Machine {
        cap_plug: fitting,
        cap_valve: WayOut::Valve {
            fitting,
            valve: Leak::NONE,
            relief: None,
        },
        ..left()
    };
    let gland = Machine {
        gland: Leak::with_exponent(0.6, 25.0, 0.8),
        ..left()
    };
    vec![
        Inquiry::new(
            "one-of-two-left-sound",
            "Two on one load, the left one measured: it sinks, plugged too, and its pressure rises: it is sound.",
            held(&sound[0], &seal),
        ),
        Inquiry::new(
            "one-of-two-right-seal",
            "Two on one load, the right one measured: plugged, its sides come together: its piston seal.",
            held(&seal, &sound[0]),
        ),
        Inquiry::new(
            "one-of-two-left-plug",
            "Two on one load, the left one measured: its pressure falls, the plug of its cap port is wet.",
            held(&plug, &sound[1]),
        ),
        Inquiry::new(
            "one-of-two-right-sound",
            "Two on one load, the right one measured: it takes over what the left one lets go, and is sound.",
            held(&sound[1], &plug),
        ),
        Inquiry::new(
            "one-of-two-left-gland",
            "Two on one load, the left one measured: its rod side loses oil at the gland.",
            held(&gland, &sound[1]),
        ),
    ]
}

fn left() -> Machine {
    one(Unit {
        tag: "TV-0421",
        description: "left lift cylinder",
        machine: "wheel loader 1",
        seal: "lip seal",
    })
}

fn right() -> Machine {
    one(Unit {
        tag: "TV-0422",
        description: "right lift cylinder",
        machine: "wheel loader 1",
        seal: "lip seal",
    })
}

/// A lift cylinder of the loader: 63/36, half of 30 kN.
fn one(unit: Unit) -> Machine {
    let mut machine = plough();
    machine.base.unit = unit;
    machine.base.specimen.motion = RodNature::Free {
        load_n: SHARE_N,
        friction_n: 250.0,
        viscous_n_s_per_m: 2e4,
    };
    machine
}

/// What is held of one of them beside the other.
fn held(measured: &Machine, partner: &Machine) -> Vec<InquiryPhase> {
    let beside = |port, lines, x_m, heat_k| {
        let of = |machine: &Machine, port| {
            let scenario = machine.plumbed(port, port, CHARGE_BAR);
            lasting(fresh(at_x(scenario, x_m), heat_k), 60.0, 600.0)
        };
        let mut scenario = of(measured, port);
        // Both together are known to whoever measures, not the share of each.
        let load = Some(Force::new::<newton>(2.0 * SHARE_N));
        scenario.circuit.rod = RodHold::PushedIn { load };
        scenario.circuit.beside = Some(match lines {
            Lines::Joined => Beside::OnLine,
            Lines::Apart => Beside::Apart,
        });
        scenario.partner = Some(Partner {
            specimen: of(partner, Port::OnValve).specimen,
            lines,
        });
        scenario
    };
    vec![
        phase(
            "A",
            "Both cylinders are on their common valve in neutral, which joins them.",
            beside(Port::OnValve, Lines::Joined, 0.3, 0.2),
        ),
        phase(
            "B",
            "This cylinder is plugged at its ports, the other one stays on the valve.",
            beside(Port::Blocked, Lines::Apart, 0.294, 0.15),
        ),
    ]
}
