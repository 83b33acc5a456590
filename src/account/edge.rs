//! The value of a signal at the very start and end of the hold.
//!
//! A mean over the first block lies half a block late, and a course that bends there cannot
//! be carried to the edge by a straight line. Parabolas through ever shorter cells at the
//! edge come closer to a steep course and carry more noise; the longest is taken that no
//! shorter one contradicts (the idea of Lepski's method).

use super::rate::not_negative;
use super::series::HoldSeries;
use super::series::Signal;
use crate::fit::Vector;

/// A cell is too long when the parabola of a shorter one differs by more than this many
/// standard deviations of the difference.
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
    let cells = [n, n / 2, n / 5, 1].into_iter().filter(|cell| *cell > 0);
    let ways: Vec<Way> = std::iter::once((flat, outwards))
        .chain(cells.map(|cell| (weights(cell), 0.0)))
        .map(|(weights, outwards)| Way {
            value: by(&weights) + outwards,
            weights,
        })
        .collect();
    // How far two of them are apart, squared, and what scatter does to that.
    let apart = |a: &Way, b: &Way| {
        let scatter = variance(&(&b.weights - &a.weights));
        ((b.value - a.value).powi(2), scatter)
    };
    let contradicts = |a: &Way, b: &Way| {
        let (apart, scatter) = apart(a, b);
        apart > CONTRADICTS.powi(2) * scatter
    };
    let place = (0..ways.len())
        .find(|i| !ways[i + 1..].iter().any(|b| contradicts(&ways[*i], b)))
        .unwrap_or(ways.len() - 1);
    let taken = &ways[place];
    // What stands out of the noise is a bend, taken or not.
    let bend = |a: &Way, b: &Way| {
        let (apart, scatter) = apart(a, b);
        not_negative(apart - scatter).sqrt()
    };
    let shape = match (ways.get(place + 1), place) {
        (Some(next), _) => bend(taken, next),
        (None, 0) => 0.0,
        (None, _) => bend(&ways[place - 1], taken),
    };
    Edge {
        value: taken.value,
        variance: variance(&taken.weights),
        shape: UNCERTAIN_PART * shape,
    }
}

/// One way to read the value at the edge.
struct Way {
    weights: Vector,
    value: f64,
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
