//! A probe that is not in the oil.
//!
//! Oil that is pressed warms at once, by 1.33 K for each 100 bar; a probe in it shows most of
//! that within minutes. Oil in a steel tube does not jump by kelvins.

use super::Flag;
use super::reading::Reading;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::recording::Recording;

/// Warming of mineral oil by quick pressing, K/Pa.
const PRESSED_K_PER_PA: f64 = 1.33e-7;

/// A rise of pressure that counts, Pa, and how quick it must be, s.
const PUMPED_PA: f64 = 60e5;
const QUICK_S: f64 = 30.0;

/// How long a probe is given to answer, s: two of its usual time constants.
const ANSWERS_S: f64 = 90.0;

/// Less than this part of what is expected is no answer.
const NO_ANSWER: f64 = 0.15;

/// A change within a minute that oil in steel does not make, K.
const JUMP_K: f64 = 5.0;

/// A reading that follows the wall: so many kelvin at most between them …
const SAME_K: f64 = 0.05;
/// … while both moved by this.
const MOVED_K: f64 = 1.0;

/// The oil temperature changed faster than oil can.
pub(super) fn jumped(oil: &Reading<'_>) -> Option<Flag> {
    let length_s = oil.time_s.last()? - oil.time_s.first()?;
    let n_blocks = ((length_s / 10.0) as usize).clamp(2, 2000);
    let blocks = oil.blocks(n_blocks)?;
    let mut largest = (0.0f64, 0.0);
    for (index, (time_s, value)) in blocks.iter().enumerate() {
        let within = blocks[index..].iter().take_while(|b| b.0 <= time_s + 60.0);
        for (_, later) in within {
            if (later - value).abs() > largest.0.abs() {
                largest = (later - value, time_s - oil.time_s[0]);
            }
        }
    }
    (largest.0.abs() > JUMP_K).then(|| {
        Flag::voids(format!(
            "oil temperature changed by {:.1} K within a minute, {:.0} s into the hold: oil in a steel tube does not do \
             that; see whether the probe is in the oil and fast",
            largest.0, largest.1
        ))
    })
}

/// Pressing warmed the oil and the probe did not answer.
pub(super) fn unmoved(recording: &Recording, probe: Chamber) -> Option<Flag> {
    let role = match probe {
        Chamber::Cap => Role::CapPressure,
        Chamber::Rod => Role::RodPressure,
    };
    let whole = (f64::NEG_INFINITY, f64::INFINITY);
    let pressure = Reading::of(recording, recording.track(role)?, whole);
    let oil = Reading::of(recording, recording.track(Role::OilTemperature)?, whole);
    let (start_s, rose_pa) = pumped(&pressure)?;
    let mean = |from_s: f64, until_s: f64| {
        let rows = oil.time_s.partition_point(|t| *t < from_s)
            ..oil.time_s.partition_point(|t| *t < until_s);
        let part = oil.value_si.get(rows)?;
        (part.len() >= 4).then(|| part.iter().sum::<f64>() / part.len() as f64)
    };
    let before = mean(start_s - 10.0, start_s)?;
    let after = mean(start_s + ANSWERS_S, start_s + ANSWERS_S + 20.0)?;
    let expected = PRESSED_K_PER_PA * rose_pa;
    let is_seen = expected > 5.0 * oil.noise().max(0.02);
    (is_seen && after - before < NO_ANSWER * expected).then(|| {
        Flag::voids(format!(
            "the {} end was pumped up by {:.0} bar, which warms its oil by about {expected:.1} K, and the oil temperature \
             moved by {:.2} K: the probe is not in the oil of that end; put it there, or say where it is",
            probe.word(),
            rose_pa / 1e5,
            after - before
        ))
    })
}

/// Start and size of the first quick rise of pressure.
fn pumped(pressure: &Reading<'_>) -> Option<(f64, f64)> {
    let (time_s, value) = (&pressure.time_s, &pressure.value_si);
    let mut until = 0;
    for from in 0..time_s.len() {
        while until + 1 < time_s.len() && time_s[until + 1] <= time_s[from] + QUICK_S {
            until += 1;
        }
        let rose = value[until] - value[from];
        if rose > PUMPED_PA {
            // The window may begin long before the pump does.
            let still = |row: &usize| value[*row] < value[from] + 0.05 * rose;
            let begins = (from..until).take_while(still).last().unwrap_or(from);
            return Some((time_s[begins], rose));
        }
    }
    None
}

/// The oil temperature is the wall's.
pub(super) fn on_the_wall(oil: &Reading<'_>, wall: &Reading<'_>) -> Option<Flag> {
    let (oil, wall) = (oil.blocks(40)?, wall.blocks(40)?);
    let apart: Vec<f64> = oil.iter().zip(&wall).map(|(o, w)| o.1 - w.1).collect();
    let mean = apart.iter().sum::<f64>() / apart.len() as f64;
    let farthest = apart.iter().fold(0.0f64, |a, d| a.max((d - mean).abs()));
    let moved = (wall.last()?.1 - wall.first()?.1).abs();
    (moved > MOVED_K && farthest < SAME_K).then(|| {
        Flag::remark(format!(
            "oil and wall temperature moved by {moved:.1} K and were never more than {farthest:.2} K out of step: the oil \
             probe may lie on the wall"
        ))
    })
}
