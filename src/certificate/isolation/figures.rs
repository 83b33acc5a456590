//! Figures of a sheet as they are said over the phone: short, and never rounded inwards.

use crate::account::investigation::Answer;
use crate::account::investigation::Standing;
use crate::certificate::isolation::facts::Expanded;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;

/// How a number ends up on a decimal place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Towards {
    Down,
    Nearest,
    Up,
}

/// Prints figures in the shop's units of measure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Figures {
    /// The shop's units of measure.
    pub units: UnitSystem,
}

impl Figures {
    /// Factor from SI, and name, of the unit flows are said in.
    pub fn flow_unit(self) -> (f64, &'static str) {
        shown("mL/min", self.units)
    }

    /// "96 bar".
    pub fn pressure(self, pa: f64) -> String {
        let (factor, unit) = shown("bar", self.units);
        format!("{} {unit}", number(pa * factor, 10.0))
    }

    /// "112 → 96 bar", or one pressure that stays.
    pub fn pressures(self, (from, until): (f64, f64)) -> String {
        let (factor, _) = shown("bar", self.units);
        let (from, until) = (number(from * factor, 10.0), self.pressure(until));
        format!("{from} → {until}")
    }

    /// The figure of a way: "1.9 ± 0.1 mL/min", "less than 0.04 mL/min" or
    /// "0 … 1.5 mL/min"; empty for one that was not driven.
    pub fn of_way(self, answer: &Answer) -> String {
        let (factor, unit) = self.flow_unit();
        let flow = |si: f64| si * factor;
        let (lower, best, upper) = (
            flow(answer.lower_m3_per_s),
            flow(answer.best_m3_per_s),
            flow(answer.upper_m3_per_s),
        );
        match answer.standing {
            Standing::NotDriven | Standing::NotValid => String::new(),
            Standing::Tight => format!("less than {} {unit}", bound(upper, Towards::Up)),
            Standing::Leaks | Standing::AtSetting if !upper.is_finite() => {
                format!("at least {} {unit}", bound(lower, Towards::Down))
            }
            Standing::Leaks | Standing::AtSetting => interval(lower, best, upper, unit),
            Standing::Open { .. } => range(lower, upper, unit),
        }
    }

    /// "1.91 ± 0.11 mL/min" of a measured sum.
    pub fn flow(self, measured: Expanded) -> String {
        let (factor, unit) = self.flow_unit();
        plus_minus(
            measured.value_si * factor,
            measured.expanded_si * factor,
            unit,
        )
    }

    /// "lost 0.060 ± 0.020 mL/min": the first word for what is above zero, the second for
    /// what is below.
    pub fn gone(self, measured: Expanded, (above, below): (&str, &str)) -> String {
        let said = self.flow(measured);
        match said.strip_prefix('−') {
            Some(size) => format!("{below} {size}"),
            None => format!("{above} {said}"),
        }
    }

    /// "0.559 ± 0.002 mm/min in" of a movement; without a word where it may be either way.
    pub fn movement(self, measured: Expanded) -> String {
        let (factor, unit) = shown("mm/min", self.units);
        let expanded = measured.expanded_si * factor;
        let value = measured.value_si * factor;
        let (value, way) = match value.abs() > expanded {
            true if value < 0.0 => (-value, " in"),
            true => (value, " out"),
            false => (value, ""),
        };
        plus_minus(value, expanded, unit) + way
    }

    /// "3.2 mL" of oil in a vessel.
    pub fn volume(self, m3: f64, standard_m3: f64) -> String {
        let (factor, unit) = shown("mL", self.units);
        plus_minus(m3 * factor, 1.96 * standard_m3 * factor, unit)
    }
}

/// Lower and upper end with a best value between them.
fn interval(lower: f64, best: f64, upper: f64, unit: &str) -> String {
    let (below, above) = (best - lower, upper - best);
    let half = below.max(above);
    // Only an interval that is about as long on both sides is a ±.
    if below.min(above) >= 0.6 * half && half < best {
        plus_minus(best, half, unit)
    } else {
        range(lower, upper, unit)
    }
}

/// "0 … 1.5 mL/min".
fn range(lower: f64, upper: f64, unit: &str) -> String {
    if !upper.is_finite() {
        let least = bound(lower.max(0.0), Towards::Down);
        return format!("{least} {unit} or more");
    }
    let places = decimals(upper - lower.max(0.0), 1.0);
    let lower = rounded(lower.max(0.0), places, Towards::Down);
    let lower = if is_zero(&lower) { "0".into() } else { lower };
    format!("{lower} … {} {unit}", rounded(upper, places, Towards::Up))
}

fn plus_minus(value: f64, half: f64, unit: &str) -> String {
    if !(value.is_finite() && half.is_finite()) {
        return "not known".into();
    }
    let places = decimals(half, 0.0);
    let value = rounded(value, places, Towards::Nearest);
    let half = rounded(half, places, Towards::Up);
    format!("{value} ± {half} {unit}")
}

fn bound(value: f64, towards: Towards) -> String {
    if value <= 0.0 {
        return "0".into();
    }
    rounded(value, decimals(value, 0.0), towards)
}

/// Decimals that give one digit of `size`, two where the first is a 1 or 2, and `more`.
fn decimals(size: f64, more: f64) -> i32 {
    if !(size.is_finite() && size > 0.0) {
        return 3;
    }
    let exponent = size.log10().floor();
    let first = size / 10_f64.powf(exponent);
    let digits = if first < 3.0 { 1.0 } else { more };
    (digits - exponent).clamp(0.0, 6.0) as i32
}

fn rounded(value: f64, places: i32, towards: Towards) -> String {
    let step = 10_f64.powi(places);
    // What is on a step but for the last bits of the number stays there.
    let scaled = value * step;
    let whole = match towards {
        Towards::Down => (scaled + 1e-6).floor(),
        Towards::Nearest => scaled.round(),
        Towards::Up => (scaled - 1e-6).ceil(),
    };
    let text = format!("{:.*}", places.max(0) as usize, whole.abs() / step);
    if whole < 0.0 && !is_zero(&text) {
        format!("−{text}")
    } else {
        text
    }
}

fn is_zero(text: &str) -> bool {
    text.chars().all(|c| matches!(c, '0' | '.'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_uncertainty_has_one_digit_and_two_behind_a_one_or_two() {
        assert_eq!(plus_minus(1.912, 0.094, "mL/min"), "1.91 ± 0.10 mL/min");
        assert_eq!(plus_minus(1.912, 0.113, "mL/min"), "1.91 ± 0.12 mL/min");
        assert_eq!(plus_minus(1.912, 0.34, "mL/min"), "1.9 ± 0.4 mL/min");
        assert_eq!(plus_minus(-0.004, 0.03, "mm/min"), "0.00 ± 0.03 mm/min");
        assert_eq!(plus_minus(-0.559, 0.003, "mm/min"), "−0.559 ± 0.003 mm/min");
    }

    #[test]
    fn an_end_is_never_rounded_inwards() {
        assert_eq!(bound(0.0341, Towards::Up), "0.04");
        assert_eq!(bound(0.04, Towards::Up), "0.04");
        assert_eq!(bound(0.0341, Towards::Down), "0.03");
        assert_eq!(range(0.0, 1.4321, "mL/min"), "0 … 1.5 mL/min");
        assert_eq!(range(0.26, 0.84, "mL/min"), "0.26 … 0.84 mL/min");
        assert_eq!(range(0.0, f64::INFINITY, "mL/min"), "0 mL/min or more");
    }

    #[test]
    fn a_lopsided_interval_is_a_range() {
        assert_eq!(interval(1.8, 1.9, 2.0, "mL/min"), "1.90 ± 0.10 mL/min");
        assert_eq!(interval(0.4, 0.5, 1.6, "mL/min"), "0.4 … 1.6 mL/min");
    }
}
