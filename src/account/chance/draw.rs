//! One trial: what the parameters of a fitted hold would be if its errors were others.
//!
//! The estimate's error is a sum of independent parts (`solution::budget` has their
//! variances): errors of the priors, each by C·(error)/σ², sensor noise, and what the model
//! leaves out. Priors are drawn as they are: Gaussian, inside their range. Parts whose size
//! is itself uncertain are drawn as Student's t, one factor for all that share a term.

use super::Solution;
use super::Term;
use crate::account::layout::term;
use crate::fit::Matrix;
use crate::fit::Prior;
use crate::fit::Vector;
use crate::fit::propagate::Draws;

/// Ends of ranges that a trial is brought back to; seldom more than two are met.
const N_ENDS: usize = 8;

/// The errors of a solution's parameters.
pub(super) struct Errors {
    theta: Vector,
    covariance: Matrix,
    priors: Vec<(Prior, Option<Term>)>,
    /// Roots of the covariances by sensor noise and by what the model leaves out, with
    /// degrees of freedom.
    of_data: [(Matrix, f64); 2],
}

impl Errors {
    /// Those of a solution.
    pub fn of(solution: &Solution<'_>) -> Self {
        let layout = &solution.balance.layout;
        let terms = layout.parameters().map(term);
        let [noise, model] = solution.error_covariances();
        let sizes = solution.posterior.covariance.diagonal().map(f64::sqrt);
        let freedom = Term::Discrepancy.degrees_of_freedom();
        Self {
            theta: solution.posterior.theta.clone(),
            covariance: solution.posterior.covariance.clone(),
            priors: layout.priors().into_iter().zip(terms).collect(),
            of_data: [
                (root(&noise, &sizes), solution.noise_freedom()),
                (root(&model, &sizes), freedom.unwrap_or(f64::INFINITY)),
            ],
        }
    }

    /// Parameters of one trial, inside their ranges.
    pub fn draw(&self, draws: &mut Draws) -> Vector {
        let factors = Term::ALL.map(|term| {
            let freedom = term.degrees_of_freedom().unwrap_or(f64::INFINITY);
            (term, draws.student_factor(freedom))
        });
        let factor = |term| factors.iter().find(|(own, _)| *own == term).map(|f| f.1);
        let mut pulls = Vector::zeros(self.priors.len());
        for (pull, (prior, term)) in pulls.iter_mut().zip(&self.priors) {
            let Some(factor) = term.and_then(factor).filter(|_| prior.sigma.is_finite()) else {
                continue;
            };
            let drawn = prior.mean + factor * draws.normal(0.0, prior.sigma);
            let (low, high) = prior.range;
            *pull = (drawn.clamp(low, high) - prior.mean) / prior.sigma.powi(2);
        }
        let mut theta = &self.theta + &self.covariance * pulls;
        for (root, freedom) in &self.of_data {
            let factor = draws.student_factor(*freedom);
            let units = Vector::from_fn(root.ncols(), |_, _| draws.normal(0.0, factor));
            theta += root * units;
        }
        self.bring_inside(&mut theta);
        theta
    }

    /// Holds parameters at the ends of their ranges and moves the others along with them, as
    /// the fit does: to the nearest point inside, by the covariance.
    fn bring_inside(&self, theta: &mut Vector) {
        for _ in 0..N_ENDS {
            let out = (0..theta.len()).map(|index| (index, self.beyond(theta, index)));
            let furthest = out.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
            let Some((index, sigmas)) = furthest.filter(|(_, sigmas)| *sigmas != 0.0) else {
                return;
            };
            let own = self.covariance[(index, index)].sqrt();
            theta.axpy(-sigmas / own, &self.covariance.column(index), 1.0);
            theta[index] = self.inside(index, theta[index]);
        }
        for index in 0..theta.len() {
            theta[index] = self.inside(index, theta[index]);
        }
    }

    /// By how many of its sigma a parameter is out of its range.
    fn beyond(&self, theta: &Vector, index: usize) -> f64 {
        let out = theta[index] - self.inside(index, theta[index]);
        match out == 0.0 {
            true => 0.0,
            false => {
                out / self.covariance[(index, index)]
                    .sqrt()
                    .max(f64::MIN_POSITIVE)
            }
        }
    }

    fn inside(&self, index: usize, value: f64) -> f64 {
        let (low, high) = self.priors[index].0.range;
        value.clamp(low, high)
    }
}

/// A matrix whose product with its transpose is `covariance`; `sizes` bring its rows to
/// sizes alike.
fn root(covariance: &Matrix, sizes: &Vector) -> Matrix {
    let n = sizes.len();
    let size = |index: usize| {
        if sizes[index] > 0.0 {
            sizes[index]
        } else {
            1.0
        }
    };
    let even = Matrix::from_fn(n, n, |i, j| {
        0.5 * (covariance[(i, j)] + covariance[(j, i)]) / size(i) / size(j)
    });
    let axes = even.symmetric_eigen();
    Matrix::from_fn(n, n, |i, k| {
        // Rounding makes variances that are zero slightly negative.
        size(i) * axes.eigenvectors[(i, k)] * axes.eigenvalues[k].max(0.0).sqrt()
    })
}
