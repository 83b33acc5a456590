//! Sentences as a fitter says them: figure, uncertainty, conditions, limit.
//!
//! "Oil lost from the cap side: 0.060 ± 0.020 mL/min at 160 bar, 46 °C. Limit
//! rebuilt-63-cap-loss: 0.12 mL/min. Pass." Units of measure are the shop's; a
//! limit is also said as it was typed.
//!
//! Invariant: a path that can only be bounded is said as a bound, never as a value.

use crate::account::Conditions;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::account::FigureName;
use crate::cylinder::Chamber;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;
use crate::verdict::Judged;
use crate::verdict::Limit;
use crate::verdict::Outcome;

/// What the words of one paper have in common.
#[derive(Debug, Clone, Copy)]
pub(super) struct Speech {
    /// Units of measure of the shop.
    pub units: UnitSystem,
    /// The chamber that holds the load.
    pub holding: Chamber,
}

impl Speech {
    /// Factor from SI, and name, of the unit a figure is said in.
    pub(super) fn unit(self, name: FigureName) -> (f64, &'static str) {
        shown(name.metric_unit(), self.units)
    }

    /// "0.060 ± 0.020 mL/min", "at most 0.080 mL/min" or "0.020 to 0.080 mL/min"; the way it
    /// went is in the name ([`Self::name`]).
    pub(super) fn result(self, figure: &Figure) -> String {
        let (factor, unit) = self.unit(figure.name);
        let factor = factor * self.sense(figure);
        if let Some(measured) = figure.measured {
            let value = measured.value_si * factor;
            let expanded = (measured.standard_si * figure.coverage_factor * factor).abs();
            let (value, way) = match direction(figure) {
                "" => (value, ""),
                way => (value.abs(), way),
            };
            return format!(
                "{} ± {} {unit}{way}",
                number(value, expanded),
                number(expanded, expanded)
            );
        }
        let ends = (figure.lower_si * factor, figure.upper_si * factor);
        let (lower, upper) = (ends.0.min(ends.1), ends.0.max(ends.1));
        let digits = 0.3 * (upper - lower);
        if lower < 0.0 && lower.is_finite() && upper.is_finite() && back(figure.name).is_some() {
            return format!(
                "at most {} {unit}, or {} the other way",
                number(upper, digits),
                number(-lower, digits)
            );
        }
        match (lower.is_finite() && lower > 0.0, upper.is_finite()) {
            (true, true) => format!(
                "{} to {} {unit}",
                number(lower, digits),
                number(upper, digits)
            ),
            (false, true) => format!("at most {} {unit}", number(upper, digits)),
            (true, false) => format!("at least {} {unit}", number(lower, 0.3 * lower)),
            (false, false) => "not known".into(),
        }
    }

    /// What a figure is called, after the way that the oil, or the pressure, went.
    pub(super) fn name(self, figure: &Figure) -> &'static str {
        let turned = back(figure.name).filter(|_| self.sense(figure) < 0.0);
        turned.unwrap_or(figure.name.plain())
    }

    /// 1 for a figure that is said as it is, −1 for one that is said the other way round.
    pub(super) fn sense(self, figure: &Figure) -> f64 {
        let (factor, _) = self.unit(figure.name);
        let is_below = match figure.measured {
            Some(measured) => {
                let expanded = measured.standard_si * figure.coverage_factor * factor;
                number(measured.value_si * factor, expanded).starts_with('−')
            }
            None => figure.upper_si <= 0.0 && figure.lower_si < 0.0,
        };
        match is_below && back(figure.name).is_some() {
            true => -1.0,
            false => 1.0,
        }
    }

    /// The pressure that drives the figure, and the oil temperature.
    pub(super) fn conditions(self, figure: &Figure) -> String {
        let at = figure.at;
        let temperature = at.t_oil_k.map(|t| self.temperature(t));
        let said: Vec<String> = [self.driving_pressure(figure.name, at), temperature]
            .into_iter()
            .flatten()
            .collect();
        said.join(", ")
    }

    /// Both pressures and the oil temperature, for a table.
    pub(super) fn all_conditions(self, at: Conditions) -> String {
        let said: Vec<String> = [
            at.p_cap_pa.map(|p| format!("cap {}", self.pressure(p))),
            at.p_rod_pa.map(|p| format!("rod {}", self.pressure(p))),
            at.t_oil_k.map(|t| self.temperature(t)),
        ]
        .into_iter()
        .flatten()
        .collect();
        if said.is_empty() {
            "not measured".into()
        } else {
            said.join(", ")
        }
    }

    /// "Oil lost from the cap side: 0.060 ± 0.020 mL/min at 160 bar, 46 °C."
    pub(super) fn figure(self, figure: &Figure) -> String {
        let conditions = self.conditions(figure);
        let at = if conditions.is_empty() {
            String::new()
        } else {
            format!(" at {conditions}")
        };
        let bound = if figure.measured.is_none() {
            "; this plumbing cannot tell it apart from other paths"
        } else {
            ""
        };
        let (name, result) = (self.name(figure), self.result(figure));
        format!("{name}: {result}{at}{bound}.")
    }

    /// The limit as it was typed, with the shop's unit behind it if that is another.
    pub(super) fn limit(self, limit: &Limit) -> String {
        let (factor, unit) = self.unit(limit.figure);
        if limit.unit == unit || !limit.number.is_finite() {
            return limit.text.clone();
        }
        let at_rod = match limit.basis.load_ratio {
            Some(_) => " at the rod",
            None => "",
        };
        let value = limit.number * limit.si_per_unit * factor;
        format!("{} ({} {unit}{at_rod})", limit.text, not_looser(value))
    }

    /// Figure and limit of one judged limit, without the outcome.
    pub(super) fn judged(self, judged: &Judged, evaluation: Option<&Evaluation>) -> String {
        let limit = &judged.limit;
        let stated = format!("Limit {}: {}.", limit.id, self.limit(limit));
        let figure = evaluation.and_then(|e| e.figure(limit.figure));
        match figure {
            Some(figure) if judged.outcome != Outcome::NotValid => {
                format!("{} {stated}", self.figure(figure))
            }
            _ => format!("{}: not stated. {stated}", limit.figure.plain()),
        }
    }

    /// "160 bar" or "2321 psi".
    pub(super) fn pressure(self, pa: f64) -> String {
        let (factor, unit) = shown("bar", self.units);
        let value = pa * factor;
        let least = if self.units == UnitSystem::Metric && value.abs() < 20.0 {
            1.0
        } else {
            10.0
        };
        format!("{} {unit}", number(value, least))
    }

    /// "46 °C" or "115 °F".
    pub(super) fn temperature(self, kelvin: f64) -> String {
        match self.units {
            UnitSystem::Metric => format!("{} °C", number(kelvin - 273.15, 10.0)),
            UnitSystem::Inch => format!("{} °F", number((kelvin - 273.15) * 1.8 + 32.0, 10.0)),
        }
    }

    /// "212 mm" or "8.35 in".
    pub(super) fn length(self, meter: f64) -> String {
        let (factor, unit) = shown("mm", self.units);
        let digits = match self.units {
            UnitSystem::Metric => 10.0,
            UnitSystem::Inch => 0.1,
        };
        format!("{} {unit}", number(meter * factor, digits))
    }

    /// The pressure that drives a figure, in words.
    pub(super) fn driving_pressure(self, name: FigureName, at: Conditions) -> Option<String> {
        let pa = match name {
            FigureName::PistonBypass => {
                let across = self.pressure((at.p_cap_pa? - at.p_rod_pa?).abs());
                return Some(format!("{across} across the piston"));
            }
            FigureName::CapLoss | FigureName::CapPortLeakage | FigureName::CapValveLeakage => {
                at.p_cap_pa?
            }
            FigureName::RodGain
            | FigureName::GlandLeakage
            | FigureName::RodPortLeakage
            | FigureName::RodValveLeakage => at.p_rod_pa?,
            FigureName::Drift | FigureName::LeakDown => match self.holding {
                Chamber::Cap => at.p_cap_pa?,
                Chamber::Rod => at.p_rod_pa?,
            },
            // Strokes are run at whatever pressure they take.
            FigureName::StrokeLength
            | FigureName::Breakaway
            | FigureName::RunningPressure
            | FigureName::Friction
            | FigureName::StickSlip
            | FigureName::FreeAir => return None,
        };
        Some(self.pressure(pa))
    }
}

/// What is said of a figure below zero; None where a sign says it, or there is none.
fn back(name: FigureName) -> Option<&'static str> {
    match name {
        FigureName::CapLoss => Some("Oil gained on the cap side"),
        FigureName::RodGain => Some("Oil lost from the rod side"),
        FigureName::LeakDown => Some("Pressure rise"),
        FigureName::PistonBypass => Some("Oil past the piston, from rod to cap"),
        FigureName::GlandLeakage => Some("Oil in at the gland"),
        FigureName::CapPortLeakage => Some("Oil in past the cap-port plug"),
        FigureName::RodPortLeakage => Some("Oil in past the rod-port plug"),
        FigureName::CapValveLeakage => Some("Oil in through the cap-side valve"),
        FigureName::RodValveLeakage => Some("Oil in through the rod-side valve"),
        FigureName::Drift
        | FigureName::StrokeLength
        | FigureName::Breakaway
        | FigureName::RunningPressure
        | FigureName::Friction
        | FigureName::StickSlip
        | FigureName::FreeAir => None,
    }
}

/// Which way the rod moves, where that is beyond doubt.
fn direction(figure: &Figure) -> &'static str {
    if figure.name != FigureName::Drift {
        ""
    } else if figure.upper_si < 0.0 {
        ", inwards"
    } else if figure.lower_si > 0.0 {
        ", outwards"
    } else {
        ""
    }
}

/// A limit in another unit, for reading: its last digit is never rounded up.
fn not_looser(value: f64) -> String {
    let text = number(value, 0.1 * value.abs());
    let decimals = text.split_once('.').map_or(0, |(_, digits)| digits.len());
    let step = 10_f64.powi(decimals as i32);
    let steps = value * step;
    // What is a whole number of steps but for the last bits of its conversion is one.
    let is_whole = (steps - steps.round()).abs() <= 1e-9 * steps.abs();
    let whole = if is_whole {
        steps.round()
    } else {
        steps.floor()
    };
    format!("{:.decimals$}", whole / step)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::account::Measured;

    const AT: Conditions = Conditions {
        p_holding_pa: None,
        p_cap_pa: Some(160e5),
        p_rod_pa: Some(48e5),
        t_oil_k: Some(319.15),
        x_m: Some(0.212),
    };

    #[test]
    fn a_limit_in_another_unit_is_never_rounded_up() {
        for step in 1..2000 {
            let value = f64::from(step) * 0.007_13;
            let read: f64 = not_looser(value).parse().expect("a number");
            assert!(read <= value * (1.0 + 1e-9), "{value}: {read}");
            assert!(read >= value * 0.97, "{value}: {read}");
        }
        // A whole number that its conversion left a bit short stays whole.
        assert_eq!(not_looser(0.18 - 1e-17), "0.180");
        assert_eq!(not_looser(1.638_706), "1.63");
    }

    fn figure(name: FigureName, value: f64, standard: f64) -> Figure {
        let per_unit = name.si_per_metric_unit();
        let measured = Measured {
            value_si: value * per_unit,
            standard_si: standard * per_unit,
        };
        Figure {
            coverage_factor: 2.0,
            ..Figure::measured(name, measured, Vec::new(), AT)
        }
    }

    #[track_caller]
    fn check(figure: &Figure, units: UnitSystem, expected: &str) {
        let speech = Speech {
            units,
            holding: Chamber::Cap,
        };
        assert_eq!(speech.figure(figure), expected);
    }

    #[test]
    fn a_flow_is_said_with_uncertainty_pressure_and_temperature() {
        check(
            &figure(FigureName::CapLoss, 0.06, 0.01),
            UnitSystem::Metric,
            "Oil lost from the cap side: 0.060 ± 0.020 mL/min at 160 bar, 46 °C.",
        );
        check(
            &figure(FigureName::PistonBypass, 0.06, 0.01),
            UnitSystem::Metric,
            "Oil past the piston: 0.060 ± 0.020 mL/min at 112 bar across the piston, 46 °C.",
        );
    }

    #[test]
    fn movement_says_which_way_only_beyond_doubt() {
        check(
            &figure(FigureName::Drift, -0.021, 0.002),
            UnitSystem::Metric,
            "Rod movement: 0.0210 ± 0.0040 mm/min, inwards at 160 bar, 46 °C.",
        );
        check(
            &figure(FigureName::Drift, -0.002, 0.002),
            UnitSystem::Metric,
            "Rod movement: −0.0020 ± 0.0040 mm/min at 160 bar, 46 °C.",
        );
    }

    #[test]
    fn words_follow_the_sign() {
        check(
            &figure(FigureName::RodGain, -1.11, 0.02),
            UnitSystem::Metric,
            "Oil lost from the rod side: 1.110 ± 0.040 mL/min at 48 bar, 46 °C.",
        );
        check(
            &figure(FigureName::LeakDown, -0.5, 0.05),
            UnitSystem::Metric,
            "Pressure rise: 0.50 ± 0.10 bar/min at 160 bar, 46 °C.",
        );
        let name = FigureName::PistonBypass;
        let per_unit = name.si_per_metric_unit();
        check(
            &Figure::bounded(name, -2.58 * per_unit, 0.0, 2.0, AT),
            UnitSystem::Metric,
            "Oil past the piston, from rod to cap: at most 2.58 mL/min at 112 bar across the piston, 46 °C; \
             this plumbing cannot tell it apart from other paths.",
        );
        check(
            &Figure::bounded(name, -0.2 * per_unit, 0.3 * per_unit, 2.0, AT),
            UnitSystem::Metric,
            "Oil past the piston: at most 0.30 mL/min, or 0.20 the other way at 112 bar across the piston, 46 °C; \
             this plumbing cannot tell it apart from other paths.",
        );
    }

    /// 0.06 mL/min is 0.00366 in³/min, 160 bar 2321 psi, 46 °C 114.8 °F (units(1)).
    #[test]
    fn an_inch_shop_reads_inches() {
        check(
            &figure(FigureName::CapLoss, 0.06, 0.01),
            UnitSystem::Inch,
            "Oil lost from the cap side: 0.0037 ± 0.0012 in³/min at 2321 psi, 115 °F.",
        );
    }

    #[test]
    fn a_bound_is_never_said_as_a_value() {
        let per_unit = FigureName::GlandLeakage.si_per_metric_unit();
        let name = FigureName::GlandLeakage;
        check(
            &Figure::bounded(name, 0.0, 0.08 * per_unit, 2.0, AT),
            UnitSystem::Metric,
            "Oil out at the gland: at most 0.080 mL/min at 48 bar, 46 °C; \
             this plumbing cannot tell it apart from other paths.",
        );
        check(
            &Figure::bounded(name, 0.02 * per_unit, f64::INFINITY, 2.0, AT),
            UnitSystem::Metric,
            "Oil out at the gland: at least 0.0200 mL/min at 48 bar, 46 °C; \
             this plumbing cannot tell it apart from other paths.",
        );
    }
}
