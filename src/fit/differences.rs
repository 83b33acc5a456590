//! Jacobians by differences.
//!
//! Two schemes: a quick one for expensive models that know their scales, and one that
//! finds its own step and is good to about ten digits.

use super::Matrix;
use super::Prior;
use super::Vector;

/// First step of the extrapolation, by size of the parameter …
const FIRST_STEP: f64 = 0.02;
/// … and how often it is divided by two.
const N_HALVINGS: usize = 6;
/// Steps that still gave no finite value are divided so often before giving up.
const N_RETREATS: usize = 8;

/// Jacobian of `residuals` at `theta` by central differences of a ten-thousandth of each
/// prior's scale.
pub fn by_differences(
    residuals: &dyn Fn(&Vector) -> Vector,
    theta: &Vector,
    priors: &[Prior],
) -> Matrix {
    let columns: Vec<Vector> = priors
        .iter()
        .enumerate()
        .map(|(index, prior)| central(residuals, theta, index, 1e-4 * prior.scale))
        .collect();
    Matrix::from_columns(&columns)
}

/// Jacobian of `residuals` at `theta` by central differences of several steps, extrapolated
/// to none (Ridders 1982); about fourteen evaluations for each parameter.
///
/// Steps begin at a fiftieth of the parameter's value (of the prior's scale where it is
/// zero). Of the extrapolations that with the least estimated error is taken.
pub fn by_extrapolated_differences(
    residuals: &dyn Fn(&Vector) -> Vector,
    theta: &Vector,
    priors: &[Prior],
) -> Matrix {
    let columns: Vec<Vector> = priors
        .iter()
        .enumerate()
        .map(|(index, prior)| {
            let size = match theta[index].abs() {
                0.0 => prior.scale,
                value => value,
            };
            extrapolated(residuals, theta, index, FIRST_STEP * size)
        })
        .collect();
    Matrix::from_columns(&columns)
}

fn central(
    residuals: &dyn Fn(&Vector) -> Vector,
    theta: &Vector,
    index: usize,
    step: f64,
) -> Vector {
    let (mut up, mut down) = (theta.clone(), theta.clone());
    up[index] += step;
    down[index] -= step;
    // The step that was really taken, after rounding.
    let width = up[index] - down[index];
    (residuals(&up) - residuals(&down)) / width
}

/// One column: Neville's table over steps divided by two each time.
fn extrapolated(
    residuals: &dyn Fn(&Vector) -> Vector,
    theta: &Vector,
    index: usize,
    first: f64,
) -> Vector {
    let mut step = first;
    let mut row = vec![central(residuals, theta, index, step)];
    for _ in 0..N_RETREATS {
        if row[0].iter().all(|v| v.is_finite()) {
            break;
        }
        step *= 0.1;
        row = vec![central(residuals, theta, index, step)];
    }
    let mut best = row[0].clone();
    let mut least = f64::INFINITY;
    for _ in 0..N_HALVINGS {
        step *= 0.5;
        let mut next = vec![central(residuals, theta, index, step)];
        let mut power = 1.0;
        for (order, coarser) in row.iter().enumerate() {
            power *= 4.0;
            let finer = &next[order];
            let better = finer + (finer - coarser) / (power - 1.0);
            let error = (&better - finer).norm().max((&better - coarser).norm());
            if error < least {
                least = error;
                best.copy_from(&better);
            }
            next.push(better);
        }
        row = next;
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(value: f64, function: fn(f64) -> f64, expected: f64) {
        let residuals = |theta: &Vector| Vector::from_element(1, function(theta[0]));
        let theta = Vector::from_element(1, value);
        let found = by_extrapolated_differences(&residuals, &theta, &[Prior::flat(1.0)]);
        let error = (found[(0, 0)] / expected - 1.0).abs();
        assert!(error < 1e-10, "{error:e}");
    }

    #[test]
    fn derivatives_are_good_to_ten_digits_whatever_the_size_of_the_parameter() {
        check(1.0, f64::exp, std::f64::consts::E);
        check(1e-6, |x| (1e7 * x).sin(), 1e7 * 10f64.cos());
        check(
            6181.0,
            |x| (x / 400.0).exp(),
            (6181.0f64 / 400.0).exp() / 400.0,
        );
        check(0.0, |x| (1.0 + x).ln(), 1.0);
    }

    #[test]
    fn a_step_over_the_edge_of_the_model_is_shortened() {
        check(1.001, |x| (x - 1.0).ln(), 1000.0);
    }
}
