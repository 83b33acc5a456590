//! The scenarios of the practice bench, in the order a newcomer should meet them.
//!
//! All machines belong to the invented Tarn Valley road depot. Figures were chosen to
//! show something, not to recommend anything. Dead volumes really are 22 and 18 mL
//! where drawings say 20: a real cylinder is not its drawing either.

use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Dimensions;
use crate::cylinder::Kind;
use crate::oil::Oil;
use crate::oil::PRESSING_HEAT_K_PER_PA;
use crate::quantity::Expansion;
use crate::quantity::Force;
use crate::quantity::Length;
use crate::quantity::Pressure;
use crate::quantity::Viscosity;
use crate::quantity::Volume;
use crate::quantity::unit::gigapascal;
use crate::quantity::unit::milliliter;
use crate::quantity::unit::millimeter;
use crate::quantity::unit::newton;
use crate::rehearsal::physics::ChamberOil;
use crate::rehearsal::physics::Heat;
use crate::rehearsal::physics::Ills;
use crate::rehearsal::physics::Leak;
use crate::rehearsal::physics::OilNature;
use crate::rehearsal::physics::Relief;
use crate::rehearsal::physics::RodNature;
use crate::rehearsal::physics::Specimen;
use crate::rehearsal::physics::Start;
use crate::rehearsal::physics::WayOut;
use crate::rehearsal::scenario::Expected;
use crate::rehearsal::scenario::Fault;
use crate::rehearsal::scenario::Scenario;
use crate::rehearsal::scenario::Unit;
use crate::rehearsal::sensors::Loop;
use crate::rehearsal::sensors::Noise;
use crate::rehearsal::sensors::Probe;
use crate::rehearsal::sensors::Senses;
use crate::rehearsal::sensors::Stated;

const CAP_LOSS: &str = "rebuilt-63-cap-loss";
const ROD_GAIN: &str = "rebuilt-63-rod-gain";
const DRIFT: &str = "rebuilt-63-drift";
const SPREADER_DRIFT: &str = "spreader-50-drift";

/// A good piston seal: a film of oil, mL/min at 96 bar.
const GOOD_SEAL: Leak = Leak::laminar(0.01, 96.0);

/// All scenarios.
pub fn scenarios() -> Vec<Scenario> {
    let mut all = sound_and_leaking();
    all.extend(other_circuits());
    all.extend(trouble_on_the_line());
    all
}

fn sound_and_leaking() -> Vec<Scenario> {
    let leaking = |piston| {
        let mut scenario = plough_lift();
        scenario.specimen.ills.piston = piston;
        scenario.expected = Expected::Fail;
        scenario
    };
    let tight = named(
        with_hold(plough_lift(), 600.0),
        1,
        "tight-rebuild",
        "A rebuilt plough lift cylinder holds 30 kN: nothing leaks.",
    );
    let bypass = named(
        leaking(Leak::laminar(1.5, 96.0)),
        2,
        "piston-seal-bypass",
        "Oil passes the piston: both pressures rise, the rod sinks and would stop by itself.",
    );

    let mut gland = leaking(Leak::laminar(2.0, 96.0));
    gland.specimen.ills.gland = Leak::with_exponent(1.2, 30.0, 0.8);
    let gland = named(
        gland,
        3,
        "gland-leak-with-bypass",
        "Oil passes the piston and leaves at the gland: the rod would sink for ever.",
    );

    let mut plug = uncharged(plough_lift());
    plug.specimen.ills.cap_port = WayOut::Plug(Leak::with_exponent(0.6, 96.0, 0.7));
    plug.limits = vec![CAP_LOSS];
    plug.expected = Expected::Fail;
    let plug = named(
        plug,
        4,
        "cap-plug-leak",
        "The plug of the cap port weeps; the piston seal is good and the rod end is near vacuum.",
    );

    let mut fresh = with_hold(plough_lift(), 600.0);
    fresh.specimen.cap.fresh_heat_k = 2.0;
    fresh.specimen.rod.fresh_heat_k = 2.0;
    fresh.limits = vec![CAP_LOSS];
    fresh.expected = Expected::NotFail;
    let fresh = named(
        fresh,
        6,
        "fresh-oil-cooling",
        "A tight cylinder filled just now: its oil is 2 K warmer than the tube and shrinks.",
    );

    let mut air = leaking(Leak::laminar(0.6, 96.0));
    air.specimen.cap.air = 0.016;
    air.specimen.rod.air = 0.013;
    let air = named(
        air,
        7,
        "air-in-the-oil",
        "A leaking piston seal, and air in the oil that was not bled.",
    );

    let mut close = with_hold(leaking(Leak::laminar(0.121, 96.0)), 600.0);
    close.limits = vec![CAP_LOSS];
    close.expected = Expected::Undecided;
    let close = named(
        close,
        14,
        "close-to-the-limit",
        "The piston seal passes as much as the limit allows: too close to say.",
    );

    let mut unjudged = leaking(Leak::laminar(0.8, 96.0));
    unjudged.limits = Vec::new();
    unjudged.expected = Expected::Measured;
    let unjudged = named(
        unjudged,
        15,
        "no-limit-chosen",
        "A cylinder nobody has set a limit for: measured, not judged.",
    );
    vec![tight, bypass, gland, plug, fresh, air, close, unjudged]
}

fn other_circuits() -> Vec<Scenario> {
    let mut valve = charged(plough_lift(), 25.0);
    valve.circuit.cap_port = Port::OnValve;
    valve.specimen.ills.cap_port = WayOut::Valve {
        fitting: Leak::NONE,
        valve: Leak::with_exponent(0.4, 96.0, 0.9),
        relief: None,
    };
    valve.limits = vec![DRIFT, ROD_GAIN];
    valve.expected = Expected::Fail;
    let valve = named(
        valve,
        5,
        "drift-is-the-valve",
        "The rod sinks because the valve on the cap port leaks; the piston seal is good.",
    );

    let mut setting = plough_lift();
    setting.circuit.cap_port = Port::OnValve;
    setting.specimen.ills.piston = Leak::laminar(6.0, 96.0);
    setting.specimen.ills.cap_port = WayOut::Valve {
        fitting: Leak::NONE,
        valve: Leak::laminar(0.02, 96.0),
        relief: Some(Relief {
            opens_at_pa: 135e5,
            slope_m3_per_s_pa: 2e-12,
        }),
    };
    setting.expected = Expected::Fail;
    let setting = named(
        setting,
        16,
        "valve-at-its-setting",
        "A worn piston seal drives the pressure up until a good holding valve opens.",
    );

    let mut locked = uncharged(plough_lift());
    locked.circuit.rod = RodHold::Locked;
    locked.specimen.motion = RodNature::Held;
    locked.circuit.rod_port = Port::OpenToVessel;
    locked.specimen.ills.piston = Leak::laminar(0.6, 96.0);
    locked.specimen.ills.rod_port = WayOut::Vessel;
    locked.limits = vec![CAP_LOSS];
    locked.expected = Expected::Fail;
    let locked = named(
        locked,
        9,
        "locked-rod-bypass",
        "The rod stands on a stop, the rod port drips into a vessel: the piston seal leaks.",
    );
    vec![valve, setting, hanging(), locked]
}

fn trouble_on_the_line() -> Vec<Scenario> {
    let tight = |fault, expected| {
        let mut scenario = with_hold(plough_lift(), 600.0);
        scenario.faults = vec![fault];
        scenario.expected = expected;
        scenario
    };
    vec![
        named(
            tight(
                Fault::PositionLost {
                    from_s: 200.0,
                    length_s: 12.0,
                },
                Expected::NotValid,
            ),
            10,
            "position-sensor-lost",
            "The wire of the position sensor breaks for 12 seconds in the hold.",
        ),
        named(
            tight(
                Fault::Unplugged {
                    at_s: 240.0,
                    back_after_s: None,
                },
                Expected::NotValid,
            ),
            11,
            "adapter-pulled",
            "The adapter is pulled in the hold and does not come back.",
        ),
        named(
            tight(
                Fault::Unplugged {
                    at_s: 240.0,
                    back_after_s: Some(3.0),
                },
                Expected::Pass,
            ),
            12,
            "adapter-pulled-and-back",
            "The adapter is pulled for 3 seconds in the hold; the board runs on.",
        ),
        named(
            tight(Fault::BlocksLost { share: 0.06 }, Expected::NotValid),
            13,
            "samples-lost",
            "The board's buffer runs over and over: one block in sixteen is lost.",
        ),
        named(
            tight(Fault::BlocksGarbled { share: 0.06 }, Expected::NotValid),
            17,
            "noisy-line",
            "A motor beside the cable: one block in sixteen arrives damaged.",
        ),
    ]
}

fn named(scenario: Scenario, seed: u64, name: &'static str, description: &'static str) -> Scenario {
    Scenario {
        seed,
        name,
        description,
        ..scenario
    }
}

fn with_hold(scenario: Scenario, hold_s: f64) -> Scenario {
    Scenario { hold_s, ..scenario }
}

/// The rod end charged to a pressure before the test, the cap end carrying it too.
fn charged(mut scenario: Scenario, rod_bar: f64) -> Scenario {
    let cylinder = scenario.specimen.cylinder;
    let rod_pa = rod_bar * 1e5;
    let start = &mut scenario.specimen.start;
    let carried_n = 30e3 + rod_pa * cylinder.annulus_area().value;
    start.p_cap_pa = carried_n / cylinder.cap_area().value;
    start.p_rod_pa = rod_pa;
    scenario
}

fn uncharged(scenario: Scenario) -> Scenario {
    charged(scenario, 0.0)
}

/// Both ports blocked, 30 kN pushing in, rod end charged to 15 bar, nothing leaks.
fn plough_lift() -> Scenario {
    let scenario = Scenario {
        name: "",
        description: "",
        seed: 0,
        unit: Unit {
            tag: "TV-0312",
            description: "plough lift cylinder",
            machine: "winter carrier 7",
            seal: "PTFE slide ring",
        },
        specimen: specimen(
            double_acting(63.0, 36.0, 5.0),
            RodNature::Free {
                load_n: 30e3,
                friction_n: 400.0,
                viscous_n_s_per_m: 2e4,
            },
        ),
        circuit: blocked(
            RodHold::PushedIn {
                load: Some(Force::new::<newton>(30e3)),
            },
            Chamber::Cap,
        ),
        settle_s: 60.0,
        hold_s: 300.0,
        limits: vec![CAP_LOSS, DRIFT],
        senses: senses(Chamber::Cap),
        faults: Vec::new(),
        expected: Expected::Pass,
    };
    charged(scenario, 15.0)
}

/// 10 kN hanging on the rod end of a 50/28, cap end near vacuum after a while.
fn hanging() -> Scenario {
    let mut scenario = plough_lift();
    scenario.unit = Unit {
        tag: "TV-0188",
        description: "spreader lift cylinder",
        machine: "winter carrier 3",
        seal: "lip seal",
    };
    let cylinder = double_acting(50.0, 28.0, 5.0);
    let friction_n = 250.0;
    scenario.specimen = specimen(
        cylinder,
        RodNature::Free {
            load_n: -10e3,
            friction_n,
            viscous_n_s_per_m: 2e4,
        },
    );
    scenario.specimen.ills.piston = Leak::laminar(2.5, 74.0);
    scenario.specimen.start = Start {
        x_m: 0.15,
        p_cap_pa: 0.0,
        p_rod_pa: 10e3 / cylinder.annulus_area().value,
    };
    scenario.circuit = blocked(
        RodHold::PulledOut {
            load: Some(Force::new::<newton>(10e3)),
        },
        Chamber::Rod,
    );
    scenario.senses = senses(Chamber::Rod);
    scenario.limits = vec![SPREADER_DRIFT];
    scenario.expected = Expected::Fail;
    named(
        scenario,
        8,
        "hanging-load",
        "A load hangs on the rod end and oil passes the piston: it sinks on over a void.",
    )
}

fn blocked(rod: RodHold, probe: Chamber) -> Circuit {
    Circuit {
        cap_port: Port::Blocked,
        rod_port: Port::Blocked,
        rod,
        probe: Some(probe),
        cap_hose: Volume::new::<milliliter>(0.0),
        rod_hose: Volume::new::<milliliter>(0.0),
    }
}

fn double_acting(bore: f64, rod: f64, wall: f64) -> Cylinder {
    let mm = Length::new::<millimeter>;
    let size = Dimensions {
        bore: mm(bore),
        rod: mm(rod),
        stroke: mm(400.0),
        wall: Some(mm(wall)),
        cap_dead_volume: Volume::new::<milliliter>(22.0),
        rod_dead_volume: Volume::new::<milliliter>(18.0),
    };
    Cylinder::new(Kind::DoubleActing, size).expect("the sizes of the catalogue fit each other")
}

fn specimen(cylinder: Cylinder, motion: RodNature) -> Specimen {
    let bore_m = cylinder.size().bore.value;
    // Conduction in a long cylinder, R²/(5.78 a) with a 7.9e-8 m²/s, shortened to 0.55
    // by convection (common practice, no source).
    let slow_s = 0.55 * (0.5 * bore_m).powi(2) / (5.78 * 7.9e-8);
    Specimen {
        cylinder,
        oil: vg_46(),
        cap: chamber_oil(0.004),
        rod: chamber_oil(0.006),
        heat: Heat {
            cap_slow_s: slow_s,
            rod_slow_s: 0.85 * slow_s,
            slow_by_fast: 5.27,
            fast_share: 0.2,
            wall_k: 318.15,
            wall_k_per_s: -0.01 / 60.0,
        },
        motion,
        ills: Ills {
            piston: GOOD_SEAL,
            gland: Leak::NONE,
            cap_port: WayOut::Plug(Leak::NONE),
            rod_port: WayOut::Plug(Leak::NONE),
        },
        start: Start {
            x_m: 0.3,
            p_cap_pa: 0.0,
            p_rod_pa: 0.0,
        },
    }
}

fn chamber_oil(air: f64) -> ChamberOil {
    ChamberOil {
        air,
        hose_m3: 0.0,
        hose_pa: 0.2e9,
        fresh_heat_k: 0.1,
    }
}

/// VG 46 by its data sheet; its real stiffness is a little off the sheet's.
fn vg_46() -> OilNature {
    let sheet = Oil::new(
        "ISO VG 46".into(),
        Viscosity::from_mm2_per_s(46.0),
        Viscosity::from_mm2_per_s(6.8),
        Expansion::from_per_kelvin(7e-4),
        Pressure::new::<gigapascal>(1.6),
    )
    .expect("the oil of the catalogue is one");
    OilNature {
        isentropic_pa: 1.57e9,
        stiffening: 10.5,
        expansion_per_k: 6.9e-4,
        pressing_k_per_pa: PRESSING_HEAT_K_PER_PA,
        viscosity: Some(sheet),
    }
}

/// Good sensors of a bench: 0 to 400 bar, 0 to 500 mm, 0 to 100 °C on 18 bits.
fn senses(probe: Chamber) -> Senses {
    let pressure = Loop {
        range: (0.0, 400e5),
        bits: 18,
        stated: Stated {
            zero: 0.05e5,
            span_relative: 1e-3,
            zero_per_k: 0.005e5,
        },
        noise: Noise {
            white: 0.02e5,
            slow: 0.005e5,
            memory_s: 4.0,
        },
    };
    let position = Loop {
        range: (0.0, 0.5),
        bits: 18,
        stated: Stated {
            zero: 0.5e-3,
            span_relative: 5e-4,
            zero_per_k: 0.0,
        },
        noise: Noise {
            white: 4e-6,
            slow: 1e-6,
            memory_s: 4.0,
        },
    };
    let temperature = Loop {
        range: (0.0, 100.0),
        bits: 18,
        stated: Stated {
            zero: 0.3,
            span_relative: 0.0,
            zero_per_k: 0.0,
        },
        noise: Noise {
            white: 0.01,
            slow: 0.003,
            memory_s: 10.0,
        },
    };
    Senses {
        loops: [pressure, pressure, position, temperature],
        probe: Probe {
            chamber: probe,
            immersion: 0.85,
            lag_s: 40.0,
        },
    }
}
