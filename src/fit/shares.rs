//! Parts that are never negative, from measured sums of them.
//!
//! Sums do not always determine their parts; then a part has a range instead of a value: all
//! that it can be while the parts together still explain the sums within a given χ². That
//! is a convex program, and a kept conic solver (clarabel) finds its ends. A part that no
//! sum limits has no upper end.
//!
//! Invariant: ranges for a larger χ² contain those for a smaller one.

use super::Matrix;
use super::Vector;
use clarabel::algebra::CscMatrix;
use clarabel::solver::DefaultSettingsBuilder;
use clarabel::solver::DefaultSolver;
use clarabel::solver::IPSolver;
use clarabel::solver::SolverStatus;
use clarabel::solver::SupportedConeT;

/// Sums of parts, `coefficients`·x = `measured`, with the covariance of the errors.
#[derive(Debug, Clone, PartialEq)]
pub struct Shares {
    /// Root of the inverse covariance times coefficients, in units of `scale`.
    whitened: Matrix,
    /// The same of what was measured.
    target: Vector,
    /// Most that each part can be, in units of `scale`; infinite where nothing says.
    most: Vec<f64>,
    /// Size of one unit.
    scale: f64,
}

/// Why no parts were found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SharesError {
    /// The covariance is none.
    #[error("the covariance of the measured sums is not positive definite")]
    Covariance,
    /// The solver gave up.
    #[error("no parts explain the sums: {status}")]
    NoAnswer {
        /// Its last word.
        status: String,
    },
}

/// Parts that explain the sums best.
#[derive(Debug, Clone, PartialEq)]
pub struct Best {
    /// The parts.
    pub parts: Vec<f64>,
    /// What they leave unexplained, as χ².
    pub chi_squared: f64,
}

/// An end of what one part can be, with all parts there.
#[derive(Debug, Clone, PartialEq)]
pub struct End {
    /// The end; infinite if no sum limits the part.
    pub value: f64,
    /// All parts at that end; None where there is none.
    pub parts: Option<Vec<f64>>,
}

/// Which end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// The least.
    Least,
    /// The most.
    Most,
}

impl Shares {
    /// Sums (rows) of parts (columns) as they were measured. `most` limits parts from above,
    /// by infinity where nothing is known.
    ///
    /// # Errors
    /// If the covariance is not positive definite.
    pub fn new(
        coefficients: &Matrix,
        measured: &Vector,
        covariance: &Matrix,
        most: &[f64],
    ) -> Result<Self, SharesError> {
        let root = covariance
            .clone()
            .cholesky()
            .ok_or(SharesError::Covariance)?
            .l();
        let size = |v: f64, s: f64| v.abs().max(s.sqrt());
        let sizes = measured
            .iter()
            .zip(covariance.diagonal().iter().copied().collect::<Vec<_>>());
        let scale = sizes.map(|(v, s)| size(*v, s)).fold(0.0, f64::max);
        let whiten = |m: &Matrix| {
            root.solve_lower_triangular(m)
                .ok_or(SharesError::Covariance)
        };
        let column = Matrix::from_column_slice(measured.len(), 1, measured.as_slice());
        Ok(Self {
            whitened: whiten(coefficients)? * scale,
            target: whiten(&column)?.column(0).into_owned(),
            most: most.iter().map(|m| m / scale).collect(),
            scale,
        })
    }

    /// The parts that explain the sums best; one such choice where there are several.
    ///
    /// # Errors
    /// If the solver finds none.
    pub fn best(&self) -> Result<Best, SharesError> {
        let quadratic = self.whitened.transpose() * &self.whitened;
        let linear = -(self.whitened.transpose() * &self.target);
        let (rows, bounds, cones) = self.limits();
        let parts = self.solved(&quadratic, linear.as_slice(), rows, bounds, cones)?;
        let parts = parts.ok_or_else(|| SharesError::NoAnswer {
            status: "unlimited".into(),
        })?;
        Ok(Best {
            chi_squared: self.chi_squared(&parts),
            parts: self.sized(&parts),
        })
    }

    /// An end of what part `index` can be while χ² stays below `chi_squared`.
    ///
    /// # Errors
    /// If no parts reach that χ² at all.
    pub fn end(&self, index: usize, which: Which, chi_squared: f64) -> Result<End, SharesError> {
        let n = self.whitened.ncols();
        let (mut rows, mut bounds, mut cones) = self.limits();
        // First the radius, then what is left unexplained: a cone of second order.
        rows.push(vec![0.0; n]);
        bounds.push(chi_squared.max(0.0).sqrt());
        for (row, target) in self.whitened.row_iter().zip(self.target.iter()) {
            rows.push(row.iter().copied().collect());
            bounds.push(*target);
        }
        cones.push(SupportedConeT::SecondOrderConeT(1 + self.target.len()));
        let mut wanted = vec![0.0; n];
        wanted[index] = if which == Which::Least { 1.0 } else { -1.0 };
        let found = self.solved(&Matrix::zeros(n, n), &wanted, rows, bounds, cones)?;
        Ok(match found {
            Some(parts) => {
                let parts = self.sized(&parts);
                End {
                    value: parts[index],
                    parts: Some(parts),
                }
            }
            None => End {
                value: f64::INFINITY,
                parts: None,
            },
        })
    }

    fn chi_squared(&self, parts: &[f64]) -> f64 {
        (&self.whitened * Vector::from_column_slice(parts) - &self.target).norm_squared()
    }

    fn sized(&self, parts: &[f64]) -> Vec<f64> {
        // An interior point lies a breath beside its limits.
        parts.iter().map(|p| p.max(0.0) * self.scale).collect()
    }

    /// Each part from zero to its most, as rows `a·x + s = b` with s ≥ 0.
    fn limits(&self) -> (Vec<Vec<f64>>, Vec<f64>, Vec<SupportedConeT<f64>>) {
        let n = self.whitened.ncols();
        let unit = |index: usize, sign: f64| {
            let mut row = vec![0.0; n];
            row[index] = sign;
            row
        };
        let mut rows: Vec<Vec<f64>> = (0..n).map(|index| unit(index, -1.0)).collect();
        let mut bounds = vec![0.0; n];
        for (index, most) in self.most.iter().enumerate().filter(|(_, m)| m.is_finite()) {
            rows.push(unit(index, 1.0));
            bounds.push(*most);
        }
        let cones = vec![SupportedConeT::NonnegativeConeT(rows.len())];
        (rows, bounds, cones)
    }

    /// Solves one program; None if it is unlimited.
    fn solved(
        &self,
        quadratic: &Matrix,
        linear: &[f64],
        rows: Vec<Vec<f64>>,
        bounds: Vec<f64>,
        cones: Vec<SupportedConeT<f64>>,
    ) -> Result<Option<Vec<f64>>, SharesError> {
        let settings = DefaultSettingsBuilder::default()
            .verbose(false)
            .build()
            .map_err(|e| SharesError::NoAnswer {
                status: e.to_string(),
            })?;
        let square: Vec<Vec<f64>> = quadratic
            .row_iter()
            .enumerate()
            .map(|(i, row)| {
                row.iter()
                    .enumerate()
                    .map(|(j, v)| if j < i { 0.0 } else { *v })
                    .collect()
            })
            .collect();
        let (p, a) = (CscMatrix::from(&square), CscMatrix::from(&rows));
        let no_answer = |status: String| SharesError::NoAnswer { status };
        let mut solver = DefaultSolver::new(&p, linear, &a, &bounds, &cones, settings)
            .map_err(|e| no_answer(e.to_string()))?;
        solver.solve();
        match solver.solution.status {
            SolverStatus::Solved | SolverStatus::AlmostSolved => {
                Ok(Some(solver.solution.x.clone()))
            }
            SolverStatus::DualInfeasible | SolverStatus::AlmostDualInfeasible => Ok(None),
            other => Err(no_answer(format!("{other:?}"))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shares(rows: &[&[f64]], measured: &[f64], sigma: f64) -> Shares {
        let n = rows[0].len();
        let flat: Vec<f64> = rows.iter().flat_map(|r| r.iter().copied()).collect();
        let coefficients = Matrix::from_row_slice(rows.len(), n, &flat);
        let covariance = Matrix::identity(rows.len(), rows.len()) * sigma * sigma;
        let measured = Vector::from_column_slice(measured);
        Shares::new(
            &coefficients,
            &measured,
            &covariance,
            &vec![f64::INFINITY; n],
        )
        .expect("sound")
    }

    #[track_caller]
    fn check(shares: &Shares, index: usize, chi_squared: f64, least: f64, most: f64) {
        let at = |which| shares.end(index, which, chi_squared).expect("there").value;
        let (low, high) = (at(Which::Least), at(Which::Most));
        let near = |a: f64, b: f64| (a - b).abs() < 1e-6 * (1.0 + b.abs()) || a == b;
        assert!(near(low, least) && near(high, most), "{low} … {high}");
    }

    /// One sum of one part: the interval is the normal one.
    #[test]
    fn a_part_that_is_alone_has_the_usual_interval() {
        let alone = shares(&[&[1.0]], &[3.0], 0.1);
        check(&alone, 0, 1.96f64.powi(2), 3.0 - 0.196, 3.0 + 0.196);
    }

    /// Two parts of one sum: each from nothing to all of it.
    #[test]
    fn parts_of_one_sum_range_from_nothing_to_all() {
        let both = shares(&[&[1.0, 1.0]], &[3.0], 0.1);
        check(&both, 0, 4.0, 0.0, 3.2);
        check(&both, 1, 4.0, 0.0, 3.2);
    }

    /// Sum and difference: solved for both, with the covariance of the solution (½ σ²).
    #[test]
    fn two_sums_solve_for_two_parts() {
        let both = shares(&[&[1.0, 1.0], &[1.0, -1.0]], &[3.0, 1.0], 0.1);
        let half = 2.0 * 0.1 / 2f64.sqrt();
        check(&both, 0, 4.0, 2.0 - half, 2.0 + half);
        check(&both, 1, 4.0, 1.0 - half, 1.0 + half);
        let best = both.best().expect("solved");
        assert!((best.parts[0] - 2.0).abs() < 1e-6 && best.chi_squared < 1e-9);
    }

    #[test]
    fn a_difference_alone_limits_nothing_from_above() {
        let difference = shares(&[&[1.0, -1.0]], &[1.0], 0.1);
        check(&difference, 0, 4.0, 0.8, f64::INFINITY);
        check(&difference, 1, 4.0, 0.0, f64::INFINITY);
    }

    /// A sum below zero is explained by nothing, with its distance as χ²; a range that
    /// reaches that far exists, a smaller one does not.
    #[test]
    fn what_no_part_explains_is_left_as_chi_squared() {
        let negative = shares(&[&[1.0]], &[-0.3], 0.1);
        let best = negative.best().expect("there is one");
        assert!((best.chi_squared - 9.0).abs() < 1e-6, "{best:?}");
        check(&negative, 0, 16.0, 0.0, 0.1);
        assert!(negative.end(0, Which::Most, 4.0).is_err());
    }

    /// Flows are tiny numbers in SI units.
    #[test]
    fn the_unit_of_measure_does_not_matter() {
        let tiny = shares(&[&[1.0, 1.0]], &[3e-8], 1e-9);
        let end = tiny.end(0, Which::Most, 4.0).expect("there").value;
        assert!((end / 3.2e-8 - 1.0).abs() < 1e-6, "{end}");
    }

    #[test]
    fn what_was_seen_limits_a_part_from_above() {
        let coefficients = Matrix::from_row_slice(1, 2, &[1.0, 1.0]);
        let measured = Vector::from_column_slice(&[3.0]);
        let covariance = Matrix::identity(1, 1) * 0.01;
        let most = [f64::INFINITY, 0.05];
        let seen = Shares::new(&coefficients, &measured, &covariance, &most).expect("sound");
        check(&seen, 0, 4.0, 2.75, 3.2);
        check(&seen, 1, 4.0, 0.0, 0.05);
    }
}
