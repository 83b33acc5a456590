//! Broken, shorted and loose wires; readings that stand still or cannot go further.

use super::CAP;
use super::PROBE;
use super::Row;
use super::current;
use super::sensor;
use crate::rehearsal::fault::SensorFault;
use crate::rehearsal::sensors::POSITION;

pub(super) const WIRES: &[Row] = &[
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
        "a low supply lets the loop carry no more than it does when the hold begins",
        |s| {
            let at_s = s.settle_s;
            sensor(
                s,
                SensorFault::Sags {
                    channel: CAP,
                    at_s,
                    below_si: 0.1e5,
                },
            )
        },
    ),
];
