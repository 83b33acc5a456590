//! One function that integrates a stiff system, and the only place that names a solver.
//!
//! Radau IIA of order 5 (Hairer and Wanner, Solving Ordinary Differential Equations
//! II). What the states mean is the caller's business; they should be of the order
//! of one, because the solver's finite differences step by 1.5e-8 of that.

use differential_equations::prelude::IVP;
use differential_equations::prelude::ImplicitRungeKutta;
use differential_equations::prelude::ODE;

/// Relative tolerance of each state.
const RELATIVE: f64 = 1e-8;

/// Longest step, s. What lies between steps is interpolated; short steps keep that
/// below what a sensor can see.
const LONGEST_STEP_S: f64 = 2.0;

/// Most steps before the integration is given up; a day takes 43 200.
const MOST_STEPS: usize = 200_000;

/// Why a system could not be integrated.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StiffError {
    /// The solver gave up.
    #[error(
        "the practice bench could not integrate its cylinder: {detail}; \
         check the scenario for values no cylinder has"
    )]
    GaveUp {
        /// What the solver said.
        detail: String,
    },
    /// There is no time to integrate over.
    #[error(
        "the practice bench was asked to play until {until_s} s; ask for a time after the start"
    )]
    NoSpan {
        /// Until when, s.
        until_s: f64,
    },
}

struct System<F>(F);

impl<F, const N: usize> ODE<f64, [f64; N]> for System<F>
where
    F: Fn(f64, &[f64; N], &mut [f64; N]),
{
    fn diff(&self, t: f64, y: &[f64; N], dydt: &mut [f64; N]) {
        (self.0)(t, y, dydt);
    }
}

/// Times in seconds and states at each step of the solver, from `start` at 0 s to `until_s`.
///
/// `absolute` is the tolerance of each state in its own unit of measure.
///
/// # Errors
/// If the solver gives up.
pub(super) fn integrate<const N: usize>(
    slope: impl Fn(f64, &[f64; N], &mut [f64; N]),
    start: [f64; N],
    until_s: f64,
    absolute: [f64; N],
) -> Result<Vec<(f64, [f64; N])>, StiffError> {
    if !(until_s.is_finite() && until_s > 0.0) {
        return Err(StiffError::NoSpan { until_s });
    }
    let system = System(slope);
    // Tolerances must be vectors: the solver rescales a scalar once for each state.
    let method = ImplicitRungeKutta::radau5()
        .rtol([RELATIVE; N])
        .atol(absolute)
        .h_max(LONGEST_STEP_S)
        .max_steps(MOST_STEPS);
    let solution = IVP::ode(&system, 0.0, until_s, start)
        .method(method)
        .solve()
        .map_err(|error| StiffError::GaveUp {
            detail: format!("{error:?}"),
        })?;
    Ok(solution.t.into_iter().zip(solution.y).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Exact solution: y = cos t, with a side that decays a million times faster.
    #[test]
    fn a_fast_side_does_not_disturb_a_slow_one() {
        let slope = |t: f64, y: &[f64; 2], dydt: &mut [f64; 2]| {
            dydt[0] = -1e6 * (y[0] - t.cos()) - t.sin();
            dydt[1] = -y[0].sin();
        };
        let found = integrate(slope, [1.0, 0.0], 20.0, [1e-9; 2]).expect("integrates");
        assert_eq!(found.last().map(|(t, _)| *t), Some(20.0));
        for (t, y) in &found {
            assert!((y[0] - t.cos()).abs() < 1e-6, "{t}: {}", y[0]);
        }
    }

    #[test]
    fn no_time_is_no_span_to_integrate() {
        for until_s in [0.0, -1.0, f64::NAN] {
            let found = integrate(|_, _: &[f64; 1], d| d[0] = 0.0, [1.0], until_s, [1e-9]);
            assert!(matches!(found, Err(StiffError::NoSpan { .. })));
        }
    }
}
