//! Physical quantities, their parser for typed text, and their printing.
//!
//! Everything is built on uom; what uom cannot tell apart gets a type of its own:
//! gauge and absolute pressure, a pressure and its rate. A temperature point and
//! a temperature interval are already two types of uom.
//!
//! Invariant: a quantity made by this room from text is finite.

mod parse;
mod print;

pub use parse::Quantity;
pub use parse::QuantityError;
pub use parse::Typed;
pub use parse::parse;
pub use print::UnitSystem;
pub use print::number;
pub use print::shown;

/// Units of measure for `Length::new::<millimeter>(63.0)` and `.get::<millimeter>()`.
pub mod unit {
    pub use super::milliliter_per_minute;
    pub use uom::si::area::square_meter;
    pub use uom::si::area::square_millimeter;
    pub use uom::si::electric_potential::volt;
    pub use uom::si::force::kilonewton;
    pub use uom::si::force::newton;
    pub use uom::si::length::inch;
    pub use uom::si::length::meter;
    pub use uom::si::length::micrometer;
    pub use uom::si::length::millimeter;
    pub use uom::si::mass_density::kilogram_per_cubic_meter;
    pub use uom::si::pressure::bar;
    pub use uom::si::pressure::gigapascal;
    pub use uom::si::pressure::pascal;
    pub use uom::si::temperature_interval::kelvin as kelvin_interval;
    pub use uom::si::thermodynamic_temperature::degree_celsius;
    pub use uom::si::thermodynamic_temperature::kelvin;
    pub use uom::si::time::minute;
    pub use uom::si::time::second;
    pub use uom::si::velocity::meter_per_second;
    pub use uom::si::volume::cubic_meter;
    pub use uom::si::volume::milliliter;
    pub use uom::si::volume_rate::cubic_meter_per_second;
}

pub use uom::si::f64::Area;
pub use uom::si::f64::ElectricPotential as Voltage;
pub use uom::si::f64::Force;
pub use uom::si::f64::Length;
pub use uom::si::f64::MassDensity;
pub use uom::si::f64::Pressure;
pub use uom::si::f64::TemperatureInterval;
pub use uom::si::f64::ThermodynamicTemperature as Temperature;
pub use uom::si::f64::Time;
pub use uom::si::f64::Velocity;
pub use uom::si::f64::Volume;
pub use uom::si::f64::VolumeRate;

unit! {
    system: uom::si;
    quantity: uom::si::volume_rate;

    @milliliter_per_minute: 1.0e-6 / 60.0; "mL/min", "milliliter per minute", "milliliters per minute";
}

/// Standard atmosphere in pascal (ISO 2533; exact by definition).
pub const ATMOSPHERE_PA: f64 = 101_325.0;

/// A pressure above the atmosphere; negative below it.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct GaugePressure(Pressure);

impl GaugePressure {
    /// From pascal above the atmosphere.
    pub fn from_pa(pa: f64) -> Self {
        Self(Pressure::new::<unit::pascal>(pa))
    }

    /// From bar above the atmosphere (1 bar = 100 000 Pa).
    pub fn from_bar(bar: f64) -> Self {
        Self::from_pa(bar * 1e5)
    }

    /// In pascal above the atmosphere.
    pub fn pa(self) -> f64 {
        self.0.value
    }

    /// In bar above the atmosphere.
    pub fn bar(self) -> f64 {
        self.0.value / 1e5
    }

    /// The same state counted from vacuum, at one standard atmosphere around.
    pub fn absolute(self) -> AbsolutePressure {
        AbsolutePressure(Pressure::new::<unit::pascal>(self.0.value + ATMOSPHERE_PA))
    }
}

/// A pressure counted from vacuum.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct AbsolutePressure(Pressure);

impl AbsolutePressure {
    /// From pascal above vacuum.
    pub fn from_pa(pa: f64) -> Self {
        Self(Pressure::new::<unit::pascal>(pa))
    }

    /// In pascal above vacuum.
    pub fn pa(self) -> f64 {
        self.0.value
    }
}

/// A change of pressure in time, held in pascal per second (Pa/s).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct PressureRate(f64);

impl PressureRate {
    /// From pascal per second.
    pub fn from_pa_per_s(pa_per_s: f64) -> Self {
        Self(pa_per_s)
    }

    /// In pascal per second.
    pub fn pa_per_s(self) -> f64 {
        self.0
    }

    /// In bar per minute (1 bar/min = 100 000/60 Pa/s).
    pub fn bar_per_min(self) -> f64 {
        self.0 * 60.0 / 1e5
    }
}

/// A kinematic viscosity, held in square metre per second (1 mm²/s = 1e-6 m²/s).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Viscosity(f64);

impl Viscosity {
    /// From square millimetre per second, the unit of ISO 3448 grades.
    pub fn from_mm2_per_s(mm2_per_s: f64) -> Self {
        Self(mm2_per_s * 1e-6)
    }

    /// In square millimetre per second.
    pub fn mm2_per_s(self) -> f64 {
        self.0 * 1e6
    }
}

/// A volumetric expansion per kelvin (1/K).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Expansion(f64);

impl Expansion {
    /// From 1/K.
    pub fn from_per_kelvin(per_kelvin: f64) -> Self {
        Self(per_kelvin)
    }

    /// In 1/K.
    pub fn per_kelvin(self) -> f64 {
        self.0
    }
}

/// A change of pressure with temperature at one volume, held in pascal per kelvin (Pa/K).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct PressurePerKelvin(f64);

impl PressurePerKelvin {
    /// From pascal per kelvin.
    pub fn from_pa_per_k(pa_per_k: f64) -> Self {
        Self(pa_per_k)
    }

    /// In pascal per kelvin.
    pub fn pa_per_k(self) -> f64 {
        self.0
    }

    /// In bar per kelvin (1 bar/K = 100 000 Pa/K).
    pub fn bar_per_k(self) -> f64 {
        self.0 / 1e5
    }
}

/// A part of a whole; 1 is all of it, typed in per cent.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Share(f64);

impl Share {
    /// From a part of one.
    pub fn from_part(part: f64) -> Self {
        Self(part)
    }

    /// As a part of one.
    pub fn part(self) -> f64 {
        self.0
    }

    /// In per cent.
    pub fn percent(self) -> f64 {
        self.0 * 100.0
    }
}

/// A quantity as it was read, with its standard uncertainty (one sigma, same unit).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uncertain<Q> {
    /// The value.
    pub value: Q,
    /// Its standard uncertainty, not negative.
    pub standard: Q,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_millilitre_per_minute_is_a_sixtieth_of_a_cubic_centimetre_a_second() {
        let flow = VolumeRate::new::<unit::milliliter_per_minute>(60.0);
        assert!((flow.value - 1e-6).abs() < 1e-20);
    }

    #[test]
    fn gauge_zero_is_one_standard_atmosphere_absolute() {
        assert_eq!(GaugePressure::from_bar(0.0).absolute().pa(), 101_325.0);
    }
}
