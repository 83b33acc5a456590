//! The JSON record of a procedure: the contract with people's scripts.
//!
//! Each hold carries the whole record of a test of its own. Numbers are in metric units of
//! measure and every name says which.
//!
//! Invariant: a number that is not finite is `null`, never printed.

use serde::Serialize;

use crate::account::METHOD_VERSION;
use crate::certificate::facts::Utc;
use crate::certificate::proof::compose::compose_proof;
use crate::certificate::proof::facts::ProofFacts;
use crate::certificate::proof::facts::StepFacts;
use crate::certificate::proof::facts::StepShown;
use crate::certificate::proof::facts::ZeroRead;
use crate::certificate::proof::moved_record;
use crate::certificate::proof::moved_record::AirEntry;
use crate::certificate::proof::moved_record::ToldEntry;
use crate::certificate::proof::seen::mark;
use crate::certificate::record::DataEntry;
use crate::certificate::record::FlagEntry;
use crate::certificate::record::Record;
use crate::certificate::record::RuleEntry;
use crate::certificate::record::SensorEntry;
use crate::certificate::record::UnitEntry;
use crate::certificate::record::data;
use crate::certificate::record::finite;
use crate::certificate::record::flag;
use crate::certificate::record::rule;
use crate::certificate::record::sensor;
use crate::certificate::record::unit;
use crate::channel::Role;

/// SI value of 1 bar.
const BAR: f64 = 1e5;

/// The record of a procedure, as it is written to JSON.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ProofRecord {
    stillrod: String,
    sheet: &'static str,
    method_version: u32,
    run_id: String,
    certificate_number: Option<String>,
    practice: Option<String>,
    started_utc: String,
    outcome: &'static str,
    exit_status: u8,
    conclusion: String,
    reasons: Vec<String>,
    decision_rule: RuleEntry,
    procedure: ProcedureEntry,
    unit: UnitEntry,
    deciding_step: Option<String>,
    steps: Vec<StepEntry>,
    places: Vec<String>,
    not_tested: Vec<String>,
    flags: Vec<FlagEntry>,
    data: DataEntry,
    sensors: Vec<SensorEntry>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct ProcedureEntry {
    name: String,
    title: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct StepEntry {
    id: String,
    title: String,
    source: String,
    outcome: Option<&'static str>,
    reason: String,
    from_s: Option<f64>,
    until_s: Option<f64>,
    shown: ShownEntry,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "what", rename_all = "snake_case")]
enum ShownEntry {
    NotDone,
    Done {
        at_s: Option<f64>,
    },
    Vented {
        zeros: Vec<ZeroEntry>,
    },
    Strokes {
        count: u32,
        seen_mm: Option<f64>,
        nominal_mm: Option<f64>,
        told: Option<Box<ToldEntry>>,
    },
    Squeezed {
        cap_end_to_bar: Option<f64>,
        rod_end_to_bar: Option<f64>,
        air: Box<AirEntry>,
    },
    Kept {
        chamber: &'static str,
        asked_bar: Option<f64>,
        lowest_bar: Option<f64>,
        highest_bar: Option<f64>,
        length_s: Option<f64>,
    },
    Held {
        settling_from_s: Option<f64>,
        counted_from_s: Option<f64>,
        record: Box<Record>,
    },
    Read {
        typed: String,
        said_back: String,
    },
}

#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
enum ZeroEntry {
    Pressure {
        role: &'static str,
        mean_bar: Option<f64>,
        standard_uncertainty_bar: Option<f64>,
    },
    Place {
        role: &'static str,
        mean_mm: Option<f64>,
        standard_uncertainty_mm: Option<f64>,
    },
}

impl ProofRecord {
    /// The record of a procedure.
    pub fn from_facts(facts: &ProofFacts<'_>) -> Self {
        let heading = facts.recording.heading();
        let paper = compose_proof(facts);
        let mut evaluations = facts.holds().filter_map(|(_, hold)| hold.evaluation);
        let deciding = facts.deciding.and_then(|index| facts.steps.get(index));
        let steps = facts.steps.iter().enumerate();
        Self {
            stillrod: facts.software.clone(),
            sheet: "proof",
            method_version: evaluations
                .next()
                .map_or(METHOD_VERSION, |e| e.method_version),
            run_id: heading.run_id.clone(),
            certificate_number: facts.certificate_number.clone(),
            practice: facts.practice().map(Into::into),
            started_utc: Utc::from_ms(heading.started_utc_ms).iso(),
            outcome: facts.outcome.word(),
            exit_status: facts.outcome.exit_status(),
            conclusion: paper.outcome_sentence,
            reasons: facts.reasons.to_vec(),
            decision_rule: rule(facts.rule, facts.rule_sentence()),
            procedure: ProcedureEntry {
                name: facts.procedure.clone(),
                title: facts.title.clone(),
            },
            unit: unit(&facts.identity),
            deciding_step: deciding.map(|step| step.id.clone()),
            steps: steps
                .map(|(index, step)| entry(facts, index + 1, step))
                .collect(),
            places: paper.places,
            not_tested: paper.not_tested,
            flags: facts.flags.iter().map(flag).collect(),
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

fn entry(facts: &ProofFacts<'_>, number: usize, step: &StepFacts<'_>) -> StepEntry {
    let mark = mark(facts, number, step);
    StepEntry {
        id: step.id.clone(),
        title: step.title.clone(),
        source: step.source.clone(),
        outcome: step.outcome.map(|o| o.word()),
        reason: step.reason.clone(),
        from_s: mark.as_ref().and_then(|m| finite(m.from_s)),
        until_s: mark.as_ref().and_then(|m| finite(m.until_s)),
        shown: shown(
            &step.shown,
            mark.and_then(|m| m.counts_from_s).and_then(finite),
        ),
    }
}

fn shown(shown: &StepShown<'_>, counted_from_s: Option<f64>) -> ShownEntry {
    match shown {
        StepShown::NotDone => ShownEntry::NotDone,
        StepShown::Done { at_s } => ShownEntry::Done {
            at_s: finite(*at_s),
        },
        StepShown::Vented(zeros) => ShownEntry::Vented {
            zeros: zeros.iter().map(zero).collect(),
        },
        StepShown::Strokes {
            count,
            seen_m,
            nominal_m,
            told,
        } => ShownEntry::Strokes {
            told: told
                .as_ref()
                .map(|found| Box::new(moved_record::told(found))),
            count: *count,
            seen_mm: seen_m.and_then(|m| finite(m * 1e3)),
            nominal_mm: finite(nominal_m * 1e3),
        },
        StepShown::Squeezed {
            asked_pa,
            highest_pa,
            air,
            judged,
        } => ShownEntry::Squeezed {
            cap_end_to_bar: finite(asked_pa / BAR),
            rod_end_to_bar: highest_pa.and_then(|pa| finite(pa / BAR)),
            air: Box::new(moved_record::air(air, judged)),
        },
        StepShown::Kept {
            chamber,
            asked_pa,
            between_pa: (low, high),
            length_s,
        } => ShownEntry::Kept {
            chamber: chamber.word(),
            asked_bar: finite(asked_pa / BAR),
            lowest_bar: finite(low / BAR),
            highest_bar: finite(high / BAR),
            length_s: finite(*length_s),
        },
        StepShown::Held { facts, from_s } => ShownEntry::Held {
            settling_from_s: finite(*from_s),
            counted_from_s,
            record: Box::new(Record::from_facts(facts)),
        },
        StepShown::Read { typed, said_back } => ShownEntry::Read {
            typed: typed.clone(),
            said_back: said_back.clone(),
        },
    }
}

fn zero(zero: &ZeroRead) -> ZeroEntry {
    let role = zero.role.word();
    match zero.role {
        Role::Position => ZeroEntry::Place {
            role,
            mean_mm: finite(zero.mean_si * 1e3),
            standard_uncertainty_mm: finite(zero.standard_si * 1e3),
        },
        _ => ZeroEntry::Pressure {
            role,
            mean_bar: finite(zero.mean_si / BAR),
            standard_uncertainty_bar: finite(zero.standard_si / BAR),
        },
    }
}
