//! What is wrong round the sensors: reference, line and clock, the setup, and what people do.

use super::CAP;
use super::ROD;
use super::Row;
use super::says;
use super::scaled;
use super::sensor;
use super::with;
use crate::rehearsal::fault::Event;
use crate::rehearsal::fault::SensorFault;
use crate::rehearsal::physics::Leak;
use crate::rehearsal::physics::WayOut;
use crate::rehearsal::scenario::Fault;

pub(super) const COMMON: &[Row] = &[
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
        "all-readings-drift-out",
        "the reference drifts: all readings rise by 0.025 % of their range",
        |s| {
            let (at_s, over_s) = (s.settle_s, s.hold_s);
            sensor(
                s,
                SensorFault::AllShift {
                    share: 2.5e-4,
                    at_s,
                    over_s,
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

pub(super) const LINE: &[Row] = &[
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

pub(super) const SETUPS: &[Row] = &[
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

pub(super) const HANDLING: &[Row] = &[
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
