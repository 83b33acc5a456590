//! Quantities to text, in the units the shop chose.
//!
//! Numbers are printed with as many digits as their uncertainty deserves; data
//! files never come through here, they carry SI or the unit in the field name.

/// Which units the shop reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum UnitSystem {
    /// mm, bar, mL/min, °C.
    #[default]
    Metric,
    /// in, psi, in³/min, °F.
    Inch,
}

/// Factor from SI, and the name, of the unit that a shop reads for `metric_unit`.
///
/// `metric_unit` is one of "mm", "mm/min", "bar", "bar/min", "mL", "mL/min", "N", "%"; any
/// other name comes back unchanged with a factor of one.
pub fn shown(metric_unit: &'static str, system: UnitSystem) -> (f64, &'static str) {
    const PSI_PA: f64 = 6_894.757_293_168;
    const IN3_M3: f64 = 16.387_064e-6;
    match (metric_unit, system) {
        ("mm", UnitSystem::Metric) => (1e3, "mm"),
        ("mm", UnitSystem::Inch) => (1.0 / 0.0254, "in"),
        ("mm/min", UnitSystem::Metric) => (60e3, "mm/min"),
        ("mm/min", UnitSystem::Inch) => (60.0 / 0.0254, "in/min"),
        ("bar", UnitSystem::Metric) => (1e-5, "bar"),
        ("bar", UnitSystem::Inch) => (1.0 / PSI_PA, "psi"),
        ("bar/min", UnitSystem::Metric) => (60e-5, "bar/min"),
        ("bar/min", UnitSystem::Inch) => (60.0 / PSI_PA, "psi/min"),
        ("mL", UnitSystem::Metric) => (1e6, "mL"),
        ("mL", UnitSystem::Inch) => (1.0 / IN3_M3, "in³"),
        ("mL/min", UnitSystem::Metric) => (60e6, "mL/min"),
        ("mL/min", UnitSystem::Inch) => (60.0 / IN3_M3, "in³/min"),
        ("N", UnitSystem::Inch) => (1.0 / 4.448_221_615_260_5, "lbf"),
        ("%", _) => (100.0, "%"),
        (other, _) => (1.0, other),
    }
}

/// `value` with digits down to the second significant digit of `uncertainty`,
/// as the GUM (JCGM 100, 7.2.6) advises; at most six decimals.
pub fn number(value: f64, uncertainty: f64) -> String {
    if !value.is_finite() {
        return "–".into();
    }
    let size = if uncertainty.is_finite() && uncertainty > 0.0 {
        uncertainty
    } else {
        value.abs() * 1e-3
    };
    let decimals = if size > 0.0 {
        (1.0 - size.log10().floor()).clamp(0.0, 6.0)
    } else {
        0.0
    };
    let text = format!("{value:.*}", decimals as usize);
    // A rounded zero has no sign, and typography wants a real minus.
    if text
        .trim_start_matches('-')
        .chars()
        .all(|c| matches!(c, '0' | '.'))
    {
        text.trim_start_matches('-').into()
    } else {
        text.replace('-', "−")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_follow_the_uncertainty() {
        assert_eq!(number(0.185585, 0.0315), "0.186");
        assert_eq!(number(123.456, 12.0), "123");
        assert_eq!(number(-0.0001, 0.02), "0.000");
        assert_eq!(number(-0.25, 0.02), "−0.250");
    }

    #[test]
    fn a_cubic_inch_a_minute_is_16_387_millilitres() {
        let (factor, name) = shown("mL/min", UnitSystem::Inch);
        assert_eq!(name, "in³/min");
        assert!((factor * 16.387_064e-6 / 60.0 - 1.0).abs() < 1e-12);
    }
}
