//! The value of a signal at the very start and end of the hold.
//!
//! A mean over the first block lies half a block late, and a course that bends there cannot
//! be carried to the edge by a straight line. Parabolas through ever shorter cells at the
//! edge come closer to a steep course and carry more noise; the longest is taken that the
//! next shorter one does not contradict (the idea of Lepski's method).

use super::rate::not_negative;
use super::series::HoldSeries;
use super::series::Signal;
use crate::fit::Vector;

/// A shorter cell is taken when its parabola differs by more than this many standard
/// deviations of the difference.
const CONTRADICTS: f64 = 3.5;

/// Part of what a choice changes that stays uncertain after it.
const UNCERTAIN_PART: f64 = 0.5;

/// Which end of the hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    Start,
    Finish,
}

/// A value at an end of the hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edge {
    pub value: f64,
    /// Variance by noise and steps.
    pub variance: f64,
    /// Standard uncertainty by the shape of the course.
    pub shape: f64,
}

/// The value of `signal` at an end; `by_block` is its mean change from block to block.
pub(super) fn edge(series: &HoldSeries, signal: &Signal, end: End, by_block: f64) -> Edge {
    let n = series.bins_per_block;
    let bins: Vec<f64> = match end {
        End::Start => signal.raw.iter().take(3 * n).copied().collect(),
        End::Finish => signal.raw.iter().rev().take(3 * n).copied().collect(),
    };
    let outwards = match end {
        End::Start => -0.5 * by_block,
        End::Finish => 0.5 * by_block,
    };
    let weights = |cell: usize| {
        let mut weights = Vector::zeros(3 * n);
        for (index, weight) in EDGE_WEIGHTS.into_iter().enumerate() {
            for bin in index * cell..(index + 1) * cell {
                weights[bin] = weight / cell as f64;
            }
        }
        weights
    };
    let noise = series.bin_covariance(signal, &bins);
    let variance = |w: &Vector| not_negative((w.transpose() * &noise * w)[(0, 0)]);
    let by = |w: &Vector| w.iter().zip(&bins).map(|(w, v)| w * v).sum::<f64>();
    let mut flat = Vector::zeros(3 * n);
    flat.rows_mut(0, n).fill(1.0 / n as f64);
    let mut found = Edge {
        value: by(&flat) + outwards,
        variance: variance(&flat),
        shape: 0.0,
    };
    let mut taken = flat;
    let shorter = [n, n / 2, n / 5, 1].into_iter().filter(|cell| *cell > 0);
    for cell in shorter {
        let next = weights(cell);
        let apart = by(&next) - found.value;
        let scatter = variance(&(&next - &taken));
        // What stands out of the noise is a bend, taken or not.
        let bend = not_negative(apart.powi(2) - scatter).sqrt();
        found.shape = UNCERTAIN_PART * bend;
        if apart.powi(2) <= CONTRADICTS.powi(2) * scatter {
            break;
        }
        found.value += apart;
        found.variance = variance(&next);
        taken = next;
    }
    found
}

/// Weights of the means of three equal cells in the value at the edge of the first, exact
/// for a parabola.
const EDGE_WEIGHTS: [f64; 3] = [11.0 / 6.0, -7.0 / 6.0, 2.0 / 6.0];

/// Value at the left edge of three equal cells with these means, exact for a parabola.
pub(super) fn at_left_edge(means: [f64; 3]) -> f64 {
    means.iter().zip(EDGE_WEIGHTS).map(|(m, w)| m * w).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Means of t² − 3t + 2 over [0, 1], [1, 2] and [2, 3]: 5/6, −1/6, 5/6; at 0 it is 2.
    #[test]
    fn a_parabola_comes_back_at_its_edge() {
        let found = at_left_edge([5.0 / 6.0, -1.0 / 6.0, 5.0 / 6.0]);
        assert!((found - 2.0).abs() < 1e-12, "{found}");
    }
}
