//! Normal and Student distributions, by statrs.

use statrs::distribution::ContinuousCDF;
use statrs::distribution::Normal;
use statrs::distribution::StudentsT;

/// Probability that a standard normal lies below `z`.
pub fn normal_cdf(z: f64) -> f64 {
    Normal::standard().cdf(z)
}

/// The `z` below which a standard normal lies with `probability` (above 0, below 1).
pub fn normal_quantile(probability: f64) -> f64 {
    Normal::standard().inverse_cdf(probability)
}

/// The same for Student's t with `freedom` degrees of freedom (above 0).
pub fn student_quantile(probability: f64, freedom: f64) -> f64 {
    StudentsT::new(0.0, 1.0, freedom.max(1.0))
        .expect("freedom is at least one")
        .inverse_cdf(probability)
}

/// Probability that Student's t with `freedom` degrees of freedom (above 0) lies below `z`.
pub fn student_cdf(z: f64, freedom: f64) -> f64 {
    StudentsT::new(0.0, 1.0, freedom.max(1.0))
        .expect("freedom is at least one")
        .cdf(z)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JCGM 106:2012, table 1: one-sided k for conformance probability.
    #[test]
    fn one_sided_factors_are_those_of_the_guide() {
        for (probability, z) in [
            (0.80, 0.84),
            (0.90, 1.28),
            (0.95, 1.64),
            (0.99, 2.33),
            (0.999, 3.09),
        ] {
            assert!((normal_quantile(probability) - z).abs() < 0.006);
        }
    }

    /// GUM (JCGM 100) H.1: t for 99 % and 16 degrees of freedom is 2.92.
    #[test]
    fn student_factor_of_the_end_gauge_is_2_92() {
        assert!((student_quantile(0.995, 16.0) - 2.92).abs() < 0.005);
    }

    /// Tables of Student's t: 0.95 at 2.132 for 4, 0.975 at 2.228 for 10 degrees of freedom.
    #[test]
    fn student_probabilities_are_those_of_the_tables() {
        for (t, freedom, probability) in [(2.132, 4.0, 0.95), (2.228, 10.0, 0.975)] {
            assert!((student_cdf(t, freedom) - probability).abs() < 5e-5);
            assert!((student_cdf(-t, freedom) - 1.0 + probability).abs() < 5e-5);
        }
    }
}
