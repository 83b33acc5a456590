//! The faults that are tried, one by one.
//!
//! Sizes are those that a shop meets; none is chosen for being found.

use crate::rehearsal::fault::Event;
use crate::rehearsal::fault::SensorFault;
use crate::rehearsal::physics::Leak;
use crate::rehearsal::physics::WayOut;
use crate::rehearsal::scenario::Fault;
use crate::rehearsal::scenario::Scenario;
use crate::rehearsal::sensors::POSITION;

const CAP: usize = 0;
const ROD: usize = 1;
const PROBE: usize = 3;

/// One thing that is wrong, to be done to any scenario with a free rod and both ports shut.
#[derive(Debug, Clone, Copy)]
pub struct Injected {
    /// Its name: plain words with dashes.
    pub name: &'static str,
    /// What is wrong, in one line.
    pub description: &'static str,
    strike: fn(Scenario) -> Scenario,
}

impl Injected {
    /// The scenario with the fault in it.
    pub fn strike(&self, scenario: Scenario) -> Scenario {
        (self.strike)(scenario)
    }
}

/// All faults.
pub fn injected() -> Vec<Injected> {
    let all = [WIRES, READINGS, PLACES, COMMON, LINE, SETUPS, HANDLING].concat();
    all.into_iter()
        .map(|(name, description, strike)| Injected {
            name,
            description,
            strike,
        })
        .collect()
}

type Row = (&'static str, &'static str, fn(Scenario) -> Scenario);

fn with(mut scenario: Scenario, fault: Fault) -> Scenario {
    scenario.faults.push(fault);
    scenario
}

fn sensor(scenario: Scenario, fault: SensorFault) -> Scenario {
    with(scenario, Fault::Sensor(fault))
}

fn says(scenario: Scenario, right: &'static str, wrong: &'static str) -> Scenario {
    with(scenario, Fault::Setup { right, wrong })
}

fn current(scenario: Scenario, channel: usize, milliampere: f64) -> Scenario {
    let (from_s, length_s) = (scenario.settle_s + 100.0, 12.0);
    sensor(
        scenario,
        SensorFault::Current {
            channel,
            milliampere,
            from_s,
            length_s,
        },
    )
}

fn drifts(scenario: Scenario, channel: usize, by_si: f64) -> Scenario {
    let from_s = scenario.settle_s;
    sensor(
        scenario,
        SensorFault::Drifts {
            channel,
            by_si,
            from_s,
        },
    )
}

fn slips(scenario: Scenario, channel: usize, by_si: f64) -> Scenario {
    let at_s = scenario.settle_s + 0.4 * scenario.hold_s;
    sensor(
        scenario,
        SensorFault::Slips {
            channel,
            by_si,
            at_s,
        },
    )
}

fn hum(scenario: Scenario, channel: usize, size_si: f64, hertz: f64) -> Scenario {
    sensor(
        scenario,
        SensorFault::Hum {
            channel,
            size_si,
            hertz,
        },
    )
}

fn scaled(scenario: Scenario, channels: &[usize], factor: f64) -> Scenario {
    channels.iter().fold(scenario, |scenario, &channel| {
        sensor(scenario, SensorFault::Scaled { channel, factor })
    })
}

fn noisier(mut scenario: Scenario, channel: usize, times: f64) -> Scenario {
    let noise = &mut scenario.senses.loops[channel].noise;
    noise.white *= times;
    noise.slow *= times;
    scenario
}

/// Middle of the way the rod takes, by the true course, m.
fn passed_m(scenario: &Scenario) -> Option<(f64, f64)> {
    let run = scenario.run(&[
        scenario.settle_s,
        scenario.settle_s + 0.4 * scenario.hold_s,
        scenario.settle_s + 0.5 * scenario.hold_s,
    ]);
    let run = run.ok()?;
    let (one, other) = (run.instants[1].x_m, run.instants[2].x_m);
    Some((one.min(other), one.max(other)))
}

const WIRES: &[Row] = &[
    (
        "cap-wire-broken",
        "the wire of the cap-end pressure sensor breaks for 12 s",
        |s| current(s, CAP, 0.0),
    ),
    (
        "cap-wire-shorted",
        "the wires of the cap-end pressure sensor touch for 12 s",
        |s| current(s, CAP, 24.0),
    ),
    (
        "position-wire-broken",
        "the wire of the position sensor breaks for 12 s",
        |s| current(s, POSITION, 0.0),
    ),
    (
        "probe-wire-broken",
        "the wire of the oil probe breaks for 12 s",
        |s| current(s, PROBE, 0.0),
    ),
    (
        "loose-contact",
        "one cap-pressure reading in 250 has no current",
        |s| {
            sensor(
                s,
                SensorFault::Flickers {
                    channel: CAP,
                    share: 0.004,
                },
            )
        },
    ),
    (
        "bad-contact",
        "one cap-pressure reading in 25 has no current",
        |s| {
            sensor(
                s,
                SensorFault::Flickers {
                    channel: CAP,
                    share: 0.04,
                },
            )
        },
    ),
    (
        "cap-pressure-stuck",
        "the cap-end pressure stands still from the middle of the hold",
        |s| {
            let from_s = s.settle_s + 0.5 * s.hold_s;
            sensor(
                s,
                SensorFault::Stuck {
                    channel: CAP,
                    from_s,
                },
            )
        },
    ),
    (
        "position-stuck",
        "the position stands still from the start",
        |s| {
            sensor(
                s,
                SensorFault::Stuck {
                    channel: POSITION,
                    from_s: 1.0,
                },
            )
        },
    ),
    (
        "cap-pressure-saturated",
        "the cap-end sensor is of 100 bar, its converter ends there",
        |mut s| {
            s.senses.loops[CAP].range = (0.0, 90e5);
            sensor(
                s,
                SensorFault::Clipped {
                    channel: CAP,
                    milliampere: 20.0,
                },
            )
        },
    ),
    (
        "supply-low",
        "a low supply lets the loop carry no more than the mean of its peaks",
        |s| {
            let highest_pa = s.specimen.start.p_cap_pa + 0.005e5;
            let milliampere = 4.0 + 16.0 * highest_pa / s.senses.loops[CAP].range.1;
            sensor(
                s,
                SensorFault::Clipped {
                    channel: CAP,
                    milliampere,
                },
            )
        },
    ),
];

const READINGS: &[Row] = &[
    (
        "cap-pressure-noisy",
        "ten times the usual noise on the cap-end pressure",
        |s| noisier(s, CAP, 10.0),
    ),
    (
        "position-noisy",
        "ten times the usual noise on the position",
        |s| noisier(s, POSITION, 10.0),
    ),
    (
        "mains-aliased",
        "±3 bar at 249.99 Hz on the cap-end pressure, sampled ten times a second",
        |mut s| {
            s.samples_per_s = 10;
            hum(s, CAP, 3e5, 249.99)
        },
    ),
    (
        "mains-aliased-weak",
        "±0.25 bar at 50.02 Hz on the rod-end pressure, sampled ten times a second",
        |mut s| {
            s.samples_per_s = 10;
            hum(s, ROD, 0.25e5, 50.02)
        },
    ),
    (
        "mains-on-position",
        "±20 µm at 50.03 Hz on the position, sampled fifty times a second",
        |s| hum(s, POSITION, 20e-6, 50.03),
    ),
    (
        "cap-pressure-drifts",
        "the zero of the cap-end pressure falls by 2 bar over the hold",
        |s| drifts(s, CAP, -2e5),
    ),
    (
        "cap-pressure-drifts-up",
        "the zero of the cap-end pressure rises by 2 bar over the hold",
        |s| drifts(s, CAP, 2e5),
    ),
    (
        "rod-pressure-drifts",
        "the zero of the rod-end pressure falls by 2 bar over the hold",
        |s| drifts(s, ROD, -2e5),
    ),
    (
        "rod-pressure-drifts-up",
        "the zero of the rod-end pressure rises by 2 bar over the hold",
        |s| drifts(s, ROD, 2e5),
    ),
    ("cap-span-wrong", "the cap-end sensor reads 2 % high", |s| {
        scaled(s, &[CAP], 1.02)
    }),
    (
        "position-span-wrong",
        "the position sensor reads 2 % high",
        |s| scaled(s, &[POSITION], 1.02),
    ),
    (
        "probe-in-air",
        "the probe hangs beside its port: it feels the wall, not the oil",
        |mut s| {
            s.specimen.cap.fresh_heat_k = 1.5;
            s.specimen.rod.fresh_heat_k = 1.5;
            s.senses.probe.immersion = 0.0;
            s
        },
    ),
    (
        "probe-drifts",
        "the probe drifts by −1 K over the hold",
        |s| drifts(s, PROBE, -1.0),
    ),
    (
        "probe-jumps",
        "the probe falls out of the oil: −8 K within seconds",
        |s| slips(s, PROBE, -8.0),
    ),
    (
        "probe-at-other-end",
        "the probe is at the rod end, the setup says the cap end",
        |s| says(s, "probe = \"cap\"", "probe = \"rod\""),
    ),
];

const PLACES: &[Row] = &[
    (
        "position-slips-30-um",
        "the position sensor slips by 30 µm",
        |s| slips(s, POSITION, 30e-6),
    ),
    (
        "position-slips-0.3-mm",
        "the position sensor slips by 0.3 mm",
        |s| slips(s, POSITION, 0.3e-3),
    ),
    (
        "position-drifts-in",
        "the bracket gives: the position creeps 0.3 mm inwards",
        |s| drifts(s, POSITION, -0.3e-3),
    ),
    (
        "position-drifts-out",
        "the bracket gives: the position creeps 0.3 mm outwards",
        |s| drifts(s, POSITION, 0.3e-3),
    ),
    (
        "worn-spot",
        "the position is lost while the rod passes a worn spot",
        |s| match passed_m(&s) {
            Some((from_m, until_m)) => sensor(s, SensorFault::WornSpot { from_m, until_m }),
            None => s,
        },
    ),
    (
        "position-brush-jumps",
        "one position reading in 100 is off by up to 0.5 mm",
        |s| {
            sensor(
                s,
                SensorFault::Spikes {
                    channel: POSITION,
                    share: 0.01,
                    size_si: 0.5e-3,
                },
            )
        },
    ),
    (
        "sensors-swapped",
        "cap-end and rod-end pressure have changed places",
        |s| {
            sensor(
                s,
                SensorFault::Swapped {
                    one: CAP,
                    other: ROD,
                },
            )
        },
    ),
    (
        "one-sensor-twice",
        "both pressure channels show the cap-end sensor",
        |s| {
            sensor(
                s,
                SensorFault::Follows {
                    channel: ROD,
                    of: CAP,
                },
            )
        },
    ),
    (
        "one-sensor-twice-no-load",
        "the same, and the setup states no load",
        |s| {
            let s = sensor(
                s,
                SensorFault::Follows {
                    channel: ROD,
                    of: CAP,
                },
            );
            says(s, "load = \"30 kN\"\n", "")
        },
    ),
];

const COMMON: &[Row] = &[
    (
        "all-readings-step",
        "the reference moves: all readings jump by 0.1 % of their range",
        |s| {
            let at_s = s.settle_s + 0.4 * s.hold_s;
            sensor(
                s,
                SensorFault::AllShift {
                    share: 1e-3,
                    at_s,
                    over_s: 0.0,
                },
            )
        },
    ),
    (
        "all-readings-drift",
        "the reference drifts: all readings by 0.1 % of their range",
        |s| {
            let (at_s, over_s) = (s.settle_s, s.hold_s);
            sensor(
                s,
                SensorFault::AllShift {
                    share: -1e-3,
                    at_s,
                    over_s,
                },
            )
        },
    ),
];

const LINE: &[Row] = &[
    (
        "adapter-pulled",
        "the adapter is pulled and does not come back",
        |s| {
            let at_s = s.settle_s + 0.5 * s.hold_s;
            with(
                s,
                Fault::Unplugged {
                    at_s,
                    back_after_s: None,
                },
            )
        },
    ),
    (
        "board-restarts",
        "the board starts again in the hold",
        |s| {
            let at_s = s.settle_s + 0.5 * s.hold_s;
            with(
                s,
                Fault::Restarted {
                    at_s,
                    silent_s: 1.6,
                },
            )
        },
    ),
    (
        "blocks-lost",
        "one block of samples in sixteen is lost",
        |s| with(s, Fault::BlocksLost { share: 0.06 }),
    ),
    (
        "blocks-garbled",
        "one block of samples in sixteen arrives damaged",
        |s| with(s, Fault::BlocksGarbled { share: 0.06 }),
    ),
    ("clock-fast", "the board's clock runs 2 % fast", |s| {
        with(
            s,
            Fault::Clock {
                factor: 1.02,
                from_s: 0.0,
            },
        )
    }),
    (
        "clock-changes",
        "the board's clock runs 5 % fast from the middle of the hold",
        |s| {
            let from_s = s.settle_s + 0.5 * s.hold_s;
            with(
                s,
                Fault::Clock {
                    factor: 1.05,
                    from_s,
                },
            )
        },
    ),
];

const SETUPS: &[Row] = &[
    (
        "bore-wrong",
        "the setup says a bore of 80 mm, it is 63 mm",
        |s| says(s, "bore = \"63 mm\"", "bore = \"80 mm\""),
    ),
    (
        "bore-a-little-wrong",
        "the setup says a bore of 60 mm, it is 63 mm",
        |s| says(s, "bore = \"63 mm\"", "bore = \"60 mm\""),
    ),
    (
        "bore-in-inches",
        "the setup says a bore of 2.48 mm for 2.48 in",
        |s| {
            let s = says(s, "bore = \"63 mm\"", "bore = \"24.8 mm\"");
            says(s, "rod = \"36 mm\"", "rod = \"14 mm\"")
        },
    ),
    (
        "stroke-wrong",
        "the setup says a stroke of 600 mm, it is 400 mm",
        |s| says(s, "stroke = \"400 mm\"", "stroke = \"600 mm\""),
    ),
    (
        "range-wrong",
        "the pressure sensors are of 250 bar, the setup says 400 bar",
        |s| scaled(s, &[CAP, ROD], 400.0 / 250.0),
    ),
    (
        "psi-for-bar",
        "the pressures are psi, the setup says bar",
        |mut s| {
            for channel in [CAP, ROD] {
                s.senses.loops[channel].range = (0.0, 4000e5);
            }
            scaled(s, &[CAP, ROD], 14.504)
        },
    ),
    (
        "bar-for-psi",
        "the pressures are bar, the setup says psi",
        |s| scaled(s, &[CAP, ROD], 1.0 / 14.504),
    ),
    (
        "port-open",
        "the rod port is said to be blocked, and is open",
        |mut s| {
            s.specimen.ills.rod_port = WayOut::Vessel;
            s.specimen.start.p_cap_pa = 30e3 / s.specimen.cylinder.cap_area().value;
            s.specimen.start.p_rod_pa = 0.0;
            s
        },
    ),
    (
        "valve-left-in",
        "the cap port is said to be plugged, a leaking valve is still on it",
        |mut s| {
            s.specimen.ills.cap_port = WayOut::Plug(Leak::with_exponent(0.3, 96.0, 0.9));
            s
        },
    ),
    (
        "hose-not-said",
        "200 mL of hose at the cap port that the setup does not know",
        |mut s| {
            s.specimen.cap.hose_m3 = 200e-6;
            s
        },
    ),
    (
        "load-wrong",
        "the setup says 20 kN, the load is 30 kN",
        |s| says(s, "load = \"30 kN\"", "load = \"20 kN\""),
    ),
];

const HANDLING: &[Row] = &[
    ("load-changes", "the load grows by 5 % in the hold", |s| {
        let at_s = s.settle_s + 0.4 * s.hold_s;
        with(s, Fault::Event(Event::Load { by_n: 1500.0, at_s }))
    }),
    (
        "pumped-up",
        "somebody pumps 5 mL into the cap end in the hold",
        |s| {
            let at_s = s.settle_s + 0.4 * s.hold_s;
            with(s, Fault::Event(Event::Pumped { by_m3: 5e-6, at_s }))
        },
    ),
    (
        "pumped-up-a-little",
        "somebody pumps 0.3 mL into the cap end in the hold",
        |s| {
            let at_s = s.settle_s + 0.4 * s.hold_s;
            with(
                s,
                Fault::Event(Event::Pumped {
                    by_m3: 0.3e-6,
                    at_s,
                }),
            )
        },
    ),
    (
        "rod-touched",
        "somebody leans on the rod with 300 N for 8 s",
        |s| {
            let at_s = s.settle_s + 0.4 * s.hold_s;
            with(
                s,
                Fault::Event(Event::Touch {
                    by_n: 300.0,
                    at_s,
                    length_s: 8.0,
                }),
            )
        },
    ),
    ("air-not-bled", "4 % of air in the cap-end oil", |mut s| {
        s.specimen.cap.air = 0.04;
        s
    }),
    (
        "held-at-once",
        "the hold begins at once after fast pumping: oil 2.5 K warm",
        |mut s| {
            s.specimen.cap.fresh_heat_k = 2.5;
            s.specimen.rod.fresh_heat_k = 2.5;
            s.settle_s = 0.0;
            s
        },
    ),
    (
        "piston-on-seat",
        "the piston stands on its seat at the cap end",
        |mut s| {
            s.specimen.start.x_m = 0.001;
            s.specimen.ills.piston = Leak::NONE;
            s
        },
    ),
];
