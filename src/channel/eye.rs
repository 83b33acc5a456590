//! Instruments that a person reads: a pressure gauge, a dial indicator, a thermometer.
//!
//! No board stands between the scale and the recording. What a person says is known to half
//! a division, and what the instrument itself may be off by is what its class or its maker
//! states, as a bound.

mod typed;

use super::Calibration;
use super::Channel;
use super::Role;
use super::SensorErrors;
use super::SensorPapers;

/// Codes to one division: finer than anybody reads.
const CODES_PER_DIVISION: f64 = 100.0;

/// The code of a reading that is missing.
pub const NOT_READ: i32 = i32::MIN;

/// Part of the span by which a zero may be off by kelvin, of a pressure gauge (EN 837-1, from
/// memory: 0.04 % by kelvin).
const GAUGE_ZERO_PER_K: f64 = 0.0004;

/// A bound is this many standard uncertainties of its rectangular distribution (JCGM 100, 4.3.7).
fn rectangular(bound: f64) -> f64 {
    bound / 3f64.sqrt()
}

/// In what unit an instrument is read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EyeUnit {
    /// As it is printed.
    pub name: &'static str,
    /// SI value of one.
    pub si_per_unit: f64,
    /// SI value of zero.
    pub si_at_zero: f64,
}

impl EyeUnit {
    /// A number in this unit from an SI value.
    pub fn from_si(&self, si: f64) -> f64 {
        (si - self.si_at_zero) / self.si_per_unit
    }

    /// An SI value from a number in this unit.
    pub fn to_si(&self, number: f64) -> f64 {
        number * self.si_per_unit + self.si_at_zero
    }
}

/// When a dial indicator counts up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CountsUp {
    /// While the rod goes in.
    RodIn,
    /// While the rod goes out.
    RodOut,
}

impl CountsUp {
    /// Extension by what the dial moves.
    pub fn sign(self) -> f64 {
        match self {
            Self::RodIn => -1.0,
            Self::RodOut => 1.0,
        }
    }
}

/// An instrument that a person reads.
#[derive(Debug, Clone, PartialEq)]
pub struct EyeInstrument {
    /// What it measures.
    pub role: Role,
    /// In what unit it is read and typed.
    pub unit: EyeUnit,
    /// Its scale from low to high, SI.
    pub range_si: (f64, f64),
    /// One division of its scale, SI, above zero.
    pub division_si: f64,
    /// What it may be off by anywhere on its scale, SI, above zero.
    pub error_si: f64,
    /// Accuracy class of a pressure gauge by EN 837-1, percent of its span; None where an
    /// error is stated instead.
    pub class: Option<f64>,
    /// When a dial indicator counts up; None for all others.
    pub counts_up: Option<CountsUp>,
    /// Its papers.
    pub papers: SensorPapers,
}

impl EyeInstrument {
    /// What a fitter calls it.
    pub fn plain(&self) -> &'static str {
        instrument_of(self.role)
    }

    /// Length of its scale, SI.
    pub fn span_si(&self) -> f64 {
        self.range_si.1 - self.range_si.0
    }

    /// Standard uncertainty of one reading of its scale, SI: half a division either way.
    pub fn reading_si(&self) -> f64 {
        rectangular(0.5 * self.division_si)
    }

    /// What is stated of the instrument itself, as standard uncertainties.
    ///
    /// A zero that is off is the same in all readings of a hold. Between two readings the error
    /// may go from one bound to the other over half of the scale.
    pub fn errors(&self) -> SensorErrors {
        let is_gauge = matches!(self.role, Role::CapPressure | Role::RodPressure);
        SensorErrors {
            zero_si: rectangular(self.error_si),
            span_relative: rectangular(4.0 * self.error_si / self.span_si()),
            zero_si_per_k: match is_gauge {
                true => rectangular(GAUGE_ZERO_PER_K * self.span_si()),
                false => 0.0,
            },
        }
    }

    /// What it is, with class or error and division: "pressure gauge read by eye, class 1,
    /// division 2 bar".
    pub fn described(&self) -> String {
        let size = |si: f64| plain_number(si / self.unit.si_per_unit);
        let unit = self.unit.name;
        let how_good = match self.class {
            Some(class) => format!("class {}", plain_number(class)),
            None => format!("error up to {} {unit}", size(self.error_si)),
        };
        let division = size(self.division_si);
        format!(
            "{} read by eye, {how_good}, division {division} {unit}",
            self.plain()
        )
    }

    /// Its channel in a recording.
    pub fn channel(&self) -> Channel {
        let step = self.division_si / CODES_PER_DIVISION;
        let code = |si: f64| (si / step).round();
        // A pointer may rest a little beside its scale.
        let beside = 0.05 * self.span_si();
        let (low, high) = (self.range_si.0 - beside, self.range_si.1 + beside);
        Channel {
            role: self.role,
            label: self.described(),
            calibration: Calibration {
                si_at_zero_code: self.unit.si_at_zero,
                si_per_code: step,
                si_per_code_squared: 0.0,
            },
            good_codes: match self.role {
                // The dial's way is kept as extension, which its own scale does not bound.
                Role::Position => (NOT_READ + 1, i32::MAX),
                _ => (
                    code(low - self.unit.si_at_zero) as i32,
                    code(high - self.unit.si_at_zero) as i32,
                ),
            },
            range_si: self.range_si,
            errors: self.errors(),
            papers: self.papers.clone(),
            against_supply: None,
        }
    }

    /// The code of a reading in SI; [`NOT_READ`] for none.
    pub fn code(&self, reading_si: Option<f64>) -> i32 {
        let step = self.division_si / CODES_PER_DIVISION;
        reading_si.map_or(NOT_READ, |si| {
            ((si - self.unit.si_at_zero) / step).round() as i32
        })
    }

    /// A reading as a person would type it, with its unit.
    pub fn typed(&self, reading_si: f64) -> String {
        let unit = self.unit.name;
        format!("{} {unit}", plain_number(self.unit.from_si(reading_si)))
    }
}

/// What is read of a piece without a board.
#[derive(Debug, Clone, PartialEq)]
pub struct ByEye {
    /// The instruments, at most one for each role.
    pub instruments: Vec<EyeInstrument>,
    /// How far the rod stood out when the hold began, m, by a rule; None where nobody said it.
    pub rod_out_m: Option<f64>,
}

impl ByEye {
    /// The instrument of a role.
    pub fn instrument(&self, role: Role) -> Option<&EyeInstrument> {
        self.instruments.iter().find(|own| own.role == role)
    }
}

/// What instrument measures a role by eye.
pub fn instrument_of(role: Role) -> &'static str {
    match role {
        Role::CapPressure | Role::RodPressure => "pressure gauge",
        Role::Position => "dial indicator",
        Role::OilTemperature | Role::WallTemperature => "thermometer",
        Role::Supply => "voltmeter",
    }
}

/// Up to four digits behind the point, without trailing zeros.
fn plain_number(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    match text {
        "-0" => "0".into(),
        text => text.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gauge() -> EyeInstrument {
        EyeInstrument {
            role: Role::CapPressure,
            unit: EyeUnit {
                name: "bar",
                si_per_unit: 1e5,
                si_at_zero: 0.0,
            },
            range_si: (0.0, 250e5),
            division_si: 2e5,
            error_si: 2.5e5,
            class: Some(1.0),
            counts_up: None,
            papers: SensorPapers::default(),
        }
    }

    /// Class 1 of 250 bar is 2.5 bar as a bound, 1.443 bar as one sigma; half a division of
    /// 2 bar is 0.577 bar; from one bound to the other over 125 bar is 4 %, 2.309 % as one sigma;
    /// 0.04 % of 250 bar by kelvin is 0.1 bar, 0.0577 bar as one sigma (by hand).
    #[test]
    fn class_and_division_become_standard_uncertainties() {
        let gauge = gauge();
        let errors = gauge.errors();
        assert!((errors.zero_si - 1.4434e5).abs() < 10.0);
        assert!((errors.span_relative - 0.023_094).abs() < 1e-6);
        assert!((errors.zero_si_per_k - 5_773.5).abs() < 0.1);
        assert!((gauge.reading_si() - 0.577_35e5).abs() < 1.0);
        assert_eq!(
            gauge.described(),
            "pressure gauge read by eye, class 1, division 2 bar"
        );
    }

    #[test]
    fn a_reading_comes_back_from_its_code_and_a_missing_one_does_not() {
        let gauge = gauge();
        let channel = gauge.channel();
        let back = channel.value(gauge.code(Some(158.5e5))).expect("read");
        assert!((back - 158.5e5).abs() < 1.0);
        assert_eq!(channel.value(gauge.code(None)), None);
        // What no pointer can show is no reading.
        assert_eq!(channel.value(gauge.code(Some(270e5))), None);
        assert_eq!(gauge.typed(158.5e5), "158.5 bar");
        let thermometer = EyeInstrument {
            role: Role::OilTemperature,
            unit: EyeUnit {
                name: "°C",
                si_per_unit: 1.0,
                si_at_zero: 273.15,
            },
            range_si: (273.15, 373.15),
            division_si: 0.5,
            ..gauge
        };
        let back = thermometer
            .channel()
            .value(thermometer.code(Some(315.4)))
            .expect("read");
        assert!((back - 315.4).abs() < 1e-9);
        assert_eq!(thermometer.typed(315.4), "42.25 °C");
    }
}
