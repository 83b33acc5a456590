//! Residuals made independent and of unit size by the factor of their covariance.
//!
//! A covariance without entries beside the diagonal, as that of a plain fit to many
//! points, is kept as a list.

use super::Matrix;
use super::Vector;

/// The factor of a covariance.
pub(super) enum Whitening {
    /// Standard deviations.
    Apart(Vector),
    /// Lower triangle L of L·L'.
    Together(Matrix),
}

impl Whitening {
    /// Of `s` with its diagonal raised by the part `floor`; None unless positive definite.
    pub(super) fn new(s: &Matrix, floor: f64) -> Option<Self> {
        let variances = s.diagonal() * (1.0 + floor);
        if is_diagonal(s) {
            let is_positive = variances.iter().all(|v| *v > 0.0 && v.is_finite());
            return is_positive.then(|| Self::Apart(variances.map(f64::sqrt)));
        }
        let mut raised = s.clone();
        raised.set_diagonal(&variances);
        Some(Self::Together(raised.cholesky()?.unpack()))
    }

    /// Residuals in units of their standard deviation.
    pub(super) fn vector(&self, residuals: &Vector) -> Vector {
        match self {
            Self::Apart(sd) => residuals.component_div(sd),
            Self::Together(lower) => lower
                .solve_lower_triangular(residuals)
                .expect("the factor of a positive definite matrix has an inverse"),
        }
    }

    /// The same for each column of a Jacobian.
    pub(super) fn matrix(&self, jacobian: &Matrix) -> Matrix {
        match self {
            Self::Apart(sd) => Matrix::from_fn(jacobian.nrows(), jacobian.ncols(), |i, j| {
                jacobian[(i, j)] / sd[i]
            }),
            Self::Together(lower) => lower
                .solve_lower_triangular(jacobian)
                .expect("the factor of a positive definite matrix has an inverse"),
        }
    }
}

/// Whether nothing stands beside the diagonal.
pub(super) fn is_diagonal(s: &Matrix) -> bool {
    let n = s.nrows();
    (0..n).all(|j| (0..n).all(|i| i == j || s[(i, j)] == 0.0))
}
