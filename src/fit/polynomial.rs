//! Polynomials for calibrations, fitted in a basis that is orthogonal over the points.
//!
//! The abscissae are moved and scaled to ±1 and the basis made by its three-term
//! recurrence (Forsythe 1957), so that the core of `regression` has nothing left to
//! untangle; the coefficients of the powers are computed from it afterwards.

use super::Matrix;
use super::Regression;
use super::RegressionError;
use super::Vector;
use super::compensated::Sum;
use super::regression;

/// A fitted polynomial.
#[derive(Debug, Clone, PartialEq)]
pub struct Polynomial {
    /// Coefficients of 1, x, x² …
    pub coefficients: Vector,
    /// Their covariance for independent residuals.
    pub covariance: Matrix,
    /// Residual standard deviation with n − degree − 1 degrees of freedom.
    pub residual_sd: f64,
    basis: Basis,
    fitted: Regression,
}

/// Polynomials orthogonal over the points: p₍ₖ₊₁₎ = (t − a)·pₖ − b·p₍ₖ₋₁₎.
#[derive(Debug, Clone, PartialEq)]
struct Basis {
    middle: f64,
    half: f64,
    /// a and b of each step.
    steps: Vec<(f64, f64)>,
}

/// Fits a polynomial of `degree` through `(x, y)`.
///
/// # Errors
/// With no more points than coefficients, or too few different abscissae.
pub fn polynomial(x: &[f64], y: &[f64], degree: usize) -> Result<Polynomial, RegressionError> {
    let n = x.len().min(y.len());
    if n <= degree + 1 {
        return Err(RegressionError::TooFew {
            n_points: n,
            n_parameters: degree + 1,
        });
    }
    let basis = Basis::over(&x[..n], degree).ok_or(RegressionError::Dependent)?;
    let rows: Vec<_> = x[..n].iter().map(|x| basis.at(*x).transpose()).collect();
    let fitted = regression(&Matrix::from_rows(&rows), &y[..n])?;
    let powers = basis.powers();
    Ok(Polynomial {
        coefficients: precise_product(&powers, &fitted.parameters),
        covariance: &powers * &fitted.covariance * powers.transpose(),
        residual_sd: fitted.residual_sd,
        basis,
        fitted,
    })
}

impl Polynomial {
    /// Value at `x`.
    pub fn at(&self, x: f64) -> f64 {
        self.basis.at(x).dot(&self.fitted.parameters)
    }

    /// Standard uncertainty of the value at `x`, by the scatter of the points alone.
    pub fn standard_at(&self, x: f64) -> f64 {
        let row = self.basis.at(x);
        row.dot(&(&self.fitted.covariance * &row)).max(0.0).sqrt()
    }

    /// Slope at `x`.
    pub fn slope_at(&self, x: f64) -> f64 {
        self.basis.slopes_at(x).dot(&self.fitted.parameters)
    }

    /// Standard uncertainty of the slope at `x`, by the scatter of the points alone.
    pub fn standard_slope_at(&self, x: f64) -> f64 {
        let row = self.basis.slopes_at(x);
        row.dot(&(&self.fitted.covariance * &row)).max(0.0).sqrt()
    }

    /// Observed less fitted, in the order of the points.
    pub fn residuals(&self) -> &Vector {
        &self.fitted.residuals
    }

    /// Degrees of freedom of the scatter.
    pub fn n_freedom(&self) -> usize {
        self.fitted.residuals.len() - self.coefficients.len()
    }

    /// Standard error of the coefficient of the `index`th power.
    pub fn standard_error(&self, index: usize) -> f64 {
        self.covariance[(index, index)].sqrt()
    }
}

impl Basis {
    /// None if the abscissae are all one, or not finite.
    fn over(x: &[f64], degree: usize) -> Option<Self> {
        let low = x.iter().copied().fold(f64::INFINITY, f64::min);
        let high = x.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
        if !(half > 0.0 && half.is_finite() && x.iter().all(|x| x.is_finite())) {
            return (degree == 0 && half == 0.0).then_some(Self {
                middle,
                half: 1.0,
                steps: Vec::new(),
            });
        }
        let t = Vector::from_iterator(x.len(), x.iter().map(|x| (x - middle) / half));
        let mut before = Vector::zeros(x.len());
        let mut now = Vector::from_element(x.len(), 1.0);
        let mut steps = Vec::new();
        let mut last_square = f64::INFINITY;
        for _ in 0..degree {
            let square = now.norm_squared();
            let a = now.component_mul(&now).dot(&t) / square;
            let b = square / last_square;
            let next = (t.add_scalar(-a)).component_mul(&now) - before * b;
            (before, now, last_square) = (now, next, square);
            steps.push((a, b));
        }
        Some(Self {
            middle,
            half,
            steps,
        })
    }

    /// The basis polynomials at `x`.
    fn at(&self, x: f64) -> Vector {
        let t = (x - self.middle) / self.half;
        let mut values = vec![1.0];
        let mut before = 0.0;
        for (index, (a, b)) in self.steps.iter().enumerate() {
            let now = values[index];
            values.push((t - a) * now - b * before);
            before = now;
        }
        Vector::from_vec(values)
    }

    /// Slopes of the basis polynomials at `x`: the recurrence, differentiated.
    fn slopes_at(&self, x: f64) -> Vector {
        let values = self.at(x);
        let t = (x - self.middle) / self.half;
        let mut slopes = vec![0.0];
        let mut before = 0.0;
        for (index, (a, b)) in self.steps.iter().enumerate() {
            let now = slopes[index];
            slopes.push(values[index] / self.half + (t - a) * now - b * before);
            before = now;
        }
        Vector::from_vec(slopes)
    }

    /// Coefficients of the powers of x, by column for each basis polynomial.
    fn powers(&self) -> Matrix {
        let n = self.steps.len() + 1;
        let mut powers = Matrix::zeros(n, n);
        powers[(0, 0)] = 1.0;
        for (index, (a, b)) in self.steps.iter().enumerate() {
            for power in 0..n {
                let mut sum = Sum::new(0.0);
                let now = powers[(power, index)];
                sum.add_product(-(self.middle / self.half + a), now);
                if power > 0 {
                    sum.add_product(powers[(power - 1, index)], 1.0 / self.half);
                }
                if index > 0 {
                    sum.add_product(-b, powers[(power, index - 1)]);
                }
                powers[(power, index + 1)] = sum.value();
            }
        }
        powers
    }
}

/// Matrix by vector, each row summed with twice the digits.
fn precise_product(matrix: &Matrix, vector: &Vector) -> Vector {
    Vector::from_fn(matrix.nrows(), |i, _| {
        let mut sum = Sum::new(0.0);
        for (a, b) in matrix.row(i).iter().zip(vector.iter()) {
            sum.add_product(*a, *b);
        }
        sum.value()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_far_from_zero_comes_out_and_says_its_values() {
        let x: Vec<f64> = (0..9).map(|i| 1000.0 + f64::from(i)).collect();
        let y: Vec<f64> = x.iter().map(|x| 3.0 + (x - 1004.0).powi(2)).collect();
        let fitted = polynomial(&x, &y, 2).expect("a parabola");
        assert!((fitted.coefficients[2] - 1.0).abs() < 1e-12);
        assert!((fitted.coefficients[1] + 2008.0).abs() < 1e-8);
        assert!((fitted.at(1004.5) - 3.25).abs() < 1e-10);
        assert!(fitted.residual_sd < 1e-10 && fitted.standard_at(1004.0) < 1e-10);
        assert!((fitted.slope_at(1004.5) - 1.0).abs() < 1e-10);
    }

    /// By the covariance of the coefficients: u²(slope at x) = u²(b) + 4·x·u(b, c) + 4·x²·u²(c).
    #[test]
    fn the_slope_is_as_uncertain_as_its_coefficients_say() {
        let x = [-2.0, -1.0, 0.0, 1.0, 2.0, 4.0];
        let y = [4.1, 0.9, 0.1, 1.1, 3.8, 16.2];
        let fitted = polynomial(&x, &y, 2).expect("a parabola");
        let c = &fitted.covariance;
        for at in [-2.0, 0.5, 4.0] {
            let by_hand = c[(1, 1)] + 4.0 * at * c[(1, 2)] + 4.0 * at * at * c[(2, 2)];
            assert!((fitted.standard_slope_at(at).powi(2) / by_hand - 1.0).abs() < 1e-9);
            let by_coefficients = fitted.coefficients[1] + 2.0 * at * fitted.coefficients[2];
            assert!((fitted.slope_at(at) - by_coefficients).abs() < 1e-12);
        }
        assert_eq!(fitted.n_freedom(), 3);
        assert!((fitted.residuals()[0] - (4.1 - fitted.at(-2.0))).abs() < 1e-12);
    }

    #[test]
    fn too_few_different_abscissae_are_an_error() {
        let two = [1.0, 1.0, 2.0, 2.0];
        assert_eq!(
            polynomial(&two, &[0.0; 4], 2).err(),
            Some(RegressionError::Dependent)
        );
        assert_eq!(
            polynomial(&[1.0; 4], &[0.0; 4], 1).err(),
            Some(RegressionError::Dependent)
        );
        assert!(polynomial(&[1.0; 4], &[5.0; 4], 0).is_ok());
    }
}
