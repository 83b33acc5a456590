//! Normal, Student and chi-squared distributions, by statrs.

use statrs::distribution::ChiSquared;
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

/// Degrees of freedom above which Student's t is expanded about the normal distribution.
const MANY: f64 = 1000.0;

/// The same for Student's t with `freedom` degrees of freedom; fewer than one count as one,
/// infinitely many are the normal distribution.
pub fn student_quantile(probability: f64, freedom: f64) -> f64 {
    if freedom > MANY {
        // Abramowitz and Stegun 26.7.5; exact solvers do not come to an end here.
        let z = normal_quantile(probability);
        let square = z * z;
        let g1 = (square + 1.0) * z / 4.0;
        let g2 = ((5.0 * square + 16.0) * square + 3.0) * z / 96.0;
        let g3 = (((3.0 * square + 19.0) * square + 17.0) * square - 15.0) * z / 384.0;
        return z + (g1 + (g2 + g3 / freedom) / freedom) / freedom;
    }
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

/// The χ² below which that of `freedom` degrees of freedom (at least 1) lies with `probability`.
pub fn chi_squared_quantile(probability: f64, freedom: f64) -> f64 {
    ChiSquared::new(freedom.max(1.0))
        .expect("freedom is at least one")
        .inverse_cdf(probability)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Abramowitz and Stegun, table 26.8.
    #[test]
    fn chi_squared_is_that_of_the_tables() {
        for (probability, freedom, expected) in [
            (0.95, 1.0, 3.84146),
            (0.999, 1.0, 10.828),
            (0.99, 5.0, 15.0863),
            (0.999, 10.0, 29.588),
        ] {
            let found = chi_squared_quantile(probability, freedom);
            assert!((found - expected).abs() < 1e-3, "{found}");
        }
    }

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

    #[test]
    fn the_expansion_for_many_degrees_of_freedom_meets_the_exact_quantile() {
        for probability in [0.6, 0.975, 0.9999] {
            let exact = student_quantile(probability, MANY);
            let expanded = student_quantile(probability, MANY + 1e-9);
            assert!((expanded / exact - 1.0).abs() < 1e-9, "{exact} {expanded}");
            let normal = normal_quantile(probability);
            assert!((student_quantile(probability, 1e9) / normal - 1.0).abs() < 1e-7);
            assert_eq!(student_quantile(probability, f64::INFINITY), normal);
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
