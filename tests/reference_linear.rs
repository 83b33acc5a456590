//! Linear regression, sums and drift errors against certified and published figures.
//!
//! The 11 linear and 8 univariate sets of the NIST Statistical Reference Datasets, series
//! of the NIST/SEMATECH e-Handbook, and standard errors for correlated residuals as other
//! programs print them. `--nocapture` prints the digits reached.

mod support {
    pub mod strd;
}

use std::fs;
use std::path::Path;
use stillrod::fit::Matrix;
use stillrod::fit::hac_standard_error;
use stillrod::fit::line;
use stillrod::fit::polynomial;
use stillrod::fit::regression;
use stillrod::fit::summary;
use support::strd::certified;
use support::strd::digits;
use support::strd::parameters;
use support::strd::rows;
use support::strd::text;

/// Each linear set with the degree of its polynomial (none where it has other columns), and
/// the digits that every parameter, standard deviation and residual deviation shall have:
/// about one less than they reach.
const LINEAR: [(&str, Option<usize>, f64); 11] = [
    ("Norris", Some(1), 11.5),
    ("Pontius", Some(2), 12.5),
    ("NoInt1", None, 14.0),
    ("NoInt2", None, 14.0),
    ("Filip", Some(10), 12.5),
    ("Longley", None, 10.5),
    ("Wampler1", Some(5), 9.0),
    ("Wampler2", Some(5), 12.0),
    ("Wampler3", Some(5), 9.0),
    ("Wampler4", Some(5), 9.0),
    ("Wampler5", Some(5), 7.7),
];

struct Fitted {
    parameters: Vec<f64>,
    deviations: Vec<f64>,
    residual_sd: f64,
}

fn fitted(degree: Option<usize>, rows: &[Vec<f64>]) -> Fitted {
    let y: Vec<f64> = rows.iter().map(|row| row[0]).collect();
    if let Some(degree) = degree {
        let x: Vec<f64> = rows.iter().map(|row| row[1]).collect();
        let fitted = polynomial(&x, &y, degree).expect("a polynomial");
        return Fitted {
            parameters: fitted.coefficients.iter().copied().collect(),
            deviations: (0..=degree).map(|k| fitted.standard_error(k)).collect(),
            residual_sd: fitted.residual_sd,
        };
    }
    // Longley has a constant, the sets without an intercept have none.
    let n_given = rows[0].len() - 1;
    let n_constant = usize::from(n_given > 1);
    let columns = Matrix::from_fn(rows.len(), n_given + n_constant, |i, j| {
        if j < n_constant {
            1.0
        } else {
            rows[i][1 + j - n_constant]
        }
    });
    let fitted = regression(&columns, &y).expect("a regression");
    Fitted {
        parameters: fitted.parameters.iter().copied().collect(),
        deviations: (0..columns.ncols())
            .map(|k| fitted.standard_error(k))
            .collect(),
        residual_sd: fitted.residual_sd,
    }
}

#[test]
fn every_certified_linear_set_keeps_its_digits() {
    let mut wrong = Vec::new();
    println!("| set | parameters | deviations | residual deviation |\n|---|---|---|---|");
    for (name, degree, needed) in LINEAR {
        let text = text(name);
        let table = parameters(&text, 'B');
        let found = fitted(degree, &rows(&text));
        assert_eq!(found.parameters.len(), table.len(), "{name}");
        let least = |found: &[f64], column: usize| {
            let pairs = found.iter().zip(&table);
            pairs.fold(15.0, |least: f64, (found, row)| {
                least.min(digits(*found, row[column]))
            })
        };
        let residual_sd = text.lines().skip(30).find(|line| {
            line.trim_start().starts_with("Standard Deviation ")
                && line.contains(['0', '1', '2', '3'])
        });
        let residual_sd = certified(residual_sd.expect("a line"), "Standard Deviation");
        let reached = [
            least(&found.parameters, 0),
            least(&found.deviations, 1),
            digits(found.residual_sd, residual_sd),
        ];
        println!(
            "| {name} | {:.1} | {:.1} | {:.1} |",
            reached[0], reached[1], reached[2]
        );
        if reached.iter().any(|digits| *digits < needed) {
            wrong.push(format!("{name}: {reached:?}"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Digits of mean, standard deviation and autocorrelation; the readings of the last two
/// constructed sets themselves are rounded to 8 and 9 digits of their scatter.
const UNIVARIATE: [(&str, [f64; 3]); 8] = [
    ("Lew", [13.5; 3]),
    ("Lottery", [13.5; 3]),
    ("Mavro", [13.0, 12.0, 12.0]),
    ("Michelso", [13.5, 12.5, 12.5]),
    ("NumAcc1", [14.0; 3]),
    ("NumAcc2", [14.0, 13.5, 13.0]),
    ("NumAcc3", [14.0, 9.0, 9.0]),
    ("NumAcc4", [14.0, 8.0, 8.0]),
];

#[test]
fn every_certified_series_keeps_its_digits() {
    let mut wrong = Vec::new();
    println!("| series | mean | deviation | autocorrelation |\n|---|---|---|---|");
    for (name, needed) in UNIVARIATE {
        let text = text(name);
        let (head, data) = text.split_once("\n----").expect("data begin below a rule");
        let data = data.lines().skip(1);
        let values: Vec<f64> = data.filter_map(|line| line.trim().parse().ok()).collect();
        assert_eq!(
            values.len() as f64,
            certified(head, "Number of Observations")
        );
        let found = summary(&values).expect("scatter");
        let reached = [
            digits(found.mean, certified(head, "Sample Mean")),
            digits(
                found.standard_deviation,
                certified(head, "Sample Standard Deviation"),
            ),
            digits(
                found.neighbour_correlation,
                certified(head, "Sample Autocorrelation"),
            ),
        ];
        println!(
            "| {name} | {:.1} | {:.1} | {:.1} |",
            reached[0], reached[1], reached[2]
        );
        if reached
            .iter()
            .zip(needed)
            .any(|(digits, needed)| *digits < needed)
        {
            wrong.push(format!("{name}: {reached:?}"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

fn series(name: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/series");
    fs::read_to_string(folder.join(name)).expect("a copied file")
}

fn table(text: &str, n_head: usize) -> Vec<Vec<f64>> {
    let rows = text.lines().skip(n_head).map(|line| {
        let numbers = line.split([',', ' ']).map(str::parse);
        numbers.filter_map(Result::ok).collect::<Vec<f64>>()
    });
    rows.filter(|row| !row.is_empty()).collect()
}

/// Newey–West standard errors as printed by Stata (`newey`, four lags, with the factor
/// n/(n − k)) and repeated by the tests of statsmodels; without the factor by gretl.
#[test]
fn errors_for_correlated_residuals_are_those_of_other_programs() {
    let rows = table(&series("macro_growth.csv"), 1);
    assert_eq!(rows.len(), 202);
    let y: Vec<f64> = rows.iter().map(|row| row[0]).collect();
    let columns = Matrix::from_fn(rows.len(), 3, |i, j| if j == 0 { 1.0 } else { rows[i][j] });
    let fitted = regression(&columns, &y).expect("a regression");
    for (found, printed) in
        fitted
            .parameters
            .iter()
            .zip([-9.4816727746549, 4.3742216647032, -0.61399696947899])
    {
        assert!(digits(*found, printed) > 13.0, "{found}");
    }
    let covariance = fitted.hac_covariance(4);
    let factor: f64 = 202.0 / 199.0;
    let printed = [
        (1.1859338087713, 1.17709),
        (0.33125644884286, 0.328787),
        (0.29582347593197, 0.293619),
    ];
    for (index, (stata, gretl)) in printed.into_iter().enumerate() {
        let variance = covariance[(index, index)];
        assert!(digits((variance * factor).sqrt(), stata) > 12.0);
        assert!(digits(variance.sqrt(), gretl) > 5.4);
    }
}

/// Level of Lake Huron in feet, 1875 to 1972 (Brockwell and Davis 1991, appendix A).
const LAKE_HURON_FT: [f64; 98] = [
    580.38, 581.86, 580.97, 580.8, 579.79, 580.39, 580.42, 580.82, 581.4, 581.32, 581.44, 581.68,
    581.17, 580.53, 580.01, 579.91, 579.14, 579.16, 579.55, 579.67, 578.44, 578.24, 579.1, 579.09,
    579.35, 578.82, 579.32, 579.01, 579.0, 579.8, 579.83, 579.72, 579.89, 580.01, 579.37, 578.69,
    578.19, 578.67, 579.55, 578.92, 578.09, 579.37, 580.13, 580.14, 579.51, 579.24, 578.66, 578.86,
    578.05, 577.79, 576.75, 576.75, 577.82, 578.64, 580.58, 579.48, 577.38, 576.9, 576.94, 576.24,
    576.84, 576.85, 576.9, 577.79, 578.18, 577.51, 577.23, 578.42, 579.61, 579.05, 579.26, 579.22,
    579.38, 579.1, 577.95, 578.12, 579.75, 580.85, 580.41, 579.96, 579.61, 578.76, 578.18, 577.21,
    577.13, 579.1, 578.25, 577.91, 576.89, 575.96, 576.8, 577.68, 578.38, 578.52, 579.74, 579.31,
    579.89, 579.96,
];

/// A drift line in correlated noise: by maximum likelihood with AR(2) noise the slope is
/// −0.0216 with 0.0081 (R 4.2, examples of `arima`); the usual error of the line is half
/// that. Line and Newey–West error with four lags as by statsmodels.
#[test]
fn the_usual_error_of_a_drift_in_correlated_noise_is_half_the_right_one() {
    let years: Vec<f64> = (1875..1973).map(f64::from).collect();
    let fitted = line(&years, &LAKE_HURON_FT).expect("a line");
    assert!(digits(fitted.slope, -0.02420111062232) > 12.0);
    assert!(digits(fitted.slope_error, 0.004036107903222833) > 10.0);
    let error = hac_standard_error(&fitted, &years, &LAKE_HURON_FT, 4);
    assert!(digits(error, 0.007104650522179214) > 10.0);
    let residuals: Vec<f64> = years
        .iter()
        .zip(LAKE_HURON_FT)
        .map(|(t, y)| y - fitted.level - fitted.slope * (t - fitted.mean_t))
        .collect();
    let correlation = summary(&residuals).expect("scatter").neighbour_correlation;
    assert!(digits(correlation, 0.7615963336895113) > 10.0);
    // Within the right error of the likelihood estimate, and not within its own.
    assert!((fitted.slope + 0.0216).abs() < 0.0081 && error > 1.7 * fitted.slope_error);
}

/// NIST/SEMATECH e-Handbook, flicker noise: no drift is in it, and yet the usual error
/// makes one of 17 sigma. With a hundred lags it is known much less well.
#[test]
fn flicker_noise_is_no_drift_of_seventeen_sigma() {
    let values: Vec<f64> = table(&series("FLICKER.DAT"), 25).concat();
    assert_eq!(values.len(), 1000);
    let t: Vec<f64> = (1..=1000).map(f64::from).collect();
    let fitted = line(&t, &values).expect("a line");
    let ratio = fitted.slope / fitted.slope_error;
    assert!((ratio + 16.98776330393342).abs() < 1e-8, "{ratio}");
    let error = hac_standard_error(&fitted, &t, &values, 100);
    assert!(error > 3.0 * fitted.slope_error);
}

/// NIST/SEMATECH e-Handbook 2.3.6.5, calibration of a load cell: residual standard
/// deviation 0.0000376 of the quadratic.
#[test]
fn a_load_cell_has_the_scatter_of_the_handbook_about_its_parabola() {
    let rows = table(&series("LOADCELL.DAT"), 25);
    assert_eq!(rows.len(), 33);
    let (x, y): (Vec<f64>, Vec<f64>) = rows.iter().map(|row| (row[0], row[1])).unzip();
    let fitted = polynomial(&x, &y, 2).expect("a parabola");
    assert!((fitted.residual_sd - 0.0000376).abs() < 5e-8);
    // A parabola is needed: a line leaves ten times that.
    assert!(line(&x, &y).expect("a line").residual_sd > 3.0 * fitted.residual_sd);
}
