//! Pressures that are read against a supply, and what is said of it.

use super::*;
use crate::channel::AgainstSupply;

/// A tenth of a millivolt each code.
const SUPPLY_CODES_PER_V: f64 = 1e4;

/// Codes that stand for 0 V: the range of 160 000 is the signal from 0.5 to 4.5 V.
const ZERO_VOLT: f64 = -20_000.0;

/// True supply at a time, V, and what the board reads more in a row, V.
type Supply = (fn(f64) -> f64, fn(usize) -> f64);

/// The bench with both pressures read against a supply, or taken for those of 5 V.
fn supplied(course: Course, (truth, more): Supply, is_against: bool) -> Vec<Flag> {
    let mut parts = parts(course, even);
    for track in &mut parts.tracks[..2] {
        let Codes::Raw(codes) = &mut track.codes else {
            panic!("codes")
        };
        for (code, time_s) in codes.iter_mut().zip(&parts.time_s) {
            // No sensor sends more than the top of its range.
            let at_5_v = f64::from((*code).min(160_000)) - ZERO_VOLT;
            *code = (ZERO_VOLT + at_5_v * truth(*time_s) / 5.0).round() as i32;
        }
        track.channel.good_codes = (-20_000, 220_000);
        track.channel.against_supply = is_against.then_some(AgainstSupply {
            code_at_zero_volt: ZERO_VOLT,
            signal_codes: (-9_999, 169_999),
            supply_step_relative: 1.0 / SUPPLY_CODES_PER_V / 5.0,
        });
    }
    let read = |(row, time_s): (usize, &f64)| {
        ((truth(*time_s) + more(row)) * SUPPLY_CODES_PER_V).round() as i32
    };
    let mut supply = parts.tracks[0].clone();
    supply.channel.role = Role::Supply;
    supply.channel.calibration = Calibration::through((0, 0.0), (10_000, 1.0)).expect("two codes");
    supply.channel.good_codes = (0, 60_000);
    supply.channel.range_si = (0.0, 6.0);
    supply.channel.against_supply = None;
    supply.codes = Codes::Raw(parts.time_s.iter().enumerate().map(read).collect());
    parts.tracks.push(supply);
    examined_parts(parts)
}

#[track_caller]
fn says(flags: &[Flag], expected: &[(Weight, &str)]) {
    assert_eq!(flags.len(), expected.len(), "{flags:#?}");
    for (flag, (weight, part)) in flags.iter().zip(expected) {
        assert!(
            flag.weight == *weight && flag.evidence.contains(part),
            "{flag:?}"
        );
    }
}

fn exact(_: usize) -> f64 {
    0.0
}

fn sags(t: f64, to_v: f64) -> f64 {
    if (250.0..330.0).contains(&t) {
        to_v
    } else {
        5.0
    }
}

/// 5.00 to 4.89 V is 2.2 %, to 4.91 V 1.8 %.
#[test]
fn a_supply_that_wanders_by_more_than_two_percent_is_a_remark_with_its_sizes() {
    says(&supplied(quiet, (|_| 5.0, exact), true), &[]);
    says(&supplied(quiet, (|t| sags(t, 4.91), exact), true), &[]);
    says(
        &supplied(quiet, (|t| sags(t, 4.89), exact), true),
        &[(
            Weight::Remark,
            "from 4.89 to 5.00 V in the hold, by 2.2 % of 5 V: cap-end pressure and rod-end pressure taken against it",
        )],
    );
    let blind = supplied(quiet, (|t| sags(t, 4.89), exact), false);
    assert!(
        blind
            .iter()
            .any(|f| f.evidence.contains("no reading was taken against it"))
    );
    assert!(
        blind.iter().any(|f| f.weight == Weight::Voids),
        "{blind:#?}"
    );
}

/// 80 s of 300 without: no measurement. A supply of 4.4 V is read, but feeds no sensor well.
#[test]
fn without_its_supply_a_sensor_is_lost() {
    let flags = supplied(quiet, (|t| sags(t, 4.4), exact), true);
    let lost = flags.iter().filter(|f| {
        f.weight == Weight::Voids && f.evidence.contains("missing or outside 4.5 to 5.5 V")
    });
    assert_eq!(lost.count(), 2, "{flags:#?}");
}

/// A reference that makes all values jump by a part of their range at 300 s: 2 bar of 400, 2.5 mm of
/// 500, 0.5 K of 100.
#[test]
fn readings_that_shift_together_are_seen_beside_a_supply() {
    fn shifted(t: f64) -> [f64; 4] {
        let by = if t >= 300.0 { 0.005 } else { 0.0 };
        let [cap, rod, x, oil] = quiet(t);
        [
            cap + 400.0 * by,
            rod + 400.0 * by,
            x + 500.0 * by,
            oil + 100.0 * by,
        ]
    }
    let flags = supplied(shifted, (|_| 5.0, exact), true);
    let together = flags
        .iter()
        .find(|f| f.evidence.contains("all readings jumped together"));
    assert_eq!(
        together.map(|f| f.weight),
        Some(Weight::Voids),
        "{flags:#?}"
    );
}

/// The supply is read with a noise of 5 mV, the same pressure stands at both ends: nearly all the
/// noise of both values is that of the supply. Two channels on one sensor share that of their codes.
#[test]
fn the_noise_of_one_supply_is_no_sign_of_one_sensor() {
    fn noisy(row: usize) -> f64 {
        5e-3 * noise(row, 6)
    }
    let same = |flags: &[Flag]| flags.iter().any(|f| f.evidence.contains("the same signal"));
    let level: Course = |_| [100.0, 100.0, 250.0, 40.0];
    let flags = supplied(level, (|_| 5.0, noisy), true);
    assert!(!same(&flags), "{flags:#?}");
    let one_sensor: Course = |t| {
        let bar = 100.0 + noise((t * RATE_HZ).round() as usize, 7);
        [bar, bar, 250.0, 40.0]
    };
    let flags = supplied(one_sensor, (|_| 5.0, noisy), true);
    assert!(same(&flags), "{flags:#?}");
}

/// A sensor that can send no more than the top of its range, 400 bar, on a supply of 4.9 V that is
/// read with noise.
#[test]
fn a_signal_at_its_end_is_seen_whatever_the_supply() {
    fn noisy(row: usize) -> f64 {
        2e-3 * noise(row, 6)
    }
    let flags = supplied(quiet, (|_| 4.9, noisy), true);
    assert_eq!(flags, []);
    let pressed: Course = |_| [401.0, 15.0, 250.0, 40.0];
    let flags = supplied(pressed, (|_| 4.9, noisy), true);
    let pinned = |f: &&Flag| f.evidence.contains("stood at the upper end");
    assert_eq!(flags.iter().filter(pinned).count(), 1, "{flags:#?}");
}
