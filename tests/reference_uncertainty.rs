//! Uncertainty through formulas, against the examples of the guides.
//!
//! JCGM 100 (the GUM) H.1 and H.2, JCGM 101 9.2 to 9.4, and printed tables of Student's t
//! and the normal distribution. Straight lines (H.3) are checked beside `fit::line`.

use stillrod::fit::Matrix;
use stillrod::fit::normal_cdf;
use stillrod::fit::normal_quantile;
use stillrod::fit::propagate::Draws;
use stillrod::fit::propagate::Formula;
use stillrod::fit::propagate::Freedom;
use stillrod::fit::propagate::Input;
use stillrod::fit::propagate::Sampled;
use stillrod::fit::propagate::joint;
use stillrod::fit::propagate::linear;
use stillrod::fit::propagate::monte_carlo;
use stillrod::fit::propagate::second_order;
use stillrod::fit::student_quantile;
use stillrod::fit::summary;

/// Whether a value rounds to the printed one with `unit` in its last place.
#[track_caller]
fn prints(value: f64, printed: f64, unit: f64) {
    within(value, printed, 0.5 * unit);
}

#[track_caller]
fn within(value: f64, expected: f64, by: f64) {
    assert!(
        (value - expected).abs() <= by * 1.0001,
        "{value} {expected}"
    );
}

fn input(value: f64, standard: f64, degrees_of_freedom: f64) -> Input {
    Input {
        value,
        standard,
        degrees_of_freedom,
    }
}

/// GUM H.1, calibration of an end gauge, in nanometre and kelvin: l 50 000 838 nm, u 32 nm,
/// 16 degrees of freedom, t 2.92, U 93 nm; with the terms of second order u 34 nm.
#[test]
fn the_end_gauge_of_the_gum_comes_out() {
    let inputs = [
        input(50_000_623.0, 25.0, 18.0),
        // Mean of five, comparator at random, comparator by its paper.
        input(215.0, 5.8, 24.0),
        input(0.0, 3.9, 5.0),
        input(0.0, 6.7, 8.0),
        input(11.5e-6, 1.2e-6, f64::INFINITY),
        input(-0.1, 0.41, f64::INFINITY),
        input(0.0, 0.58e-6, 50.0),
        input(0.0, 0.029, 2.0),
    ];
    let length = |x: &[f64]| {
        let [standard, d, d1, d2, alpha, theta, d_alpha, d_theta] = x else {
            unreachable!("eight inputs")
        };
        standard + d + d1 + d2 - standard * (d_alpha * theta + alpha * d_theta)
    };
    let found = linear(&length, &inputs, None);
    prints(found.value, 50_000_838.0, 1.0);
    prints(found.standard, 32.0, 1.0);
    // Full digits by an independent computation.
    within(found.standard, 31.705_090_502_4, 1e-6);
    within(found.degrees_of_freedom, 16.6, 0.1);
    let factor = found.coverage_factor(0.99, Freedom::Truncated);
    prints(factor, 2.92, 0.01);
    prints(factor * found.standard, 93.0, 1.0);
    assert!(found.coverage_factor(0.99, Freedom::Real) < factor);
    // 2.9 nm by the difference of expansion, 16.6 nm by that of temperature.
    prints(found.contributions[6].abs(), 2.9, 0.1);
    within(found.contributions[7].abs(), 16.6, 0.1);
    prints(second_order(&length, &inputs), 34.0, 1.0);
    within(second_order(&length, &inputs), 33.906, 0.01);
}

/// GUM H.2, resistance and reactance from voltage, current and phase read together.
#[test]
fn correlated_readings_of_the_gum_give_correlated_results() {
    let volt = [5.007, 4.994, 5.005, 4.990, 4.999];
    let ampere = [0.019_663, 0.019_639, 0.019_640, 0.019_685, 0.019_678];
    let phase = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
    let columns = [volt, ampere, phase];
    let sums = columns.map(|column| summary(&column).expect("scatter"));
    let inputs = sums.map(|s| input(s.mean, s.standard_deviation / 5f64.sqrt(), 4.0));
    let correlations = Matrix::from_fn(3, 3, |i, j| {
        let pairs = columns[i].iter().zip(columns[j]);
        let products: f64 = pairs
            .map(|(a, b)| (a - sums[i].mean) * (b - sums[j].mean))
            .sum();
        products / 4.0 / sums[i].standard_deviation / sums[j].standard_deviation
    });
    prints(correlations[(0, 1)], -0.36, 0.01);
    prints(correlations[(0, 2)], 0.86, 0.01);
    prints(correlations[(1, 2)], -0.65, 0.01);
    let resistance: Formula<'_> = &|x| x[0] / x[1] * x[2].cos();
    let reactance: Formula<'_> = &|x| x[0] / x[1] * x[2].sin();
    let impedance: Formula<'_> = &|x| x[0] / x[1];
    // The guide prints u(X) 0.295 from rounded intermediate values; 0.2956 is exact.
    let printed = [
        (resistance, 127.732, 0.071, 0.000_5),
        (reactance, 219.847, 0.295, 0.001),
        (impedance, 254.260, 0.236, 0.000_5),
    ];
    for (formula, value, standard, by) in printed {
        let found = linear(formula, &inputs, Some(&correlations));
        prints(found.value, value, 0.001);
        within(found.standard, standard, by);
        assert_eq!(found.degrees_of_freedom, 4.0);
    }
    let all = joint(
        &[resistance, reactance, impedance],
        &inputs,
        Some(&correlations),
    );
    let r = |i: usize, j: usize| all[(i, j)] / (all[(i, i)] * all[(j, j)]).sqrt();
    prints(r(0, 1), -0.588, 0.001);
    prints(r(0, 2), -0.485, 0.001);
    prints(r(1, 2), 0.993, 0.001);
}

const N_TRIALS: usize = 400_000;

fn trials(formula: &dyn Fn(&mut Draws) -> f64) -> Sampled {
    monte_carlo(N_TRIALS, 20_080_101, formula)
}

/// JCGM 101 9.2.2, four normal inputs: u 2.0, 95 % interval ±3.92.
#[test]
fn a_sum_of_four_normal_inputs() {
    let found = trials(&|draws| (0..4).map(|_| draws.normal(0.0, 1.0)).sum());
    within(found.mean, 0.0, 0.015);
    prints(found.standard, 2.0, 0.02);
    let (low, high) = found.symmetric(0.95);
    within(high, 3.92, 0.03);
    within(low, -3.92, 0.03);
}

/// JCGM 101 9.2.3, four rectangular inputs of the same uncertainty: ±3.88, in closed form
/// 2·√3·(2 − (3/5)^¼).
#[test]
fn a_sum_of_four_rectangular_inputs() {
    let half = 3f64.sqrt();
    let found = trials(&|draws| (0..4).map(|_| draws.rectangular(-half, half)).sum());
    prints(found.standard, 2.0, 0.02);
    let exact = 2.0 * half * (2.0 - 0.6f64.powf(0.25));
    prints(exact, 3.88, 0.01);
    for (low, high) in [found.symmetric(0.95), found.shortest(0.95)] {
        within(high, exact, 0.05);
        within(low, -exact, 0.05);
        within(high - low, 2.0 * exact, 0.04);
    }
}

/// JCGM 101 9.2.4, one of the rectangular inputs ten times as wide: u 10.1, ±17.0, where
/// the slopes and a normal output give ±19.9.
#[test]
fn a_sum_in_which_one_rectangular_input_rules() {
    let half = 3f64.sqrt();
    let found = trials(&|draws| {
        let three: f64 = (0..3).map(|_| draws.rectangular(-half, half)).sum();
        three + draws.rectangular(-10.0 * half, 10.0 * half)
    });
    prints(found.standard, 10.1, 0.1);
    let (low, high) = found.symmetric(0.95);
    within(high, 17.0, 0.05);
    within(low, -17.0, 0.05);
    let inputs = [1.0, 1.0, 1.0, 10.0].map(|u| Input::well_known(0.0, u));
    let by_slopes = linear(&|x| x.iter().sum(), &inputs, None);
    let factor = by_slopes.coverage_factor(0.95, Freedom::Real);
    prints(factor * by_slopes.standard, 19.9, 0.1);
}

/// JCGM 101 9.3, calibration of a mass (mg and kg/m³): mean 1.2340, u 0.0754, shortest
/// 95 % interval 1.0834 to 1.3825; by slopes 0.0539, with the second order 0.0750.
#[test]
fn a_mass_in_air_needs_more_than_its_slopes() {
    let deviation = |x: &[f64]| {
        let [mass, extra, air, weighed, standard] = x else {
            unreachable!("five inputs")
        };
        (mass + extra) * (1.0 + (air - 1.2) * (1.0 / weighed - 1.0 / standard)) - 100_000.0
    };
    let found = trials(&|draws| {
        deviation(&[
            draws.normal(100_000.0, 0.050),
            draws.normal(1.234, 0.020),
            draws.rectangular(1.10, 1.30),
            draws.rectangular(7000.0, 9000.0),
            draws.rectangular(7950.0, 8050.0),
        ])
    });
    within(found.mean, 1.2340, 0.0005);
    within(found.standard, 0.0754, 0.0003);
    let (low, high) = found.shortest(0.95);
    within(low, 1.0834, 0.003);
    within(high, 1.3825, 0.003);
    within(high - low, 1.3825 - 1.0834, 0.002);
    let rectangular = |low: f64, high: f64| {
        Input::well_known(0.5 * (low + high), 0.5 * (high - low) / 3f64.sqrt())
    };
    let inputs = [
        Input::well_known(100_000.0, 0.050),
        Input::well_known(1.234, 0.020),
        rectangular(1.10, 1.30),
        rectangular(7000.0, 9000.0),
        rectangular(7950.0, 8050.0),
    ];
    prints(linear(&deviation, &inputs, None).standard, 0.0539, 0.0001);
    prints(second_order(&deviation, &inputs), 0.0750, 0.0001);
}

/// JCGM 101 9.4, loss of a power meter: δY = x1² + x2² with u 0.005 each. u is 50e-6, 112e-6
/// and 502e-6 for x1 = 0, 0.010 and 0.050, where the slopes say 0, 100e-6 and 500e-6; the
/// intervals are those of the noncentral chi-square, exact.
#[test]
fn a_squared_reflection_is_not_symmetric_near_zero() {
    let cases = [
        (0.0, 50e-6, 0.0, (0.0, 149.787e-6)),
        (0.010, 112e-6, 100e-6, (0.0, 366.005e-6)),
        (0.050, 502e-6, 500e-6, (1593.738e-6, 3548.738e-6)),
    ];
    let loss = |x: &[f64]| x[0] * x[0] + x[1] * x[1];
    for (x1, standard, by_slopes, (low, high)) in cases {
        let found = trials(&|draws| loss(&[draws.normal(x1, 0.005), draws.normal(0.0, 0.005)]));
        within(found.mean, x1 * x1 + 50e-6, 1e-6 + 0.003 * standard);
        within(found.standard, standard, 0.006 * standard);
        let interval = found.shortest(0.95);
        within(interval.0, low, 0.06 * standard);
        within(interval.1, high, 0.06 * standard);
        let inputs = [Input::well_known(x1, 0.005), Input::well_known(0.0, 0.005)];
        within(linear(&loss, &inputs, None).standard, by_slopes, 1e-9);
        prints(second_order(&loss, &inputs), standard, 1e-6);
    }
}

/// NIST TN 1297, table B.1 (that of GUM G.2): t for the part p of the distribution.
#[test]
fn student_factors_are_those_of_the_table() {
    let parts = [0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973];
    let rows = [
        (1.0, [1.84, 6.31, 12.71, 13.97, 63.66, 235.80]),
        (2.0, [1.32, 2.92, 4.30, 4.53, 9.92, 19.21]),
        (3.0, [1.20, 2.35, 3.18, 3.31, 5.84, 9.22]),
        (4.0, [1.14, 2.13, 2.78, 2.87, 4.60, 6.62]),
        (5.0, [1.11, 2.02, 2.57, 2.65, 4.03, 5.51]),
        (10.0, [1.05, 1.81, 2.23, 2.28, 3.17, 3.96]),
        (16.0, [1.03, 1.75, 2.12, 2.17, 2.92, 3.54]),
        (30.0, [1.02, 1.70, 2.04, 2.09, 2.75, 3.27]),
        (50.0, [1.01, 1.68, 2.01, 2.05, 2.68, 3.16]),
        (f64::INFINITY, [1.0, 1.645, 1.960, 2.0, 2.576, 3.0]),
    ];
    for (freedom, factors) in rows {
        for (part, factor) in parts.into_iter().zip(factors) {
            // 95.45 % and 99.73 % stand for 95.449… and 99.730…: two and three sigma.
            let part = match part {
                0.6827 => 2.0 * normal_cdf(1.0) - 1.0,
                0.9545 => 2.0 * normal_cdf(2.0) - 1.0,
                0.9973 => 2.0 * normal_cdf(3.0) - 1.0,
                other => other,
            };
            let found = student_quantile(0.5 + 0.5 * part, freedom);
            within(found, factor, 0.0051);
        }
    }
}

/// Closed forms: one degree of freedom is a Cauchy distribution, two have a square root.
#[test]
fn student_and_normal_quantiles_have_the_digits_of_their_closed_forms() {
    for probability in [0.6, 0.9, 0.975, 0.995, 0.9999] {
        let one = (std::f64::consts::PI * (probability - 0.5)).tan();
        assert!((student_quantile(probability, 1.0) / one - 1.0).abs() < 1e-9);
        let two = (2.0 * probability - 1.0) / (2.0 * probability * (1.0 - probability)).sqrt();
        assert!((student_quantile(probability, 2.0) / two - 1.0).abs() < 1e-9);
        assert!((normal_cdf(normal_quantile(probability)) - probability).abs() < 1e-10);
    }
    // NIST/SEMATECH e-Handbook 1.3.6.7.1: 95 % lie below 1.645, 97.5 % below 1.960.
    prints(normal_quantile(0.95), 1.645, 0.001);
    prints(normal_quantile(0.975), 1.960, 0.001);
}
