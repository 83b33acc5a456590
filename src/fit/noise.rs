//! How noisy a series of equal bins is, at times from one bin to many.
//!
//! Third differences of bin means do not see a slow quadratic course, so what they
//! leave is noise. Their variance over one, five and twenty-five bins is matched by
//! white noise plus first-order autoregressive noise of three stated lengths, all
//! with non-negative weights.

/// Noise as a sum of white noise and autoregressive parts.
#[derive(Debug, Clone, PartialEq)]
pub struct NoiseModel {
    /// Variance of the mean of one bin by white noise.
    pub white: f64,
    /// Variance and correlation length in bins of each autoregressive part.
    pub slow: Vec<(f64, f64)>,
}

impl NoiseModel {
    /// Covariance of the means of two blocks of `per_block` bins, `apart` blocks apart.
    pub fn block_covariance(&self, per_block: usize, apart: usize) -> f64 {
        let n = per_block.max(1) as f64;
        let white = if apart == 0 { self.white / n } else { 0.0 };
        white
            + self
                .slow
                .iter()
                .map(|&(variance, length)| variance * mean_correlation(per_block, apart, length))
                .sum::<f64>()
    }
}

/// Mean of exp(−|i−j|/length) over bins i of one block and j of another.
fn mean_correlation(per_block: usize, apart: usize, length: f64) -> f64 {
    let n = per_block.max(1) as i64;
    let shift = apart as i64 * n;
    // Bins at distance d: n − |d − shift| pairs, by symmetry of two equal blocks.
    (1 - n..n)
        .map(|d| (n - d.abs()) as f64 * (-((d + shift).abs() as f64) / length).exp())
        .sum::<f64>()
        / (n * n) as f64
}

/// Estimates the noise of bin means `values`; `per_block` bins make a block.
pub fn noise_model(values: &[f64], per_block: usize) -> NoiseModel {
    let lengths = [0.12, 0.4, 1.4].map(|blocks| (blocks * per_block as f64).max(0.5));
    let groups: Vec<usize> = [1, 5, 25]
        .into_iter()
        .filter(|g| values.len() >= 8 * g)
        .collect();
    let seen: Vec<f64> = groups
        .iter()
        .map(|g| third_difference_variance(values, *g))
        .collect();
    // Expected variance of third differences (1 −3 3 −1) for each part of unit size.
    let expected = |covariance: &dyn Fn(usize) -> f64| {
        20.0 * covariance(0) - 30.0 * covariance(1) + 12.0 * covariance(2) - 2.0 * covariance(3)
    };
    let columns: Vec<Vec<f64>> = (0..=lengths.len())
        .map(|part| {
            groups
                .iter()
                .map(|g| match part {
                    0 => 20.0 / *g as f64,
                    _ => expected(&|apart| mean_correlation(*g, apart, lengths[part - 1])),
                })
                .collect()
        })
        .collect();
    // Third differences of n means of white noise have n / 2.3 degrees of freedom: the
    // relative variance of their mean square is 2·(1 + 2·(15² + 6² + 1²)/20²)/n = 4.6/n.
    let freedom: Vec<f64> = groups
        .iter()
        .map(|g| (values.len() / g) as f64 / 2.3)
        .collect();
    let weights = best_nonnegative(&columns, &seen, &freedom);
    NoiseModel {
        white: weights[0],
        slow: lengths
            .into_iter()
            .zip(&weights[1..])
            .map(|(length, w)| (*w, length))
            .collect(),
    }
}

fn third_difference_variance(values: &[f64], group: usize) -> f64 {
    let means: Vec<f64> = values
        .chunks_exact(group)
        .map(|c| c.iter().sum::<f64>() / group as f64)
        .collect();
    let squares: Vec<f64> = means
        .windows(4)
        .map(|w| (w[3] - 3.0 * w[2] + 3.0 * w[1] - w[0]).powi(2))
        .collect();
    squares.iter().sum::<f64>() / squares.len().max(1) as f64
}

/// A slow part must earn this much of twice the logarithm of the likelihood, else chance in
/// few means becomes noise.
const EARNED: f64 = 3.0;

/// Non-negative weights of at most two columns that explain the variances `seen`, known
/// with `freedom` degrees of freedom, best. Three equations do not carry more parts than
/// that.
fn best_nonnegative(columns: &[Vec<f64>], seen: &[f64], freedom: &[f64]) -> Vec<f64> {
    let scale: Vec<f64> = seen
        .iter()
        .zip(freedom)
        .map(|(s, n)| n.sqrt() / s.max(f64::MIN_POSITIVE))
        .collect();
    let dot = |a: &[f64], b: &[f64]| -> f64 {
        let pairs = a.iter().zip(b).zip(&scale);
        pairs.map(|((a, b), s)| a * b * s * s).sum()
    };
    // Mean squares of n values follow a gamma distribution.
    let cost = |weights: &[f64]| -> f64 {
        let parts = seen.iter().zip(freedom).enumerate();
        let misfit: f64 = parts
            .map(|(i, (seen, n))| {
                let model: f64 = columns.iter().zip(weights).map(|(c, w)| c[i] * w).sum();
                let ratio = seen / model;
                n * (ratio - 1.0 - ratio.ln())
            })
            .sum();
        misfit + EARNED * weights.iter().skip(1).filter(|w| **w > 0.0).count() as f64
    };
    let mut best = vec![0.0; columns.len()];
    let mut best_cost = f64::INFINITY;
    for i in 0..columns.len() {
        for j in i..columns.len() {
            let mut weights = vec![0.0; columns.len()];
            let (a, b) = (&columns[i], &columns[j]);
            if i == j {
                weights[i] = (dot(a, seen) / dot(a, a)).max(0.0);
            } else {
                let det = dot(a, a) * dot(b, b) - dot(a, b).powi(2);
                weights[i] = (dot(b, b) * dot(a, seen) - dot(a, b) * dot(b, seen)) / det;
                weights[j] = (dot(a, a) * dot(b, seen) - dot(a, b) * dot(a, seen)) / det;
            }
            let valid = weights.iter().all(|w| w.is_finite() && *w >= 0.0);
            if valid && cost(&weights) < best_cost {
                best_cost = cost(&weights);
                best = weights;
            }
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The splitmix64 generator (Steele, Lea and Flood 2014), twelve draws summed for a
    /// near-normal variable of unit variance.
    fn noise(n: usize) -> Vec<f64> {
        let mut state: u64 = 12_345;
        let mut uniform = || {
            state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut z = state;
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
        };
        (0..n)
            .map(|_| (0..12).map(|_| uniform()).sum::<f64>() - 6.0)
            .collect()
    }

    #[test]
    fn white_noise_averages_out_over_a_block() {
        let model = noise_model(&noise(4000), 25);
        let variance = model.block_covariance(25, 0);
        assert!((variance * 25.0 - 1.0).abs() < 0.25, "{variance}");
    }

    #[test]
    fn slow_noise_does_not_average_out_as_white_noise_would() {
        let mut value = 0.0;
        let walk: Vec<f64> = noise(4000)
            .iter()
            .map(|e| {
                value = 0.9 * value + e * (1.0 - 0.81f64).sqrt();
                value
            })
            .collect();
        let variance = noise_model(&walk, 25).block_covariance(25, 0);
        // AR(1) with 0.9: variance of a mean of 25 is 0.50 (closed form).
        assert!((0.3..0.75).contains(&variance), "{variance}");
    }

    #[test]
    fn a_quadratic_course_is_no_noise() {
        let course: Vec<f64> = (0..1000).map(|i| 1e-4 * f64::from(i).powi(2)).collect();
        assert!(noise_model(&course, 25).block_covariance(25, 0) < 1e-12);
    }
}
