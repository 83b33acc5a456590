//! The JSON record of a test: the contract with people's scripts.
//!
//! Numbers are in metric units of measure and every name or neighbour says which;
//! limits are in the unit they were typed in. The fields are listed in the README.
//!
//! Invariant: a number that is not finite is `null` or absent, never printed.

use serde::Serialize;

use crate::account::Contribution;
use crate::account::Doubt;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::account::FigureName;
use crate::account::METHOD_VERSION;
use crate::account::Measured;
use crate::certificate::facts::Facts;
use crate::certificate::record::by_chance::ByChanceEntry;
use crate::certificate::record::forecast::ForecastEntry;
use crate::channel::CalibratedBy;
use crate::channel::Role;
use crate::cylinder::UnitIdentity;
use crate::health::Flag;
use crate::health::Weight;
use crate::recording::Gap;
use crate::recording::Recording;
use crate::recording::Track;
use crate::verdict::DecisionRule;
use crate::verdict::Judged;

mod by_chance;
mod forecast;

/// Name of the JSON record inside the PDF.
pub const RECORD_FILE: &str = "record.json";

/// The record of one test, as it is written to JSON.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Record {
    stillrod: String,
    method_version: u32,
    run_id: String,
    certificate_number: Option<String>,
    practice: Option<String>,
    started_utc: String,
    outcome: &'static str,
    exit_status: u8,
    reasons: Vec<String>,
    decision_rule: RuleEntry,
    unit: UnitEntry,
    hold: Option<HoldEntry>,
    figures: Vec<FigureEntry>,
    limits: Vec<LimitEntry>,
    findings: Vec<String>,
    forecast: Option<ForecastEntry>,
    flags: Vec<FlagEntry>,
    data: DataEntry,
    sensors: Vec<SensorEntry>,
}

/// The decision rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct RuleEntry {
    rule: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    probability: Option<f64>,
    words: String,
}

/// Which piece it was.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct UnitEntry {
    tag: String,
    description: String,
    machine: String,
    serial: String,
    seal: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct HoldEntry {
    from_s: Option<f64>,
    until_s: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct FigureEntry {
    name: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    value: Option<f64>,
    unit: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    expanded_uncertainty: Option<f64>,
    coverage_factor: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    degrees_of_freedom: Option<f64>,
    lower: Option<f64>,
    upper: Option<f64>,
    at: AtEntry,
    #[serde(skip_serializing_if = "Option::is_none")]
    mean_over_hold: Option<MeanEntry>,
    budget: Vec<BudgetEntry>,
    #[serde(skip_serializing_if = "Option::is_none")]
    by_chance: Option<ByChanceEntry>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct AtEntry {
    p_cap_bar: Option<f64>,
    p_rod_bar: Option<f64>,
    t_oil_degc: Option<f64>,
    x_mm: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct MeanEntry {
    value: f64,
    expanded_uncertainty: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct BudgetEntry {
    source: &'static str,
    standard_uncertainty: Option<f64>,
    remedy: &'static str,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct LimitEntry {
    id: String,
    figure: &'static str,
    limit_value: Option<f64>,
    limit_unit: String,
    acceptance_limit: Option<f64>,
    as_typed: String,
    outcome: &'static str,
    value: Option<f64>,
    expanded_uncertainty: Option<f64>,
    probability_within: Option<f64>,
    reason: String,
    source: String,
    #[serde(skip_serializing_if = "String::is_empty")]
    basis: String,
}

/// What the data say about the measurement.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct FlagEntry {
    weight: &'static str,
    evidence: String,
}

/// The data, and the file that holds them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct DataEntry {
    file: String,
    sha256: String,
    n_rows: usize,
    n_samples_lost: u64,
    gaps: Vec<GapEntry>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct GapEntry {
    from_s: Option<f64>,
    until_s: Option<f64>,
    cause: &'static str,
}

/// One sensor.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct SensorEntry {
    role: &'static str,
    label: String,
    serial: String,
    certificate: String,
    due: String,
    #[serde(skip_serializing_if = "str::is_empty")]
    calibrated_by: &'static str,
    unit: &'static str,
    range_low: Option<f64>,
    range_high: Option<f64>,
    resolution: Option<f64>,
    zero_uncertainty: Option<f64>,
    span_uncertainty_percent: Option<f64>,
    zero_drift_per_k: Option<f64>,
    /// Role of the supply that its codes are read against.
    #[serde(skip_serializing_if = "Option::is_none")]
    read_against: Option<&'static str>,
}

impl Record {
    /// The record of a test.
    pub fn from_facts(facts: &Facts<'_>) -> Self {
        let heading = facts.recording.heading();
        let evaluation = facts.evaluation;
        let figures = evaluation.map_or(&[][..], |e| &e.figures);
        Self {
            stillrod: facts.software.clone(),
            method_version: evaluation.map_or(METHOD_VERSION, |e| e.method_version),
            run_id: heading.run_id.clone(),
            certificate_number: facts.certificate_number.clone(),
            practice: facts.practice().map(Into::into),
            started_utc: facts.started_utc(),
            outcome: facts.verdict.outcome.word(),
            exit_status: facts.verdict.outcome.exit_status(),
            reasons: facts.verdict.reasons.clone(),
            decision_rule: rule(facts.verdict.rule, facts.verdict.rule_sentence()),
            unit: unit(&facts.identity),
            hold: evaluation.map(|e| HoldEntry {
                from_s: finite(e.hold_s.0),
                until_s: finite(e.hold_s.1),
            }),
            figures: figures.iter().map(figure).collect(),
            limits: facts.verdict.judged.iter().map(limit).collect(),
            findings: evaluation.map_or_else(Vec::new, |e| e.findings.clone()),
            forecast: evaluation
                .and_then(|e| e.forecast.as_ref())
                .map(|f| forecast::entry(f, facts.units)),
            flags: flags(facts, evaluation),
            data: data(facts.recording, &facts.file_name, &facts.sha256_hex),
            sensors: facts.recording.tracks().iter().map(sensor).collect(),
        }
    }

    /// As indented JSON with a line end.
    pub fn to_json_pretty(&self) -> String {
        let text = serde_json::to_string_pretty(self).expect("plain fields always serialise");
        text + "\n"
    }
}

/// A number that may be written; None for one that is not finite.
pub(super) fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// The rule as it is written.
pub(super) fn rule(rule: DecisionRule, words: String) -> RuleEntry {
    let probability = match rule {
        DecisionRule::Guarded { probability } => finite(probability),
        DecisionRule::Simple | DecisionRule::WhollyInside => None,
    };
    RuleEntry {
        rule: rule.word(),
        probability,
        words,
    }
}

/// The piece as it is written.
pub(super) fn unit(identity: &UnitIdentity) -> UnitEntry {
    let UnitIdentity {
        tag,
        description,
        machine,
        serial,
        seal,
        ..
    } = identity.clone();
    UnitEntry {
        tag,
        description,
        machine,
        serial,
        seal,
    }
}

pub(super) fn figure(figure: &Figure) -> FigureEntry {
    let per_unit = figure.name.si_per_metric_unit();
    let in_unit = |si: f64| finite(si / per_unit);
    let expanded = |m: Measured| in_unit(m.standard_si * figure.coverage_factor);
    let measured = figure.measured.filter(|m| m.value_si.is_finite());
    FigureEntry {
        name: figure.name.word(),
        value: measured.and_then(|m| in_unit(m.value_si)),
        unit: figure.name.metric_unit(),
        expanded_uncertainty: measured.and_then(expanded),
        coverage_factor: finite(figure.coverage_factor),
        degrees_of_freedom: figure.degrees_of_freedom.and_then(finite),
        lower: in_unit(figure.lower_si),
        upper: in_unit(figure.upper_si),
        at: AtEntry {
            p_cap_bar: figure.at.p_cap_pa.map(|p| p / 1e5).and_then(finite),
            p_rod_bar: figure.at.p_rod_pa.map(|p| p / 1e5).and_then(finite),
            t_oil_degc: figure.at.t_oil_k.map(|t| t - 273.15).and_then(finite),
            x_mm: figure.at.x_m.map(|x| x * 1e3).and_then(finite),
        },
        mean_over_hold: figure.mean_over_hold.and_then(|m| {
            Some(MeanEntry {
                value: in_unit(m.value_si)?,
                expanded_uncertainty: expanded(m),
            })
        }),
        budget: figure
            .budget
            .iter()
            .map(|c| contribution(c, figure.name))
            .collect(),
        by_chance: figure
            .by_chance
            .map(|by| by_chance::entry(&by, figure.name)),
    }
}

fn contribution(contribution: &Contribution, name: FigureName) -> BudgetEntry {
    BudgetEntry {
        source: contribution.source,
        standard_uncertainty: finite(contribution.standard_si / name.si_per_metric_unit()),
        remedy: contribution.remedy,
    }
}

pub(super) fn limit(judged: &Judged) -> LimitEntry {
    let limit = &judged.limit;
    LimitEntry {
        id: limit.id.clone(),
        figure: limit.figure.word(),
        limit_value: finite(limit.number),
        limit_unit: limit.unit.clone(),
        acceptance_limit: judged.acceptance.and_then(finite),
        as_typed: limit.text.clone(),
        outcome: judged.outcome.word(),
        value: judged.number.and_then(finite),
        expanded_uncertainty: judged.expanded.and_then(finite),
        probability_within: judged.probability_within.and_then(finite),
        reason: judged.reason.clone(),
        source: limit.source.clone(),
        basis: limit.basis.words(),
    }
}

/// The data as they are written.
pub(super) fn data(recording: &Recording, file: &str, sha256: &str) -> DataEntry {
    DataEntry {
        file: file.into(),
        sha256: sha256.into(),
        n_rows: recording.time_s().len(),
        n_samples_lost: recording.loss().n_samples_lost,
        gaps: recording.gaps().iter().map(gap).collect(),
    }
}

/// A flag as it is written.
pub(super) fn flag(flag: &Flag) -> FlagEntry {
    FlagEntry {
        weight: weight(flag.weight),
        evidence: flag.evidence.clone(),
    }
}

fn weight(weight: Weight) -> &'static str {
    match weight {
        Weight::Remark => "remark",
        Weight::Voids => "voids",
    }
}

/// Flags of the data, then the doubts of the evaluation in the same form.
fn flags(facts: &Facts<'_>, evaluation: Option<&Evaluation>) -> Vec<FlagEntry> {
    let of_data = facts.flags.iter().map(flag);
    let doubts = evaluation.map_or(&[][..], |e| &e.doubts);
    let of_evaluation = doubts.iter().map(|doubt| match doubt {
        Doubt::NoFit { evidence } => FlagEntry {
            weight: weight(Weight::Voids),
            evidence: evidence.clone(),
        },
        Doubt::Note { evidence } => FlagEntry {
            weight: weight(Weight::Remark),
            evidence: evidence.clone(),
        },
    });
    of_data.chain(of_evaluation).collect()
}

fn gap(gap: &Gap) -> GapEntry {
    GapEntry {
        from_s: finite(gap.from_s),
        until_s: finite(gap.until_s),
        cause: gap.cause.word(),
    }
}

/// Data unit of a role, the SI value of one, and what is taken off before.
fn data_unit(role: Role) -> (&'static str, f64, f64) {
    match role {
        Role::CapPressure | Role::RodPressure => ("bar", 1e5, 0.0),
        Role::Position => ("mm", 1e-3, 0.0),
        Role::OilTemperature | Role::WallTemperature => ("degc", 1.0, 273.15),
        Role::Supply => ("v", 1.0, 0.0),
    }
}

/// A sensor as it is written.
pub(super) fn sensor(track: &Track) -> SensorEntry {
    let channel = &track.channel;
    let (unit, per_unit, offset) = data_unit(channel.role);
    let size = |si: f64| finite(si / per_unit);
    let point = |si: f64| finite((si - offset) / per_unit);
    SensorEntry {
        role: channel.role.word(),
        label: channel.label.clone(),
        serial: channel.papers.serial.clone(),
        certificate: channel.papers.certificate.clone(),
        due: channel.papers.due.clone(),
        calibrated_by: channel.papers.by.map_or("", CalibratedBy::word),
        unit,
        range_low: point(channel.range_si.0),
        range_high: point(channel.range_si.1),
        resolution: size(channel.resolution_si()),
        zero_uncertainty: size(channel.errors.zero_si),
        span_uncertainty_percent: finite(channel.errors.span_relative * 100.0),
        zero_drift_per_k: size(channel.errors.zero_si_per_k),
        read_against: channel.against_supply.map(|_| Role::Supply.word()),
    }
}
