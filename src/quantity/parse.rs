//! Typed text to quantities: "210bar", "0,25 ml/min", "1.5e3 psi".
//!
//! The decimal sign may be a point or a comma, never both; digits are never
//! grouped. A number without a unit, or with a unit of another kind, is refused
//! with the units that would be understood. The unit as it was typed is kept, so
//! that a limit is compared and printed in it.

use super::Area;
use super::Expansion;
use super::Force;
use super::GaugePressure;
use super::Length;
use super::MassDensity;
use super::Pressure;
use super::PressureRate;
use super::Share;
use super::Temperature;
use super::TemperatureInterval;
use super::Time;
use super::Velocity;
use super::Viscosity;
use super::Voltage;
use super::Volume;
use super::VolumeRate;
use super::unit;

/// Why a text is not a quantity, and what would be.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum QuantityError {
    /// No number at the start.
    #[error("`{text}` does not begin with a number; write for example `{example}`")]
    NoNumber {
        /// What was typed.
        text: String,
        /// What would be understood.
        example: String,
    },
    /// A comma and a point, or one of them twice: the value would be a guess.
    #[error(
        "`{text}` has more than one decimal sign, so its size would be a guess; \
         write it with one comma or one point and without grouping"
    )]
    Ambiguous {
        /// What was typed.
        text: String,
    },
    /// The unit is missing or of another kind.
    #[error("`{text}` is no {kind}: unit `{unit}` is not one of {accepted}")]
    Unit {
        /// What was typed.
        text: String,
        /// The kind of quantity wanted.
        kind: &'static str,
        /// The unit found.
        unit: String,
        /// The units understood.
        accepted: String,
    },
}

/// A quantity that can be typed: its units, and its value in SI base units.
pub trait Quantity: Copy {
    /// What it is called in messages.
    const KIND: &'static str;
    /// Unit as printed, factor to SI, offset in SI (nonzero for °C and °F only).
    const UNITS: &'static [(&'static str, f64, f64)];
    /// From SI base units.
    fn from_si(value: f64) -> Self;
    /// In SI base units.
    fn si(self) -> f64;
}

/// A quantity with the number and the unit as they were typed.
#[derive(Debug, Clone, PartialEq)]
pub struct Typed<Q> {
    /// The quantity.
    pub quantity: Q,
    /// The number in the typed unit.
    pub number: f64,
    /// The typed unit, in its printed form.
    pub unit: &'static str,
    /// Factor from the typed unit to SI.
    pub si_per_unit: f64,
    /// The text as it was typed.
    pub text: String,
}

const PSI_PA: f64 = 6_894.757_293_168;
const INCH_M: f64 = 0.0254;
const IN3_M3: f64 = INCH_M * INCH_M * INCH_M;

macro_rules! quantities {
    ($($type:ty, $kind:literal, $from:expr, $si:expr, [$($unit:literal $factor:expr, $offset:expr);+ $(;)?];)+) => {$(
        impl Quantity for $type {
            const KIND: &'static str = $kind;
            const UNITS: &'static [(&'static str, f64, f64)] = &[$(($unit, $factor, $offset)),+];
            fn from_si(value: f64) -> Self {
                $from(value)
            }
            fn si(self) -> f64 {
                $si(self)
            }
        }
    )+};
}

quantities! {
    Length, "length", Length::new::<unit::meter>, |q: Length| q.value,
        ["mm" 1e-3, 0.0; "m" 1.0, 0.0; "cm" 1e-2, 0.0; "µm" 1e-6, 0.0; "um" 1e-6, 0.0; "in" INCH_M, 0.0];
    Area, "area", Area::new::<unit::square_meter>, |q: Area| q.value,
        ["mm²" 1e-6, 0.0; "cm²" 1e-4, 0.0; "m²" 1.0, 0.0; "in²" INCH_M * INCH_M, 0.0];
    Volume, "volume", Volume::new::<unit::cubic_meter>, |q: Volume| q.value,
        ["mL" 1e-6, 0.0; "cm³" 1e-6, 0.0; "L" 1e-3, 0.0; "cc" 1e-6, 0.0; "in³" IN3_M3, 0.0;
         "US gal" 231.0 * IN3_M3, 0.0; "m³" 1.0, 0.0];
    Force, "force", Force::new::<unit::newton>, |q: Force| q.value,
        ["kN" 1e3, 0.0; "N" 1.0, 0.0; "lbf" 4.448_221_615_260_5, 0.0];
    Time, "time", Time::new::<unit::second>, |q: Time| q.value,
        ["s" 1.0, 0.0; "min" 60.0, 0.0; "h" 3600.0, 0.0];
    Velocity, "speed", Velocity::new::<unit::meter_per_second>, |q: Velocity| q.value,
        ["mm/min" 1e-3 / 60.0, 0.0; "mm/h" 1e-3 / 3600.0, 0.0; "mm/s" 1e-3, 0.0; "m/s" 1.0, 0.0;
         "mm/3min" 1e-3 / 180.0, 0.0; "mm/5min" 1e-3 / 300.0, 0.0; "mm/10min" 1e-3 / 600.0, 0.0;
         "mm/15min" 1e-3 / 900.0, 0.0; "mm/30min" 1e-3 / 1800.0, 0.0; "in/min" INCH_M / 60.0, 0.0;
         "in/5min" INCH_M / 300.0, 0.0; "in/10min" INCH_M / 600.0, 0.0; "in/15min" INCH_M / 900.0, 0.0];
    VolumeRate, "flow", VolumeRate::new::<unit::cubic_meter_per_second>, |q: VolumeRate| q.value,
        ["mL/min" 1e-6 / 60.0, 0.0; "cm³/min" 1e-6 / 60.0, 0.0; "cc/min" 1e-6 / 60.0, 0.0;
         "L/min" 1e-3 / 60.0, 0.0; "mL/s" 1e-6, 0.0; "mL/3min" 1e-6 / 180.0, 0.0; "mL/10min" 1e-6 / 600.0, 0.0;
         "in³/min" IN3_M3 / 60.0, 0.0; "US gal/min" 231.0 * IN3_M3 / 60.0, 0.0; "m³/s" 1.0, 0.0];
    GaugePressure, "pressure", GaugePressure::from_pa, GaugePressure::pa,
        ["bar" 1e5, 0.0; "MPa" 1e6, 0.0; "kPa" 1e3, 0.0; "psi" PSI_PA, 0.0; "Pa" 1.0, 0.0];
    Pressure, "stiffness", Pressure::new::<unit::pascal>, |q: Pressure| q.value,
        ["GPa" 1e9, 0.0; "MPa" 1e6, 0.0; "bar" 1e5, 0.0; "psi" PSI_PA, 0.0];
    PressureRate, "pressure rate", PressureRate::from_pa_per_s, PressureRate::pa_per_s,
        ["bar/min" 1e5 / 60.0, 0.0; "bar/h" 1e5 / 3600.0, 0.0; "bar/10min" 1e5 / 600.0, 0.0; "MPa/min" 1e6 / 60.0, 0.0; "psi/min" PSI_PA / 60.0, 0.0];
    Temperature, "temperature", Temperature::new::<unit::kelvin>, |q: Temperature| q.value,
        ["°C" 1.0, 273.15; "degC" 1.0, 273.15; "°F" 5.0 / 9.0, 459.67 * 5.0 / 9.0; "degF" 5.0 / 9.0, 459.67 * 5.0 / 9.0];
    Voltage, "voltage", Voltage::new::<unit::volt>, |q: Voltage| q.value,
        ["V" 1.0, 0.0; "mV" 1e-3, 0.0];
    TemperatureInterval, "temperature difference", TemperatureInterval::new::<unit::kelvin_interval>, |q: TemperatureInterval| q.value,
        ["K" 1.0, 0.0; "mK" 1e-3, 0.0];
    Viscosity, "kinematic viscosity", |v: f64| Viscosity::from_mm2_per_s(v * 1e6), |q: Viscosity| q.mm2_per_s() * 1e-6,
        ["mm²/s" 1e-6, 0.0; "cSt" 1e-6, 0.0];
    Expansion, "expansion", Expansion::from_per_kelvin, Expansion::per_kelvin,
        ["1/K" 1.0, 0.0; "/K" 1.0, 0.0; "1/°F" 1.8, 0.0];
    MassDensity, "density", MassDensity::new::<unit::kilogram_per_cubic_meter>, |q: MassDensity| q.value,
        ["kg/m³" 1.0, 0.0; "g/cm³" 1e3, 0.0; "kg/L" 1e3, 0.0];
    Share, "share", Share::from_part, Share::part,
        ["%" 1e-2, 0.0];
}

/// Reads "210bar", "0,25 ml/min" or "-3.5 °C".
///
/// # Errors
/// See [`QuantityError`]; nothing is guessed.
pub fn parse<Q: Quantity>(text: &str) -> Result<Typed<Q>, QuantityError> {
    let trimmed = text.trim();
    let (digits, rest) = split_number(trimmed);
    let example = || format!("10 {}", Q::UNITS[0].0);
    let signs = digits.matches([',', '.']).count();
    if signs > 1 {
        return Err(QuantityError::Ambiguous { text: text.into() });
    }
    let number: f64 = digits
        .replace(',', ".")
        .parse()
        .ok()
        .filter(|n: &f64| n.is_finite())
        .ok_or_else(|| QuantityError::NoNumber {
            text: text.into(),
            example: example(),
        })?;
    let wanted = plain(rest);
    let found = Q::UNITS.iter().find(|(name, ..)| plain(name) == wanted);
    let &(unit, si_per_unit, offset) = found.ok_or_else(|| QuantityError::Unit {
        text: text.into(),
        kind: Q::KIND,
        unit: rest.trim().into(),
        accepted: Q::UNITS
            .iter()
            .map(|(name, ..)| *name)
            .collect::<Vec<_>>()
            .join(", "),
    })?;
    let quantity = Q::from_si(number * si_per_unit + offset);
    Ok(Typed {
        quantity,
        number,
        unit,
        si_per_unit,
        text: trimmed.into(),
    })
}

/// The leading number (sign, digits, decimal signs, exponent) and what follows.
fn split_number(text: &str) -> (&str, &str) {
    let bytes = text.as_bytes();
    let mut end = 0;
    while let Some(&byte) = bytes.get(end) {
        let exponent = matches!(byte, b'e' | b'E')
            && bytes
                .get(end + 1)
                .is_some_and(|b| b.is_ascii_digit() || matches!(b, b'+' | b'-'));
        let sign =
            matches!(byte, b'+' | b'-') && (end == 0 || matches!(bytes[end - 1], b'e' | b'E'));
        if !(byte.is_ascii_digit() || matches!(byte, b'.' | b',') || exponent || sign) {
            break;
        }
        end += 1;
    }
    text.split_at(end)
}

/// A unit without blanks, superscripts and case. Milli and mega stay apart:
/// no kind of quantity here has both for the same unit.
fn plain(unit: &str) -> String {
    unit.chars()
        .filter(|c| !c.is_whitespace() && *c != '^')
        .map(|c| match c {
            '²' => '2',
            '³' => '3',
            'μ' => 'µ',
            other => other,
        })
        .flat_map(char::to_lowercase)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check<Q: Quantity>(text: &str, si: f64) {
        let typed = parse::<Q>(text).expect(text);
        assert!(
            (typed.quantity.si() - si).abs() <= 1e-12 * si.abs(),
            "{text}: {} not {si}",
            typed.quantity.si()
        );
    }

    #[test]
    fn what_people_type_is_understood() {
        check::<GaugePressure>("210bar", 210e5);
        check::<GaugePressure>("210 Bar", 210e5);
        check::<GaugePressure>("210,5 bar", 210.5e5);
        check::<GaugePressure>("3000 psi", 3000.0 * PSI_PA);
        check::<VolumeRate>("0,25 ml/min", 0.25e-6 / 60.0);
        check::<VolumeRate>("1 in3/min", 16.387_064e-6 / 60.0);
        check::<Length>("5 um", 5e-6);
        check::<Temperature>("40 degC", 313.15);
        check::<Temperature>("104 °F", 313.15);
        check::<Velocity>("20 mm/5min", 0.020 / 300.0);
        check::<Length>("63,5mm", 63.5e-3);
        check::<PressureRate>("-1.5e1 bar/min", -15e5 / 60.0);
        check::<MassDensity>("0,87 kg/L", 870.0);
        check::<Share>("2 %", 0.02);
    }

    /// Inch and US gallon by their definitions (NIST SP 811, from memory): 25.4 mm exactly,
    /// so in³ is 16.387064 mL and the gallon of 231 in³ is 3.785411784 L; litre and cc are
    /// 1e-3 and 1e-6 m³ (SI brochure, from memory).
    #[test]
    fn inch_gallon_and_cc_are_those_of_their_definitions() {
        check::<Length>("1 in", 25.4e-3);
        check::<Volume>("1 in³", 16.387_064e-6);
        check::<Volume>("1 in^3", 16.387_064e-6);
        check::<Volume>("1 US gal", 3.785_411_784e-3);
        check::<VolumeRate>("1 US gal/min", 3.785_411_784e-3 / 60.0);
        check::<Volume>("1 cc", 1e-6);
        check::<Volume>("1 mL", 1e-6);
        check::<Velocity>("1 in/min", 25.4e-3 / 60.0);
        // A gallon that does not say which is a guess.
        refused::<Volume>("1 gal", "US gal");
    }

    #[track_caller]
    fn refused<Q: Quantity + std::fmt::Debug>(text: &str, part: &str) {
        let message = parse::<Q>(text).expect_err(text).to_string();
        assert!(message.contains(part), "{text}: {message}");
    }

    #[test]
    fn what_would_be_a_guess_is_refused() {
        refused::<VolumeRate>("1.234,5 mL/min", "decimal sign");
        refused::<VolumeRate>("1,234,567 mL/min", "decimal sign");
        refused::<GaugePressure>("NaN bar", "number");
        refused::<GaugePressure>("inf bar", "number");
        refused::<GaugePressure>("1e999 bar", "number");
        refused::<GaugePressure>("210", "bar");
        refused::<GaugePressure>("210 mm", "mm");
        refused::<TemperatureInterval>("2 °C", "K");
        refused::<Length>("", "number");
        refused::<Share>("0.02", "%");
        // A page of rules prints 90 per °C where it means 90 psi per °F: no expansion.
        refused::<Expansion>("90 bar/°C", "expansion");
    }

    #[test]
    fn the_typed_unit_is_kept() {
        let typed = parse::<VolumeRate>("0,25 ML/MIN").expect("a flow");
        assert_eq!(
            (typed.number, typed.unit, typed.text.as_str()),
            (0.25, "mL/min", "0,25 ML/MIN")
        );
    }
}
