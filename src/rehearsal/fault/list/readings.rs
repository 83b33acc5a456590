//! Readings that are wrong and look alive: noise, hum, drift, span, a probe elsewhere, a
//! position that slips, sensors in the wrong place.

use super::CAP;
use super::PROBE;
use super::ROD;
use super::Row;
use super::drifts;
use super::hum;
use super::noisier;
use super::says;
use super::scaled;
use super::sensor;
use super::slips;
use crate::rehearsal::fault::SensorFault;
use crate::rehearsal::sensors::POSITION;

pub(super) const READINGS: &[Row] = &[
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
        "probe-in-air-cold-oil",
        "the same with oil that went in 1.5 K colder than the wall",
        |mut s| {
            s.specimen.cap.fresh_heat_k = -1.5;
            s.specimen.rod.fresh_heat_k = -1.5;
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

pub(super) const PLACES: &[Row] = &[
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
        "position-drifts-out-a-little",
        "the bracket gives: the position creeps 0.12 mm outwards",
        |s| drifts(s, POSITION, 0.12e-3),
    ),
    (
        "worn-spot",
        "the position is lost while the rod passes a worn spot 0.01 mm wide",
        |s| {
            let at_s = s.settle_s + 0.4 * s.hold_s;
            let wide_m = 0.01e-3;
            sensor(s, SensorFault::WornSpot { at_s, wide_m })
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
