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

/// Longest step, s. The error of the points between steps is not controlled by the
/// solver; short steps keep it below what a sensor can see.
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
    /// The solver returned another number of points than was asked for.
    #[error("the practice bench got {n_found} points for {n_asked}; report this with the scenario")]
    Points {
        /// Points found.
        n_found: usize,
        /// Points asked for.
        n_asked: usize,
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

/// States at `times_s` (rising, at least two), starting from `start` at the first.
///
/// `absolute` is the tolerance of each state in its own unit of measure.
///
/// # Errors
/// If the solver gives up.
pub(super) fn integrate<const N: usize>(
    slope: impl Fn(f64, &[f64; N], &mut [f64; N]),
    start: [f64; N],
    times_s: &[f64],
    absolute: [f64; N],
) -> Result<Vec<[f64; N]>, StiffError> {
    let (first_s, last_s) = match times_s {
        [first, .., last] => (*first, *last),
        _ => {
            return Err(StiffError::Points {
                n_found: 0,
                n_asked: times_s.len(),
            });
        }
    };
    let system = System(slope);
    // Tolerances must be vectors: the solver rescales a scalar once for each state.
    let method = ImplicitRungeKutta::radau5()
        .rtol([RELATIVE; N])
        .atol(absolute)
        .h_max(LONGEST_STEP_S)
        .max_steps(MOST_STEPS);
    let solution = IVP::ode(&system, first_s, last_s, start)
        .t_eval(times_s)
        .method(method)
        .solve()
        .map_err(|error| StiffError::GaveUp {
            detail: format!("{error:?}"),
        })?;
    if solution.y.len() == times_s.len() {
        Ok(solution.y)
    } else {
        Err(StiffError::Points {
            n_found: solution.y.len(),
            n_asked: times_s.len(),
        })
    }
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
        let times: Vec<f64> = (0..=1000).map(|i| f64::from(i) * 0.02).collect();
        let found = integrate(slope, [1.0, 0.0], &times, [1e-9; 2]).expect("integrates");
        for (t, y) in times.iter().zip(&found) {
            assert!((y[0] - t.cos()).abs() < 1e-6, "{t}: {}", y[0]);
        }
    }

    #[test]
    fn one_point_in_time_is_no_span_to_integrate() {
        let found = integrate(|_, _: &[f64; 1], d| d[0] = 0.0, [1.0], &[0.0], [1e-9]);
        assert!(matches!(found, Err(StiffError::Points { n_asked: 1, .. })));
    }
}
