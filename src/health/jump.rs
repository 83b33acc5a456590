//! A jump of one reading in its course: a slipped sensor, a seal that sticks, a hand at the pump.

use super::Flag;
use super::course::values;
use crate::channel::Role;
use crate::fit::Matrix;
use crate::fit::polynomial;
use crate::fit::regression;
use crate::recording::Recording;
use crate::recording::Track;

/// Blocks that a hold is cut into to look for jumps.
const N_BLOCKS: usize = 40;

/// Parts that a block is cut into to look closer.
const N_PARTS: usize = 4;

/// A jump this many times the usual second difference is no movement.
const STEP_TIMES: f64 = 6.0;

/// A step must leave this part of what the best bend leaves, or it is a bend.
const BETTER: f64 = 0.5;

/// A jump of pressure below this, Pa or part of the pressure, is no handling of the piece.
const STEP_PA: f64 = 0.1e5;
const STEP_PART: f64 = 2e-3;

/// A jump of one reading between neighbouring blocks that the rest of the hold does
/// not show: a slipped sensor or a stick-slip of the seal.
pub(super) fn jumped(recording: &Recording, track: &Track, window: (f64, f64)) -> Option<Flag> {
    if matches!(
        track.channel.role,
        Role::OilTemperature | Role::WallTemperature
    ) {
        return None;
    }
    let values = values(recording, track, window);
    let per_block = values.len() / N_BLOCKS;
    if per_block < 4 {
        return None;
    }
    let means: Vec<f64> = values
        .chunks_exact(per_block)
        .map(|c| c.iter().sum::<f64>() / c.len() as f64)
        .collect();
    let bends: Vec<f64> = means.windows(3).map(|w| w[2] - 2.0 * w[1] + w[0]).collect();
    let at = (0..bends.len()).max_by(|a, b| bends[*a].abs().total_cmp(&bends[*b].abs()))?;
    let mut sizes: Vec<f64> = bends.iter().map(|b| b.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let usual = (1.48 * sizes[sizes.len() / 2]).max(0.5 * track.channel.resolution_si());
    // A jump bends the course up and straight down again; a leak that changes bends it once.
    let bends_back = [at.checked_sub(1), Some(at + 1)]
        .into_iter()
        .flatten()
        .filter_map(|i| bends.get(i))
        .any(|neighbour| -neighbour * bends[at].signum() > 0.3 * bends[at].abs());
    // Pressure wanders a little with every breath of air; only what is felt counts.
    let least = match track.channel.role {
        Role::Position => 0.0,
        _ => STEP_PA.max(STEP_PART * means[at].abs()),
    };
    let size = bends[at].abs();
    let is_jump =
        size > least.max(STEP_TIMES * usual) && bends_back && is_step(&values, per_block, at + 1);
    is_jump.then(|| {
        let t = (at + 1) as f64 / means.len() as f64 * (window.1 - window.0);
        Flag::voids(match track.channel.role {
            Role::Position => format!(
                "position jumps by about {:.3} mm, {t:.0} s into the hold: the sensor slipped or the rod stuck; \
                 fasten the sensor and hold again",
                size * 1e3
            ),
            _ => format!(
                "{} jumps by about {:.2} bar, {t:.0} s into the hold: it was pumped up, let off or knocked; \
                 leave it alone and hold again",
                track.channel.role.plain(),
                size / 1e5
            ),
        })
    })
}

/// Whether a step, or a step and back, explains the readings around a block better than any bend
/// does: a leak that changes, a valve that opens and heat that spreads bend a course, and the
/// closer one looks the less.
fn is_step(values: &[f64], per_block: usize, block: usize) -> bool {
    let from = block.saturating_sub(2) * per_block;
    let around = &values[from..values.len().min((block + 3) * per_block)];
    let per_part = (per_block / N_PARTS).max(1);
    let parts: Vec<f64> = around
        .chunks_exact(per_part)
        .map(|c| c.iter().sum::<f64>() / c.len() as f64)
        .collect();
    let n = parts.len();
    // Two readings on either side at least.
    let places = 2..n.saturating_sub(1);
    let stepped = places.clone().flat_map(|up| {
        let back = (up + 1..(up + 2 * N_PARTS).min(n - 1)).chain([n]);
        back.map(move |down| move |i: usize| f64::from(u8::from((up..down).contains(&i))))
    });
    let kinked = places.map(|up| move |i: usize| i.saturating_sub(up) as f64);
    let x: Vec<f64> = (0..n).map(|i| i as f64).collect();
    let by_curve = polynomial(&x, &parts, 3).map_or(0.0, |fit| fit.residuals().norm_squared());
    let by_kink = kinked
        .map(|shape| left(&parts, shape))
        .fold(f64::INFINITY, f64::min);
    let by_step = stepped
        .map(|shape| left(&parts, shape))
        .fold(f64::INFINITY, f64::min);
    by_step < BETTER * by_kink.min(by_curve)
}

/// Sum of squares that a line with so much of a shape leaves of readings; infinite if that is no
/// shape of its own.
fn left(readings: &[f64], shape: impl Fn(usize) -> f64) -> f64 {
    let own = |i: usize, column: usize| match column {
        0 => 1.0,
        1 => i as f64,
        _ => shape(i),
    };
    let columns = Matrix::from_fn(readings.len(), 3, own);
    regression(&columns, readings).map_or(f64::INFINITY, |fit| fit.residuals.norm_squared())
}

#[cfg(test)]
mod tests {
    use super::*;

    const PER_BLOCK: usize = 40;

    /// Seven blocks of readings with a scatter of 0.2 (a saw, no chance).
    fn course(of: impl Fn(f64) -> f64) -> Vec<f64> {
        let scatter = |i: usize| 0.2 * ((i * 7 % 11) as f64 - 5.0) / 3.16;
        let at = |i: usize| of(i as f64 / PER_BLOCK as f64) + scatter(i);
        (0..7 * PER_BLOCK).map(at).collect()
    }

    #[test]
    fn a_step_is_one_wherever_it_lies_in_its_block_and_a_bend_is_none() {
        for at in [2.9, 3.0, 3.1, 3.25, 3.5, 3.8] {
            let slipped = course(|t| 0.3 * t + f64::from(u8::from(t > at)));
            assert!(is_step(&slipped, PER_BLOCK, 3), "{at}");
            // Pumped up within a quarter of a block.
            let pumped = course(|t| 5.0 * ((t - at) / 0.25).clamp(0.0, 1.0) - t);
            assert!(is_step(&pumped, PER_BLOCK, 3), "{at}");
            // Leant on and let go, within half a block and within one.
            for width in [0.5, 1.0] {
                let leant = course(|t| f64::from(u8::from((at..at + width).contains(&t))) - t);
                assert!(is_step(&leant, PER_BLOCK, 3), "{at} {width}");
            }
        }
        assert!(!is_step(&course(|t| (t - 3.2).max(0.0)), PER_BLOCK, 3));
        assert!(!is_step(&course(|t| 20.0 * (-t / 1.5).exp()), PER_BLOCK, 3));
        assert!(!is_step(&course(|t| 0.3 * t), PER_BLOCK, 3));
        // Too little to tell.
        assert!(!is_step(&[1.0, 2.0, 3.0], 1, 1));
    }
}
