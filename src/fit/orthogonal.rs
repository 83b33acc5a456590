//! The least-squares core: rows reduced by Householder reflections to a triangle.
//!
//! Lines, polynomials and calibrations solve one such system, the damped steps of a
//! nonlinear fit a series of them; both go through this file. Squares of the columns are
//! never formed, so that half the digits are not lost before the work begins.
//!
//! Invariant: columns are scaled to unit length inside; what comes out is in the
//! caller's units.

use super::Matrix;
use super::Vector;

/// A pivot smaller than this part of its column's length is rounding: the columns are
/// dependent.
const RANK: f64 = 1e-14;

/// Rows of min |A·x − b|² with A reduced to an upper triangle.
pub(super) struct Reduced {
    qr: nalgebra::QR<f64, nalgebra::Dyn, nalgebra::Dyn>,
    /// Triangle for scaled columns.
    triangle: Matrix,
    /// Length of each column of A; one for a column of zeros.
    lengths: Vector,
    n_rows: usize,
}

impl Reduced {
    /// Reduces `rows`; None if a number is not finite.
    pub(super) fn new(rows: &Matrix) -> Option<Self> {
        let n = rows.ncols();
        let lengths = Vector::from_iterator(
            n,
            rows.column_iter().map(|c| match c.norm() {
                0.0 => 1.0,
                length => length,
            }),
        );
        if n == 0 || lengths.iter().any(|l| !l.is_finite()) {
            return None;
        }
        // Rows of zeros make a short system square, and singular, which is what it is.
        let mut scaled = Matrix::zeros(rows.nrows().max(n), n);
        for (index, column) in rows.column_iter().enumerate() {
            let mut to = scaled.view_mut((0, index), (rows.nrows(), 1));
            to.copy_from(&(column / lengths[index]));
        }
        let qr = scaled.qr();
        Some(Self {
            triangle: qr.r(),
            qr,
            lengths,
            n_rows: rows.nrows(),
        })
    }

    /// Length of each column of the rows.
    pub(super) fn lengths(&self) -> &Vector {
        &self.lengths
    }

    /// What `right` is on the axes of the columns: the part a solution can reach.
    pub(super) fn projected(&self, right: &Vector) -> Vector {
        let mut long = Vector::zeros(self.qr.qr_internal().nrows());
        long.rows_mut(0, self.n_rows).copy_from(right);
        self.qr.q_tr_mul(&mut long);
        long.rows(0, self.lengths.len()).into_owned()
    }

    /// A·x on the same axes.
    pub(super) fn image(&self, x: &Vector) -> Vector {
        &self.triangle * x.component_mul(&self.lengths)
    }

    /// Solution for a `projected` right side; None if the columns are dependent.
    pub(super) fn solution(&self, projected: &Vector) -> Option<Vector> {
        let scaled = back_substituted(&self.triangle, projected)?;
        Some(scaled.component_div(&self.lengths))
    }

    /// Solution with each x pulled to zero by the weight `damping`, and those that are
    /// `held` kept at their value.
    pub(super) fn damped_solution(
        &self,
        projected: &Vector,
        damping: &Vector,
        held: &[Option<f64>],
    ) -> Option<Vector> {
        let n = self.lengths.len();
        let mut out = Vector::from_iterator(n, held.iter().map(|value| value.unwrap_or(0.0)));
        let free: Vec<usize> = (0..n).filter(|i| held[*i].is_none()).collect();
        if free.is_empty() {
            return Some(out);
        }
        let mut rows = Matrix::zeros(n + free.len(), free.len());
        for (place, index) in free.iter().enumerate() {
            let mut column = rows.column_mut(place);
            column
                .rows_mut(0, n)
                .copy_from(&(self.triangle.column(*index) * self.lengths[*index]));
            column[n + place] = damping[*index];
        }
        let mut right = Vector::zeros(n + free.len());
        right
            .rows_mut(0, n)
            .copy_from(&(projected - self.image(&out)));
        let part = Self::new(&rows)?;
        let solution = part.solution(&part.projected(&right))?;
        for (place, index) in free.iter().enumerate() {
            out[*index] = solution[place];
        }
        Some(out)
    }

    /// (A'A)⁻¹; None if the columns are dependent.
    pub(super) fn covariance(&self) -> Option<Matrix> {
        let n = self.lengths.len();
        let mut inverse = Matrix::zeros(n, n);
        for index in 0..n {
            let mut unit = Vector::zeros(n);
            unit[index] = 1.0;
            inverse.set_column(index, &self.solution(&unit)?);
        }
        Some(&inverse * inverse.transpose())
    }
}

fn back_substituted(triangle: &Matrix, right: &Vector) -> Option<Vector> {
    let n = right.len();
    let mut out = Vector::zeros(n);
    for i in (0..n).rev() {
        let pivot = triangle[(i, i)];
        if pivot.abs() <= RANK {
            return None;
        }
        let known: f64 = (i + 1..n).map(|j| triangle[(i, j)] * out[j]).sum();
        out[i] = (right[i] - known) / pivot;
    }
    out.iter().all(|x| x.is_finite()).then_some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Läuchli's matrix: the squares of its small entries vanish beside one, its
    /// solution does not.
    #[test]
    fn a_matrix_whose_squares_are_singular_is_solved() {
        let small = 1e-9;
        let rows = Matrix::from_row_slice(3, 2, &[1.0, 1.0, small, 0.0, 0.0, small]);
        let right = Vector::from_vec(vec![3.0, small, 2.0 * small]);
        let reduced = Reduced::new(&rows).expect("finite");
        let solution = reduced
            .solution(&reduced.projected(&right))
            .expect("rank 2");
        assert!((solution[0] - 1.0).abs() < 1e-6, "{solution}");
        assert!((solution[1] - 2.0).abs() < 1e-6, "{solution}");
    }

    #[test]
    fn dependent_columns_and_too_few_rows_have_no_solution() {
        let right = Vector::from_vec(vec![1.0, 2.0]);
        let twice = Matrix::from_row_slice(2, 2, &[1.0, 2.0, 3.0, 6.0]);
        let reduced = Reduced::new(&twice).expect("finite");
        assert!(reduced.solution(&reduced.projected(&right)).is_none());
        let short = Reduced::new(&Matrix::from_row_slice(1, 2, &[1.0, 2.0])).expect("finite");
        assert!(short.covariance().is_none());
        assert!(Reduced::new(&Matrix::from_row_slice(1, 1, &[f64::NAN])).is_none());
    }

    #[test]
    fn what_is_held_stays_and_the_others_are_solved_without_it() {
        let rows = Matrix::from_row_slice(3, 2, &[1.0, 1.0, 1.0, 2.0, 1.0, 3.0]);
        let right = Vector::from_vec(vec![2.0, 3.0, 4.0]);
        let reduced = Reduced::new(&rows).expect("finite");
        let projected = reduced.projected(&right);
        let none = Vector::zeros(2);
        let held = reduced.damped_solution(&projected, &none, &[None, Some(1.5)]);
        assert!((held.expect("rank 1")[0] - 0.0).abs() < 1e-12);
        let free = reduced.damped_solution(&projected, &none, &[None, None]);
        let free = free.expect("rank 2");
        assert!((free[0] - 1.0).abs() < 1e-12 && (free[1] - 1.0).abs() < 1e-12);
    }
}
