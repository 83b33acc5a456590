//! The forecast in the JSON record: what is to come, with the unit in every name.
//!
//! Movements are those of `x`: negative when the rod goes in. The sentences are those of
//! screen and paper, in the shop's units.

use super::finite;
use crate::account::Cause;
use crate::account::End;
use crate::account::Forecast;
use crate::account::Hazard;
use crate::account::Outlook;
use crate::account::PARKED_S;
use crate::account::Range;
use crate::quantity::UnitSystem;
use serde::Serialize;

/// What is to come.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct ForecastEntry {
    sentences: Vec<String>,
    hazards: Vec<HazardEntry>,
    load_n: Option<f64>,
    parked_h: f64,
    around_degc: Option<f64>,
    cooled_by_10_k_x_change_mm: Option<f64>,
    warmed_by_10_k_p_cap_change_bar: Option<f64>,
    warmed_by_10_k_p_rod_change_bar: Option<f64>,
    outlooks: Vec<OutlookEntry>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct HazardEntry {
    end: &'static str,
    cause: &'static str,
    pressure_bar: Option<f64>,
    rating_bar: Option<f64>,
    sentence: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct OutlookEntry {
    way: &'static str,
    leak_found: bool,
    end: &'static str,
    x_change_lower_mm: Option<f64>,
    x_change_upper_mm: Option<f64>,
    time_lower_min: Option<f64>,
    time_upper_min: Option<f64>,
    p_cap_lower_bar: Option<f64>,
    p_cap_upper_bar: Option<f64>,
    p_rod_lower_bar: Option<f64>,
    p_rod_upper_bar: Option<f64>,
    speed_lower_mm_per_min: Option<f64>,
    speed_upper_mm_per_min: Option<f64>,
    parked_x_change_lower_mm: Option<f64>,
    parked_x_change_upper_mm: Option<f64>,
    parked_p_cap_lower_bar: Option<f64>,
    parked_p_cap_upper_bar: Option<f64>,
    parked_p_rod_lower_bar: Option<f64>,
    parked_p_rod_upper_bar: Option<f64>,
    parked_x_change_by_10_k_cooling_mm: Option<f64>,
    highest_p_cap_bar: Option<f64>,
    highest_p_rod_bar: Option<f64>,
}

/// The forecast as an entry of the record.
pub(super) fn entry(forecast: &Forecast, units: UnitSystem) -> ForecastEntry {
    ForecastEntry {
        sentences: forecast.sentences(units),
        hazards: forecast.hazards.iter().map(|h| hazard(h, units)).collect(),
        load_n: finite(forecast.load_n),
        parked_h: PARKED_S / 3600.0,
        around_degc: forecast.around_k.map(|k| k - 273.15).and_then(finite),
        cooled_by_10_k_x_change_mm: finite(-forecast.cooled_sink_m * 1e3),
        warmed_by_10_k_p_cap_change_bar: bar(forecast.warmed_gain_pa[0]),
        warmed_by_10_k_p_rod_change_bar: bar(forecast.warmed_gain_pa[1]),
        outlooks: forecast.outlooks.iter().map(outlook).collect(),
    }
}

fn bar(pa: f64) -> Option<f64> {
    finite(pa / 1e5)
}

fn hazard(hazard: &Hazard, units: UnitSystem) -> HazardEntry {
    HazardEntry {
        end: hazard.chamber.word(),
        cause: match hazard.cause {
            Cause::Leak => "leak",
            Cause::Warming => "warming_by_10_k",
        },
        pressure_bar: bar(hazard.pressure_pa),
        rating_bar: bar(hazard.rating_pa),
        sentence: hazard.sentence(units),
    }
}

fn outlook(outlook: &Outlook) -> OutlookEntry {
    // Inwards is negative here, so that the most becomes the lower end.
    let inwards = |range: Range, factor: f64| {
        let of = |v: f64| finite(-v * factor);
        (of(range.most), of(range.least))
    };
    let pressures = |range: Range| (bar(range.least), bar(range.most));
    let (x_change_lower_mm, x_change_upper_mm) = inwards(outlook.sink_m, 1e3);
    let (parked_x_change_lower_mm, parked_x_change_upper_mm) = inwards(outlook.parked_sink_m, 1e3);
    let (speed_lower_mm_per_min, speed_upper_mm_per_min) = inwards(outlook.speed_m_s, 60e3);
    let (p_cap_lower_bar, p_cap_upper_bar) = pressures(outlook.p_cap_pa);
    let (p_rod_lower_bar, p_rod_upper_bar) = pressures(outlook.p_rod_pa);
    let (parked_p_cap_lower_bar, parked_p_cap_upper_bar) = pressures(outlook.parked_pa[0]);
    let (parked_p_rod_lower_bar, parked_p_rod_upper_bar) = pressures(outlook.parked_pa[1]);
    OutlookEntry {
        way: outlook.way.word(),
        leak_found: outlook.is_found,
        end: match outlook.end {
            End::Rest => "rest",
            End::StrokeEnd => "stroke_end",
            End::GoesOn => "goes_on",
        },
        x_change_lower_mm,
        x_change_upper_mm,
        time_lower_min: finite(outlook.time_s.least / 60.0),
        time_upper_min: finite(outlook.time_s.most / 60.0),
        p_cap_lower_bar,
        p_cap_upper_bar,
        p_rod_lower_bar,
        p_rod_upper_bar,
        speed_lower_mm_per_min,
        speed_upper_mm_per_min,
        parked_x_change_lower_mm,
        parked_x_change_upper_mm,
        parked_p_cap_lower_bar,
        parked_p_cap_upper_bar,
        parked_p_rod_lower_bar,
        parked_p_rod_upper_bar,
        parked_x_change_by_10_k_cooling_mm: finite(-outlook.cooled_sink_m * 1e3),
        highest_p_cap_bar: bar(outlook.highest_pa[0]),
        highest_p_rod_bar: bar(outlook.highest_pa[1]),
    }
}
