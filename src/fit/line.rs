//! A straight line through points, with the usual standard errors and with ones
//! that allow for autocorrelated residuals (Newey and West 1987, Bartlett weights).
//!
//! The regression of `regression` with two columns. Abscissae are centred first, so that
//! level and slope do not disturb each other and a small drift on a large offset keeps
//! its digits.

use super::Matrix;
use super::compensated::Sum;
use super::regression;
use super::regression::bartlett;

/// A fitted straight line `y = level + slope·(t − mean_t)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Mean of the abscissae.
    pub mean_t: f64,
    /// Ordinate at `mean_t`.
    pub level: f64,
    /// Slope.
    pub slope: f64,
    /// Standard error of the level for independent residuals.
    pub level_error: f64,
    /// Standard error of the slope for independent residuals.
    pub slope_error: f64,
    /// Residual standard deviation with n − 2 degrees of freedom.
    pub residual_sd: f64,
}

/// Why no line could be laid.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LineError {
    /// Too few points or all at one abscissa.
    #[error("{n_points} points do not make a line; at least 3 at different times are needed")]
    TooFew {
        /// Points given.
        n_points: usize,
    },
}

/// Lays a least-squares line through `(t, y)`.
///
/// # Errors
/// With fewer than three points, or all at one `t`.
pub fn line(t: &[f64], y: &[f64]) -> Result<Line, LineError> {
    let n = t.len().min(y.len());
    let too_few = LineError::TooFew { n_points: n };
    let mean_t = mean(&t[..n]);
    let columns = Matrix::from_fn(n, 2, |i, j| if j == 0 { 1.0 } else { t[i] - mean_t });
    let fitted = regression(&columns, &y[..n]).map_err(|_| too_few)?;
    Ok(Line {
        mean_t,
        level: fitted.parameters[0],
        slope: fitted.parameters[1],
        level_error: fitted.standard_error(0),
        slope_error: fitted.standard_error(1),
        residual_sd: fitted.residual_sd,
    })
}

/// Standard error of the slope of `fitted` that allows for residuals correlated over
/// up to `n_lags` neighbours; Bartlett weights, no small-sample factor.
pub fn hac_standard_error(fitted: &Line, t: &[f64], y: &[f64], n_lags: usize) -> f64 {
    let centred = t.iter().map(|t| t - fitted.mean_t);
    let scores: Vec<f64> = centred
        .zip(y)
        .map(|(t, y)| t * (y - fitted.level - fitted.slope * t))
        .collect();
    let s_tt: f64 = t.iter().map(|t| (t - fitted.mean_t).powi(2)).sum();
    // The columns are orthogonal: the level has no part in the slope's error.
    let scores = Matrix::from_column_slice(scores.len(), 1, &scores);
    bartlett(&scores, n_lags)[(0, 0)].max(0.0).sqrt() / s_tt
}

fn mean(values: &[f64]) -> f64 {
    let first = values.first().copied().unwrap_or(0.0);
    let mut sum = Sum::new(0.0);
    values.iter().for_each(|v| sum.add(v - first));
    first + sum.value() / values.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// GUM (JCGM 100) H.3, thermometer calibration: y1, y2, their standard
    /// uncertainties and s; the line is counted from 20 °C there.
    #[test]
    fn the_thermometer_line_of_the_gum_comes_out() {
        let t = [
            21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
        ];
        let b = [
            -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
        ];
        let fitted = line(&t, &b).expect("a line");
        assert!((fitted.slope - 0.0021827).abs() < 5e-8, "{}", fitted.slope);
        assert!((fitted.slope_error - 0.0006679).abs() < 5e-8);
        assert!((fitted.residual_sd - 0.003498).abs() < 5e-7);
        let at_20 = fitted.level + fitted.slope * (20.0 - fitted.mean_t);
        assert!((at_20 + 0.171204).abs() < 5e-7);
    }

    /// NIST StRD Norris: certified slope and intercept to 11 digits.
    #[test]
    fn the_norris_set_keeps_its_digits() {
        let text = include_str!("../../tests/data/nist_strd/Norris.dat");
        let (y, x) = crate::fit::strd_rows(text);
        assert_eq!(y.len(), 36);
        let fitted = line(&x, &y).expect("a line");
        assert!((fitted.slope / 1.002_116_818_020_45 - 1.0).abs() < 1e-13);
        assert!((fitted.slope_error / 0.429_796_848_199_937e-3 - 1.0).abs() < 1e-10);
        let intercept = fitted.level - fitted.slope * fitted.mean_t;
        assert!((intercept / -0.262_323_073_774_029 - 1.0).abs() < 1e-10);
    }

    #[test]
    fn two_points_make_no_line() {
        assert_eq!(
            line(&[0.0, 1.0], &[0.0, 1.0]),
            Err(LineError::TooFew { n_points: 2 })
        );
    }
}
