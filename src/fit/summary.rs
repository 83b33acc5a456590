//! Mean, scatter and neighbour correlation of a series.
//!
//! Deviations are taken from the first value, then from the mean, and summed with twice
//! the digits: a small drift on a large offset keeps what digits the readings have.

use super::compensated::Sum;

/// A series in three figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// Arithmetic mean.
    pub mean: f64,
    /// Standard deviation with n − 1 degrees of freedom.
    pub standard_deviation: f64,
    /// Autocorrelation of neighbours, −1 to 1: Σ dᵢ·dᵢ₊₁ / Σ dᵢ².
    pub neighbour_correlation: f64,
}

/// Sums up `values`; None with fewer than two, or all alike (no correlation is theirs).
pub fn summary(values: &[f64]) -> Option<Summary> {
    let n = values.len() as f64;
    let first = *values.first()?;
    let total = |terms: &mut dyn Iterator<Item = (f64, f64)>| {
        let mut sum = Sum::new(0.0);
        terms.for_each(|(a, b)| sum.add_product(a, b));
        sum.value()
    };
    let offset = total(&mut values.iter().map(|v| (v - first, 1.0))) / n;
    let deviation = |v: &f64| v - first - offset;
    let squares = total(&mut values.iter().map(|v| (deviation(v), deviation(v))));
    let pairs = values.windows(2);
    let products = total(&mut pairs.map(|w| (deviation(&w[0]), deviation(&w[1]))));
    (squares > 0.0).then(|| Summary {
        mean: first + offset,
        standard_deviation: (squares / (n - 1.0)).sqrt(),
        neighbour_correlation: products / squares,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_value_or_equal_ones_have_no_scatter_to_speak_of() {
        assert_eq!(summary(&[]), None);
        assert_eq!(summary(&[1.0]), None);
        assert_eq!(summary(&[2.0, 2.0, 2.0]), None);
    }
}
