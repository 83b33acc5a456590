//! Whether a chamber's account jumps during the hold.
//!
//! A position sensor that slips, a bubble that comes out or a valve that opens moves the
//! account at once; a leak, heat and drift move it slowly, and chi-square over the whole hold
//! hardly sees the difference. Second differences of the blocks are blind to what is slow.
//!
//! Invariant: what the scatter of the data explains is no step.

use crate::fit::Matrix;
use crate::fit::Vector;

/// A second difference that stands out of the others by more than this, in their standard
/// deviations, is a step: 30 µm of a slipping sensor gave 7.5 to 13, holds without one 2.8 at
/// most (own simulation, a dozen holds).
const STANDS_OUT: f64 = 6.0;

/// What the covariance of the data says of a second difference is on the safe side; this part
/// of it is there at least, also where a coarse converter stands still in most blocks.
const SAFE_SIDE: f64 = 0.4;

/// Standard deviation by median size, for normal scatter.
const BY_MEDIAN: f64 = 1.4826;

/// The block before which `residuals` jump, if they do; `scatter` is their covariance.
pub(super) fn step(residuals: &[f64], scatter: &Matrix) -> Option<usize> {
    let second = |v: &[f64]| v[2] - 2.0 * v[1] + v[0];
    let seconds: Vec<f64> = residuals.windows(3).map(second).collect();
    let mut sizes: Vec<f64> = seconds.iter().map(|d| d.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let usual = BY_MEDIAN * sizes.get(sizes.len() / 2)?;
    let stands_out = |(place, size): (usize, &f64)| {
        let weights = Vector::from_vec(vec![1.0, -2.0, 1.0]);
        let own = scatter.view((place, place), (3, 3));
        let expected = (weights.transpose() * own * &weights)[(0, 0)].max(0.0);
        size.abs() / usual.max(SAFE_SIDE * expected.sqrt())
    };
    let all = seconds.iter().enumerate();
    let (ratio, place) = all
        .map(|(place, size)| (stands_out((place, size)), place))
        .max_by(|a, b| a.0.total_cmp(&b.0))?;
    if ratio.is_nan() || ratio <= STANDS_OUT {
        return None;
    }
    let first = |place: usize| residuals[place + 1] - residuals[place];
    let jump = if first(place).abs() > first(place + 1).abs() {
        place
    } else {
        place + 1
    };
    Some(jump + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    const N: usize = 40;

    /// Scatter by a fixed recipe, about normal, and its covariance.
    fn scattered() -> (Vec<f64>, Matrix) {
        let even = |i: usize| (((i * 7919 + 104_729) * 6_700_417) % 100_003) as f64 / 100_003.0;
        let normal = |i: usize| (0..12).map(|k| even(12 * i + k)).sum::<f64>() - 6.0;
        ((0..N).map(normal).collect(), Matrix::identity(N, N))
    }

    #[test]
    fn a_jump_is_found_where_it_is_and_scatter_or_a_slope_is_none() {
        let (mut residuals, scatter) = scattered();
        assert_eq!(step(&residuals, &scatter), None);
        for (i, r) in residuals.iter_mut().enumerate() {
            *r += 3.0 * i as f64 + 0.05 * (i * i) as f64;
        }
        assert_eq!(step(&residuals, &scatter), None);
        for r in &mut residuals[17..] {
            *r += 25.0;
        }
        assert_eq!(step(&residuals, &scatter), Some(17));
    }

    #[test]
    fn codes_that_stand_still_and_toggle_once_are_no_step() {
        let mut residuals = vec![0.0; N];
        residuals[20..].fill(1.0);
        // Rounding to whole codes scatters by 1/12 of a code squared.
        assert_eq!(step(&residuals, &(Matrix::identity(N, N) / 12.0)), None);
    }
}
