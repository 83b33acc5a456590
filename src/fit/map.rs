//! Nonlinear least squares with correlated data and Gaussian priors.
//!
//! Minimises (r'S⁻¹r) + Σ((θ−θ₀)/σ)² by damped Gauss–Newton steps. The Jacobian may
//! come from smoother data than the residuals (instrumental variables), so that
//! noise in the data is not counted as information.
//!
//! Invariant: S is fixed while iterating; a step is never longer than 1.2 prior σ.

use nalgebra::DMatrix;
use nalgebra::DVector;

/// A dense matrix.
pub type Matrix = DMatrix<f64>;
/// A dense vector.
pub type Vector = DVector<f64>;
/// The Cholesky factor of a covariance.
pub type Cholesky = nalgebra::Cholesky<f64, nalgebra::Dyn>;

const N_STEPS_MAX: usize = 60;
const N_FLOORS_MAX: usize = 30;
const DAMPING_MAX: f64 = 1e6;
const STEP_MAX_SIGMA: f64 = 1.2;
/// Descending ends when a step lowers chi-square by less than this: polishing does the rest.
const DESCENDED: f64 = 0.01;
/// A step whose size in posterior sigma, squared, is below this changes no figure that is
/// printed.
const CONVERGED: f64 = 1e-6;
/// Part of a whole step taken while polishing, so that it does not swing.
const POLISHING: f64 = 0.6;

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

/// A model with data: residuals and their Jacobian.
pub trait Problem {
    /// Residuals at `theta`.
    fn residuals(&self, theta: &Vector) -> Vector;
    /// Their derivatives at `theta`, one column for each parameter; by central differences
    /// of a ten-thousandth of each prior's scale where nothing better is known.
    fn jacobian(&self, theta: &Vector, priors: &[Prior]) -> Matrix {
        by_differences(&|theta| self.residuals(theta), theta, priors)
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
    #[error("the fit did not come to rest in {N_STEPS_MAX} steps")]
    NotConverged,
    /// Residuals are not finite.
    #[error("the model gives no finite value for these data")]
    NotFinite,
}

/// Solves `problem` from `start`, with data covariance `s`.
///
/// A white floor on the data starts at the size of the first residuals and is lowered step
/// by step, so that a poor start does not lead into a side valley.
///
/// # Errors
/// See [`FitError`].
pub fn solve(
    problem: &dyn Problem,
    priors: &[Prior],
    start: &Vector,
    s: &Matrix,
) -> Result<Posterior, FitError> {
    let mut theta = start.clone();
    let n_residuals = s.nrows();
    let first = problem.residuals(&theta);
    let mut floor = first.norm_squared() / n_residuals as f64;
    let smallest = (0..n_residuals)
        .map(|i| s[(i, i)])
        .fold(f64::INFINITY, f64::min);
    let mut n_steps = 0;
    loop {
        let is_annealed = floor <= 1e-3 * smallest;
        let floored = match is_annealed {
            true => s.clone(),
            false => s + Matrix::identity(n_residuals, n_residuals) * floor,
        };
        let factor = floored.cholesky().ok_or(FitError::Covariance)?;
        // While the floor is high one step is enough; the last one goes to the bottom.
        let limit = if is_annealed { N_STEPS_MAX } else { 1 };
        let is_settled = descend(problem, priors, &factor, &mut theta, limit)?;
        n_steps += 1;
        if is_annealed {
            if !is_settled {
                return Err(FitError::NotConverged);
            }
            let polished = polish(problem, priors, &factor, &theta)?;
            return finish(problem, priors, polished.unwrap_or(theta), s);
        }
        floor *= if n_steps > N_FLOORS_MAX { 0.0 } else { 0.1 };
    }
}

/// Takes up to `limit` steps that lower the cost; whether none worth taking is left.
fn descend(
    problem: &dyn Problem,
    priors: &[Prior],
    factor: &Cholesky,
    theta: &mut Vector,
    limit: usize,
) -> Result<bool, FitError> {
    let mut damping = 1e-3;
    for _ in 0..limit {
        let residuals = problem.residuals(theta);
        if residuals.iter().any(|r| !r.is_finite()) {
            return Err(FitError::NotFinite);
        }
        let jacobian = problem.jacobian(theta, priors);
        let (hessian, gradient) = normal_equations(&jacobian, &residuals, factor, priors, theta);
        let before = cost(&residuals, factor, priors, theta);
        // Longer steps first; damped ones until the cost falls, or none is left.
        let (candidate, after) = loop {
            let step = damped_step(&hessian, &gradient, priors, theta, damping)
                .ok_or(FitError::Singular)?;
            let candidate = clipped(&(&*theta + step), priors);
            let after = cost(&problem.residuals(&candidate), factor, priors, &candidate);
            if after.is_finite() && after <= before {
                break (candidate, after);
            }
            damping *= 10.0;
            if damping > DAMPING_MAX {
                return Ok(true);
            }
        };
        *theta = candidate;
        damping = (damping * 0.3).max(1e-9);
        if before - after <= DESCENDED {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Steps to where the estimating equation J'S⁻¹r + prior is zero. With a Jacobian from
/// smoothed data that is near, and not at, the lowest cost, so cost is no guide here. None
/// if the steps do not come to rest: then the lowest cost found has to do.
fn polish(
    problem: &dyn Problem,
    priors: &[Prior],
    factor: &Cholesky,
    start: &Vector,
) -> Result<Option<Vector>, FitError> {
    let mut theta = start.clone();
    for _ in 0..N_STEPS_MAX {
        let residuals = problem.residuals(&theta);
        if residuals.iter().any(|r| !r.is_finite()) {
            return Ok(None);
        }
        let jacobian = problem.jacobian(&theta, priors);
        let (hessian, gradient) = normal_equations(&jacobian, &residuals, factor, priors, &theta);
        let step =
            damped_step(&hessian, &gradient, priors, &theta, 0.0).ok_or(FitError::Singular)?;
        let next = clipped(&(&theta + step * POLISHING), priors);
        let moved = &next - &theta;
        theta = next;
        if moved.dot(&(&hessian * &moved)) < CONVERGED {
            return Ok(Some(theta));
        }
    }
    Ok(None)
}

fn finish(
    problem: &dyn Problem,
    priors: &[Prior],
    theta: Vector,
    s: &Matrix,
) -> Result<Posterior, FitError> {
    let factor = s.clone().cholesky().ok_or(FitError::Covariance)?;
    let residuals = problem.residuals(&theta);
    if residuals.iter().any(|r| !r.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let jacobian = problem.jacobian(&theta, priors);
    let (hessian, _) = normal_equations(&jacobian, &residuals, &factor, priors, &theta);
    let covariance = inverse(&hessian, priors).ok_or(FitError::Singular)?;
    let chi2 = cost(&residuals, &factor, priors, &theta);
    Ok(Posterior {
        theta,
        covariance,
        jacobian,
        residuals,
        chi2,
    })
}

/// Jacobian of `residuals` at `theta` by central differences.
pub fn by_differences(
    residuals: &dyn Fn(&Vector) -> Vector,
    theta: &Vector,
    priors: &[Prior],
) -> Matrix {
    let columns: Vec<Vector> = priors
        .iter()
        .enumerate()
        .map(|(index, prior)| {
            let h = 1e-4 * prior.scale;
            let (mut up, mut down) = (theta.clone(), theta.clone());
            up[index] += h;
            down[index] -= h;
            (residuals(&up) - residuals(&down)) / (2.0 * h)
        })
        .collect();
    Matrix::from_columns(&columns)
}

fn normal_equations(
    jacobian: &Matrix,
    residuals: &Vector,
    factor: &Cholesky,
    priors: &[Prior],
    theta: &Vector,
) -> (Matrix, Vector) {
    let weighted = factor.solve(jacobian);
    let mut hessian = jacobian.transpose() * &weighted;
    let mut gradient = weighted.transpose() * residuals;
    for (index, prior) in priors
        .iter()
        .enumerate()
        .filter(|(_, p)| p.sigma.is_finite())
    {
        hessian[(index, index)] += prior.sigma.powi(-2);
        gradient[index] += (theta[index] - prior.mean) * prior.sigma.powi(-2);
    }
    (hessian, gradient)
}

fn cost(residuals: &Vector, factor: &Cholesky, priors: &[Prior], theta: &Vector) -> f64 {
    let data = residuals.dot(&factor.solve(residuals));
    let prior: f64 = priors
        .iter()
        .zip(theta.iter())
        .filter(|(p, _)| p.sigma.is_finite())
        .map(|(p, t)| ((t - p.mean) / p.sigma).powi(2))
        .sum();
    data + prior
}

/// Solves in scaled parameters, which keeps the numbers near one; damps and limits only
/// parameters with a prior, so that flat ones go where the data want them. A parameter that
/// stands at an end of its range and would leave it is held there, and the others are
/// solved without it.
fn damped_step(
    hessian: &Matrix,
    gradient: &Vector,
    priors: &[Prior],
    theta: &Vector,
    damping: f64,
) -> Option<Vector> {
    let n = priors.len();
    let scale = Vector::from_iterator(n, priors.iter().map(|p| p.scale));
    let mut scaled = Matrix::from_fn(n, n, |i, j| hessian[(i, j)] * scale[i] * scale[j]);
    for (index, _) in priors
        .iter()
        .enumerate()
        .filter(|(_, p)| p.sigma.is_finite())
    {
        scaled[(index, index)] *= 1.0 + damping;
    }
    let right = -gradient.component_mul(&scale);
    let mut is_held = vec![false; n];
    let mut step = loop {
        let mut reduced = scaled.clone();
        let mut wanted = right.clone();
        for index in (0..n).filter(|i| is_held[*i]) {
            reduced.row_mut(index).fill(0.0);
            reduced.column_mut(index).fill(0.0);
            reduced[(index, index)] = 1.0;
            wanted[index] = 0.0;
        }
        let step = reduced.cholesky()?.solve(&wanted).component_mul(&scale);
        let leaving = (0..n).find(|i| {
            let (low, high) = priors[*i].range;
            !is_held[*i]
                && ((theta[*i] <= low && step[*i] < 0.0) || (theta[*i] >= high && step[*i] > 0.0))
        });
        match leaving {
            Some(index) => is_held[index] = true,
            None => break step,
        }
    };
    let longest = step
        .iter()
        .zip(priors)
        .filter(|(_, p)| p.sigma.is_finite())
        .map(|(s, p)| (s / p.sigma).abs())
        .fold(0.0, f64::max);
    if longest > STEP_MAX_SIGMA {
        step *= STEP_MAX_SIGMA / longest;
    }
    Some(step)
}

fn inverse(hessian: &Matrix, priors: &[Prior]) -> Option<Matrix> {
    let n = priors.len();
    let scaled = Matrix::from_fn(n, n, |i, j| {
        hessian[(i, j)] * priors[i].scale * priors[j].scale
    });
    let inverse = scaled.cholesky()?.inverse();
    Some(Matrix::from_fn(n, n, |i, j| {
        inverse[(i, j)] * priors[i].scale * priors[j].scale
    }))
}

fn clipped(theta: &Vector, priors: &[Prior]) -> Vector {
    Vector::from_iterator(
        theta.len(),
        theta
            .iter()
            .zip(priors)
            .map(|(t, p)| t.clamp(p.range.0, p.range.1)),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// y = b1·(1 − exp(−b2·x)), the form of NIST StRD Misra1a.
    struct Saturation {
        x: Vec<f64>,
        y: Vec<f64>,
    }

    impl Problem for Saturation {
        fn residuals(&self, theta: &Vector) -> Vector {
            let rows = self.x.iter().zip(&self.y);
            Vector::from_iterator(
                self.x.len(),
                rows.map(|(x, y)| theta[0] * (1.0 - (-theta[1] * x).exp()) - y),
            )
        }
    }

    /// NIST StRD Misra1a: certified parameters and residual sum of squares, start 2.
    #[test]
    fn the_misra_set_reaches_its_certified_values() {
        let text = include_str!("../../tests/data/nist_strd/Misra1a.dat");
        let (y, x) = crate::fit::strd_rows(text);
        assert_eq!(y.len(), 14);
        let flat = |mean, scale| Prior {
            mean,
            sigma: f64::INFINITY,
            scale,
            range: (0.0, 1e9),
        };
        let priors = [flat(250.0, 250.0), flat(0.0005, 0.0005)];
        let start = Vector::from_vec(vec![250.0, 0.0005]);
        let s = Matrix::identity(14, 14) * 1e-2;
        let solution = solve(&Saturation { x, y }, &priors, &start, &s).expect("converges");
        assert!(
            (solution.theta[0] / 2.389_421_291_8e2 - 1.0).abs() < 1e-6,
            "{}",
            solution.theta[0]
        );
        assert!((solution.theta[1] / 5.501_564_318_1e-4 - 1.0).abs() < 1e-6);
        let rss: f64 = solution.residuals.norm_squared();
        assert!((rss / 1.245_513_889_4e-1 - 1.0).abs() < 1e-9, "{rss}");
        // Certified standard deviations, scaled from the stated to the residual variance.
        let to_certified = (rss / 12.0 / 1e-2).sqrt();
        assert!(
            (solution.covariance[(0, 0)].sqrt() * to_certified / 2.707_007_524_1 - 1.0).abs()
                < 1e-5
        );
    }
}
