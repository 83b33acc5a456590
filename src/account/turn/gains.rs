//! How much better a hold is explained if its flows may turn at a moment.
//!
//! Linear in all parameters near the solution, priors included: the flow that is added
//! takes only what heat, sensors and oil leave it.

use crate::account::balance::Balance;
use crate::account::layout::P;
use crate::account::solution::Solution;
use crate::cylinder::Chamber;
use crate::fit::Matrix;
use crate::fit::Problem;
use crate::fit::Vector;

/// Parts of the hold that both sides of a turn have at least.
const AT_LEAST: f64 = 0.05;

/// A moment that was tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gain {
    /// The moment, s after the start of the hold.
    pub at_s: f64,
    /// By which χ² falls with a flow of its own before it.
    pub chi_squared: f64,
}

/// The balance with flows of their own until a moment.
pub(super) fn with_turn<'a>(balance: &Balance<'a>, at_s: f64) -> Balance<'a> {
    let mut balance = balance.clone();
    if balance.turn_s.is_none() {
        let volume = balance
            .cylinder
            .volume(Chamber::Cap, balance.cylinder.size().stroke)
            .value;
        let flow = volume * 1e-3 / balance.series.length_s;
        balance.layout = balance.layout.with_early_flows(flow);
    }
    balance.turn_s = Some(at_s);
    balance
}

/// Moments between blocks, s, but for those near the ends of the hold.
pub(super) fn between_blocks(solution: &Solution<'_>) -> Vec<f64> {
    let series = solution.balance.series;
    let n = series.n_blocks;
    let aside = ((AT_LEAST * n as f64).round() as usize).max(1);
    let all = (aside..=n - aside).map(|block| series.length_s * block as f64 / n as f64);
    all.collect()
}

/// Moments between the bins within two blocks of one, and between all blocks.
pub(super) fn near(solution: &Solution<'_>, at_s: f64) -> Vec<f64> {
    let series = solution.balance.series;
    let bin_s = series.length_s / series.t.len() as f64;
    let block_s = bin_s * series.bins_per_block as f64;
    let mut all = between_blocks(solution);
    let (first, last) = (all[0], all[all.len() - 1]);
    let bins = (1..series.t.len()).map(|bin| bin as f64 * bin_s);
    let inside = bins.filter(|t| *t > first && *t < last);
    all.extend(inside.filter(|t| (t - at_s).abs() <= 2.0 * block_s));
    all
}

/// What each of some moments gains. None if nothing can be said.
pub(super) fn gains(solution: &Solution<'_>, moments_s: &[f64]) -> Option<Vec<Gain>> {
    let linear = Linear::of(solution)?;
    let all = moments_s.iter().filter_map(|at_s| {
        Some(Gain {
            at_s: *at_s,
            chi_squared: linear.gain(&solution.balance, *at_s)?,
        })
    });
    let all: Vec<Gain> = all.collect();
    (!all.is_empty()).then_some(all)
}

/// A solved hold, linear in its parameters, without flows of their own before a turn.
struct Linear<'s> {
    /// The solution with no such flows.
    theta: Vector,
    /// Residuals there.
    residuals: Vector,
    weights: &'s Matrix,
    /// Weighted Jacobian of the other parameters.
    weighted: Matrix,
    /// What they gain by moving: the inverse of their information, priors included, and half
    /// the gradient of χ² by them.
    inverse: Matrix,
    gradient: Vector,
}

impl<'s> Linear<'s> {
    fn of(solution: &'s Solution<'_>) -> Option<Self> {
        let layout = &solution.balance.layout;
        let posterior = &solution.posterior;
        let is_early = |p: &P| matches!(p, P::EarlyCap | P::EarlyRod);
        let (early, others): (Vec<usize>, Vec<usize>) = {
            let parameters: Vec<P> = layout.parameters().collect();
            (0..parameters.len()).partition(|index| is_early(&parameters[*index]))
        };
        let mut theta = posterior.theta.clone();
        early.iter().for_each(|index| theta[*index] = 0.0);
        let residuals = match early.is_empty() {
            true => posterior.residuals.clone(),
            false => solution.balance.residuals(&theta),
        };
        let weights = solution.weights();
        let jacobian = posterior.jacobian.select_columns(&others);
        let weighted = weights * &jacobian;
        let mut information = jacobian.transpose() * &weighted;
        let mut gradient = weighted.transpose() * &residuals;
        let priors = layout.priors();
        for (place, index) in others.iter().enumerate() {
            let prior = &priors[*index];
            if prior.sigma.is_finite() {
                let weight = prior.sigma.powi(-2);
                information[(place, place)] += weight;
                gradient[place] += weight * (theta[*index] - prior.mean);
            }
        }
        Some(Self {
            theta,
            residuals,
            weights,
            weighted,
            inverse: inverse(information)?,
            gradient,
        })
    }

    /// By which χ² falls with flows of their own until `at_s`.
    fn gain(&self, balance: &Balance<'_>, at_s: f64) -> Option<f64> {
        let turned = with_turn(balance, at_s);
        let added = turned.layout.priors().len() - self.theta.len();
        let mut theta = self
            .theta
            .clone()
            .resize_vertically(self.theta.len() + added, 0.0);
        let mut columns = Vec::new();
        for early in [P::EarlyCap, P::EarlyRod] {
            let Some(index) = turned.layout.index(early) else {
                continue;
            };
            // Linear in the flow: a step of any size is exact.
            let step = turned.layout.priors()[index].scale;
            theta[index] = step;
            columns.push((turned.residuals(&theta) - &self.residuals) / step);
            theta[index] = 0.0;
        }
        let added = Matrix::from_columns(&columns);
        let common = self.weighted.transpose() * &added;
        let taken = &self.inverse * &common;
        let information = added.transpose() * self.weights * &added - common.transpose() * &taken;
        let score =
            added.transpose() * self.weights * &self.residuals - taken.transpose() * &self.gradient;
        let gain = score.dot(&(inverse(information)? * &score));
        gain.is_finite().then_some(gain)
    }
}

/// Inverse of a positive definite matrix whose parameters differ by many orders of magnitude.
fn inverse(matrix: Matrix) -> Option<Matrix> {
    let n = matrix.nrows();
    let sizes = matrix.diagonal().map(|v| v.sqrt().recip());
    let even = Matrix::from_fn(n, n, |i, j| sizes[i] * matrix[(i, j)] * sizes[j]);
    let solved = even.cholesky()?.inverse();
    Some(Matrix::from_fn(n, n, |i, j| {
        sizes[i] * solved[(i, j)] * sizes[j]
    }))
}
