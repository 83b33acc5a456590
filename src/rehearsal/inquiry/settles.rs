//! Losses that stop or start during a hold: at a pressure, or with time.

use super::Inquiry;
use super::InquiryPhase;
use super::machine::Machine;
use super::machine::at_x;
use super::machine::fresh;
use super::machine::lasting;
use super::machine::plough;
use super::machine::valve;
use super::phase;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::rehearsal::physics::Creep;
use crate::rehearsal::physics::Leak;
use crate::rehearsal::scenario::Scenario;

pub(super) fn all() -> Vec<Inquiry> {
    vec![seats(), only_creep(), only_heat(), opens()]
}

/// The rod locked, the cap side pumped up to `bar`, the rod port open to a glass.
fn locked(machine: &Machine, cap_port: Port, bar: f64) -> Scenario {
    let circuit = Circuit {
        probe: machine.base.circuit.probe,
        ..Circuit::plain(cap_port, Port::OpenToVessel, RodHold::Locked)
    };
    machine.held(circuit, [bar * 1e5, 0.0])
}

fn seats() -> Inquiry {
    let machine = Machine {
        cap_valve: valve(Leak::laminar(0.6, 100.0).only_above(92.0)),
        ..plough()
    };
    let at = |bar| locked(&machine, Port::OnValve, bar);
    Inquiry::new(
        "valve-seats-at-a-pressure",
        "The valve loses oil down to 92 bar, where its poppet seats, and nothing below.",
        vec![
            phase(
                "A",
                "The rod is locked, the cap port on its valve, pumped up to 125 bar.",
                lasting(fresh(at(125.0), 0.2), 60.0, 600.0),
            ),
            phase(
                "B",
                "The same from 80 bar.",
                lasting(fresh(at_x(at(80.0), 0.294), 0.1), 60.0, 600.0),
            ),
        ],
    )
}

/// A long hose on the valve that gives way slowly: in the end by as much as a tenth of the
/// oil.
fn creeping(mut scenario: Scenario) -> Scenario {
    scenario.specimen.cap.creep = Creep {
        m3_per_pa: 0.07e-6 / 1e5 * 0.1,
        slow_s: 70.0,
    };
    scenario
}

fn only_creep() -> Inquiry {
    let machine = plough();
    let at = |bar| creeping(locked(&machine, Port::OnValve, bar));
    Inquiry::new(
        "settles-at-any-pressure",
        "Hose and seals give way for some minutes after each new loading, and then it stands.",
        vec![
            phase(
                "A",
                "The rod is locked, the cap port on its valve, pumped up to 125 bar.",
                lasting(fresh(at(125.0), 0.2), 10.0, 600.0),
            ),
            phase(
                "B",
                "The same from 80 bar.",
                lasting(fresh(at_x(at(80.0), 0.294), 0.1), 10.0, 600.0),
            ),
        ],
    )
}

fn only_heat() -> Inquiry {
    let machine = plough();
    let plugged = |kelvin| fresh(machine.blocked(25.0), kelvin);
    Inquiry::new(
        "only-settling",
        "Oil that was pumped in warm evens out: it sinks at first, and then it stands: no leak.",
        vec![plugged_for_long(plugged(3.0))],
    )
}

fn plugged_for_long(scenario: Scenario) -> InquiryPhase {
    phase(
        "B",
        "Both ports are plugged, the oil 3 K warmer than the tube, held for an hour.",
        lasting(scenario, 60.0, 3600.0),
    )
}

fn opens() -> Inquiry {
    let machine = Machine {
        piston: Leak::laminar(0.6, 100.0).only_below(92.0),
        ..plough()
    };
    let at = |bar| locked(&machine, Port::Blocked, bar);
    Inquiry::new(
        "seal-opens-below-a-pressure",
        "Above 92 bar the lip is pressed shut; once cooling oil has brought it there it leaks.",
        vec![
            phase(
                "L",
                "The rod is locked, the cap port plugged, the rod port open to a glass, from 110 bar.",
                lasting(fresh(at(110.0), 2.5), 60.0, 900.0),
            ),
            phase(
                "H",
                "The same from 160 bar, with oil as warm as the tube.",
                lasting(fresh(at_x(at(160.0), 0.294), 0.1), 60.0, 900.0),
            ),
        ],
    )
}
