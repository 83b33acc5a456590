//! Linear least squares: lines, polynomials and any other columns, with their errors.
//!
//! The rows are reduced by `orthogonal`, the core that also solves each step of the
//! accounts' nonlinear fits: one solver for calibrations and accounts. A linear problem
//! is solved in one such step; what is added here is what calibrations ask for: residuals
//! summed with twice the digits and one correction from them, columns that are orthogonal
//! to begin with, and standard errors for residuals that are correlated in time.
//!
//! Invariant: nothing is fitted without at least one degree of freedom left.

use super::Matrix;
use super::Vector;
use super::compensated::Sum;
use super::orthogonal::Reduced;

/// Corrections of a solution from its residuals; the second changes the last digit only.
const N_CORRECTIONS: usize = 2;

/// Why no regression could be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RegressionError {
    /// Too few points for so many parameters.
    #[error("{n_points} points do not determine {n_parameters} parameters and their scatter")]
    TooFew {
        /// Points given.
        n_points: usize,
        /// Parameters asked for.
        n_parameters: usize,
    },
    /// The columns depend on each other, or a number is not finite.
    #[error("the points do not determine the parameters; they need more different abscissae")]
    Dependent,
}

/// A linear regression y = X·β + e.
#[derive(Debug, Clone, PartialEq)]
pub struct Regression {
    /// The parameters β.
    pub parameters: Vector,
    /// Their covariance for independent residuals of equal size.
    pub covariance: Matrix,
    /// Observed less fitted.
    pub residuals: Vector,
    /// Residual standard deviation with n − p degrees of freedom.
    pub residual_sd: f64,
    /// Scores X·(X'X)⁻¹, row by row: what a residual does to each parameter.
    leverage: Matrix,
}

/// Fits `y` by the columns of `x`, one row for each point.
///
/// # Errors
/// See [`RegressionError`].
pub fn regression(x: &Matrix, y: &[f64]) -> Result<Regression, RegressionError> {
    let (n, p) = x.shape();
    if n <= p || y.len() != n {
        return Err(RegressionError::TooFew {
            n_points: n.min(y.len()),
            n_parameters: p,
        });
    }
    if y.iter().any(|v| !v.is_finite()) {
        return Err(RegressionError::Dependent);
    }
    let reduced = Reduced::new(x).ok_or(RegressionError::Dependent)?;
    let mut parameters = Vector::zeros(p);
    let mut residuals = Vector::from_column_slice(y);
    for _ in 0..=N_CORRECTIONS {
        let correction = reduced.solution(&reduced.projected(&residuals));
        parameters += correction.ok_or(RegressionError::Dependent)?;
        residuals = left_over(x, y, &parameters);
    }
    let residual_sd = (residuals.norm_squared() / (n - p) as f64).sqrt();
    let unit = reduced.covariance().ok_or(RegressionError::Dependent)?;
    Ok(Regression {
        parameters,
        leverage: x * &unit,
        covariance: unit * residual_sd.powi(2),
        residuals,
        residual_sd,
    })
}

/// y − X·β, each row summed as if with twice the digits.
fn left_over(x: &Matrix, y: &[f64], parameters: &Vector) -> Vector {
    Vector::from_fn(y.len(), |i, _| {
        let mut sum = Sum::new(y[i]);
        for (value, parameter) in x.row(i).iter().zip(parameters.iter()) {
            sum.add_product(-value, *parameter);
        }
        sum.value()
    })
}

impl Regression {
    /// Standard error of a parameter for independent residuals.
    pub fn standard_error(&self, index: usize) -> f64 {
        self.covariance[(index, index)].sqrt()
    }

    /// Covariance of the parameters that allows for residuals correlated over up to
    /// `n_lags` neighbours and of different size (Newey and West 1987, Bartlett weights),
    /// without a small-sample factor; times n/(n − p) it is that of other programs.
    pub fn hac_covariance(&self, n_lags: usize) -> Matrix {
        let (n, p) = self.leverage.shape();
        let scores = Matrix::from_fn(n, p, |i, j| self.leverage[(i, j)] * self.residuals[i]);
        bartlett(&scores, n_lags)
    }
}

/// Sum of the products of `scores` (rows in time) over lags up to `n_lags`, with weights
/// that fall linearly to zero one lag further: Bartlett 1950.
pub(super) fn bartlett(scores: &Matrix, n_lags: usize) -> Matrix {
    let n = scores.nrows();
    let mut sum = scores.tr_mul(scores);
    for lag in 1..=n_lags.min(n.saturating_sub(1)) {
        let weight = 1.0 - lag as f64 / (n_lags as f64 + 1.0);
        let at_lag = scores.rows(lag, n - lag).tr_mul(&scores.rows(0, n - lag));
        sum += (&at_lag + at_lag.transpose()) * weight;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_regression_without_a_degree_of_freedom_or_with_one_column_twice() {
        let square = Matrix::from_row_slice(2, 2, &[1.0, 0.0, 1.0, 1.0]);
        let too_few = RegressionError::TooFew {
            n_points: 2,
            n_parameters: 2,
        };
        assert_eq!(regression(&square, &[1.0, 2.0]).err(), Some(too_few));
        let twice = Matrix::from_row_slice(3, 2, &[1.0, 2.0, 2.0, 4.0, 3.0, 6.0]);
        let found = regression(&twice, &[1.0, 2.0, 3.0]).err();
        assert_eq!(found, Some(RegressionError::Dependent));
        let one = Matrix::from_element(3, 1, 1.0);
        let found = regression(&one, &[1.0, f64::NAN, 3.0]).err();
        assert_eq!(found, Some(RegressionError::Dependent));
    }

    /// White (1980): without lags each squared residual counts by its own row.
    #[test]
    fn without_lags_it_is_the_covariance_of_unequal_scatter() {
        let y = [1.0, 2.0, 4.0, 9.0];
        let fitted = regression(&Matrix::from_element(4, 1, 1.0), &y).expect("a mean");
        let squares: f64 = y.iter().map(|y| (y - 4.0f64).powi(2)).sum();
        assert!((fitted.hac_covariance(0)[(0, 0)] - squares / 16.0).abs() < 1e-12);
    }
}
