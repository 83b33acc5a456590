//! A machine with its leaks, and how one of its holds is plumbed.
//!
//! Invariant: a leak acts in every phase whose plumbing lets it, and in no other.

use super::InquiryPhase;
use super::phase;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;
use crate::quantity::Force;
use crate::quantity::unit::newton;
use crate::rehearsal::physics::Ills;
use crate::rehearsal::physics::Leak;
use crate::rehearsal::physics::Relief;
use crate::rehearsal::physics::RodNature;
use crate::rehearsal::physics::Start;
use crate::rehearsal::physics::WayOut;
use crate::rehearsal::scenario::Scenario;
use crate::rehearsal::scenario::Unit;
use crate::rehearsal::stock::GOOD_SEAL;
use crate::rehearsal::stock::built;
use crate::rehearsal::stock::hanging;
use crate::rehearsal::stock::plough_lift;
use crate::rehearsal::stock::specimen;

/// Pressure that both sides are pumped up to when they are joined, bar.
const JOINED_BAR: f64 = 96.0;

/// A machine of the depot with all its leaks.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Machine {
    /// Unit, cylinder, oil and sensors; load and friction of the free rod.
    pub base: Scenario,
    /// Past the piston seal.
    pub piston: Leak,
    /// Out at the gland.
    pub gland: Leak,
    /// Past the cap port's plug.
    pub cap_plug: Leak,
    /// Past the rod port's plug.
    pub rod_plug: Leak,
    /// What is behind the cap port when it is not plugged, open or supplied.
    pub cap_valve: WayOut,
    /// The same at the rod port.
    pub rod_valve: WayOut,
}

/// A valve that leaks, without a setting.
pub(super) fn valve(leak: Leak) -> WayOut {
    WayOut::Valve {
        fitting: Leak::NONE,
        valve: leak,
        relief: None,
    }
}

/// A good valve that opens at a setting in bar, 12 mL/min for each bar above.
pub(super) fn opening_at(bar: f64) -> WayOut {
    WayOut::Valve {
        fitting: Leak::NONE,
        valve: Leak::NONE,
        relief: Some(Relief {
            opens_at_pa: bar * 1e5,
            slope_m3_per_s_pa: 2e-12,
        }),
    }
}

/// The plough lift, nothing leaking: 63/36 under 30 kN that push in.
pub(super) fn plough() -> Machine {
    Machine::tight(plough_lift())
}

/// The spreader lift, nothing leaking: 50/28 under 10 kN that hang on the rod.
pub(super) fn spreader() -> Machine {
    Machine::tight(hanging())
}

/// Another machine of the depot: kind, bore, rod and wall in mm, dead volume in mL, load in
/// N pushing in.
pub(super) fn other(
    unit: Unit,
    kind: Kind,
    sizes_mm: [f64; 3],
    cap_dead_ml: f64,
    load_n: f64,
) -> Machine {
    let motion = RodNature::Free {
        load_n,
        friction_n: 250.0,
        viscous_n_s_per_m: 2e4,
    };
    Machine::tight(Scenario {
        unit,
        specimen: specimen(built(kind, sizes_mm, cap_dead_ml), motion),
        ..plough_lift()
    })
}

impl Machine {
    fn tight(base: Scenario) -> Self {
        Self {
            base,
            piston: GOOD_SEAL,
            gland: Leak::NONE,
            cap_plug: Leak::NONE,
            rod_plug: Leak::NONE,
            cap_valve: valve(Leak::NONE),
            rod_valve: valve(Leak::NONE),
        }
    }

    fn load_n(&self) -> f64 {
        match self.base.specimen.motion {
            RodNature::Free { load_n, .. } => load_n,
            RodNature::Held => 0.0,
        }
    }

    /// The rod free under its load, as the setup says it.
    pub fn free(&self) -> RodHold {
        let load_n = self.load_n();
        let load = (load_n != 0.0).then(|| Force::new::<newton>(load_n.abs()));
        if load_n > 0.0 {
            RodHold::PushedIn { load }
        } else {
            RodHold::PulledOut { load }
        }
    }

    /// A hold in this plumbing, rod side at `rod_bar` if it is shut, the cap side at what
    /// the load and the rod side give.
    pub fn plumbed(&self, cap_port: Port, rod_port: Port, rod_bar: f64) -> Scenario {
        let cylinder = self.base.specimen.cylinder;
        let has_rod_side = cylinder.kind().chambers().contains(&Chamber::Rod);
        let p_rod_pa = match (has_rod_side, rod_port) {
            (false, _) | (true, Port::OpenToVessel) => 0.0,
            _ => rod_bar * 1e5,
        };
        let carried_n = self.load_n() + p_rod_pa * cylinder.annulus_area().value;
        let p_cap_pa = carried_n / cylinder.cap_area().value;
        let circuit = Circuit {
            probe: self.base.circuit.probe,
            ..Circuit::plain(cap_port, rod_port, self.free())
        };
        self.held(circuit, [p_cap_pa.max(-0.9e5), p_rod_pa])
    }

    /// Both ports blocked.
    pub fn blocked(&self, rod_bar: f64) -> Scenario {
        self.plumbed(Port::Blocked, Port::Blocked, rod_bar)
    }

    /// The cap port on its valve, the rod port blocked.
    pub fn on_valve(&self, rod_bar: f64) -> Scenario {
        self.plumbed(Port::OnValve, Port::Blocked, rod_bar)
    }

    /// Both ports joined, pumped up, shut; the rod locked.
    pub fn joined(&self) -> Scenario {
        let circuit = Circuit {
            probe: self.base.circuit.probe,
            joined: true,
            ..Circuit::plain(Port::Blocked, Port::Blocked, RodHold::Locked)
        };
        self.held(circuit, [JOINED_BAR * 1e5; 2])
    }

    /// A hold in any plumbing, from pressures of cap and rod side.
    pub fn held(&self, circuit: Circuit, [p_cap_pa, p_rod_pa]: [f64; 2]) -> Scenario {
        let mut scenario = self.base.clone();
        let is_held = matches!(circuit.rod, RodHold::Locked | RodHold::Bottomed);
        if is_held {
            scenario.specimen.motion = RodNature::Held;
        }
        let line = circuit
            .supply
            .map_or(WayOut::Vessel, |pressure| WayOut::supply(pressure.pa()));
        let at = |port, plug, valve| match port {
            Port::Blocked => WayOut::Plug(plug),
            Port::OnValve => valve,
            Port::OpenToVessel => WayOut::Vessel,
            Port::Supplied => line,
        };
        scenario.specimen.ills = Ills {
            piston: self.piston,
            gland: self.gland,
            cap_port: at(circuit.cap_port, self.cap_plug, self.cap_valve),
            rod_port: at(circuit.rod_port, self.rod_plug, self.rod_valve),
        };
        scenario.specimen.start = Start {
            x_m: self.base.specimen.start.x_m,
            p_cap_pa,
            p_rod_pa,
        };
        scenario.circuit = circuit;
        scenario
    }
}

/// Oil warmer than its walls at the start, K.
pub(super) fn fresh(mut scenario: Scenario, kelvin: f64) -> Scenario {
    scenario.specimen.cap.fresh_heat_k = kelvin;
    scenario.specimen.rod.fresh_heat_k = 0.9 * kelvin;
    scenario
}

/// Settling and hold, s.
pub(super) fn lasting(scenario: Scenario, settle_s: f64, hold_s: f64) -> Scenario {
    Scenario {
        settle_s,
        hold_s,
        ..scenario
    }
}

/// The rod at an extension in m.
pub(super) fn at_x(mut scenario: Scenario, x_m: f64) -> Scenario {
    scenario.specimen.start.x_m = x_m;
    scenario
}

/// Phase A: the cap port on its valve.
pub(super) fn phase_a(machine: &Machine) -> InquiryPhase {
    phase(
        "A",
        "The cap port stays on its valve in neutral, the rod port is plugged at 15 bar.",
        fresh(machine.on_valve(15.0), 0.3),
    )
}

/// Phase B: both ports blocked.
pub(super) fn phase_b(machine: &Machine) -> InquiryPhase {
    phase(
        "B",
        "Both ports are plugged at the cylinder, the rod side at 15 bar.",
        fresh(at_x(machine.blocked(15.0), 0.294), 0.15),
    )
}

/// Phase E: no pressure across the piston.
pub(super) fn phase_e(machine: &Machine) -> InquiryPhase {
    phase(
        "E",
        "The rod is locked, both ports were joined, pumped up to 96 bar and shut together.",
        fresh(at_x(machine.joined(), 0.288), 0.2),
    )
}
