//! The Monte Carlo check of a figure in the record.

use super::finite;
use crate::account::ByChance;
use crate::account::FigureName;
use serde::Serialize;

/// A figure by chance; numbers are in the figure's `unit`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct ByChanceEntry {
    n_trials: usize,
    seed: u64,
    value: Option<f64>,
    standard_deviation: Option<f64>,
    lower: Option<f64>,
    upper: Option<f64>,
    end_error: Option<f64>,
    lower_apart: Option<f64>,
    upper_apart: Option<f64>,
    tolerance: Option<f64>,
    agreement: &'static str,
}

/// The entry of a figure.
pub(super) fn entry(by: &ByChance, name: FigureName) -> ByChanceEntry {
    let in_unit = |si: f64| finite(si / name.si_per_metric_unit());
    ByChanceEntry {
        n_trials: by.n_trials,
        seed: by.seed,
        value: in_unit(by.mean_si),
        standard_deviation: in_unit(by.standard_si),
        lower: in_unit(by.lower_si),
        upper: in_unit(by.upper_si),
        end_error: in_unit(by.end_error_si),
        lower_apart: in_unit(by.lower_apart_si),
        upper_apart: in_unit(by.upper_apart_si),
        tolerance: in_unit(by.tolerance_si),
        agreement: by.agreement.word(),
    }
}
