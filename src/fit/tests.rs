//! The solver's promises: correlated data, priors, ranges, other people's Jacobians, poor
//! starts. Certified data are in `tests/reference_nonlinear.rs`.

use super::*;

/// A model given by functions.
struct Given<R, J> {
    residuals: R,
    jacobian: J,
}

impl<R: Fn(&Vector) -> Vector, J: Fn(&Vector) -> Matrix> Problem for Given<R, J> {
    fn residuals(&self, theta: &Vector) -> Vector {
        (self.residuals)(theta)
    }

    fn jacobian(&self, theta: &Vector, _priors: &[Prior]) -> Matrix {
        (self.jacobian)(theta)
    }
}

fn known(mean: f64, sigma: f64) -> Prior {
    Prior {
        mean,
        sigma,
        scale: sigma,
        range: (f64::NEG_INFINITY, f64::INFINITY),
    }
}

fn vector(values: &[f64]) -> Vector {
    Vector::from_column_slice(values)
}

fn first_order(n: usize, correlation: f64) -> Matrix {
    Matrix::from_fn(n, n, |i, j| correlation.powi(i.abs_diff(j) as i32))
}

/// The mean of an AR(1) series has variance (1+ρ)/((1−ρ)·n + 2ρ), and its ends count more
/// than the others (closed form of 1'S⁻¹1 for a tridiagonal S⁻¹).
#[test]
fn correlated_data_count_for_less() {
    let (n, correlation) = (20, 0.8);
    let y = Vector::from_fn(n, |i, _| (i as f64).sin());
    let problem = Given {
        residuals: |theta: &Vector| Vector::from_element(n, theta[0]) - &y,
        jacobian: |_: &Vector| Matrix::from_element(n, 1, 1.0),
    };
    let s = first_order(n, correlation);
    let solution = solve(&problem, &[Prior::flat(1.0)], &vector(&[50.0]), &s).expect("solved");
    let weight = (1.0 - correlation) * n as f64 + 2.0 * correlation;
    let expected = (1.0 + correlation) / weight;
    assert!((solution.covariance[(0, 0)] / expected - 1.0).abs() < 1e-12);
    let inner = y.rows(1, n - 2).sum() * (1.0 - correlation);
    let mean = (y[0] + y[n - 1] + inner) / weight;
    assert!((solution.theta[0] - mean).abs() < 1e-6);
}

/// Normal data and normal prior: the mean weighted by inverse variances.
#[test]
fn a_prior_counts_as_one_more_reading() {
    let problem = Given {
        residuals: |theta: &Vector| vector(&[theta[0] - 3.0]),
        jacobian: |_: &Vector| Matrix::from_element(1, 1, 1.0),
    };
    let s = Matrix::from_element(1, 1, 4.0);
    let solution = solve(&problem, &[known(1.0, 1.0)], &vector(&[1.0]), &s).expect("solved");
    assert!((solution.theta[0] - 1.4).abs() < 1e-9);
    assert!((solution.covariance[(0, 0)] - 0.8).abs() < 1e-12);
    assert!((solution.chi2 - (1.6f64 / 2.0).powi(2) - 0.16).abs() < 1e-9);
}

/// Two-point calibration with noise in the abscissa as well: the least squares slope is
/// too small by the noise's share, the instrument's is sum(z·y)/sum(z·x) in closed form.
#[test]
fn a_jacobian_from_smooth_data_gives_the_instrumental_estimate() {
    let smooth = [-2.0, -1.0, 0.0, 1.0, 2.0];
    let seen = [-2.3, -0.6, 0.4, 0.7, 1.8];
    let y = [-4.1, -2.0, 0.1, 1.9, 4.1];
    let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
    let problem = Given {
        residuals: |theta: &Vector| Vector::from_fn(5, |i, _| theta[0] * seen[i] - y[i]),
        jacobian: |_: &Vector| vector(&smooth).into_owned().resize(5, 1, 0.0),
    };
    let s = Matrix::identity(5, 5) * 0.01;
    let solution = solve(&problem, &[Prior::flat(1.0)], &vector(&[0.0]), &s).expect("solved");
    let expected = dot(&smooth, &y) / dot(&smooth, &seen);
    assert!((solution.theta[0] - expected).abs() < 1e-6);
    assert!((solution.theta[0] - dot(&seen, &y) / dot(&seen, &seen)).abs() > 1e-3);
}

#[test]
fn a_parameter_stays_in_its_range_and_the_others_are_solved_with_it() {
    let problem = Given {
        residuals: |theta: &Vector| vector(&[theta[0] + theta[1] - 3.0, theta[0] - theta[1] + 5.0]),
        jacobian: |_: &Vector| Matrix::from_row_slice(2, 2, &[1.0, 1.0, 1.0, -1.0]),
    };
    let mut priors = [Prior::flat(1.0), Prior::flat(1.0)];
    let at = |priors: &[Prior]| {
        solve(
            &problem,
            priors,
            &vector(&[5.0, 0.5]),
            &Matrix::identity(2, 2),
        )
        .expect("solved")
    };
    assert!((at(&priors).theta - vector(&[-1.0, 4.0])).norm() < 1e-6);
    priors[0].range = (0.0, 10.0);
    assert!((at(&priors).theta - vector(&[0.0, 4.0])).norm() < 1e-6);
    priors[1].range = (0.0, 1.0);
    assert!((at(&priors).theta - vector(&[0.0, 1.0])).norm() < 1e-6);
}

/// A decay with offset, sensors' errors as priors and correlated noise: starts a long way
/// apart give one solution, to a thousandth of its uncertainty.
#[test]
fn the_solution_does_not_depend_on_the_start() {
    let t: Vec<f64> = (0..60).map(f64::from).collect();
    let model = |theta: &Vector, t: f64| theta[0] * (-t / theta[1].exp()).exp() + theta[2] * t;
    let y: Vec<f64> = t
        .iter()
        .map(|t| 7.0 * (-t / 15.0).exp() + 0.02 * (3.0 * t).sin() + 0.001 * t)
        .collect();
    let residuals = |theta: &Vector| Vector::from_fn(60, |i, _| model(theta, t[i]) - y[i]);
    let priors = [Prior::flat(5.0), known(2.0, 1.0), known(0.0, 0.002)];
    let problem = Given {
        residuals: &residuals,
        jacobian: |theta: &Vector| by_differences(&residuals, theta, &priors),
    };
    let s = first_order(60, 0.5) * 4e-4;
    let solved = |start: &[f64]| solve(&problem, &priors, &vector(start), &s).expect("solved");
    let one = solved(&[7.0, 2.7, 0.0]);
    assert!(one.n_jacobians < 10, "{}", one.n_jacobians);
    for start in [[1.0, 0.0, 0.01], [40.0, 5.0, -0.01], [-3.0, 1.0, 0.0]] {
        let other = solved(&start);
        for index in 0..3 {
            let apart = (other.theta[index] - one.theta[index]).abs();
            assert!(
                apart < 1e-3 * one.covariance[(index, index)].sqrt(),
                "{start:?}"
            );
        }
        assert!(other.n_jacobians < 40, "{}", other.n_jacobians);
    }
}

#[test]
fn a_trial_without_a_value_is_not_taken_and_a_start_without_one_is_an_error() {
    // The logarithm ends at zero, and the whole step from here leads beyond.
    let problem = Given {
        residuals: |theta: &Vector| vector(&[theta[0].ln() + 2.0, 0.1 * theta[0]]),
        jacobian: |theta: &Vector| Matrix::from_row_slice(2, 1, &[1.0 / theta[0], 0.1]),
    };
    let at = |start: f64| {
        let s = Matrix::identity(2, 2);
        solve(&problem, &[Prior::flat(1.0)], &vector(&[start]), &s)
    };
    let theta = at(5.0).expect("solved").theta[0];
    let gradient = (theta.ln() + 2.0) / theta + 0.01 * theta;
    assert!(gradient.abs() < 1e-5, "{theta} {gradient}");
    assert_eq!(at(-1.0).err(), Some(FitError::NotFinite));
}

#[test]
fn what_the_data_do_not_determine_is_an_error() {
    let problem = Given {
        residuals: |theta: &Vector| vector(&[theta[0] + theta[1] - 1.0, 0.0]),
        jacobian: |_: &Vector| Matrix::from_row_slice(2, 2, &[1.0, 1.0, 0.0, 0.0]),
    };
    let priors = [Prior::flat(1.0), Prior::flat(1.0)];
    let at = |s: &Matrix| solve(&problem, &priors, &vector(&[0.0, 0.0]), s).err();
    assert_eq!(at(&Matrix::identity(2, 2)), Some(FitError::Singular));
    let indefinite = Matrix::from_row_slice(2, 2, &[1.0, 2.0, 2.0, 1.0]);
    assert_eq!(at(&indefinite), Some(FitError::Covariance));
}
