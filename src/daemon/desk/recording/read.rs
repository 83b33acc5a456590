//! Values: at one time, and of each column of a stretch.
//!
//! Invariant: a value is that of a reading, or lowest, mean and highest of readings; nothing is
//! made up between them.

use super::Looked;
use super::spoiled;
use super::times;
use super::times::SHORTEST_S;
use super::times::Span;
use crate::channel::Channel;
use crate::channel::Role;
use crate::page::Trouble;
use crate::page::view;
use crate::page::view::Fault;
use crate::quantity::UnitSystem;
use crate::quantity::shown;
use crate::recording::Window;

/// Most columns in which a reading next to a time is looked for.
const NEAR_COLUMNS: usize = 1_000;

/// How much further is looked if there is none.
const FURTHER: f64 = 30.0;

/// Factor and offset before it from SI, and the unit of measure.
fn unit(role: Role, units: UnitSystem) -> (f64, f64, &'static str) {
    let of = |metric| {
        let (factor, name) = shown(metric, units);
        (factor, 0.0, name)
    };
    match (role, units) {
        (Role::CapPressure | Role::RodPressure, _) => of("bar"),
        (Role::Position, _) => of("mm"),
        (Role::OilTemperature | Role::WallTemperature, UnitSystem::Metric) => (1.0, -273.15, "°C"),
        (Role::OilTemperature | Role::WallTemperature, UnitSystem::Inch) => {
            (1.8, -273.15 + 32.0 / 1.8, "°F")
        }
        (Role::Supply, _) => (1.0, 0.0, "V"),
    }
}

/// Decimals that a step of the code deserves.
fn decimals(channel: &Channel, factor: f64) -> usize {
    let step = factor * channel.calibration.step_si(channel.good_codes);
    match step.is_finite() && step > 0.0 {
        true => (-step.log10()).round().clamp(0.0, 4.0) as usize,
        false => 3,
    }
}

fn text(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let is_zero = text.chars().all(|c| matches!(c, '-' | '0' | '.'));
    match is_zero {
        true => text.trim_start_matches('-').into(),
        false => text.replace('-', "−"),
    }
}

/// The time that was typed, within the recording; nothing for an empty text.
pub(super) fn time(typed: &str, whole: Span) -> Result<Option<f64>, Fault> {
    let at_s = times::typed(typed).ok_or_else(|| Fault::no_time("at"))?;
    let is_outside = |at_s: f64| !(whole.from_s - 0.5..=whole.until_s + 0.5).contains(&at_s);
    match at_s {
        Some(at_s) if is_outside(at_s) => Err(Fault::outside("at", &whole.shown())),
        at_s => Ok(at_s.map(|at_s| at_s.clamp(whole.from_s, whole.until_s))),
    }
}

/// The values at a time.
pub(super) fn at(looked: &Looked, at_s: f64) -> Result<Option<view::ReadOut>, Trouble> {
    let gaps = &looked.opened.outline().gaps;
    let gap = gaps.iter().find(|g| g.from_s < at_s && at_s < g.until_s);
    match gap {
        Some(gap) => Ok(Some(view::ReadOut::Gap {
            from: times::said(gap.from_s),
            until: times::said(gap.until_s),
        })),
        None => nearest(looked, at_s),
    }
}

/// The reading next to a time.
fn nearest(looked: &Looked, at_s: f64) -> Result<Option<view::ReadOut>, Trouble> {
    let opened = &looked.opened;
    let lanes = opened.outline().lanes.iter();
    let roles: Vec<Role> = lanes.map(|lane| lane.channel.role).collect();
    let whole_s = looked.whole.until_s - looked.whole.from_s;
    let mut near_s = SHORTEST_S;
    let window = loop {
        let window = opened.window(at_s - near_s, at_s + near_s, NEAR_COLUMNS, &roles);
        let window = window.map_err(|error| spoiled(&error))?;
        if !window.columns.is_empty() || near_s > whole_s + 1.0 {
            break window;
        }
        near_s *= FURTHER;
    };
    let off_s = |index: usize| (window.columns[index].from_s - at_s).abs();
    // A reading of a column of several is none that can be told.
    let single = (0..window.columns.len()).filter(|index| window.columns[*index].n_rows == 1);
    let Some(index) = single.min_by(|a, b| off_s(*a).total_cmp(&off_s(*b))) else {
        return Ok(None);
    };
    let values = window.lanes.iter().map(|lane| {
        let channel = &lane.channel;
        let (factor, offset, unit) = unit(channel.role, looked.units);
        let value = lane.bands[index].map(|band| (band.mean_si + offset) * factor);
        let value = value.map(|value| text(value, decimals(channel, factor)));
        (channel.role.plain().into(), value, unit.into())
    });
    Ok(Some(view::ReadOut::Reading {
        at: times::said(window.columns[index].from_s),
        values: values.collect(),
    }))
}

/// The columns of a window.
pub(super) fn values(window: &Window, units: UnitSystem) -> view::RecordingValues {
    let columns = window.columns.iter();
    let lanes = window.lanes.iter().map(|lane| {
        let (factor, offset, unit) = unit(lane.channel.role, units);
        let shown = |si: f64| (si + offset) * factor;
        let bands = lane.bands.iter();
        let of = |band: &crate::recording::Band| {
            (shown(band.min_si), shown(band.mean_si), shown(band.max_si))
        };
        view::ValueLane {
            name: lane.channel.role.plain().into(),
            unit: unit.into(),
            decimals: decimals(&lane.channel, factor),
            values: bands.map(|band| band.as_ref().map(of)).collect(),
        }
    });
    view::RecordingValues {
        lanes: lanes.collect(),
        columns: columns
            .map(|column| view::ValueColumn {
                from_s: column.from_s,
                until_s: column.until_s,
                n_readings: column.n_rows,
                has_gap: column.has_gap,
            })
            .collect(),
    }
}
