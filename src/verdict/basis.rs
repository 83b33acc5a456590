//! What a limit rests on beside its number: the row of the shop's table it stands in, the
//! bands it holds for, and what it was multiplied with to be compared.
//!
//! A band holds from its first value up to, and not including, its second, so that an edge
//! that two bands share belongs to one of them.

use crate::account::Conditions;
use crate::quantity::number;

/// Two values that differ by less than this part of them are the same value in two units.
const SAME: f64 = 1e-9;

/// A band of a measured condition.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// First value that belongs to it, SI.
    pub from_si: f64,
    /// First value above it that does not, SI.
    pub to_si: f64,
    /// As it was typed, "35 °C to 45 °C".
    pub text: String,
}

impl Band {
    /// Whether a value belongs to it.
    pub fn holds(&self, si: f64) -> bool {
        let is_at = |edge: f64| (si - edge).abs() <= SAME * edge.abs();
        (si >= self.from_si || is_at(self.from_si)) && si < self.to_si && !is_at(self.to_si)
    }

    /// Whether a value could belong to both.
    pub fn overlaps(&self, other: &Self) -> bool {
        self.holds(other.from_si) || other.holds(self.from_si)
    }

    /// How far a value is outside of it, SI; zero inside.
    fn off(&self, si: f64) -> f64 {
        (self.from_si - si).max(si - self.to_si).max(0.0)
    }
}

/// The row of a table that a limit stands in.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The row and its conditions as typed: "row 2: rebuilt, bore 63 mm, oil 35 °C to 45 °C".
    pub words: String,
    /// Band of the mean oil temperature over the counted hold, K.
    pub oil: Option<Band>,
    /// Band of the mean pressure of the load-holding chamber over the counted hold, Pa gauge.
    pub pressure: Option<Band>,
}

impl Row {
    /// Whether it is for what was measured; what was not measured belongs to no band.
    pub(super) fn holds(&self, found: &Conditions) -> bool {
        let is_in = |band: &Option<Band>, si: Option<f64>| {
            band.as_ref()
                .is_none_or(|band| si.is_some_and(|si| band.holds(si)))
        };
        is_in(&self.oil, found.t_oil_k) && is_in(&self.pressure, found.p_holding_pa)
    }

    /// How far what was measured is from it: K of oil, and bar for a difference in pressure.
    pub(super) fn off(&self, found: &Conditions) -> f64 {
        let off = |band: &Option<Band>, si: Option<f64>, unit: f64| {
            let of_band = band.as_ref().zip(si);
            of_band.map_or(0.0, |(band, si)| band.off(si) / unit)
        };
        off(&self.oil, found.t_oil_k, 1.0) + off(&self.pressure, found.p_holding_pa, 1e5)
    }
}

/// What a limit rests on beside its number.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Basis {
    /// The row of a table it stands in; None for a limit that stands alone.
    pub row: Option<Row>,
    /// Bore area that a rod speed was multiplied with, m².
    pub bore_area_m2: Option<f64>,
    /// How far the load moves by what the rod moves, for a limit that is for the load.
    pub load_ratio: Option<f64>,
    /// Time that the limit is stated over, s: 600 for "3 mm in 10 min".
    pub over_s: Option<f64>,
}

impl Basis {
    /// What stands behind the source on paper and screen; empty for a plain limit.
    pub fn words(&self) -> String {
        let row = self.row.as_ref().map(|row| row.words.clone());
        let parts = [row, self.area_words(), self.load_words()];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        parts.join("; ")
    }

    /// What a reason says of how a figure was brought to the limit's terms.
    pub(super) fn clauses(&self, held_s: f64) -> String {
        let over = self.over_s.filter(|over| held_s < *over * (1.0 - SAME));
        let shorter = over.map(|over| {
            let minutes = |s: f64| (s / 6.0).round() / 10.0;
            format!(
                "the hold counted {} of the {} min, so rates are compared",
                minutes(held_s),
                minutes(over)
            )
        });
        let parts = [self.area_words(), self.load_words(), shorter];
        let parts = parts.into_iter().flatten();
        parts.map(|words| format!("; {words}")).collect()
    }

    fn area_words(&self) -> Option<String> {
        let area_cm2 = self.bore_area_m2? * 1e4;
        Some(format!(
            "rod speed × bore area of {} cm²",
            number(area_cm2, 0.01 * area_cm2)
        ))
    }

    fn load_words(&self) -> Option<String> {
        let ratio = self.load_ratio?;
        Some(format!(
            "at the load, which moves {ratio} times as far as the rod"
        ))
    }
}
