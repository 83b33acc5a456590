//! Least squares and what belongs to it, for calibration and account alike.
//!
//! Pure numbers in and out; what they mean is the caller's business. Lines, polynomials
//! and other linear regressions (`regression`) and the nonlinear fits with priors
//! (`solve`) share one core (`orthogonal`); `propagate` carries uncertainty from there
//! through a formula. The linear algebra is nalgebra's, the distributions are those of
//! statrs, chance comes from a seed.

mod compensated;
mod differences;
mod distribution;
mod line;
mod map;
mod noise;
mod orthogonal;
mod polish;
mod polynomial;
mod problem;
pub mod propagate;
mod regression;
mod shares;
mod summary;
mod whitening;

#[cfg(test)]
mod tests;

pub use differences::by_differences;
pub use differences::by_extrapolated_differences;
pub use distribution::chi_squared_quantile;
pub use distribution::normal_cdf;
pub use distribution::normal_quantile;
pub use distribution::student_cdf;
pub use distribution::student_quantile;
pub use line::Line;
pub use line::LineError;
pub use line::hac_standard_error;
pub use line::line;
pub use map::solve;
pub use noise::NoiseModel;
pub use noise::noise_model;
pub use polynomial::Polynomial;
pub use polynomial::polynomial;
pub use problem::FitError;
pub use problem::Posterior;
pub use problem::Prior;
pub use problem::Problem;
pub use regression::Regression;
pub use regression::RegressionError;
pub use regression::regression;
pub use shares::Best;
pub use shares::End;
pub use shares::Shares;
pub use shares::SharesError;
pub use shares::Which;
pub use summary::Summary;
pub use summary::summary;

/// A dense matrix.
pub type Matrix = nalgebra::DMatrix<f64>;
/// A dense vector.
pub type Vector = nalgebra::DVector<f64>;

/// Rows `y x` of a NIST StRD data file, for the tests of this room.
#[cfg(test)]
fn strd_rows(text: &str) -> (Vec<f64>, Vec<f64>) {
    let row = |line: &str| {
        let mut numbers = line.split_whitespace().map(str::parse::<f64>);
        Some((numbers.next()?.ok()?, numbers.next()?.ok()?))
    };
    // Data begin at line 61 in every file.
    text.lines().skip(60).filter_map(row).unzip()
}
