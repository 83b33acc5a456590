//! Nonlinear least squares with correlated data and Gaussian priors.
//!
//! Minimises (r'S⁻¹r) + Σ((θ−θ₀)/σ)² by damped Gauss–Newton steps (Levenberg 1944,
//! Marquardt 1963, scaling after Moré 1978), then steps to the zero of J'S⁻¹r + prior. The
//! Jacobian may come from smoother data than the residuals (instrumental variables), so
//! that noise in the data is not counted as information. Each step is a linear
//! least-squares problem of `orthogonal`, which lines and calibrations solve too.
//!
//! Invariant: S is fixed while iterating; a step is never longer than 1.2 prior σ.

use super::FitError;
use super::Matrix;
use super::Posterior;
use super::Prior;
use super::Problem;
use super::Vector;
use super::orthogonal::Reduced;
use super::polish::polish;
use super::whitening::Whitening;
use super::whitening::is_diagonal;

/// Steps of the first and the finer descent before they are given up. A narrow curved
/// valley may take thousands, but its model is cheap …
const N_STEPS_PLAIN: [usize; 2] = [5000, 5000];
/// … and where there are priors it is not endless: what makes the finer descent long there
/// is a bend in the model or an end of a range.
const N_STEPS_KNOWN: [usize; 2] = [200, 20];
/// Distance from the solution, in standard uncertainties: without priors, when their size
/// may be anything, and with them.
const ACCURACY: (f64, f64) = (1e-6, 1e-4);
/// Part of a column's length that is remembered at the next step.
const REMEMBERED: f64 = 0.7;
/// Part of a step over which its curvature is measured.
const BENDING: f64 = 0.1;
/// A step whose bend is a larger part of it than this is shortened.
const BENT_MAX: f64 = 0.75;
const STEP_MAX_SIGMA: f64 = 1.2;
/// Damping a descent begins with and the range it is kept in, by squared column length.
const DAMPING: (f64, f64, f64) = (1e-6, 1e-60, 1e12);
/// Descending ends when a whole step promises to lower chi-square by less than this, of the
/// scatter that is there: a tenth of a standard uncertainty. Polishing does the rest.
/// If that cannot, the descent goes on to less than a ten-thousandth.
const DESCENDED: (f64, f64) = (1e-2, 1e-9);
/// So many steps that win less than that are enough.
const N_LITTLE: usize = 3;
/// Data that fit this well, by mean square, need no floor any more.
const FITTING: f64 = 4.0;
/// A floor below this part of the variances changes nothing.
const FLOOR_MIN: f64 = 1e-3;
/// Floors are lowered by the first after a step of which the model knew little, by the
/// second after one that did what it promised.
const LOWERED: (f64, f64) = (0.1, 0.01);

/// Solves `problem` from `start`, with data covariance `s`.
///
/// Where there are priors, a floor on the variances starts at the size of the first
/// residuals and is lowered step by step, so that a poor start does not lead into a side
/// valley. Without any prior S need only be right up to a factor; the covariance of the
/// solution has then to be multiplied by the same.
///
/// # Errors
/// See [`FitError`].
pub fn solve(
    problem: &dyn Problem,
    priors: &[Prior],
    start: &Vector,
    s: &Matrix,
) -> Result<Posterior, FitError> {
    let data = Whitening::new(s, 0.0).ok_or(FitError::Covariance)?;
    let mut fit = Fit {
        problem,
        priors,
        data,
        descended: DESCENDED.0,
        n_jacobians: 0,
    };
    let mut walk = fit.at(fit.clipped(start))?;
    let is_plain = is_diagonal(s) && priors.iter().all(|p| p.sigma.is_infinite());
    let mut floor = mean_square(&walk.residuals, s);
    while !is_plain && floor > FLOOR_MIN && fit.cost(&walk) > FITTING * s.nrows() as f64 {
        let floored = Whitening::new(s, floor).ok_or(FitError::Covariance)?;
        let whole = std::mem::replace(&mut fit.data, floored);
        let gain = fit.descend(&mut walk, 1)?;
        fit.data = whole;
        let lowered = if gain.is_as_promised {
            LOWERED.1
        } else {
            LOWERED.0
        };
        floor = lowered * floor.min(mean_square(&walk.residuals, s));
    }
    walk.damping = DAMPING.0;
    let (n_steps, accuracy) = match is_plain {
        true => (N_STEPS_PLAIN, ACCURACY.0),
        false => (N_STEPS_KNOWN, ACCURACY.1),
    };
    for (descended, n_steps) in [DESCENDED.0, DESCENDED.1].into_iter().zip(n_steps) {
        fit.descended = descended;
        let is_settled = fit.descend(&mut walk, n_steps)?.is_settled;
        if !is_settled && descended == DESCENDED.0 {
            return Err(FitError::NotConverged { n_steps });
        }
        if polish(&mut fit, &mut walk, accuracy)? {
            break;
        }
    }
    // Where polishing led nowhere the lowest cost found has to do.
    fit.posterior(walk)
}

/// What is fitted, with the scatter that counts at present.
pub(super) struct Fit<'a> {
    problem: &'a dyn Problem,
    pub(super) priors: &'a [Prior],
    data: Whitening,
    descended: f64,
    n_jacobians: usize,
}

/// Where a fit stands.
#[derive(Clone)]
pub(super) struct Walk {
    pub(super) theta: Vector,
    pub(super) residuals: Vector,
    /// The last Jacobian and where it was made.
    jacobian: Option<(Vector, Matrix)>,
    damping: f64,
    /// Length of each column, remembered for some steps: keeps a parameter that has lost
    /// its influence from running away.
    lengths: Vector,
}

/// A step of the linear model.
pub(super) struct Step {
    /// Change of each parameter.
    pub(super) by: Vector,
    /// Which of them it takes to an end of its range.
    is_held: Vec<bool>,
}

/// How a descent ended.
struct Descent {
    /// No step worth taking is left.
    is_settled: bool,
    /// The last step lowered the cost about as far as the linear model had said.
    is_as_promised: bool,
}

impl Fit<'_> {
    fn at(&self, theta: Vector) -> Result<Walk, FitError> {
        let residuals = self.problem.residuals(&theta);
        if !is_finite(&residuals) {
            return Err(FitError::NotFinite);
        }
        Ok(Walk {
            lengths: Vector::zeros(theta.len()),
            theta,
            residuals,
            jacobian: None,
            damping: DAMPING.0,
        })
    }

    /// Moves to `theta`; false, and stays, if the model has no value there.
    pub(super) fn moved(&self, walk: &mut Walk, theta: Vector) -> bool {
        let residuals = self.problem.residuals(&theta);
        let is_finite = is_finite(&residuals);
        if is_finite {
            walk.theta = theta;
            walk.residuals = residuals;
        }
        is_finite
    }

    /// Sum of squares of data and priors.
    pub(super) fn cost(&self, walk: &Walk) -> f64 {
        self.right(&walk.theta, &walk.residuals).norm_squared()
    }

    /// Minus the whitened residuals of data and priors.
    pub(super) fn right(&self, theta: &Vector, residuals: &Vector) -> Vector {
        let priors = self.known().map(|(i, p)| (p.mean - theta[i]) / p.sigma);
        let data = self.data.vector(residuals);
        let all = data.iter().map(|r| -r).chain(priors);
        Vector::from_vec(all.collect())
    }

    /// Parameters of which something is known.
    fn known(&self) -> impl Iterator<Item = (usize, &Prior)> {
        let all = self.priors.iter().enumerate();
        all.filter(|(_, p)| p.sigma.is_finite())
    }

    /// The linear model where the walk stands, from a Jacobian made there.
    pub(super) fn linear_model(&mut self, walk: &mut Walk) -> Result<Reduced, FitError> {
        let known_here = walk.jacobian.take().filter(|(at, _)| *at == walk.theta);
        let (at, jacobian) = known_here.unwrap_or_else(|| {
            self.n_jacobians += 1;
            let jacobian = self.problem.jacobian(&walk.theta, self.priors);
            (walk.theta.clone(), jacobian)
        });
        let reduced = self.reduced(&jacobian)?;
        walk.jacobian = Some((at, jacobian));
        Ok(reduced)
    }

    fn reduced(&self, jacobian: &Matrix) -> Result<Reduced, FitError> {
        if !jacobian.iter().all(|v| v.is_finite()) {
            return Err(FitError::NotFinite);
        }
        let data = self.data.matrix(jacobian);
        let n_data = data.nrows();
        let n_known = self.known().count();
        let mut rows = data.resize_vertically(n_data + n_known, 0.0);
        for (place, (index, prior)) in self.known().enumerate() {
            rows[(n_data + place, index)] = 1.0 / prior.sigma;
        }
        Reduced::new(&rows).ok_or(FitError::NotFinite)
    }

    /// Takes up to `limit` steps that lower the cost.
    fn descend(&mut self, walk: &mut Walk, limit: usize) -> Result<Descent, FitError> {
        let mut descent = Descent {
            is_settled: false,
            is_as_promised: false,
        };
        let mut n_little = 0;
        for _ in 0..limit {
            let model = self.linear_model(walk)?;
            walk.lengths = (&walk.lengths * REMEMBERED).sup(model.lengths());
            let right = self.right(&walk.theta, &walk.residuals);
            let before = right.norm_squared();
            let scatter = (before / right.len() as f64).min(1.0);
            let projected = model.projected(&right);
            let whole = self.step(&model, &projected, &walk.theta, &walk.lengths, 0.0);
            let left = whole.map_or(f64::INFINITY, |whole| {
                promised(&model, &projected, &whole.by)
            });
            descent.is_settled = left < self.descended * scatter || left < 1e-14 * before;
            if descent.is_settled {
                return Ok(descent);
            }
            let Some((promised, won)) = self.lower(walk, &model, &projected, before) else {
                descent.is_settled = true;
                return Ok(descent);
            };
            descent.is_as_promised = won > 0.75 * promised && walk.damping < 1.0;
            let is_little = won < self.descended * scatter;
            n_little = if is_little { n_little + 1 } else { 0 };
            walk.damping *= match won / promised {
                gain if gain > 0.75 => 0.1,
                gain if gain > 0.25 => 1.0,
                _ => 3.0,
            };
            walk.damping = walk.damping.max(DAMPING.1);
            if n_little == N_LITTLE || (is_little && promised > 0.5 * left) {
                descent.is_settled = true;
                return Ok(descent);
            }
        }
        Ok(descent)
    }

    /// Damps until a step lowers the cost, and takes it: what the linear model promised and
    /// what was won. None if no step does.
    fn lower(
        &self,
        walk: &mut Walk,
        model: &Reduced,
        projected: &Vector,
        before: f64,
    ) -> Option<(f64, f64)> {
        let mut raise = 4.0;
        while walk.damping < DAMPING.2 {
            let step = self.step(model, projected, &walk.theta, &walk.lengths, walk.damping);
            let step = step.and_then(|step| self.bent(walk, model, step));
            let candidate = step.map(|step| self.clipped(&(&walk.theta + step)));
            if let Some(candidate) = candidate {
                let promised = promised(model, projected, &(&candidate - &walk.theta));
                let residuals = self.problem.residuals(&candidate);
                let after = self.right(&candidate, &residuals).norm_squared();
                if after < before {
                    walk.theta = candidate;
                    walk.residuals = residuals;
                    return Some((promised, before - after));
                }
            }
            walk.damping *= raise;
            raise *= 2.0;
        }
        None
    }

    /// A step bent along the model's curvature (geodesic acceleration, Transtrum and Sethna
    /// 2012), which follows a narrow curved valley. None if it is bent so far that the
    /// linear model cannot be trusted over its length.
    fn bent(&self, walk: &Walk, model: &Reduced, step: Step) -> Option<Vector> {
        let Step { by: step, is_held } = step;
        let at = |part: f64| self.problem.residuals(&(&walk.theta + &step * part));
        // Differences of the residuals alone: the Jacobian may come from other data.
        let (ahead, behind) = (at(BENDING), at(-BENDING));
        let curvature = (ahead + behind - &walk.residuals * 2.0) / BENDING.powi(2);
        if !is_finite(&curvature) {
            return None;
        }
        let data = -self.data.vector(&curvature);
        let n_rows = data.len() + self.known().count();
        let right = data.resize_vertically(n_rows, 0.0);
        let weights = self.weights(&walk.lengths, walk.damping);
        let held: Vec<_> = is_held.iter().map(|held| held.then_some(0.0)).collect();
        let bend = model.damped_solution(&model.projected(&right), &weights, &held)?;
        let weighted = |v: &Vector| v.component_mul(&walk.lengths).norm();
        let share = weighted(&bend) / weighted(&step);
        (share < BENT_MAX).then(|| step + bend * 0.5)
    }

    /// A step of the linear model, damped by the part `damping` of the squared column
    /// lengths. A parameter that would leave its range is taken to the end of it and held
    /// there, and the others are solved with that. None if the data do not determine it.
    pub(super) fn step(
        &self,
        model: &Reduced,
        projected: &Vector,
        theta: &Vector,
        lengths: &Vector,
        damping: f64,
    ) -> Option<Step> {
        let weights = self.weights(lengths, damping);
        let mut held = vec![None; theta.len()];
        let mut by = loop {
            let by = model.damped_solution(projected, &weights, &held)?;
            let leaving = (0..theta.len()).find_map(|i| {
                let to = self.inside(i, theta[i] + by[i]);
                (held[i].is_none() && to != theta[i] + by[i]).then_some((i, to - theta[i]))
            });
            match leaving {
                Some((index, to_the_end)) => held[index] = Some(to_the_end),
                None => break by,
            }
        };
        let sigmas = self.known().map(|(i, p)| (by[i] / p.sigma).abs());
        let longest = sigmas.fold(0.0, f64::max);
        if longest > STEP_MAX_SIGMA {
            by *= STEP_MAX_SIGMA / longest;
        }
        let is_held = held.iter().map(Option::is_some).collect();
        Some(Step { by, is_held })
    }

    /// Weights that damp by the part `damping` of the squared column lengths.
    fn weights(&self, lengths: &Vector, damping: f64) -> Vector {
        let of_a_typical_size = |i: usize| match lengths[i] {
            0.0 => 1.0 / self.priors[i].scale,
            length => length,
        };
        Vector::from_fn(lengths.len(), |i, _| damping.sqrt() * of_a_typical_size(i))
    }

    fn inside(&self, index: usize, value: f64) -> f64 {
        let (low, high) = self.priors[index].range;
        value.clamp(low, high)
    }

    /// A point with each parameter inside its range.
    pub(super) fn clipped(&self, theta: &Vector) -> Vector {
        Vector::from_fn(theta.len(), |i, _| self.inside(i, theta[i]))
    }

    fn posterior(&mut self, mut walk: Walk) -> Result<Posterior, FitError> {
        let covariance = self
            .linear_model(&mut walk)?
            .covariance()
            .ok_or(FitError::Singular)?;
        let chi2 = self.cost(&walk);
        let (_, jacobian) = walk.jacobian.ok_or(FitError::Singular)?;
        Ok(Posterior {
            theta: walk.theta,
            covariance,
            jacobian,
            residuals: walk.residuals,
            chi2,
            n_jacobians: self.n_jacobians,
        })
    }
}

impl Walk {
    /// Lets the last Jacobian stand for the point that was reached from where it was made.
    pub(super) fn keep_jacobian(&mut self) {
        if let Some((at, _)) = &mut self.jacobian {
            at.copy_from(&self.theta);
        }
    }
}

/// By how much the linear model says `step` lowers the cost.
fn promised(model: &Reduced, projected: &Vector, step: &Vector) -> f64 {
    projected.norm_squared() - (projected - model.image(step)).norm_squared()
}

/// Mean square of the residuals by their variances.
fn mean_square(residuals: &Vector, s: &Matrix) -> f64 {
    let squares = residuals.component_mul(residuals);
    squares.component_div(&s.diagonal()).mean()
}

fn is_finite(residuals: &Vector) -> bool {
    residuals.iter().all(|r| r.is_finite())
}
