//! Raw counts to engineering values.
//!
//! A channel knows its role, its calibration from codes to SI, the band of codes a healthy sensor can send, and what its maker or calibration says of
//! its errors. Position, pressure and temperature sensors are all the same here.
//!
//! Invariant: a code outside the good band never becomes a value.

mod board;
mod curve;
mod eye;
mod signal;
mod supply;

pub use board::BoardError;
pub use board::SensorInfo;
pub use board::from_board;
pub use board::read_out;
pub use curve::Curve;
pub use curve::CurveError;
pub use curve::CurvePoint;
pub use curve::ReadIn;
pub use eye::ByEye;
pub use eye::CountsUp;
pub use eye::EyeInstrument;
pub use eye::EyeUnit;
pub use eye::NOT_READ;
pub use eye::instrument_of;
pub use signal::Signal;
pub use signal::SignalKind;
pub use supply::AgainstSupply;
pub use supply::NOMINAL_SUPPLY_V;
pub use supply::PLAUSIBLE_SUPPLY_V;
pub use supply::row_values;

/// What a channel measures, in the words of the data files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// Cap-end pressure, gauge.
    CapPressure,
    /// Rod-end pressure, gauge.
    RodPressure,
    /// Extension of the rod from fully retracted.
    Position,
    /// Temperature of the oil at the probe.
    OilTemperature,
    /// Temperature of the tube wall.
    WallTemperature,
    /// Voltage that feeds the ratiometric sensors; tells nothing of the piece.
    Supply,
}

impl Role {
    /// All roles, in the order of the data files.
    pub const ALL: [Self; 6] = [
        Self::CapPressure,
        Self::RodPressure,
        Self::Position,
        Self::OilTemperature,
        Self::WallTemperature,
        Self::Supply,
    ];

    /// Stem of the column name, without the unit: "p_cap", "x", "t_oil".
    pub fn word(self) -> &'static str {
        match self {
            Self::CapPressure => "p_cap",
            Self::RodPressure => "p_rod",
            Self::Position => "x",
            Self::OilTemperature => "t_oil",
            Self::WallTemperature => "t_wall",
            Self::Supply => "v_supply",
        }
    }

    /// What a fitter calls it.
    pub fn plain(self) -> &'static str {
        match self {
            Self::CapPressure => "cap-end pressure",
            Self::RodPressure => "rod-end pressure",
            Self::Position => "position",
            Self::OilTemperature => "oil temperature",
            Self::WallTemperature => "wall temperature",
            Self::Supply => "sensor supply",
        }
    }

    /// Unit of the SI values: "Pa" (gauge), "m", "K" for temperatures (points), or "V".
    pub fn si_unit(self) -> &'static str {
        match self {
            Self::CapPressure | Self::RodPressure => "Pa",
            Self::Position => "m",
            Self::OilTemperature | Self::WallTemperature => "K",
            Self::Supply => "V",
        }
    }
}

/// A line or parabola from codes to SI values:
/// `si = si_at_zero_code + si_per_code · code + si_per_code_squared · code²`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calibration {
    /// SI value of code 0.
    pub si_at_zero_code: f64,
    /// SI value of one step of the code, at code 0 if the curve is bent.
    pub si_per_code: f64,
    /// Half of how much that grows with each step of the code; 0 for a straight line.
    pub si_per_code_squared: f64,
}

impl Calibration {
    /// From two codes and what they stand for. None if the codes are the same.
    pub fn through(low: (i32, f64), high: (i32, f64)) -> Option<Self> {
        let n_codes = f64::from(high.0) - f64::from(low.0);
        let si_per_code = (high.1 - low.1) / n_codes;
        (n_codes != 0.0 && si_per_code.is_finite() && si_per_code != 0.0).then(|| Self {
            si_at_zero_code: low.1 - si_per_code * f64::from(low.0),
            si_per_code,
            si_per_code_squared: 0.0,
        })
    }

    /// SI value of a code.
    pub fn value(&self, code: i32) -> f64 {
        self.at(f64::from(code))
    }

    /// SI value of a code that need not be whole.
    pub fn at(&self, code: f64) -> f64 {
        if self.si_per_code_squared == 0.0 {
            return self.si_at_zero_code + self.si_per_code * code;
        }
        self.si_at_zero_code + (self.si_per_code + self.si_per_code_squared * code) * code
    }

    /// Size of the largest step of the code between two codes, in SI units.
    pub fn step_si(&self, codes: (i32, i32)) -> f64 {
        let step =
            |code: i32| (self.si_per_code + 2.0 * self.si_per_code_squared * f64::from(code)).abs();
        step(codes.0).max(step(codes.1))
    }

    /// The same for a quantity that is `factor` times as large.
    pub fn scaled(&self, factor: f64) -> Self {
        Self {
            si_at_zero_code: self.si_at_zero_code * factor,
            si_per_code: self.si_per_code * factor,
            si_per_code_squared: self.si_per_code_squared * factor,
        }
    }
}

/// What is stated about a sensor's errors, as standard uncertainties (one sigma).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensorErrors {
    /// Of its zero, in SI units.
    pub zero_si: f64,
    /// Of its span, relative.
    pub span_relative: f64,
    /// Of its zero by kelvin of ambient change, in SI units by kelvin.
    pub zero_si_per_k: f64,
}

/// One channel of a recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// What it measures.
    pub role: Role,
    /// Its label on the board or in the file it came from.
    pub label: String,
    /// Codes to SI values.
    pub calibration: Calibration,
    /// Lowest and highest code of a healthy sensor.
    pub good_codes: (i32, i32),
    /// Measuring range in SI units.
    pub range_si: (f64, f64),
    /// What is stated about its errors.
    pub errors: SensorErrors,
    /// Serial number, calibration certificate and due date, as the shop wrote them.
    pub papers: SensorPapers,
    /// How its codes are referred to the supply; None where they stand for themselves.
    pub against_supply: Option<AgainstSupply>,
}

/// Where a sensor's calibration comes from, as written by the shop; empty if not given.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SensorPapers {
    /// Serial number of the sensor.
    pub serial: String,
    /// Number of the calibration certificate.
    pub certificate: String,
    /// Date the calibration is due, ISO 8601.
    pub due: String,
    /// Who calibrated it, if the shop wrote that.
    pub by: Option<CalibratedBy>,
}

/// Who calibrated a sensor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CalibratedBy {
    /// Its maker: the certificate that came with it.
    Maker,
    /// A calibration laboratory.
    Laboratory,
    /// The shop itself, against a reference of its own.
    Shop,
}

impl CalibratedBy {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Maker, Self::Laboratory, Self::Shop];

    /// The word in data files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Maker => "maker",
            Self::Laboratory => "laboratory",
            Self::Shop => "shop",
        }
    }

    /// From the word in data files.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|by| by.word() == word)
    }

    /// Whose calibration it is, on paper.
    pub fn plain(self) -> &'static str {
        match self {
            Self::Maker => "maker's certificate",
            Self::Laboratory => "laboratory's certificate",
            Self::Shop => "shop's own calibration",
        }
    }
}

impl Channel {
    /// The SI value of a code; None outside the good band, and of a sensor that is read against
    /// the supply: its code alone says nothing.
    pub fn value(&self, code: i32) -> Option<f64> {
        self.value_at(code, None)
    }

    /// The SI value of a code beside the supply of the same row, in V where it was read; None
    /// outside the good band, and for a sensor read against a supply that is missing or not
    /// plausible.
    pub fn value_at(&self, code: i32, supply_v: Option<f64>) -> Option<f64> {
        if !(self.good_codes.0..=self.good_codes.1).contains(&code) {
            return None;
        }
        match &self.against_supply {
            None => Some(self.calibration.value(code)),
            Some(against) => Some(self.calibration.at(against.referred(code, supply_v?)?)),
        }
    }

    /// Size of one code step of its own in SI units.
    pub fn code_step_si(&self) -> f64 {
        self.calibration.step_si(self.good_codes)
    }

    /// Size of the steps that its values come in, in SI units: one of its own code, and for a
    /// sensor read against the supply one of the supply's at the top of its signal.
    pub fn resolution_si(&self) -> f64 {
        let own = self.code_step_si();
        match &self.against_supply {
            None => own,
            Some(against) => own.hypot(own * against.supply_step_codes()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn current_loop() -> Channel {
        // 4 to 20 mA over 0 to 250 bar in microampere codes; bands of NAMUR NE 43.
        let calibration = Calibration::through((4_000, 0.0), (20_000, 250e5)).expect("two codes");
        Channel {
            role: Role::CapPressure,
            label: "A1".into(),
            calibration,
            good_codes: (3_600, 21_000),
            range_si: (0.0, 250e5),
            errors: SensorErrors {
                zero_si: 0.0,
                span_relative: 0.0,
                zero_si_per_k: 0.0,
            },
            papers: SensorPapers::default(),
            against_supply: None,
        }
    }

    /// Bands of NAMUR NE 43: 3.5 mA is a fault, 3.936 mA is a slight vacuum.
    #[test]
    fn a_fault_current_is_no_pressure_and_a_slight_vacuum_is_one() {
        let channel = current_loop();
        assert_eq!(channel.value(3_500), None);
        assert_eq!(channel.value(21_500), None);
        let vacuum = channel.value(3_936).expect("good");
        assert!((vacuum + 1e5).abs() < 1e-6);
    }

    #[test]
    fn a_calibration_needs_two_different_codes() {
        assert_eq!(Calibration::through((5, 0.0), (5, 1.0)), None);
    }
}
