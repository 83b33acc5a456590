//! All readings moved together: not the cylinder, but what they are measured against.
//!
//! A reference or a supply that moves shows in every channel of a converter as the same part
//! of its range, or as the same part of its signal.

use super::Flag;
use super::reading::Reading;
use super::reading::median;

/// Blocks that the hold is cut into.
const N_BLOCKS: usize = 40;

/// Of four channels so many must agree; a temperature may have a course of its own …
const N_AGREE: usize = 3;

/// … within this part.
const AGREE: f64 = 0.15;

/// A jump by the usual one of its channel.
const STEP_TIMES: f64 = 8.0;

/// A drift by the scatter of a block of its channel.
const DRIFT_TIMES: f64 = 10.0;

/// Signal at the low end of a range by the signal's span: 4 of 16 mA, 0.5 of 4 V.
const OFFSETS: [f64; 2] = [0.25, 0.125];

/// One channel: where it stands in its range, and its block means in parts of the range.
struct Course {
    is_temperature: bool,
    stands: f64,
    parts: Vec<f64>,
}

/// All channels at once, by a jump or over the hold.
pub(super) fn shifted(readings: &[Reading<'_>]) -> Option<Flag> {
    let courses: Vec<Course> = readings
        .iter()
        .filter_map(|reading| {
            let span = reading.span()?;
            let low = reading.channel.range_si.0.min(reading.channel.range_si.1);
            let blocks = reading.blocks(N_BLOCKS)?;
            Some(Course {
                is_temperature: reading.is_temperature(),
                stands: (reading.mean() - low) / span,
                parts: blocks.into_iter().map(|(_, v)| v / span).collect(),
            })
        })
        .collect();
    // Of pressures and position alone, two follow from the third.
    if courses.len() < N_AGREE + 1 || !courses.iter().any(|course| course.is_temperature) {
        return None;
    }
    let (first, last) = (
        *readings.first()?.time_s.first()?,
        *readings.first()?.time_s.last()?,
    );
    let at_s = |block: usize| (last - first) * (block as f64 + 0.5) / N_BLOCKS as f64;
    if let Some((block, part)) = step(&courses) {
        return Some(Flag::voids(format!(
            "all readings jumped together by {:.2} % of their range, {:.0} s into the hold: the reference or the supply \
             of the board moved, not the cylinder; check the supply and the board's earth",
            100.0 * part,
            at_s(block)
        )));
    }
    let part = drift(&courses)?;
    Some(Flag::voids(format!(
        "all readings drifted together by {:.2} % of their range over the hold: the reference or the supply of the \
         board moved, not the cylinder; let the board warm up, check its supply",
        100.0 * part
    )))
}

/// Block and size of a jump that channels share.
fn step(courses: &[Course]) -> Option<(usize, f64)> {
    let jumps: Vec<Vec<f64>> = courses.iter().map(|c| jumps(&c.parts)).collect();
    let usual: Vec<f64> = jumps
        .iter()
        .map(|own| 1.48 * median(own.iter().map(|j| j.abs()).collect()))
        .collect();
    (0..jumps[0].len())
        .filter_map(|block| {
            let sizes: Vec<(f64, f64, f64)> = courses
                .iter()
                .enumerate()
                .map(|(i, c)| (jumps[i][block], STEP_TIMES * usual[i], c.stands))
                .collect();
            Some((block + 3, shared(&sizes, courses)?))
        })
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
}

/// Jump over each block with three on either side, less what both sides' slopes explain.
fn jumps(parts: &[f64]) -> Vec<f64> {
    parts
        .windows(7)
        .map(|w| {
            let slope = 0.25 * (w[2] - w[0] + w[6] - w[4]);
            w[4] - w[2] - 2.0 * slope
        })
        .collect()
}

fn drift(courses: &[Course]) -> Option<f64> {
    let sizes: Vec<(f64, f64, f64)> = courses
        .iter()
        .map(|course| {
            let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
            let n = course.parts.len();
            let moved = mean(&course.parts[n - 4..]) - mean(&course.parts[..4]);
            let bends = course.parts.windows(4).map(|w| {
                let bend = w[3] - 3.0 * (w[2] - w[1]) - w[0];
                (bend / 20.0f64.sqrt()).abs()
            });
            (
                moved,
                DRIFT_TIMES * 1.48 * median(bends.collect()),
                course.stands,
            )
        })
        .collect();
    shared(&sizes, courses)
}

/// The size that channels share: as parts of the range, or of the signal. Each has a size,
/// the least that counts, and where it stands in its range. All must have moved the same way,
/// and all but one temperature by the same part.
fn shared(sizes: &[(f64, f64, f64)], courses: &[Course]) -> Option<f64> {
    let counts = |(size, least, _): &(f64, f64, f64)| size.is_finite() && size.abs() > *least;
    let is_one_way = |by: f64| sizes.iter().all(|(size, ..)| size * by > 0.0);
    if !sizes.iter().all(counts) || !is_one_way(sizes[0].0) {
        return None;
    }
    let agrees = |of: &dyn Fn(&(f64, f64, f64)) -> f64| {
        let parts: Vec<f64> = sizes.iter().map(of).collect();
        let strict = || parts.iter().zip(courses).filter(|(_, c)| !c.is_temperature);
        let middle = median(strict().map(|(part, _)| *part).collect());
        let near = |part: f64| (part / middle - 1.0).abs() < AGREE;
        let all = strict().count() >= N_AGREE && strict().all(|(part, _)| near(*part));
        // Oil has its own course besides; but it went along.
        let along = parts
            .iter()
            .all(|part| (0.4..2.5).contains(&(part / middle)));
        (all && along).then_some(middle)
    };
    agrees(&|(size, ..)| *size).or_else(|| {
        OFFSETS
            .iter()
            .find_map(|offset| agrees(&|(size, _, at)| size / (at + offset)))
    })
}
