//! A sensor calibrated by points: what the reference showed, against what was read.
//!
//! The reference is regressed on the reading, a line or a parabola by least squares, so
//! that a reading goes straight to a value and no curve has to be turned round. That
//! asks for readings that scatter less than what is to be known, which is so where each
//! is a mean and the scatter is that of the sensor's repeatability; the scatter is
//! counted as an error of the value in full.
//!
//! Invariant: a curve rises or falls all the way over its points, each point lies near
//! it, and there are at least two degrees of freedom left to say how near.

use super::Calibration;
use super::Role;
use super::SensorErrors;
use crate::fit::Polynomial;
use crate::fit::RegressionError;
use crate::fit::normal_quantile;
use crate::fit::polynomial;
use crate::fit::student_quantile;

/// Degrees of freedom that the scatter needs at least.
const N_FREEDOM_LEAST: usize = 2;

/// Chance that one of all good points is called far out.
const FAR_OUT_CHANCE: f64 = 0.01;

/// A scatter below this part of the extent is rounding, and no point is far out of it.
const ROUNDING_PART: f64 = 1e-9;

/// Places of the span at which errors are looked up.
const N_PLACES: usize = 101;

/// In what the points were read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadIn {
    /// Raw codes of a board.
    Counts,
    /// Current of a loop, mA.
    Milliampere,
    /// Voltage, V.
    Volt,
    /// The quantity itself, as board or logger showed it before; in SI.
    Shown,
}

/// One point of a calibration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvePoint {
    /// What the reference showed, SI (pressures gauge, temperatures in K).
    pub reference_si: f64,
    /// What was read, in the unit of [`ReadIn`].
    pub reading: f64,
}

/// Why points make no curve. Points are counted from 1.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CurveError {
    /// Neither a line nor a parabola is asked for.
    #[error("`degree` is 1 for a line or 2 for a parabola")]
    Degree,
    /// Too few points.
    #[error("{n_points} points are too few for degree {degree}; take at least {n_needed}")]
    TooFew {
        /// Points given.
        n_points: usize,
        /// Degree asked for.
        degree: usize,
        /// Points needed.
        n_needed: usize,
    },
    /// Points at too few different places: whether the curve fits cannot be seen.
    #[error(
        "the points lie at {n_levels} different values of the reference; take at least {n_needed} for degree {degree}"
    )]
    Levels {
        /// Different values of the reference.
        n_levels: usize,
        /// Needed.
        n_needed: usize,
        /// Degree asked for.
        degree: usize,
    },
    /// The readings do not determine the curve.
    #[error("the readings do not determine the curve; check that they are those of these points")]
    Undetermined,
    /// The curve turns round, or hardly rises.
    #[error(
        "the curve turns round within its points: one reading would stand for two values; check the points, or use degree 1"
    )]
    Turns,
    /// A point lies far from all others' curve.
    #[error(
        "point {number} lies {times:.0} times further from the curve of the others than they scatter; \
         correct it if it is misread, or take the points again"
    )]
    FarOut {
        /// Which point.
        number: usize,
        /// Its residual over the scatter of the others.
        times: f64,
    },
}

/// A fitted calibration by points.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    role: Role,
    read_in: ReadIn,
    points: Vec<CurvePoint>,
    reference_standard_si: f64,
    fitted: Polynomial,
    /// Lowest and highest reading.
    readings: (f64, f64),
}

impl Curve {
    /// Fits the curve of `role` through `points`; `reference_standard_si` is the standard
    /// uncertainty of the reference (half of the expanded one for k = 2), in SI units.
    ///
    /// # Errors
    /// See [`CurveError`].
    pub fn through(
        role: Role,
        read_in: ReadIn,
        points: Vec<CurvePoint>,
        degree: usize,
        reference_standard_si: f64,
    ) -> Result<Self, CurveError> {
        if !(1..=2).contains(&degree) {
            return Err(CurveError::Degree);
        }
        let (n_points, n_needed) = (points.len(), degree + 1 + N_FREEDOM_LEAST);
        if n_points < n_needed {
            return Err(CurveError::TooFew {
                n_points,
                degree,
                n_needed,
            });
        }
        let mut levels: Vec<f64> = points.iter().map(|p| p.reference_si).collect();
        levels.sort_by(f64::total_cmp);
        levels.dedup();
        if levels.len() < degree + 2 {
            return Err(CurveError::Levels {
                n_levels: levels.len(),
                n_needed: degree + 2,
                degree,
            });
        }
        let x: Vec<f64> = points.iter().map(|p| p.reading).collect();
        let y: Vec<f64> = points.iter().map(|p| p.reference_si).collect();
        let fitted =
            polynomial(&x, &y, degree).map_err(|_: RegressionError| CurveError::Undetermined)?;
        let low = x.iter().copied().fold(f64::INFINITY, f64::min);
        let high = x.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let curve = Self {
            role,
            read_in,
            points,
            reference_standard_si,
            fitted,
            readings: (low, high),
        };
        // A far point may be what bends the curve, so it is looked for first.
        curve.no_point_far_out()?;
        // The slope of a parabola is straight: its ends tell.
        let (start, end) = (curve.fitted.slope_at(low), curve.fitted.slope_at(high));
        let is_steep =
            start * end > 0.0 && start.abs().min(end.abs()) > 0.05 * start.abs().max(end.abs());
        if is_steep {
            Ok(curve)
        } else {
            Err(CurveError::Turns)
        }
    }

    /// Each residual against the scatter of all others (the deleted residual, Student's t);
    /// the chance of a false alarm is shared out over the points.
    fn no_point_far_out(&self) -> Result<(), CurveError> {
        let s = self.residual_sd_si();
        let (low, high) = self.span_si();
        if s <= ROUNDING_PART * (high - low).abs() {
            return Ok(());
        }
        let freedom = self.fitted.n_freedom() as f64;
        let n = self.points.len() as f64;
        let limit = student_quantile(1.0 - FAR_OUT_CHANCE / (2.0 * n), freedom - 1.0);
        let deleted = |(index, point): (usize, &CurvePoint)| {
            let leverage = (self.fitted.standard_at(point.reading) / s).powi(2);
            let own = self.fitted.residuals()[index] / (s * (1.0 - leverage).max(1e-12).sqrt());
            let rest = (freedom - own * own).max(1e-12 * freedom);
            (index, own.abs() * ((freedom - 1.0) / rest).sqrt())
        };
        let all = self.points.iter().enumerate().map(deleted);
        match all.max_by(|a, b| a.1.total_cmp(&b.1)) {
            Some((index, times)) if times > limit => Err(CurveError::FarOut {
                number: index + 1,
                times,
            }),
            _ => Ok(()),
        }
    }

    /// What the sensor measures.
    pub fn role(&self) -> Role {
        self.role
    }

    /// In what the points were read.
    pub fn read_in(&self) -> ReadIn {
        self.read_in
    }

    /// The points.
    pub fn points(&self) -> &[CurvePoint] {
        &self.points
    }

    /// The fitted polynomial, SI over readings.
    pub fn fitted(&self) -> &Polynomial {
        &self.fitted
    }

    /// SI value of a reading.
    pub fn value(&self, reading: f64) -> f64 {
        self.fitted.at(reading)
    }

    /// Lowest and highest reading of the points.
    pub fn span_reading(&self) -> (f64, f64) {
        self.readings
    }

    /// Lowest and highest SI value that the points reach.
    pub fn span_si(&self) -> (f64, f64) {
        let (low, high) = self.readings;
        let (a, b) = (self.value(low), self.value(high));
        (a.min(b), a.max(b))
    }

    /// Scatter of the points about the curve, SI, one standard deviation.
    pub fn residual_sd_si(&self) -> f64 {
        self.fitted.residual_sd
    }

    /// Standard uncertainty of the reference, SI.
    pub fn reference_standard_si(&self) -> f64 {
        self.reference_standard_si
    }

    /// What makes a standard uncertainty from few points as wide as a normal one at 95 %:
    /// Student's t over the normal quantile.
    pub fn widening(&self) -> f64 {
        student_quantile(0.975, self.fitted.n_freedom() as f64) / normal_quantile(0.975)
    }

    /// Standard uncertainty of the value of one reading, SI: of the curve (JCGM 100, H.3.4),
    /// of one reading's scatter about it, both widened for the number of points, and of the
    /// reference.
    pub fn standard_at(&self, reading: f64) -> f64 {
        let scatter = self
            .fitted
            .standard_at(reading)
            .hypot(self.residual_sd_si());
        (self.widening() * scatter).hypot(self.reference_standard_si)
    }

    /// The largest [`Self::standard_at`] over the points' span, SI.
    pub fn worst_standard_si(&self) -> f64 {
        self.places()
            .map(|r| self.standard_at(r))
            .fold(0.0, f64::max)
    }

    /// The errors that the account reckons with.
    ///
    /// An account knows a zero error (the same at each reading) and a span error (in
    /// proportion to the value), independent of each other.
    /// - Span: the standard uncertainty of the slope over the slope, the largest of the
    ///   points' span, widened for the number of points; and the reference's uncertainty as
    ///   part of the calibrated extent, since its error may grow with the value.
    /// - Zero: what the span error leaves of the uncertainty of a value (`standard_at`), at
    ///   the worst place of the span. For a pressure calibrated from zero that is the
    ///   uncertainty at zero.
    ///
    /// Slope and zero of a line that was fitted lean against each other; reckoned as
    /// independent they are never less than the uncertainty of a value. Temperatures are
    /// counted from a zero that is far away: theirs is all zero error.
    pub fn errors(&self) -> SensorErrors {
        let is_temperature = matches!(self.role, Role::OilTemperature | Role::WallTemperature);
        let (low, high) = self.span_si();
        let of_slope = |r: f64| self.fitted.standard_slope_at(r) / self.fitted.slope_at(r).abs();
        let slope = self.places().map(of_slope).fold(0.0, f64::max);
        let span_relative = if is_temperature {
            0.0
        } else {
            (self.widening() * slope).hypot(self.reference_standard_si / (high - low))
        };
        let left = |r: f64| {
            let by_span = span_relative * self.value(r);
            (self.standard_at(r).powi(2) - by_span * by_span).max(0.0)
        };
        SensorErrors {
            zero_si: self.places().map(left).fold(0.0, f64::max).sqrt(),
            span_relative,
            zero_si_per_k: 0.0,
        }
    }

    /// Codes to SI values where a code stands for the reading
    /// `reading_at_zero_code + reading_per_code · code`.
    pub fn calibration(&self, reading_at_zero_code: f64, reading_per_code: f64) -> Calibration {
        let powers = self.fitted.coefficients.as_slice();
        let power = |index: usize| powers.get(index).copied().unwrap_or(0.0);
        let (b, c) = (power(1), power(2));
        let (l0, l1) = (reading_at_zero_code, reading_per_code);
        Calibration {
            si_at_zero_code: power(0) + (b + c * l0) * l0,
            si_per_code: (b + 2.0 * c * l0) * l1,
            si_per_code_squared: c * l1 * l1,
        }
    }

    fn places(&self) -> impl Iterator<Item = f64> + '_ {
        let (low, high) = self.readings;
        let step = (high - low) / (N_PLACES - 1) as f64;
        (0..N_PLACES).map(move |i| low + step * i as f64)
    }
}

#[cfg(test)]
#[path = "curve/tests.rs"]
mod tests;
