//! The tables: what stands in a row, and rows as text.

use super::ExchangeError;
use crate::certificate::MeasuredFigure;
use crate::cylinder::Kind;
use crate::register::Bench;
use crate::register::Decision;
use crate::register::Entry;
use crate::register::Job;
use crate::register::UnitNow;
use jiff::Timestamp;
use serde::Serialize;

/// A unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct UnitRow {
    tag: String,
    description: String,
    machine: String,
    serial: String,
    seal: String,
    kind: &'static str,
    bore_mm: Option<f64>,
    rod_mm: Option<f64>,
    stroke_mm: Option<f64>,
    cap_rating_bar: Option<f64>,
    rod_rating_bar: Option<f64>,
    ports: String,
    holding_valve: String,
    n_tests: i64,
    n_jobs: i64,
    last_number: String,
    last_outcome: String,
    last_started_utc: String,
}

impl UnitRow {
    /// From the register.
    pub fn new(now: &UnitNow) -> Self {
        let unit = now.unit.clone();
        let last = now.last.clone();
        let (started, number, outcome) = match last {
            Some((started, number, outcome)) => (utc(started), number, outcome.word().into()),
            None => Default::default(),
        };
        Self {
            tag: unit.tag,
            description: unit.description,
            machine: unit.machine,
            serial: unit.serial,
            seal: unit.seal,
            kind: unit.build.kind.map_or("", Kind::word),
            bore_mm: unit.build.bore_um.map(mm),
            rod_mm: unit.build.rod_um.map(mm),
            stroke_mm: unit.build.stroke_um.map(mm),
            cap_rating_bar: unit.build.cap_rating_pa.map(bar),
            rod_rating_bar: unit.build.rod_rating_pa.map(bar),
            ports: unit.build.ports,
            holding_valve: unit.build.holding_valve,
            n_tests: now.n_tests,
            n_jobs: now.n_jobs,
            last_number: number,
            last_outcome: outcome,
            last_started_utc: started,
        }
    }
}

fn mm(um: i64) -> f64 {
    um as f64 / 1e3
}

fn bar(pa: i64) -> f64 {
    pa as f64 / 1e5
}

/// A test.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TestRow {
    number: String,
    kind: &'static str,
    outcome: &'static str,
    started_utc: String,
    time_zone: String,
    issued_utc: String,
    tag: String,
    description: String,
    machine: String,
    serial: String,
    seal: String,
    headline: String,
    job: Option<i64>,
    withdrawn: Option<String>,
    practice: bool,
    run_id: String,
    archive_file: String,
    archive_sha256: String,
    software: String,
    method_version: u32,
}

impl TestRow {
    /// From the register.
    pub fn new(entry: &Entry) -> Self {
        let Entry { unit, .. } = entry.clone();
        Self {
            number: entry.certificate_number.clone(),
            kind: entry.kind.word(),
            outcome: entry.outcome.word(),
            started_utc: utc(entry.started_utc_ms),
            time_zone: entry.time_zone.clone(),
            issued_utc: utc(entry.issued_utc_ms),
            tag: unit.tag,
            description: unit.description,
            machine: unit.machine,
            serial: unit.serial,
            seal: unit.seal,
            headline: entry.headline.clone(),
            job: entry.job,
            withdrawn: entry.withdrawn.clone(),
            practice: entry.bench == Bench::Practice,
            run_id: entry.run_id.clone(),
            archive_file: entry.archive_file.clone(),
            archive_sha256: entry.archive_sha256.clone(),
            software: entry.software.clone(),
            method_version: entry.method_version,
        }
    }
}

/// A figure of a test. `lower` and `upper` are empty where there is no bound.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FigureRow {
    number: String,
    tag: String,
    started_utc: String,
    phase: String,
    figure: &'static str,
    value: Option<f64>,
    lower: Option<f64>,
    upper: Option<f64>,
    unit: String,
    driving_bar: Option<f64>,
    oil_degc: Option<f64>,
    x_mm: Option<f64>,
}

impl FigureRow {
    /// From the record of a test.
    pub fn new(entry: &Entry, figure: &MeasuredFigure) -> Self {
        let stated = figure.stated;
        let bound = |end: f64| end.is_finite().then_some(end);
        Self {
            number: entry.certificate_number.clone(),
            tag: entry.unit.tag.clone(),
            started_utc: utc(entry.started_utc_ms),
            phase: figure.phase.clone(),
            figure: figure.name.word(),
            value: stated.value,
            lower: bound(stated.lower),
            upper: bound(stated.upper),
            unit: figure.unit.clone(),
            driving_bar: stated.at.driving_bar,
            oil_degc: stated.at.oil_degc,
            x_mm: stated.at.x_mm,
        }
    }
}

/// A job as it stands now, with its sheet.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JobRow {
    job: i64,
    version: i64,
    tag: String,
    state: &'static str,
    came_in: String,
    went_out: String,
    symptom: String,
    decision: &'static str,
    reason: String,
    by: String,
    entered_utc: String,
    sheet: String,
}

impl JobRow {
    /// From the register.
    pub fn new(job: &Job) -> Self {
        Self {
            job: job.number,
            version: job.version,
            tag: job.tag.clone(),
            state: job.state.word(),
            came_in: job.came_in.clone(),
            went_out: job.went_out.clone(),
            symptom: job.symptom.clone(),
            decision: job.decision.map_or("", Decision::word),
            reason: job.reason.clone(),
            by: job.role.clone(),
            entered_utc: utc(job.entered_utc_ms),
            sheet: job.sheet.clone(),
        }
    }
}

/// An instant as RFC 3339, "2026-11-27T10:05:30.589Z".
fn utc(ms: i64) -> String {
    Timestamp::from_millisecond(ms).map_or_else(|_| String::new(), |at| at.to_string())
}

/// Rows of one table as text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableText {
    /// As CSV (RFC 4180).
    pub csv: String,
    /// As JSON lines, an object in each.
    pub lines: String,
    /// How many.
    pub n_rows: usize,
}

/// Rows as text; the names of the columns go before them if they are asked for.
///
/// # Errors
/// If a row cannot be written as text.
pub fn table_text<T: Serialize>(
    rows: &[T],
    with_heading: bool,
) -> Result<TableText, ExchangeError> {
    let mut writer = csv::WriterBuilder::new()
        .has_headers(with_heading)
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    let mut lines = String::new();
    for row in rows {
        writer.serialize(row)?;
        lines.push_str(&serde_json::to_string(row)?);
        lines.push('\n');
    }
    let bytes = writer.into_inner().map_err(csv::IntoInnerError::into_error);
    let bytes = bytes.map_err(csv::Error::from)?;
    Ok(TableText {
        csv: String::from_utf8(bytes).map_err(|error| ExchangeError::Text(error.to_string()))?,
        lines,
        n_rows: rows.len(),
    })
}
