//! Measured decays: leaking air chambers and a well that drains, as others recorded them.
//!
//! No true flow is known for them. What is checked is that lines and exponentials come out
//! as by other programs (SciPy and statsmodels on the same files), how much an error grows
//! that allows for correlated residuals, and that what is no exponential does not fit.

use std::f64::consts::PI;
use std::fs;
use std::path::Path;
use stillrod::fit::Matrix;
use stillrod::fit::Posterior;
use stillrod::fit::Prior;
use stillrod::fit::Problem;
use stillrod::fit::Vector;
use stillrod::fit::hac_standard_error;
use stillrod::fit::line;
use stillrod::fit::noise_model;
use stillrod::fit::solve;

/// Two columns of a file of `tests/data/real_signals`.
fn columns(name: &str, time: usize, value: usize) -> (Vec<f64>, Vec<f64>) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/real_signals");
    let text = fs::read_to_string(folder.join(name)).expect("a copied file");
    let rows = text.lines().skip(1).map(|line| {
        let cells: Vec<&str> = line.split([',', ' ']).collect();
        let number = |index: usize| cells[index].trim().parse::<f64>().expect("a number");
        (number(time), number(value))
    });
    rows.unzip()
}

/// Seconds and gauge pressure in bar.
fn chamber(name: &str) -> (Vec<f64>, Vec<f64>) {
    columns(&format!("{name}.csv"), 0, 2)
}

/// y = θ₀·exp(−t/θ₁).
struct Decay {
    t: Vec<f64>,
    y: Vec<f64>,
}

impl Problem for Decay {
    fn residuals(&self, theta: &Vector) -> Vector {
        let rows = self.t.iter().zip(&self.y);
        let residuals = rows.map(|(t, y)| theta[0] * (-t / theta[1]).exp() - y);
        Vector::from_iterator(self.t.len(), residuals)
    }
}

/// An exponential with its standard errors.
struct Fitted {
    first: f64,
    time_constant_s: f64,
    time_constant_error_s: f64,
    residual_sd: f64,
}

fn exponential(t: &[f64], y: &[f64]) -> Fitted {
    let problem = Decay {
        t: t.to_vec(),
        y: y.to_vec(),
    };
    let n = t.len();
    let start = [y[0], 0.5 * t[n - 1]];
    let priors = start.map(Prior::flat);
    let start = Vector::from_column_slice(&start);
    let unit = Matrix::identity(n, n);
    let Posterior {
        theta,
        covariance,
        chi2,
        ..
    } = solve(&problem, &priors, &start, &unit).expect("solved");
    let variance = chi2 / (n as f64 - 2.0);
    Fitted {
        first: theta[0],
        time_constant_s: theta[1],
        time_constant_error_s: (covariance[(1, 1)] * variance).sqrt(),
        residual_sd: variance.sqrt(),
    }
}

#[track_caller]
fn near(found: f64, expected: f64, relative: f64) {
    let error = (found / expected - 1.0).abs();
    assert!(error < relative, "{found} {expected}");
}

/// Slope of the line in bar/s and its error with 7 lags, by statsmodels, and the errors
/// with 30 and 100 lags: a decay is no line, so they go on growing.
#[test]
fn errors_of_a_leak_rate_grow_with_the_lags_that_are_allowed_for() {
    let chambers = [
        (
            "aluminium",
            -2.3494e-4,
            5.110562475535827e-6,
            [9.3e-6, 14.2e-6],
        ),
        ("resin", -2.8739e-4, 3.762264109943445e-6, [6.3e-6, 9.8e-6]),
        (
            "printed_010",
            -7.2240e-4,
            8.434869952942931e-6,
            [15.6e-6, 23.0e-6],
        ),
    ];
    for (name, slope, error_7, more) in chambers {
        let (t, p) = chamber(name);
        let fitted = line(&t, &p).expect("a line");
        near(fitted.slope, slope, 1e-4);
        near(hac_standard_error(&fitted, &t, &p, 7), error_7, 1e-9);
        for (n_lags, error) in [30, 100].into_iter().zip(more) {
            near(hac_standard_error(&fitted, &t, &p, n_lags), error, 0.01);
        }
        assert!(error_7 > 1.8 * fitted.slope_error, "{name}");
    }
}

/// Time constant, its error and residual deviation in bar, by SciPy.
#[test]
fn the_tight_chambers_are_exponentials_and_the_leaky_one_is_none() {
    let chambers = [
        (
            "aluminium",
            31050.34254517924,
            254.24911895324158,
            0.00326252140108797,
        ),
        (
            "resin",
            27053.85807550948,
            192.65744446179372,
            0.003172084700702225,
        ),
        (
            "printed_010",
            10338.57666464425,
            39.56618618282718,
            0.004233818901477198,
        ),
        (
            "printed_015",
            22.649903171984718,
            0.10255426796226803,
            0.21630924116350012,
        ),
    ];
    let mut last_rate = 0.0;
    for (name, time_constant_s, error_s, residual_sd) in chambers {
        let (t, p) = chamber(name);
        let fitted = exponential(&t, &p);
        // The other program stopped short of the last digits.
        near(fitted.time_constant_s, time_constant_s, 1e-6);
        near(fitted.time_constant_error_s, error_s, 1e-5);
        near(fitted.residual_sd, residual_sd, 1e-8);
        let rate = fitted.first / fitted.time_constant_s;
        assert!(rate > last_rate, "{name} leaks more than the one before");
        last_rate = rate;
        // Third differences do not see a slow course, fitted or not: what they leave is noise.
        // The leaky one bursts in the first seconds, which are left out.
        let noise = noise_model(&p[200..], 25).block_covariance(1, 0).sqrt();
        let misfit = fitted.residual_sd / noise;
        println!("{name}: noise {noise:.4} bar, residuals {misfit:.1} times that");
        assert!(noise > 0.001 && noise < 0.006, "{name}: {noise}");
        assert_eq!(misfit > 5.0, name == "printed_015", "{name}: {misfit}");
    }
}

/// Butler 1998, a slug test: casing 0.064 m in radius, level at first 0.671 m. Time constant
/// 63.35 s with 0.51 s, by SciPy. Drift times area is the flow, and the flow's integral is
/// what has drained: 8.63 L in the end.
#[test]
fn a_level_times_its_area_is_the_volume_that_drained() {
    let (t, level) = columns("well_level.txt", 0, 1);
    assert_eq!(t.len(), 61);
    let fitted = exponential(&t, &level);
    near(fitted.time_constant_s, 63.35025049657003, 1e-6);
    near(fitted.time_constant_error_s, 0.5097574108295971, 1e-5);
    near(fitted.first, 0.654081981554498, 1e-6);
    let area = PI * 0.064f64.powi(2);
    let flow = |t: f64| {
        let drift = fitted.first / fitted.time_constant_s * (-t / fitted.time_constant_s).exp();
        area * drift
    };
    near(flow(0.0), 1.3285982304144615e-4, 1e-6);
    near(area * 0.671 * 1e3, 8.63, 1e-3);
    // The integral of the fitted flow (Simpson) and the fall that was read, over the record.
    let (from, to) = (t[0], t[60]);
    let n = 2000;
    let step = (to - from) / f64::from(n);
    let drained: f64 = (0..=n)
        .map(|index| {
            let weight = match index {
                0 => 1.0,
                last if last == n => 1.0,
                odd if odd % 2 == 1 => 4.0,
                _ => 2.0,
            };
            weight * flow(from + f64::from(index) * step)
        })
        .sum::<f64>()
        * step
        / 3.0;
    let read = area * (level[0] - level[60]);
    near(drained, read, 0.01);
}
