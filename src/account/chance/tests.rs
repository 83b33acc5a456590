//! The check by chance against closed forms and the examples of the guide.

use super::*;
use crate::account::figure::Conditions;
use crate::account::figure::Measured;

const ML_MIN: f64 = 1e-6 / 60.0;

/// A flow stated with the uncertainty `u` (mL/min) through its slope.
fn flow(value: f64, u: f64, freedom: Option<f64>) -> Figure {
    let measured = Measured {
        value_si: value * ML_MIN,
        standard_si: u * ML_MIN,
    };
    let budget = vec![Contribution {
        source: "",
        standard_si: u * ML_MIN,
        degrees_of_freedom: freedom,
        remedy: "",
    }];
    Figure::measured(FigureName::CapLoss, measured, budget, Conditions::default())
}

fn trials(n: usize) -> Trials {
    Trials::new(n).expect("a number of trials")
}

/// JCGM 101 7.9.2, example 1: u = 0.35 mg is 35 × 10⁻² mg, l = −2 and the tolerance
/// 0.005 mg (from memory); the others follow by the same rule.
#[test]
fn the_tolerance_is_half_the_last_of_two_digits() {
    for (u, expected) in [
        (0.35, 0.005),
        (0.030, 0.0005),
        (2.0, 0.05),
        (35.0, 0.5),
        (0.0996, 0.005),
        (0.0994, 0.0005),
    ] {
        let found = tolerance(u);
        assert!((found / expected - 1.0).abs() < 1e-9, "{u}: {found}");
    }
}

#[test]
fn a_normal_figure_agrees_and_gives_the_same_digits_again() {
    let figure = flow(0.4, 0.011, None);
    let budget = figure.budget.clone();
    let draw = |n| sampled_sum(0.4 * ML_MIN, &budget, trials(n));
    let found = compared(&figure, &draw(400_000), trials(400_000)).expect("a value");
    assert_eq!(found.agreement, Agreement::Agrees, "{found:?}");
    assert!((found.standard_si / (0.011 * ML_MIN) - 1.0).abs() < 0.005);
    let mean_error = 0.011 * ML_MIN / 400_000f64.sqrt();
    assert!((found.mean_si - 0.4 * ML_MIN).abs() < 4.0 * mean_error);
    assert!(
        found.lower_apart_si <= 4.0 * found.end_error_si,
        "{found:?}"
    );
    let again = compared(&figure, &draw(400_000), trials(400_000));
    assert_eq!(again, Some(found));
    // 0.0099 has a tolerance of half a hundredth of itself, a tenth of what 10,000 trials see.
    let finer = flow(0.4, 0.0099, None);
    let sampled = sampled_sum(0.4 * ML_MIN, &finer.budget, trials(10_000));
    let found = compared(&finer, &sampled, trials(10_000)).expect("a value");
    assert_eq!(found.agreement, Agreement::TooFewTrials, "{found:?}");
}

/// One contribution with few degrees of freedom: k is Student's, so both are the same.
#[test]
fn few_degrees_of_freedom_of_one_part_agree() {
    let figure = flow(0.4, 0.011, Some(8.0));
    let sampled = sampled_sum(0.4 * ML_MIN, &figure.budget, trials(1_000_000));
    let found = compared(&figure, &sampled, trials(1_000_000)).expect("a value");
    assert_eq!(found.agreement, Agreement::Agrees, "{found:?}");
    // σ = √(8/6)·u (JCGM 101 6.4.9.4).
    let sigma = (8.0f64 / 6.0).sqrt() * 0.011 * ML_MIN;
    assert!((found.standard_si / sigma - 1.0).abs() < 0.01);
}

/// JCGM 101 9.2.3: four rectangular inputs of u = 1 sum to u = 2; by chance 95 % lie within
/// ±3.88, stated is ±3.92, and 0.04 is within the tolerance of 0.05 (from memory).
#[test]
fn four_rectangular_inputs_are_those_of_the_guide() {
    let part = Contribution {
        source: rate::CURVED.0,
        standard_si: 0.010 * ML_MIN,
        degrees_of_freedom: None,
        remedy: "",
    };
    let figure = flow(0.0, 0.020, None);
    let sampled = sampled_sum(0.0, &vec![part; 4], trials(1_000_000));
    let found = compared(&figure, &sampled, trials(1_000_000)).expect("a value");
    let end = found.upper_si / (0.010 * ML_MIN);
    assert!((end - 3.88).abs() < 0.015, "{end}");
    let apart = found.upper_apart_si / (0.010 * ML_MIN);
    assert!((apart - 0.04).abs() < 0.015, "{apart}");
    assert_ne!(found.agreement, Agreement::StatedWider);
    assert_ne!(found.agreement, Agreement::StatedNarrower);
}

/// A flow that a leak law carries to 0.8 of a pressure that is known badly, (p/p₀)^n with n
/// known to 0.22 and p/p₀ at a fifth: bent, so its interval is not symmetric.
#[test]
fn a_bent_formula_disagrees_and_says_so() {
    let carried = |n: f64| 0.4 * ML_MIN * 0.2f64.powf(n);
    let slope = carried(0.8) * 0.2f64.ln().abs();
    let figure = flow(carried(0.8) / ML_MIN, 0.22 * slope / ML_MIN, None);
    let sampled = monte_carlo(200_000, 1, &|draws| carried(draws.normal(0.8, 0.22)));
    let found = compared(&figure, &sampled, trials(200_000)).expect("a value");
    assert_eq!(found.agreement, Agreement::StatedAside, "{found:?}");
    // Closed form: the ends are those of n.
    let end = carried(0.8 - 1.96 * 0.22);
    assert!((found.upper_si / end - 1.0).abs() < 0.01);
}

#[test]
fn each_way_to_differ_has_its_name() {
    for (beyond, expected) in [
        ([0.4, -0.4], Agreement::Agrees),
        ([0.0, 1.5], Agreement::StatedWider),
        ([-1.5, 0.4], Agreement::StatedNarrower),
        ([-1.5, 1.5], Agreement::StatedAside),
        ([0.4, 1.1], Agreement::TooFewTrials),
    ] {
        assert_eq!(agreement(beyond.map(|by| (by, 0.1)), 1.0), expected);
    }
}

#[test]
fn a_number_of_trials_that_shows_nothing_is_refused() {
    for (n, part) in [
        (0, "too few"),
        (9_999, "10000 or more"),
        (2_000_001, "2000000"),
    ] {
        let said = Trials::new(n).expect_err("silly").to_string();
        assert!(said.contains(part), "{said}");
    }
    assert!(Trials::new(Trials::LEAST).is_ok() && Trials::new(Trials::MOST).is_ok());
}
