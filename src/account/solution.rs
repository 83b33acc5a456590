//! One hold fitted: the solved balance, and values derived from it with their budget.
//!
//! Invariant: a derived value's contributions add up (in variance) to its
//! uncertainty.

use super::balance::Balance;
use super::balance::Copy;
use super::edge::at_left_edge;
use super::figure::Contribution;
use super::figure::Measured;
use super::layout::P;
use super::layout::term;
use super::leaks::laminar;
use super::rate::not_negative;
use super::scatter;
use super::term::Term;
use crate::fit::FitError;
use crate::fit::Matrix;
use crate::fit::Posterior;
use crate::fit::Vector;
use crate::fit::solve;

/// A solved balance.
pub(super) struct Solution<'a> {
    pub balance: Balance<'a>,
    pub posterior: Posterior,
    whole: Matrix,
    noise: Matrix,
    inverse: Matrix,
}

/// Variances by source, with what would shrink each.
#[derive(Default)]
struct Parts(Vec<(Term, f64)>);

impl Parts {
    fn add(&mut self, term: Term, variance: f64) {
        match self.0.iter_mut().find(|(own, _)| *own == term) {
            Some(part) => part.1 += variance,
            None => self.0.push((term, variance)),
        }
    }

    fn sum(&self) -> f64 {
        self.0.iter().map(|(_, variance)| variance).sum()
    }
}

/// A derived value: how it comes from the parameters.
pub(super) type Derived<'f> = &'f dyn Fn(&Vector) -> f64;

impl<'a> Solution<'a> {
    /// Fits the balance: once with the scatter of the prior, once with that of the
    /// first solution.
    pub fn fit(balance: Balance<'a>) -> Result<Self, FitError> {
        let priors = balance.layout.priors();
        let start = Vector::from_iterator(priors.len(), priors.iter().map(|p| p.mean));
        let (first, _) = scatter::covariance(&balance, &start);
        let rough = solve(&balance, &priors, &start, &first)?;
        let (whole, noise) = scatter::covariance(&balance, &rough.theta);
        let posterior = solve(&balance, &priors, &rough.theta, &whole)?;
        let inverse = whole
            .clone()
            .cholesky()
            .ok_or(FitError::Covariance)?
            .inverse();
        Ok(Self {
            balance,
            posterior,
            whole,
            noise,
            inverse,
        })
    }

    /// Covariance of the residuals.
    pub fn scatter(&self) -> &Matrix {
        &self.whole
    }

    /// Inverse of that covariance.
    pub fn weights(&self) -> &Matrix {
        &self.inverse
    }

    /// A derived value with its standard uncertainty and budget.
    pub fn derive(&self, derived: Derived<'_>) -> (Measured, Vec<Contribution>) {
        let gradient = self.gradient(derived);
        let covariance = &self.posterior.covariance;
        let variance = not_negative((gradient.transpose() * covariance * &gradient)[(0, 0)]);
        let measured = Measured {
            value_si: derived(&self.posterior.theta),
            standard_si: variance.sqrt(),
        };
        (measured, self.budget(&gradient))
    }

    /// Correlation of the errors of two derived values, −1 to 1.
    pub fn correlation(&self, one: Derived<'_>, other: Derived<'_>) -> f64 {
        let (a, b) = (self.gradient(one), self.gradient(other));
        let product =
            |x: &Vector, y: &Vector| (x.transpose() * &self.posterior.covariance * y)[(0, 0)];
        let size = (product(&a, &a) * product(&b, &b)).sqrt();
        if size > 0.0 {
            (product(&a, &b) / size).clamp(-0.999, 0.999)
        } else {
            0.0
        }
    }

    /// Standard uncertainty of a derived value if every nuisance were known; None if the data
    /// do not determine it even then.
    pub fn least(&self, derived: Derived<'_>) -> Option<f64> {
        let priors = self.balance.layout.priors();
        let free: Vec<usize> = (0..priors.len())
            .filter(|index| priors[*index].sigma.is_infinite())
            .collect();
        let jacobian = self.posterior.jacobian.select_columns(&free);
        let gradient = self.gradient(derived).select_rows(&free);
        let information = jacobian.transpose() * &self.inverse * &jacobian;
        // Flows and offsets differ by many orders of magnitude.
        let sizes = information.diagonal().map(|v| v.sqrt().recip());
        let even = Matrix::from_fn(free.len(), free.len(), |i, j| {
            sizes[i] * information[(i, j)] * sizes[j]
        });
        let answer = even.cholesky()?.solve(&gradient.component_mul(&sizes));
        let variance = answer.dot(&gradient.component_mul(&sizes));
        variance.is_finite().then(|| not_negative(variance).sqrt())
    }

    fn gradient(&self, derived: Derived<'_>) -> Vector {
        let priors = self.balance.layout.priors();
        Vector::from_iterator(
            priors.len(),
            priors.iter().enumerate().map(|(index, prior)| {
                let h = 1e-4 * prior.scale;
                let (mut up, mut down) =
                    (self.posterior.theta.clone(), self.posterior.theta.clone());
                up[index] += h;
                down[index] -= h;
                (derived(&up) - derived(&down)) / (2.0 * h)
            }),
        )
    }

    /// The estimate's error is a sum of independent parts: errors of the priors, each
    /// by σ·(C g)/σ², sensor noise, and what the model leaves out.
    fn budget(&self, gradient: &Vector) -> Vec<Contribution> {
        let answer = &self.posterior.covariance * gradient;
        let mut parts = Parts::default();
        for (index, (parameter, prior)) in self
            .balance
            .layout
            .parameters()
            .zip(self.balance.layout.priors())
            .enumerate()
        {
            if let Some(term) = term(parameter).filter(|_| prior.sigma.is_finite()) {
                parts.add(term, (answer[index] / prior.sigma).powi(2));
            }
        }
        let by_data = &self.inverse * &self.posterior.jacobian * &answer;
        let of_noise = (by_data.transpose() * &self.noise * &by_data)[(0, 0)].max(0.0);
        parts.add(Term::SlowNoise, of_noise);
        if self.balance.measured_stiffness().is_some() {
            let last = by_data.len() - 1;
            let variance = by_data[last].powi(2) * self.whole[(last, last)];
            parts.add(Term::Stiffness, variance);
        }
        let whole = (gradient.transpose() * &answer)[(0, 0)];
        parts.add(Term::Discrepancy, (whole - parts.sum()).max(0.0));
        let freedom = self.noise_freedom();
        let parts = parts.0.into_iter();
        parts
            .filter(|(_, variance)| *variance > 0.0)
            .map(|(term, variance)| Contribution {
                source: term.source(),
                standard_si: variance.sqrt(),
                degrees_of_freedom: match term {
                    Term::SlowNoise => Some(freedom),
                    _ => term.degrees_of_freedom(),
                },
                remedy: term.remedy(),
            })
            .collect()
    }

    /// Degrees of freedom of the noise: those of the channel that knows its own worst.
    pub fn noise_freedom(&self) -> f64 {
        let series = self.balance.series;
        series
            .signals()
            .map(|signal| series.noise_freedom(signal))
            .fold(f64::INFINITY, f64::min)
    }

    /// Covariances of the parameters' errors by sensor noise, and by what the model leaves out.
    pub fn error_covariances(&self) -> [Matrix; 2] {
        let by_data = &self.inverse * &self.posterior.jacobian * &self.posterior.covariance;
        [self.noise.clone(), &self.whole - &self.noise]
            .map(|of_data| by_data.transpose() * of_data * &by_data)
    }

    /// Mean over the hold of the flow out of the cap side, or into the rod side.
    pub fn mean_flow(&self, theta: &Vector, side: P) -> f64 {
        let flow = self.flow(theta, side);
        flow.iter().sum::<f64>() / flow.len().max(1) as f64
    }

    /// The same flow at the start of the hold, carried to `pressure_ratio` times the
    /// pressure and `viscosity_ratio` times the viscosity there.
    pub fn flow_at_start(
        &self,
        theta: &Vector,
        side: P,
        pressure_ratio: f64,
        viscosity_ratio: f64,
    ) -> f64 {
        let [cap, rod] = self.flows_at_start(theta, pressure_ratio, viscosity_ratio);
        if side == P::CapLoss { cap } else { rod }
    }

    /// The same of both sides.
    pub fn flows_at_start(
        &self,
        theta: &Vector,
        pressure_ratio: f64,
        viscosity_ratio: f64,
    ) -> [f64; 2] {
        let exponent = self.balance.layout.get(theta, P::PistonExponent);
        let flows = self.balance.flows(theta, Copy::Raw);
        [flows.cap, flows.rod].map(|flow| {
            let first = self.first_flow(&flow);
            first * pressure_ratio.powf(exponent) * viscosity_ratio.powf(-laminar(exponent))
        })
    }

    /// The flow at the very start: a parabola through the first block, carried to its edge.
    fn first_flow(&self, flow: &[f64]) -> f64 {
        let n = self.balance.series.bins_per_block;
        // Means of thirds of the block, carried to its left edge.
        let third = (n / 3).max(1);
        let mean = |part: usize| {
            let range = part * third..(part + 1) * third;
            flow.get(range)
                .map(|f| f.iter().sum::<f64>() / f.len() as f64)
        };
        match (mean(0), mean(1), mean(2)) {
            (Some(a), Some(b), Some(c)) => at_left_edge([a, b, c]),
            _ => flow.first().copied().unwrap_or(0.0),
        }
    }

    /// How far the flow falls or rises within the first block: what its shape there decides.
    pub fn first_change(&self, side: P) -> f64 {
        let flow = self.flow(&self.posterior.theta, side);
        let n = self.balance.series.bins_per_block.min(flow.len());
        let mean = flow[..n].iter().sum::<f64>() / n.max(1) as f64;
        (self.first_flow(&flow) - mean).abs()
    }

    /// The flow on the bins.
    pub fn flow(&self, theta: &Vector, side: P) -> Vec<f64> {
        let flows = self.balance.flows(theta, Copy::Raw);
        if side == P::CapLoss {
            flows.cap
        } else {
            flows.rod
        }
    }
}
