//! The figures of an evaluation: their names, values, intervals and budgets.
//!
//! Names, signs and fields are the contract with people's scripts (README).
//!
//! Invariant: a path that can only be bounded has no value.

use super::chance::ByChance;
use crate::fit::normal_quantile;
use crate::fit::student_quantile;

/// Name of a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FigureName {
    /// Rod movement by time, positive when the rod extends.
    Drift,
    /// Fall of the load-holding chamber's pressure by time, positive when it falls.
    LeakDown,
    /// Oil lost from the cap side by time.
    CapLoss,
    /// Oil gained on the rod side by time.
    RodGain,
    /// Oil past the piston, cap to rod.
    PistonBypass,
    /// Oil out at the gland.
    GlandLeakage,
    /// Oil past the plug or fitting of the cap port.
    CapPortLeakage,
    /// Oil past the plug or fitting of the rod port.
    RodPortLeakage,
    /// Oil through the valve on the cap port.
    CapValveLeakage,
    /// Oil through the valve on the rod port.
    RodValveLeakage,
    /// Length of a full stroke less its nominal one.
    StrokeLength,
    /// Pressure that it takes to move the rod from rest.
    Breakaway,
    /// Pressure that it takes to keep the rod going.
    RunningPressure,
    /// Friction of the moving rod.
    Friction,
    /// How unevenly the rod goes.
    StickSlip,
    /// Undissolved air by volume at the atmosphere, apparent.
    FreeAir,
}

impl FigureName {
    /// All names, in the order of printing.
    pub const ALL: [Self; 16] = [
        Self::Drift,
        Self::LeakDown,
        Self::CapLoss,
        Self::RodGain,
        Self::PistonBypass,
        Self::GlandLeakage,
        Self::CapPortLeakage,
        Self::RodPortLeakage,
        Self::CapValveLeakage,
        Self::RodValveLeakage,
        Self::StrokeLength,
        Self::Breakaway,
        Self::RunningPressure,
        Self::Friction,
        Self::StickSlip,
        Self::FreeAir,
    ];

    /// The name in data files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Drift => "drift",
            Self::LeakDown => "leak_down",
            Self::CapLoss => "cap_loss",
            Self::RodGain => "rod_gain",
            Self::PistonBypass => "piston_bypass",
            Self::GlandLeakage => "gland_leakage",
            Self::CapPortLeakage => "cap_port_leakage",
            Self::RodPortLeakage => "rod_port_leakage",
            Self::CapValveLeakage => "cap_valve_leakage",
            Self::RodValveLeakage => "rod_valve_leakage",
            Self::StrokeLength => "stroke_length",
            Self::Breakaway => "breakaway",
            Self::RunningPressure => "running_pressure",
            Self::Friction => "friction",
            Self::StickSlip => "stick_slip",
            Self::FreeAir => "free_air",
        }
    }

    /// From the name in data files.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|name| name.word() == word)
    }

    /// What a fitter calls it, as the subject of a sentence.
    pub fn plain(self) -> &'static str {
        match self {
            Self::Drift => "Rod movement",
            Self::LeakDown => "Pressure loss",
            Self::CapLoss => "Oil lost from the cap side",
            Self::RodGain => "Oil gained on the rod side",
            Self::PistonBypass => "Oil past the piston",
            Self::GlandLeakage => "Oil out at the gland",
            Self::CapPortLeakage => "Oil past the cap-port plug",
            Self::RodPortLeakage => "Oil past the rod-port plug",
            Self::CapValveLeakage => "Oil through the cap-side valve",
            Self::RodValveLeakage => "Oil through the rod-side valve",
            Self::StrokeLength => "Stroke off its nominal",
            Self::Breakaway => "Breakaway pressure",
            Self::RunningPressure => "Running pressure",
            Self::Friction => "Friction",
            Self::StickSlip => "Stick-slip",
            Self::FreeAir => "Apparent free air",
        }
    }

    /// Whether strokes show it, and no hold.
    pub fn is_of_strokes(self) -> bool {
        matches!(
            self,
            Self::StrokeLength
                | Self::Breakaway
                | Self::RunningPressure
                | Self::Friction
                | Self::StickSlip
                | Self::FreeAir
        )
    }

    /// Whether it is a flow of oil.
    pub fn is_flow(self) -> bool {
        !self.is_of_strokes() && !matches!(self, Self::Drift | Self::LeakDown)
    }

    /// Unit of its JSON value: "mm/min", "bar/min" or "mL/min"; "mm", "bar", "N" or "%" of
    /// strokes.
    pub fn metric_unit(self) -> &'static str {
        match self {
            Self::Drift => "mm/min",
            Self::LeakDown => "bar/min",
            Self::StrokeLength => "mm",
            Self::Breakaway | Self::RunningPressure => "bar",
            Self::Friction => "N",
            Self::StickSlip | Self::FreeAir => "%",
            _ => "mL/min",
        }
    }

    /// SI value of one `metric_unit`.
    pub fn si_per_metric_unit(self) -> f64 {
        match self {
            Self::Drift => 1e-3 / 60.0,
            Self::LeakDown => 1e5 / 60.0,
            Self::StrokeLength => 1e-3,
            Self::Breakaway | Self::RunningPressure => 1e5,
            Self::Friction => 1.0,
            Self::StickSlip | Self::FreeAir => 1e-2,
            _ => 1e-6 / 60.0,
        }
    }
}

/// The state of the piece that a figure is stated for, in SI units.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Conditions {
    /// Cap-end pressure, Pa gauge.
    pub p_cap_pa: Option<f64>,
    /// Rod-end pressure, Pa gauge.
    pub p_rod_pa: Option<f64>,
    /// Pressure of the chamber that holds the load, Pa gauge.
    pub p_holding_pa: Option<f64>,
    /// Oil temperature, K.
    pub t_oil_k: Option<f64>,
    /// Extension, m.
    pub x_m: Option<f64>,
}

/// A value with its standard uncertainty, both in SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// The value.
    pub value_si: f64,
    /// Standard uncertainty (one sigma), above zero.
    pub standard_si: f64,
}

/// One contribution to a figure's uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct Contribution {
    /// Where it comes from, in plain words.
    pub source: &'static str,
    /// Its standard uncertainty, SI units of the figure.
    pub standard_si: f64,
    /// How well that is known, as degrees of freedom; None for very well.
    pub degrees_of_freedom: Option<f64>,
    /// What would shrink it.
    pub remedy: &'static str,
}

/// What the last line of a budget stands for.
const OTHERS: &str = "all others together";

/// The contributions that matter, the largest first; those below one part in twenty-five of
/// the variance stand together in the last line.
fn condensed(budget: Vec<Contribution>, whole_si: f64) -> Vec<Contribution> {
    let matters =
        |c: &Contribution| c.source != OTHERS && c.standard_si.powi(2) >= 0.04 * whole_si.powi(2);
    let (mut large, small): (Vec<Contribution>, Vec<Contribution>) =
        budget.into_iter().partition(matters);
    large.sort_by(|a, b| b.standard_si.total_cmp(&a.standard_si));
    let together = small
        .iter()
        .map(|c| c.standard_si.powi(2))
        .sum::<f64>()
        .sqrt();
    if together > 0.0 {
        large.push(Contribution {
            source: OTHERS,
            standard_si: together,
            degrees_of_freedom: None,
            remedy: "not worth the trouble",
        });
    }
    large
}

/// Degrees of freedom of a sum of independent contributions (Welch and Satterthwaite,
/// JCGM 100 G.4.1); None where they are more than a hundred.
pub(super) fn effective_freedom(budget: &[Contribution]) -> Option<f64> {
    let variance: f64 = budget.iter().map(|c| c.standard_si.powi(2)).sum();
    let terms = budget
        .iter()
        .filter_map(|c| Some(c.standard_si.powi(4) / c.degrees_of_freedom?));
    // An empty sum is minus zero.
    let terms = terms.sum::<f64>();
    let freedom = variance.powi(2) / terms;
    (terms > 0.0 && freedom < 100.0).then(|| freedom.max(1.0))
}

/// Factor that makes a standard uncertainty cover 95 %.
pub(super) fn coverage_factor(degrees_of_freedom: Option<f64>) -> f64 {
    match degrees_of_freedom {
        Some(freedom) => student_quantile(0.975, freedom),
        None => normal_quantile(0.975),
    }
}

/// One figure of an evaluation, in SI units (m/s, Pa/s, m³/s; of strokes m, Pa, N, 1).
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Its name.
    pub name: FigureName,
    /// Value at the stated conditions; None for a path that can only be bounded.
    pub measured: Option<Measured>,
    /// Expanded by this factor, the standard uncertainty covers 95 %.
    pub coverage_factor: f64,
    /// Effective degrees of freedom of the standard uncertainty; None where they are so many
    /// that it does not matter.
    pub degrees_of_freedom: Option<f64>,
    /// Lower end of the 95 % interval, or of what is possible.
    pub lower_si: f64,
    /// Upper end of the 95 % interval, or of what is possible.
    pub upper_si: f64,
    /// The conditions the value is stated for.
    pub at: Conditions,
    /// Mean over the counted hold, for flows.
    pub mean_over_hold: Option<Measured>,
    /// Contributions to the standard uncertainty, the largest first.
    pub budget: Vec<Contribution>,
    /// Its interval by the Monte Carlo method, where that was asked for.
    pub by_chance: Option<ByChance>,
}

impl Figure {
    /// A measured figure with its symmetric interval, from its budget (JCGM 100 G.6.4).
    pub fn measured(
        name: FigureName,
        measured: Measured,
        budget: Vec<Contribution>,
        at: Conditions,
    ) -> Self {
        let degrees_of_freedom = effective_freedom(&budget);
        let coverage_factor = coverage_factor(degrees_of_freedom);
        let half = coverage_factor * measured.standard_si;
        Self {
            name,
            measured: Some(measured),
            coverage_factor,
            degrees_of_freedom,
            lower_si: measured.value_si - half,
            upper_si: measured.value_si + half,
            at,
            mean_over_hold: None,
            budget: condensed(budget, measured.standard_si),
            by_chance: None,
        }
    }

    /// Widens the figure by what was found to be unsure besides, well known as it is; a figure
    /// that is only known to lie between two ends moves each end by `ends_si`, expanded.
    pub(super) fn widen(&mut self, by: Vec<Contribution>, ends_si: (f64, f64)) {
        let variance: f64 = by.iter().map(|c| c.standard_si.powi(2)).sum();
        match &mut self.measured {
            Some(measured) => {
                measured.standard_si = measured.standard_si.hypot(variance.sqrt());
                let half = self.coverage_factor * measured.standard_si;
                self.lower_si = measured.value_si - half;
                self.upper_si = measured.value_si + half;
                self.budget.extend(by);
                self.budget = condensed(std::mem::take(&mut self.budget), measured.standard_si);
            }
            None => {
                self.lower_si -= self.coverage_factor * ends_si.0;
                self.upper_si += self.coverage_factor * ends_si.1;
            }
        }
        if let Some(mean) = &mut self.mean_over_hold {
            mean.standard_si = mean.standard_si.hypot(variance.sqrt());
        }
    }

    /// A figure that is only known to lie between two ends.
    pub fn bounded(
        name: FigureName,
        lower_si: f64,
        upper_si: f64,
        coverage_factor: f64,
        at: Conditions,
    ) -> Self {
        Self {
            name,
            measured: None,
            coverage_factor,
            degrees_of_freedom: None,
            lower_si,
            upper_si,
            at,
            mean_over_hold: None,
            budget: Vec::new(),
            by_chance: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(standard_si: f64, degrees_of_freedom: Option<f64>) -> Contribution {
        Contribution {
            source: "",
            standard_si,
            degrees_of_freedom,
            remedy: "",
        }
    }

    /// JCGM 100, G.4.2 example: components 0.25, 0.57 and 0.82 with 9, 4 and 14 degrees of
    /// freedom have 19.0 together (from memory).
    #[test]
    fn degrees_of_freedom_are_those_of_the_guide() {
        let parts = [
            part(0.25, Some(9.0)),
            part(0.57, Some(4.0)),
            part(0.82, Some(14.0)),
        ];
        let found = effective_freedom(&parts).expect("few");
        assert!((found - 19.0).abs() < 0.1, "{found}");
    }

    #[test]
    fn what_is_known_very_well_is_expanded_by_1_96() {
        let freedom = effective_freedom(&[part(1.0, None), part(2.0, None)]);
        assert_eq!(freedom, None);
        assert_eq!(effective_freedom(&[]), None);
        assert!((coverage_factor(freedom) - 1.96).abs() < 1e-3);
    }
}
