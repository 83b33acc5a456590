//! What a person types of an instrument: a number, with or without its unit.

use super::EyeInstrument;
use crate::channel::Role;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Quantity;
use crate::quantity::Temperature;
use crate::quantity::Voltage;
use crate::quantity::parse;

/// Part of its span that a pointer may rest below its scale: a pin, or a zero that is off.
const BELOW: f64 = 0.05;

impl EyeInstrument {
    /// The value in SI of what was typed, comma or point; in the instrument's own unit where none
    /// stands behind the number.
    ///
    /// # Errors
    /// With what is wrong with it; nothing is guessed.
    pub fn understood(&self, text: &str) -> Result<f64, String> {
        let text = text.trim();
        let has_unit = text.chars().any(|c| c.is_alphabetic() || c == '°');
        let whole = match has_unit {
            true => text.to_owned(),
            false => format!("{text} {}", self.unit.name),
        };
        let read = match self.role {
            Role::CapPressure | Role::RodPressure => {
                parse::<GaugePressure>(&whole).map(|typed| typed.quantity.si())
            }
            Role::Position => parse::<Length>(&whole).map(|typed| typed.quantity.si()),
            Role::OilTemperature | Role::WallTemperature => {
                parse::<Temperature>(&whole).map(|typed| typed.quantity.si())
            }
            Role::Supply => parse::<Voltage>(&whole).map(|typed| typed.quantity.si()),
        };
        let si = read.map_err(|e| e.to_string())?;
        let (low, high) = self.range_si;
        let lowest = low - BELOW * self.span_si();
        // The last digits of a unit's factor are no reading.
        if si < lowest || si > high + 1e-9 * self.span_si() {
            return Err(format!(
                "{} is outside the scale of the {}, {} to {}; read it again",
                self.typed(si),
                self.plain(),
                self.typed(low),
                self.typed(high)
            ));
        }
        let near = 0.5 * self.division_si;
        if self.role == Role::Position && (si < low + near || si > high - near) {
            return Err(format!(
                "{} is an end of the dial's scale, where it may have stopped; a new hold with the dial set anew tells more",
                self.typed(si)
            ));
        }
        Ok(si)
    }

    /// How far two readings in a row may lie apart before it is asked whether that is right, SI.
    pub fn leap_si(&self, last_si: f64) -> f64 {
        let by_kind = match self.role {
            Role::CapPressure | Role::RodPressure | Role::Supply => 0.1 * last_si.abs(),
            Role::Position => 0.1 * self.span_si(),
            Role::OilTemperature | Role::WallTemperature => 5.0,
        };
        by_kind.max(10.0 * self.division_si)
    }
}

#[cfg(test)]
mod tests {
    use crate::channel::EyeInstrument;
    use crate::channel::EyeUnit;
    use crate::channel::Role;
    use crate::channel::SensorPapers;

    fn gauge() -> EyeInstrument {
        EyeInstrument {
            role: Role::CapPressure,
            unit: EyeUnit {
                name: "bar",
                si_per_unit: 1e5,
                si_at_zero: 0.0,
            },
            range_si: (0.0, 250e5),
            division_si: 1e5,
            error_si: 2.5e5,
            class: Some(1.0),
            counts_up: None,
            papers: SensorPapers::default(),
        }
    }

    #[test]
    fn a_number_has_the_instrument_s_unit_unless_it_brings_its_own() {
        for (text, bar) in [
            ("158,5", 158.5),
            ("158.5 bar", 158.5),
            ("2 MPa", 20.0),
            ("-1", -1.0),
        ] {
            let si = gauge().understood(text).expect(text);
            assert!((si - bar * 1e5).abs() < 1e-6, "{text}");
        }
    }

    #[test]
    fn what_no_pointer_shows_and_what_would_be_a_guess_is_refused() {
        for (text, part) in [
            ("1.585,0", "decimal sign"),
            ("", "number"),
            ("160 mm", "unit"),
            (
                "251",
                "outside the scale of the pressure gauge, 0 bar to 250 bar",
            ),
            ("-20", "outside the scale"),
        ] {
            let error = gauge().understood(text).expect_err(text);
            assert!(error.contains(part), "{text}: {error}");
        }
    }

    #[test]
    fn a_tenth_of_the_pressure_is_far_and_ten_divisions_are_never() {
        assert!((gauge().leap_si(160e5) - 16e5).abs() < 1e-6);
        assert!((gauge().leap_si(0.0) - 10e5).abs() < 1e-6);
    }
}
