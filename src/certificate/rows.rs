//! The tables of the paper: results, sensors, uncertainty budgets.
//!
//! Rows are text, ready to be set; nothing is computed later.

use crate::account::Figure;
use crate::account::FigureName;
use crate::certificate::by_eye::read_by_eye;
use crate::certificate::facts::Facts;
use crate::certificate::sentence::Speech;
use crate::channel::ByEye;
use crate::channel::Role;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;
use crate::recording::Recording;
use crate::recording::Track;
use crate::verdict::Judged;
use crate::verdict::Outcome;

/// One line of the result table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ResultRow {
    /// What was tested.
    pub figure: String,
    /// At what pressure and temperature.
    pub conditions: String,
    /// Where in the stroke.
    pub position: String,
    /// Result with uncertainty.
    pub result: String,
    /// The limit, as typed and in the shop's unit; empty without one.
    pub limit: String,
    /// Where the limit comes from, else its name; empty without one.
    pub source: String,
    /// What came out; empty without a limit.
    pub outcome: &'static str,
}

/// One sensor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SensorRow {
    /// What it measured.
    pub role: &'static str,
    /// Sensor with its papers in one line, for the front.
    pub line: String,
    /// Serial number.
    pub serial: String,
    /// Calibration certificate and due date.
    pub calibration: String,
    /// Measuring range and resolution.
    pub range: String,
    /// Stated standard uncertainty of zero and span.
    pub uncertainty: String,
}

/// Where the uncertainty of one figure comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FigureBudget {
    /// The figure with its result.
    pub title: String,
    /// The contributions, the largest first.
    pub rows: Vec<BudgetRow>,
}

/// One contribution to an uncertainty.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BudgetRow {
    /// Where it comes from.
    pub source: &'static str,
    /// Its standard uncertainty with unit.
    pub standard: String,
    /// Its share of the variance, "62 %".
    pub share: String,
    /// What would shrink it.
    pub remedy: &'static str,
}

/// Judged limits first, then the figures no limit was chosen for.
pub(super) fn results(facts: &Facts<'_>, speech: Speech) -> Vec<ResultRow> {
    let figures = facts.evaluation.map_or(&[][..], |e| &e.figures);
    let judged = &facts.verdict.judged;
    let find = |name: FigureName| figures.iter().find(|f| f.name == name);
    let mut rows: Vec<ResultRow> = judged
        .iter()
        .map(|j| judged_row(j, find(j.limit.figure), speech))
        .collect();
    if facts.verdict.outcome != Outcome::NotValid {
        let free = figures
            .iter()
            .filter(|f| judged.iter().all(|j| j.limit.figure != f.name));
        rows.extend(free.map(|f| free_row(f, speech)));
    }
    rows
}

fn judged_row(judged: &Judged, figure: Option<&Figure>, speech: Speech) -> ResultRow {
    let limit = &judged.limit;
    let believed = figure.filter(|_| judged.outcome != Outcome::NotValid);
    let stated_for = [
        limit.at_pressure.map(|p| speech.pressure(p.pa())),
        limit.at_temperature.map(|t| speech.temperature(t.value)),
    ];
    let stated_for: Vec<String> = stated_for.into_iter().flatten().collect();
    let stated_for = if stated_for.is_empty() {
        String::new()
    } else {
        format!(" at {}", stated_for.join(", "))
    };
    let source = if limit.source.is_empty() {
        limit.id.clone()
    } else {
        limit.origin()
    };
    ResultRow {
        limit: format!("{}{stated_for}", speech.limit(limit)),
        source,
        outcome: judged.outcome.plain(),
        ..believed.map_or_else(|| nothing_stated(limit.figure), |f| free_row(f, speech))
    }
}

/// How much of each limit the decision rule leaves for a value, in the limit's unit.
pub(super) fn accepted(judged: &[Judged], figures: &[Figure], speech: Speech) -> String {
    let said: Vec<String> = judged
        .iter()
        .filter(|j| !matches!(j.outcome, Outcome::NotValid | Outcome::Fail))
        .filter_map(|j| {
            let (most, expanded) = (j.acceptance?, j.expanded?);
            (most < j.limit.number).then(|| {
                let found = figures.iter().find(|f| f.name == j.limit.figure);
                let name = found.map_or(j.limit.figure.plain(), |f| speech.name(f));
                let unit = &j.limit.unit;
                format!("{name} up to {} {unit}", number(most, expanded))
            })
        })
        .collect();
    if said.is_empty() {
        String::new()
    } else {
        format!(" With these uncertainties it accepts: {}.", said.join(", "))
    }
}

fn nothing_stated(name: FigureName) -> ResultRow {
    ResultRow {
        figure: name.plain().into(),
        conditions: "–".into(),
        position: "–".into(),
        result: "not stated".into(),
        limit: String::new(),
        source: String::new(),
        outcome: "",
    }
}

fn free_row(figure: &Figure, speech: Speech) -> ResultRow {
    ResultRow {
        figure: speech.name(figure).into(),
        conditions: speech.all_conditions(figure.at),
        position: figure.at.x_m.map_or("–".into(), |x| speech.length(x)),
        result: speech.result(figure),
        limit: String::new(),
        source: String::new(),
        outcome: "",
    }
}

/// All sensors of the recording; `by_eye` where a person read them.
pub(super) fn sensors(
    recording: &Recording,
    by_eye: Option<&ByEye>,
    speech: Speech,
) -> Vec<SensorRow> {
    let tracks = recording.tracks().iter();
    let rows = tracks.map(|track| {
        let row = sensor(track, speech);
        let own = by_eye.and_then(|by_eye| by_eye.instrument(track.channel.role));
        match own {
            Some(own) => read_by_eye(own, row, speech),
            None => row,
        }
    });
    rows.collect()
}

fn sensor(track: &Track, speech: Speech) -> SensorRow {
    let channel = &track.channel;
    let scale = sensor_scale(channel.role, speech.units);
    let (unit, difference) = (scale.unit, scale.difference);
    let point = |si: f64| number((si + scale.offset_si) * scale.factor, 10.0);
    let size = |si: f64| number(si * scale.factor, si * scale.factor);
    let papers = &channel.papers;
    let calibration = match (papers.certificate.as_str(), papers.due.as_str()) {
        ("", "") => "none given".into(),
        ("", due) => format!("no number given, due {due}"),
        (certificate, "") => certificate.to_string(),
        (certificate, due) => format!("{certificate}, due {due}"),
    };
    let calibration = match papers.by {
        Some(by) => format!("{}: {calibration}", by.plain()),
        None => calibration,
    };
    let line = match (papers.serial.as_str(), papers.certificate.as_str()) {
        ("", "") if papers.by.is_none() => format!("{}: no papers given", channel.role.plain()),
        ("", _) => format!("{}: {calibration}", channel.role.plain()),
        (serial, _) => format!("{} {serial}: {calibration}", channel.role.plain()),
    };
    let (low, high) = channel.range_si;
    let resolution = channel.resolution_si();
    let mut range = if low.is_finite() && high.is_finite() {
        format!("{} to {} {unit}", point(low), point(high))
    } else {
        "not given".into()
    };
    if resolution.is_finite() && resolution > 0.0 {
        range += &format!(", step {} {difference}", size(resolution));
    }
    if channel.against_supply.is_some() {
        range += &format!(", read against the {}", Role::Supply.plain());
    }
    let errors = channel.errors;
    SensorRow {
        role: channel.role.plain(),
        line,
        serial: if papers.serial.is_empty() {
            "none".into()
        } else {
            papers.serial.clone()
        },
        calibration,
        range,
        uncertainty: format!(
            "zero {} {difference}, span {} %",
            size(errors.zero_si),
            number(errors.span_relative * 100.0, errors.span_relative * 100.0)
        ),
    }
}

/// How a sensor's values are written.
pub(super) struct SensorScale {
    unit: &'static str,
    pub difference: &'static str,
    /// Shown by SI.
    pub factor: f64,
    /// What is added to a point, in SI, before the factor.
    offset_si: f64,
}

pub(super) fn sensor_scale(role: Role, units: UnitSystem) -> SensorScale {
    let straight = |metric_unit| {
        let (factor, unit) = shown(metric_unit, units);
        SensorScale {
            unit,
            difference: unit,
            factor,
            offset_si: 0.0,
        }
    };
    match (role, units) {
        (Role::CapPressure | Role::RodPressure, _) => straight("bar"),
        (Role::Position, _) => straight("mm"),
        (Role::Supply, _) => straight("V"),
        (Role::OilTemperature | Role::WallTemperature, UnitSystem::Metric) => SensorScale {
            unit: "°C",
            difference: "K",
            factor: 1.0,
            offset_si: -273.15,
        },
        (Role::OilTemperature | Role::WallTemperature, UnitSystem::Inch) => SensorScale {
            unit: "°F",
            difference: "°F",
            factor: 1.8,
            offset_si: -273.15 + 32.0 / 1.8,
        },
    }
}

/// Budgets of the judged figures, or of all flows if nothing was judged.
pub(super) fn budgets(facts: &Facts<'_>, speech: Speech) -> Vec<FigureBudget> {
    let figures = facts.evaluation.map_or(&[][..], |e| &e.figures);
    let judged = &facts.verdict.judged;
    if facts.verdict.outcome == Outcome::NotValid {
        return Vec::new();
    }
    let believed =
        |j: &Judged, f: &Figure| j.limit.figure == f.name && j.outcome != Outcome::NotValid;
    figures
        .iter()
        .filter(|f| match judged.is_empty() {
            true => f.name.metric_unit() == "mL/min",
            false => judged.iter().any(|j| believed(j, f)),
        })
        .filter(|f| !f.budget.is_empty())
        .map(|f| budget(f, speech))
        .collect()
}

fn budget(figure: &Figure, speech: Speech) -> FigureBudget {
    let (factor, unit) = speech.unit(figure.name);
    let variance: f64 = figure.budget.iter().map(|c| c.standard_si.powi(2)).sum();
    let mut title = format!(
        "{}: {} (k = {})",
        speech.name(figure),
        speech.result(figure),
        number(figure.coverage_factor, 1.0)
    );
    if let Some(mean) = figure.mean_over_hold {
        let expanded = mean.standard_si * figure.coverage_factor * factor;
        title += &format!(
            "; mean over the hold {} ± {} {unit}",
            number(mean.value_si * factor * speech.sense(figure), expanded),
            number(expanded, expanded)
        );
    }
    let rows = figure.budget.iter().map(|c| {
        let standard = c.standard_si * factor;
        BudgetRow {
            source: c.source,
            standard: format!("{} {unit}", number(standard, standard)),
            share: format!(
                "{} %",
                number(100.0 * c.standard_si.powi(2) / variance, 10.0)
            ),
            remedy: c.remedy,
        }
    });
    FigureBudget {
        title,
        rows: rows.collect(),
    }
}
