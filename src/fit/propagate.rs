//! Uncertainty through a formula: by its slopes (JCGM 100, the GUM) and by chance
//! (JCGM 101).
//!
//! A formula is a function of its inputs; slopes are taken by differences. Where the
//! inputs are wide for the formula's curvature, the second order or the Monte Carlo
//! method is the better one: `second_order` beside `linear` tells.
//!
//! Invariant: the same seed gives the same draws, on every machine.

mod chance;

pub use chance::Draws;
pub use chance::Sampled;
pub use chance::monte_carlo;
pub use chance::monte_carlo_of;

use super::Matrix;
use super::Prior;
use super::Vector;
use super::by_extrapolated_differences;
use super::student_quantile;

/// Step of second and third derivatives, in standard uncertainties.
const STEP: f64 = 0.1;

/// A formula of its inputs.
pub type Formula<'f> = &'f dyn Fn(&[f64]) -> f64;

/// A value with its standard uncertainty that goes into a formula.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Input {
    /// The estimate.
    pub value: f64,
    /// Its standard uncertainty, zero or above.
    pub standard: f64,
    /// Degrees of freedom of the uncertainty, above zero; infinite if it is well known.
    pub degrees_of_freedom: f64,
}

impl Input {
    /// An input whose uncertainty is well known.
    pub fn well_known(value: f64, standard: f64) -> Self {
        Self {
            value,
            standard,
            degrees_of_freedom: f64::INFINITY,
        }
    }
}

/// A value with its standard uncertainty that came out of a formula.
#[derive(Debug, Clone, PartialEq)]
pub struct Propagated {
    /// The formula's value at the estimates.
    pub value: f64,
    /// Combined standard uncertainty.
    pub standard: f64,
    /// Its effective degrees of freedom (Welch and Satterthwaite, GUM G.4.1). The formula
    /// is for independent inputs; with correlated ones the smallest of those that take
    /// part, which is on the safe side.
    pub degrees_of_freedom: f64,
    /// What each input contributes: slope times standard uncertainty, with its sign.
    pub contributions: Vec<f64>,
}

/// How effective degrees of freedom are used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Freedom {
    /// Cut to a whole number, as GUM G.4.1 advises for tables.
    Truncated,
    /// As they are.
    Real,
}

impl Propagated {
    /// Coverage factor for a coverage probability (0 to 1), from Student's t.
    pub fn coverage_factor(&self, probability: f64, freedom: Freedom) -> f64 {
        let freedom = match freedom {
            Freedom::Truncated => self.degrees_of_freedom.floor(),
            Freedom::Real => self.degrees_of_freedom,
        };
        student_quantile(0.5 + 0.5 * probability, freedom)
    }
}

/// Carries the uncertainty of `inputs` through `formula` by its slopes (GUM 5.1, 5.2);
/// `correlations` is their correlation matrix, if they are correlated.
pub fn linear(formula: Formula<'_>, inputs: &[Input], correlations: Option<&Matrix>) -> Propagated {
    let covariance = joint(&[formula], inputs, correlations);
    let slopes = slopes(formula, inputs);
    let contributions: Vec<f64> = slopes
        .iter()
        .zip(inputs)
        .map(|(slope, input)| slope * input.standard)
        .collect();
    let standard = covariance[(0, 0)].max(0.0).sqrt();
    let of_inputs = contributions.iter().zip(inputs);
    let degrees_of_freedom = match correlations {
        None => {
            let sum: f64 = of_inputs
                .map(|(c, input)| (c / standard).powi(4) / input.degrees_of_freedom)
                .sum();
            if sum > 0.0 { 1.0 / sum } else { f64::INFINITY }
        }
        Some(_) => of_inputs
            .filter(|(c, _)| **c != 0.0)
            .map(|(_, input)| input.degrees_of_freedom)
            .fold(f64::INFINITY, f64::min),
    };
    Propagated {
        value: value(formula, inputs),
        standard,
        degrees_of_freedom,
        contributions,
    }
}

/// Covariance of several formulas of the same inputs (GUM H.2, JCGM 102).
pub fn joint(formulas: &[Formula<'_>], inputs: &[Input], correlations: Option<&Matrix>) -> Matrix {
    let n = inputs.len();
    let rows: Vec<_> = formulas
        .iter()
        .map(|formula| {
            let slopes = slopes(*formula, inputs);
            Vector::from_fn(n, |i, _| slopes[i] * inputs[i].standard).transpose()
        })
        .collect();
    let contributions = Matrix::from_rows(&rows);
    match correlations {
        Some(correlations) => &contributions * correlations * contributions.transpose(),
        None => &contributions * contributions.transpose(),
    }
}

/// Standard uncertainty with the terms of second order (GUM 5.1.2, note), for independent
/// inputs that are symmetric about their estimates:
/// u² = Σ fᵢ²·uᵢ² + Σᵢⱼ (½·fᵢⱼ² + fᵢ·fᵢⱼⱼ)·uᵢ²·uⱼ².
pub fn second_order(formula: Formula<'_>, inputs: &[Input]) -> f64 {
    let n = inputs.len();
    // Derivatives by input in units of its standard uncertainty.
    let at = |steps: &[(usize, f64)]| {
        let mut values: Vec<f64> = inputs.iter().map(|input| input.value).collect();
        for (index, by) in steps {
            values[*index] += by * inputs[*index].standard;
        }
        formula(&values)
    };
    let slopes = slopes(formula, inputs);
    let first: Vec<f64> = slopes
        .iter()
        .zip(inputs)
        .map(|(slope, input)| slope * input.standard)
        .collect();
    // Of fᵢ in direction j: half the sum, and the difference, of mixed differences.
    let h = STEP;
    let mixed = |i: usize, j: usize| {
        let side = |by: f64| (at(&[(i, h), (j, by)]) - at(&[(i, -h), (j, by)])) / (2.0 * h);
        let (up, middle, down) = (side(h), side(0.0), side(-h));
        (
            (up - down) / (2.0 * h),
            (up - 2.0 * middle + down) / (h * h),
        )
    };
    let curved = (0..n)
        .flat_map(|i| (0..n).map(move |j| (i, j)))
        .map(|(i, j)| {
            let (second, third) = mixed(i, j);
            0.5 * second * second + first[i] * third
        });
    let variance = first.iter().map(|f| f * f).sum::<f64>() + curved.sum::<f64>();
    variance.max(0.0).sqrt()
}

fn value(formula: Formula<'_>, inputs: &[Input]) -> f64 {
    let values: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    formula(&values)
}

/// Slope of the formula by each input.
fn slopes(formula: Formula<'_>, inputs: &[Input]) -> Vec<f64> {
    let n = inputs.len();
    // In units of the standard uncertainty, so that a step is small where it matters.
    let at = |steps: &Vector| {
        let values: Vec<f64> = inputs
            .iter()
            .zip(steps.iter())
            .map(|(input, step)| input.value + step * input.standard)
            .collect();
        Vector::from_element(1, formula(&values))
    };
    let unit = vec![Prior::flat(1.0); n];
    let by_unit = by_extrapolated_differences(&at, &Vector::zeros(n), &unit);
    inputs
        .iter()
        .zip(by_unit.iter())
        .map(|(input, slope)| match input.standard {
            0.0 => 0.0,
            standard => slope / standard,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sum_of_independent_and_of_wholly_correlated_inputs() {
        let inputs = [Input::well_known(1.0, 3.0), Input::well_known(2.0, 4.0)];
        let sum = |x: &[f64]| x[0] + x[1];
        let apart = linear(&sum, &inputs, None);
        assert!((apart.value - 3.0).abs() < 1e-12 && (apart.standard - 5.0).abs() < 1e-9);
        assert_eq!(apart.degrees_of_freedom, f64::INFINITY);
        let together = linear(&sum, &inputs, Some(&Matrix::from_element(2, 2, 1.0)));
        assert!((together.standard - 7.0).abs() < 1e-9);
    }

    /// x² at zero has no slope: u = √2·u² for a normal input (closed form).
    #[test]
    fn a_square_at_zero_has_its_uncertainty_in_the_second_order() {
        let inputs = [Input::well_known(0.0, 0.3)];
        let square = |x: &[f64]| x[0] * x[0];
        assert!(linear(&square, &inputs, None).standard < 1e-10);
        assert!((second_order(&square, &inputs) - 2f64.sqrt() * 0.09).abs() < 1e-9);
    }

    /// x³ + x at zero: variance u² + 6u⁴ + 15u⁶, of which the second order has the first two.
    #[test]
    fn the_third_derivative_counts_beside_the_first() {
        let inputs = [Input::well_known(0.0, 0.1)];
        let cubic = |x: &[f64]| x[0].powi(3) + x[0];
        let expected = (0.01f64 + 6e-4).sqrt();
        assert!((second_order(&cubic, &inputs) - expected).abs() < 1e-6);
    }
}
