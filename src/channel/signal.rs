//! The electrical signal of a sensor: what it stands for, and what only a fault can send.
//!
//! A board that knows nothing of sensors states amperes or volts; the shop states signal
//! and range then. A reading in a fault band never becomes a value, whatever the board
//! calls good.

use super::Calibration;
use super::ReadIn;
use firmware_protocol::RangeUnit;

/// How a sensor sends its value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SignalKind {
    /// A current loop, 4 to 20 mA. Faults by NAMUR NE 43: 3.6 mA and less, 21.0 mA and more.
    Loop,
    /// A voltage, 0.5 to 4.5 V of a 5 V supply against which it is read; below 0.25 V and
    /// above 4.75 V, each as a part of 5 V, a wire is off or touches another.
    Ratiometric,
}

impl SignalKind {
    /// As it is written in a setup.
    pub fn word(self) -> &'static str {
        match self {
            Self::Loop => "4-20 mA",
            Self::Ratiometric => "0.5-4.5 V",
        }
    }

    /// From the word in a setup.
    pub fn from_word(word: &str) -> Option<Self> {
        let all = [Self::Loop, Self::Ratiometric];
        all.into_iter().find(|kind| kind.word() == word)
    }

    /// In what it is read.
    pub fn read_in(self) -> ReadIn {
        match self {
            Self::Loop => ReadIn::Milliampere,
            Self::Ratiometric => ReadIn::Volt,
        }
    }

    /// Signal at the low and at the high end of the range, mA or V.
    fn ends(self) -> (f64, f64) {
        match self {
            Self::Loop => (4.0, 20.0),
            Self::Ratiometric => (0.5, 4.5),
        }
    }

    /// At these and beyond them it is a fault, mA or V.
    fn faults(self) -> (f64, f64) {
        match self {
            Self::Loop => (3.6, 21.0),
            Self::Ratiometric => (0.25, 4.75),
        }
    }
}

/// A signal and what its ends stand for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Signal {
    /// How the value is sent.
    pub kind: SignalKind,
    /// SI values at the low and the high end of the signal; they may fall.
    pub range_si: (f64, f64),
}

impl Signal {
    /// Codes to SI values by the range alone; `as_read` is codes to mA or V.
    pub(super) fn shown(&self, as_read: &Calibration) -> Calibration {
        let (low, high) = self.kind.ends();
        let per_reading = (self.range_si.1 - self.range_si.0) / (high - low);
        let at_no_signal = self.range_si.0 - per_reading * low;
        Calibration {
            si_at_zero_code: at_no_signal + per_reading * as_read.si_at_zero_code,
            si_per_code: per_reading * as_read.si_per_code,
            si_per_code_squared: 0.0,
        }
    }

    /// Of the codes that the board calls good, those between the fault bands.
    pub(super) fn good_codes(&self, as_read: &Calibration, board: (i32, i32)) -> (i32, i32) {
        let code = |reading: f64| (reading - as_read.si_at_zero_code) / as_read.si_per_code;
        let (low, high) = self.kind.faults();
        let (one, other) = (code(low), code(high));
        // Boards state their range in single precision; that must not let a band's edge in.
        let rounding = |code: f64| 1e-6 * (1.0 + code.abs());
        let (one, other) = (one.min(other), one.max(other));
        let lowest = (one + rounding(one)).floor() + 1.0;
        let highest = (other - rounding(other)).ceil() - 1.0;
        // A cast holds at the ends of the type.
        (board.0.max(lowest as i32), board.1.min(highest as i32))
    }
}

/// The unit that a board must state for readings in mA or V, and its name.
pub(super) fn electrical(read_in: ReadIn) -> Option<(RangeUnit, &'static str)> {
    match read_in {
        ReadIn::Milliampere => Some((RangeUnit::Ampere, "amperes")),
        ReadIn::Volt => Some((RangeUnit::Volt, "volts")),
        ReadIn::Counts | ReadIn::Shown => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A microampere each step of the code, 250 bar. The edges of NE 43 are faults themselves.
    #[test]
    fn a_loop_has_the_bands_of_ne_43_and_a_vented_sensor_reads_nothing() {
        let signal = Signal {
            kind: SignalKind::Loop,
            range_si: (0.0, 250e5),
        };
        let as_read = Calibration::through((0, 0.0), (25_000, 25.0)).expect("two codes");
        assert_eq!(signal.good_codes(&as_read, (-10, 24_000)), (3_601, 20_999));
        assert_eq!(
            signal.good_codes(&as_read, (4_000, 20_000)),
            (4_000, 20_000)
        );
        let shown = signal.shown(&as_read);
        assert!(shown.value(4_000).abs() < 1e-6);
        assert!((shown.value(12_000) - 125e5).abs() < 1e-3);
    }

    /// A code that falls with the voltage: p = span·(V/5 − 0.1)/0.8.
    #[test]
    fn a_ratiometric_sensor_goes_by_its_tenth_and_its_nine_tenths() {
        let signal = Signal {
            kind: SignalKind::Ratiometric,
            range_si: (0.0, 400e5),
        };
        let as_read = Calibration::through((1_000, 0.0), (0, 5.0)).expect("two codes");
        let shown = signal.shown(&as_read);
        let by_hand = 400e5 * (3.0 / 5.0 - 0.1) / 0.8;
        assert!((shown.value(400) - by_hand).abs() < 1e-3);
        assert_eq!(signal.good_codes(&as_read, (0, 1_000)), (51, 949));
    }
}
