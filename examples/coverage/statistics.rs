//! The few statistics the report needs.

use statrs::distribution::Beta;
use statrs::distribution::ContinuousCDF;

/// Exact two-sided 95 % limits of a share (Clopper and Pearson, 1934).
pub fn share_limits(n_hits: usize, n: usize) -> (f64, f64) {
    (lower_limit(n_hits, n, 0.025), upper_limit(n_hits, n, 0.025))
}

/// The share below which the true one lies with probability `1 − tail`, at least.
pub fn upper_limit(n_hits: usize, n: usize, tail: f64) -> f64 {
    if n_hits >= n {
        return 1.0;
    }
    quantile(n_hits as f64 + 1.0, (n - n_hits) as f64, 1.0 - tail)
}

fn lower_limit(n_hits: usize, n: usize, tail: f64) -> f64 {
    if n_hits == 0 || n == 0 {
        return 0.0;
    }
    quantile(n_hits as f64, (n - n_hits) as f64 + 1.0, tail)
}

fn quantile(a: f64, b: f64, probability: f64) -> f64 {
    Beta::new(a, b)
        .expect("both shapes are above zero")
        .inverse_cdf(probability)
}

/// The value below which a part of all lies; None of nothing.
pub fn point(values: &[f64], part: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let index = (part * sorted.len().saturating_sub(1) as f64).round() as usize;
    sorted.get(index).copied()
}

/// Root of the mean square; None of nothing.
pub fn rms(values: &[f64]) -> Option<f64> {
    let sum: f64 = values.iter().map(|v| v * v).sum();
    (!values.is_empty()).then(|| (sum / values.len() as f64).sqrt())
}
