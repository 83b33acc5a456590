//! What a fit is given and what it gives: model, priors, solution, reasons for none.

use super::Matrix;
use super::Vector;
use super::differences::by_extrapolated_differences;

/// What is known of one parameter beforehand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// Expected value, also the start.
    pub mean: f64,
    /// Standard deviation; infinite if nothing is known.
    pub sigma: f64,
    /// Typical size for numerical derivatives, above zero.
    pub scale: f64,
    /// Range that makes sense; the solution is kept inside.
    pub range: (f64, f64),
}

impl Prior {
    /// A parameter of which nothing is known; `scale` is its typical size, above zero.
    pub fn flat(scale: f64) -> Self {
        Self {
            mean: 0.0,
            sigma: f64::INFINITY,
            scale,
            range: (f64::NEG_INFINITY, f64::INFINITY),
        }
    }
}

/// A model with data: residuals and their Jacobian.
pub trait Problem {
    /// Residuals at `theta`.
    fn residuals(&self, theta: &Vector) -> Vector;
    /// Their derivatives at `theta`, one column for each parameter; where nothing better is
    /// known, by [`by_extrapolated_differences`].
    fn jacobian(&self, theta: &Vector, priors: &[Prior]) -> Matrix {
        by_extrapolated_differences(&|theta| self.residuals(theta), theta, priors)
    }
}

/// Solution with its covariance.
#[derive(Debug, Clone)]
pub struct Posterior {
    /// The parameters.
    pub theta: Vector,
    /// Their covariance.
    pub covariance: Matrix,
    /// Jacobian of the residuals at the solution.
    pub jacobian: Matrix,
    /// Residuals at the solution.
    pub residuals: Vector,
    /// Sum of squares of data and priors at the solution.
    pub chi2: f64,
    /// Jacobians it took: where a fit spends its time.
    pub n_jacobians: usize,
}

/// Why a fit came to no solution.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FitError {
    /// The covariance of the data is not positive definite.
    #[error(
        "the covariance of the data is singular; the noise of a channel could not be estimated"
    )]
    Covariance,
    /// The normal equations are singular.
    #[error("the data do not determine the parameters (singular normal equations)")]
    Singular,
    /// The steps did not come to rest.
    #[error("the fit did not come to rest in {n_steps} steps")]
    NotConverged {
        /// Steps taken.
        n_steps: usize,
    },
    /// Residuals are not finite.
    #[error("the model gives no finite value for these data")]
    NotFinite,
}
