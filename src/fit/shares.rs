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

/// Residuals and gap, relative, that an answer may be left with.
const CLOSE: f64 = 1e-5;

/// Sums of parts, `coefficients`·x = `measured`, with the covariance of the errors.
#[derive(Debug, Clone, PartialEq)]
pub struct Shares {
    /// Root of the inverse covariance times coefficients, in units of `scale`.
    whitened: Matrix,
    /// The same of what was measured.
    target: Vector,
    /// Least and most that each part can be, in units of `scale`.
    between: Vec<(f64, f64)>,
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
    /// Sums (rows) of parts (columns) as they were measured. `between` gives the least and the
    /// most that each part can be: zero and infinity where nothing is known.
    ///
    /// # Errors
    /// If the covariance is not positive definite.
    pub fn new(
        coefficients: &Matrix,
        measured: &Vector,
        covariance: &Matrix,
        between: &[(f64, f64)],
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
            between: between
                .iter()
                .map(|(least, most)| (least.max(0.0) / scale, most / scale))
                .collect(),
            scale,
        })
    }

    /// The parts that explain the sums best; one such choice where there are several.
    ///
    /// # Errors
    /// If the solver finds none.
    pub fn best(&self) -> Result<Best, SharesError> {
        let parts = self.best_parts()?;
        Ok(Best {
            chi_squared: self.chi_squared(&parts),
            parts: self.sized(&parts),
        })
    }

    /// Solved for the length of what is left unexplained, not for its square, which would
    /// lose half the digits.
    fn best_parts(&self) -> Result<Vec<f64>, SharesError> {
        let n = self.whitened.ncols();
        let zero = Vector::zeros(n);
        let program = self.program(&zero, self.target.norm().max(1.0), true);
        let way = program.solved()?.ok_or_else(|| SharesError::NoAnswer {
            status: "unlimited".into(),
        })?;
        Ok(self.moved(&zero, &way))
    }

    /// An end of what part `index` can be while χ² stays below `chi_squared`, sought from the
    /// best parts.
    ///
    /// Solved for the way from the best parts, each column at its own size: a thin cone far
    /// from the origin would lose its last digits.
    ///
    /// # Errors
    /// If no parts reach that χ² at all.
    pub fn end(
        &self,
        best: &Best,
        index: usize,
        which: Which,
        chi_squared: f64,
    ) -> Result<End, SharesError> {
        let units = best.parts.iter().map(|part| part / self.scale);
        let best = Vector::from_vec(units.collect());
        let radius = chi_squared.max(f64::MIN_POSITIVE).sqrt();
        let mut program = self.program(&best, radius, false);
        program.linear[index] = if which == Which::Least { 1.0 } else { -1.0 };
        let Some(way) = program.solved()? else {
            return Ok(End {
                value: f64::INFINITY,
                parts: None,
            });
        };
        let parts = self.sized(&self.moved(&best, &way));
        Ok(End {
            value: parts[index],
            parts: Some(parts),
        })
    }

    /// The program for the way from some parts, each column at its own size: |r − A d| within
    /// `radius`, or as short as can be.
    fn program(&self, from: &Vector, radius: f64, shortest: bool) -> Program {
        let n = self.whitened.ncols();
        let sizes = self.sizes();
        let left = (&self.target - &self.whitened * from) / radius;
        let matrix = Matrix::from_fn(self.whitened.nrows(), n, |i, j| {
            self.whitened[(i, j)] * sizes[j] / radius
        });
        let mut linear = vec![0.0; n];
        linear.push(if shortest { 1.0 } else { 0.0 });
        Program {
            linear,
            limits: self.limits(from, &sizes),
            matrix,
            left,
            shortest,
        }
    }

    /// Parts after a way from others.
    fn moved(&self, from: &Vector, way: &[f64]) -> Vec<f64> {
        let steps = way.iter().zip(self.sizes());
        from.iter()
            .zip(steps)
            .map(|(from, (way, size))| from + way * size)
            .collect()
    }

    /// Size of a step of each part that changes the sums by as much.
    fn sizes(&self) -> Vec<f64> {
        let most = self.whitened.norm().max(f64::MIN_POSITIVE);
        let of_column = |column: usize| match self.whitened.column(column).norm() {
            0.0 => 1.0,
            size => most / size,
        };
        (0..self.whitened.ncols()).map(of_column).collect()
    }

    fn chi_squared(&self, parts: &[f64]) -> f64 {
        (&self.whitened * Vector::from_column_slice(parts) - &self.target).norm_squared()
    }

    fn sized(&self, parts: &[f64]) -> Vec<f64> {
        // An interior point lies a breath beside its limits.
        parts.iter().map(|p| p.max(0.0) * self.scale).collect()
    }

    /// Each part from its least to its most, as rows `a·d + s = b` with s ≥ 0 for the way `d`
    /// from some parts.
    fn limits(&self, from: &Vector, sizes: &[f64]) -> Limits {
        let mut limits = Limits::new();
        for (index, (least, most)) in self.between.iter().enumerate() {
            let mut row = |sign: f64, room: f64| {
                let mut row = vec![0.0; sizes.len() + 1];
                row[index] = sign;
                limits.push((row, room / sizes[index]));
            };
            row(-1.0, from[index] - least);
            if most.is_finite() {
                row(1.0, most - from[index]);
            }
        }
        limits
    }
}

/// Rows of limits with their right sides.
type Limits = Vec<(Vec<f64>, f64)>;

/// A linear form that is to be least over d and t, within limits and |r − A d| ≤ t; t is one
/// unless it is to be the shortest.
struct Program {
    linear: Vec<f64>,
    limits: Limits,
    matrix: Matrix,
    left: Vector,
    shortest: bool,
}

impl Program {
    /// Solves it for d; None if it is unlimited.
    fn solved(self) -> Result<Option<Vec<f64>>, SharesError> {
        let no_answer = |status: String| SharesError::NoAnswer { status };
        let settings = DefaultSettingsBuilder::default()
            .verbose(false)
            .build()
            .map_err(|e| no_answer(e.to_string()))?;
        let n = self.matrix.ncols();
        let (mut rows, mut bounds): (Vec<Vec<f64>>, Vec<f64>) = self.limits.into_iter().unzip();
        let n_limits = rows.len();
        // t is a number of its own, or one.
        let mut length = vec![0.0; n + 1];
        length[n] = 1.0;
        if !self.shortest {
            rows.push(length.clone());
            bounds.push(1.0);
        }
        length[n] = -1.0;
        rows.push(length);
        bounds.push(0.0);
        for (row, left) in self.matrix.row_iter().zip(self.left.iter()) {
            rows.push(row.iter().copied().chain([0.0]).collect());
            bounds.push(*left);
        }
        let cone = SupportedConeT::SecondOrderConeT(1 + self.left.len());
        let limits = SupportedConeT::NonnegativeConeT(n_limits);
        let cones = match self.shortest {
            true => vec![limits, cone],
            false => vec![limits, SupportedConeT::ZeroConeT(1), cone],
        };
        let (p, a) = (CscMatrix::zeros((n + 1, n + 1)), CscMatrix::from(&rows));
        let mut solver = DefaultSolver::new(&p, &self.linear, &a, &bounds, &cones, settings)
            .map_err(|e| no_answer(e.to_string()))?;
        solver.solve();
        let (info, x) = (&solver.info, &solver.solution.x);
        match solver.solution.status {
            SolverStatus::Solved | SolverStatus::AlmostSolved => Ok(Some(x[..n].to_vec())),
            SolverStatus::DualInfeasible | SolverStatus::AlmostDualInfeasible => Ok(None),
            // Its last steps can be lost in rounding; what is there is good enough if it is
            // allowed and hardly anything could be gained.
            SolverStatus::InsufficientProgress
                if info.res_primal < CLOSE && info.gap_abs.min(info.gap_rel) < CLOSE =>
            {
                Ok(Some(x[..n].to_vec()))
            }
            other => Err(no_answer(format!(
                "{other:?}, residuals {:.1e} and {:.1e}, gap {:.1e} ({:.1e})",
                info.res_primal, info.res_dual, info.gap_abs, info.gap_rel
            ))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FREE: (f64, f64) = (0.0, f64::INFINITY);

    fn shares(rows: &[&[f64]], measured: &[f64], sigma: f64) -> Shares {
        let n = rows[0].len();
        let flat: Vec<f64> = rows.iter().flat_map(|r| r.iter().copied()).collect();
        let coefficients = Matrix::from_row_slice(rows.len(), n, &flat);
        let covariance = Matrix::identity(rows.len(), rows.len()) * sigma * sigma;
        let measured = Vector::from_column_slice(measured);
        Shares::new(&coefficients, &measured, &covariance, &vec![FREE; n]).expect("sound")
    }

    #[track_caller]
    fn check(shares: &Shares, index: usize, chi_squared: f64, least: f64, most: f64) {
        let best = shares.best().expect("there is one");
        let end = |which| shares.end(&best, index, which, chi_squared);
        let at = |which| end(which).expect("there").value;
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
        assert!(negative.end(&best, 0, Which::Most, 4.0).is_err());
    }

    /// Flows are tiny numbers in SI units.
    #[test]
    fn the_unit_of_measure_does_not_matter() {
        let tiny = shares(&[&[1.0, 1.0]], &[3e-8], 1e-9);
        let best = tiny.best().expect("there is one");
        let end = tiny.end(&best, 0, Which::Most, 4.0).expect("there").value;
        assert!((end / 3.2e-8 - 1.0).abs() < 1e-6, "{end}");
    }

    #[test]
    fn what_was_seen_limits_a_part_from_above() {
        let coefficients = Matrix::from_row_slice(1, 2, &[1.0, 1.0]);
        let measured = Vector::from_column_slice(&[3.0]);
        let covariance = Matrix::identity(1, 1) * 0.01;
        let shares = |second| {
            let between = [FREE, second];
            Shares::new(&coefficients, &measured, &covariance, &between).expect("sound")
        };
        let dry = shares((0.0, 0.05));
        check(&dry, 0, 4.0, 2.75, 3.2);
        check(&dry, 1, 4.0, 0.0, 0.05);
        let wet = shares((0.4, f64::INFINITY));
        check(&wet, 0, 4.0, 0.0, 2.8);
        check(&wet, 1, 4.0, 0.4, 3.2);
    }
}
