//! The JSON record of an isolation sheet: the contract with people's scripts.
//!
//! Numbers are in metric units of measure and every name says which.
//!
//! Invariant: a number that is not finite is `null`; the upper end of a way that nothing
//! limits is one of them.

use serde::Serialize;

use crate::account::METHOD_VERSION;
use crate::account::investigation::Answer;
use crate::account::investigation::Attribution;
use crate::account::investigation::Standing;
use crate::account::investigation::Way;
use crate::certificate::facts::Utc;
use crate::certificate::isolation::compose::IsolationPaper;
use crate::certificate::isolation::compose::compose_isolation;
use crate::certificate::isolation::conclude::is_silent;
use crate::certificate::isolation::facts::Expanded;
use crate::certificate::isolation::facts::IsolationFacts;
use crate::certificate::isolation::facts::PhaseFacts;
use crate::certificate::record::UnitEntry;
use crate::certificate::record::finite;
use crate::certificate::record::unit;
use crate::circuit::Beside;
use crate::circuit::Circuit;
use crate::circuit::HoldingValve;
use crate::circuit::Look;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::quantity::unit::kilonewton;

/// SI value of 1 mL/min.
const ML_PER_MIN: f64 = 1e-6 / 60.0;
/// SI value of 1 mm/min.
const MM_PER_MIN: f64 = 1e-3 / 60.0;

/// The record of an investigation, as it is written to JSON.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IsolationRecord {
    stillrod: String,
    sheet: &'static str,
    method_version: u32,
    investigation_id: String,
    practice: Option<String>,
    started_utc: String,
    date: String,
    shop: String,
    unit: UnitEntry,
    build: Vec<PairEntry>,
    asked: Vec<PairEntry>,
    answer: String,
    conclusion: Vec<String>,
    contradiction: Option<String>,
    outcome: &'static str,
    exit_status: u8,
    limits: Vec<LimitEntry>,
    small_ml_per_min: Option<f64>,
    ways: Vec<WayEntry>,
    phases: Vec<PhaseEntry>,
    patterns: Vec<String>,
    next_steps: Vec<String>,
    not_tested: Vec<String>,
    cautions: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct LimitEntry {
    id: String,
    figure: &'static str,
    as_typed: String,
    outcome: &'static str,
    reason: String,
    source: String,
    #[serde(skip_serializing_if = "String::is_empty")]
    basis: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct PairEntry {
    name: String,
    text: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct WayEntry {
    way: &'static str,
    part: &'static str,
    from_chamber: Option<&'static str>,
    of_cylinder: bool,
    standing: &'static str,
    cannot_be_told_from: Vec<&'static str>,
    best_ml_per_min: Option<f64>,
    lower_ml_per_min: Option<f64>,
    upper_ml_per_min: Option<f64>,
    at_bar: Option<f64>,
    driven_in_phases: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct PhaseEntry {
    label: String,
    plumbed: String,
    circuit: CircuitEntry,
    outcome: &'static str,
    void_because: Option<String>,
    recording_file: String,
    recording_sha256: String,
    hold_s: Option<f64>,
    cap_pressure_start_bar: Option<f64>,
    cap_pressure_end_bar: Option<f64>,
    rod_pressure_start_bar: Option<f64>,
    rod_pressure_end_bar: Option<f64>,
    oil_temperature_degc: Option<f64>,
    drift_mm_per_min: Option<f64>,
    drift_expanded_mm_per_min: Option<f64>,
    cap_loss_ml_per_min: Option<f64>,
    cap_loss_expanded_ml_per_min: Option<f64>,
    rod_gain_ml_per_min: Option<f64>,
    rod_gain_expanded_ml_per_min: Option<f64>,
    seen: SeenEntry,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct CircuitEntry {
    cap_port: &'static str,
    rod_port: &'static str,
    cap_holding_valve: &'static str,
    rod_holding_valve: &'static str,
    rod: &'static str,
    load_kn: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    other_cylinder: Option<&'static str>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct SeenEntry {
    gland: &'static str,
    cap_port: &'static str,
    rod_port: &'static str,
    collected_chamber: Option<&'static str>,
    collected_ml: Option<f64>,
    collected_expanded_ml: Option<f64>,
}

impl IsolationRecord {
    /// The record of an investigation.
    pub fn from_facts(facts: &IsolationFacts) -> Self {
        let paper = compose_isolation(facts);
        let attribution = facts.attribution.as_ref();
        let IsolationPaper {
            piece,
            asked,
            conclusion,
            patterns,
            next_steps,
            not_tested,
            cautions,
            ..
        } = paper;
        Self {
            stillrod: facts.software.clone(),
            sheet: "isolation",
            method_version: METHOD_VERSION,
            investigation_id: facts.investigation_id.clone(),
            practice: facts.practice.clone(),
            started_utc: Utc::from_ms(facts.started_utc_ms).iso(),
            date: facts.date.clone(),
            shop: facts.shop_name.clone(),
            unit: unit(&facts.identity),
            build: pairs(piece),
            asked: pairs(asked),
            answer: conclusion.word,
            conclusion: conclusion.sentences,
            contradiction: attribution.and_then(|a| a.contradiction.clone()),
            outcome: facts.outcome.word(),
            exit_status: facts.outcome.exit_status(),
            limits: facts
                .judged
                .iter()
                .map(|judged| LimitEntry {
                    id: judged.limit.id.clone(),
                    figure: judged.limit.figure.word(),
                    as_typed: judged.limit.text.clone(),
                    outcome: judged.outcome.word(),
                    reason: judged.reason.clone(),
                    source: judged.limit.source.clone(),
                    basis: judged.limit.basis.words(),
                })
                .collect(),
            small_ml_per_min: attribution.and_then(|a| finite(a.small_m3_per_s / ML_PER_MIN)),
            ways: attribution.map_or_else(Vec::new, |a| {
                a.answers.iter().map(|one| way(one, a, facts)).collect()
            }),
            phases: facts.phases.iter().map(phase).collect(),
            patterns,
            next_steps,
            not_tested,
            cautions,
        }
    }

    /// As indented JSON with a line end.
    pub fn to_json_pretty(&self) -> String {
        let text = serde_json::to_string_pretty(self).expect("plain fields always serialise");
        text + "\n"
    }
}

fn pairs(pairs: Vec<(String, String)>) -> Vec<PairEntry> {
    let entry = |(name, text)| PairEntry { name, text };
    pairs.into_iter().map(entry).collect()
}

/// A flow in mL/min to the digits that its solver means: six, and nothing below a millionth.
fn six_digits(value: f64) -> f64 {
    if value.abs() < 1e-6 {
        return 0.0;
    }
    let step = 10f64.powi(5 - value.abs().log10().floor() as i32);
    (value * step).round() / step
}

/// A way; without figures where nothing is said of it.
fn way(answer: &Answer, attribution: &Attribution, facts: &IsolationFacts) -> WayEntry {
    let driven = answer.standing != Standing::NotDriven;
    let is_said = driven && !is_silent(attribution);
    let flow = |si: f64| {
        is_said
            .then_some(si / ML_PER_MIN)
            .and_then(finite)
            .map(six_digits)
    };
    let (standing, with) = match &answer.standing {
        Standing::NotDriven => ("not_driven", &[][..]),
        _ if !is_said => ("not_said", &[][..]),
        Standing::NotValid => ("not_valid", &[][..]),
        Standing::AtSetting => ("at_setting", &[][..]),
        Standing::Leaks => ("leaks", &[][..]),
        Standing::Tight => ("tight", &[][..]),
        Standing::Open { with } => ("open", with.as_slice()),
    };
    let label = |index: &usize| facts.phases.get(*index).map(|p| p.label.clone());
    WayEntry {
        way: answer.way.word(),
        part: answer.way.part(),
        from_chamber: match answer.way {
            Way::Piston(chamber) => Some(chamber.word()),
            _ => None,
        },
        of_cylinder: answer.way.is_of_cylinder(),
        standing,
        cannot_be_told_from: with.iter().map(|w| w.part()).collect(),
        best_ml_per_min: flow(answer.best_m3_per_s),
        lower_ml_per_min: flow(answer.lower_m3_per_s),
        upper_ml_per_min: flow(answer.upper_m3_per_s),
        at_bar: driven.then_some(answer.at_pa / 1e5).and_then(finite),
        driven_in_phases: answer.driven_in.iter().filter_map(label).collect(),
    }
}

fn phase(phase: &PhaseFacts) -> PhaseEntry {
    let start = |ends: Option<(f64, f64)>| ends.and_then(|e| finite(e.0 / 1e5));
    let end = |ends: Option<(f64, f64)>| ends.and_then(|e| finite(e.1 / 1e5));
    // What does not count has no figure.
    let counted = |figure: Option<Expanded>| figure.filter(|_| phase.void.is_none());
    let value = |figure, per| counted(figure).and_then(|f| finite(f.value_si / per));
    let expanded = |figure, per| counted(figure).and_then(|f| finite(f.expanded_si / per));
    PhaseEntry {
        label: phase.label.clone(),
        plumbed: phase.plumbed.clone(),
        circuit: circuit(&phase.circuit),
        outcome: match phase.void {
            None => "counts",
            Some(_) => "not_valid",
        },
        void_because: phase.void.clone(),
        recording_file: phase.file_name.clone(),
        recording_sha256: phase.sha256_hex.clone(),
        hold_s: phase.length_s.and_then(finite),
        cap_pressure_start_bar: start(phase.p_cap_pa),
        cap_pressure_end_bar: end(phase.p_cap_pa),
        rod_pressure_start_bar: start(phase.p_rod_pa),
        rod_pressure_end_bar: end(phase.p_rod_pa),
        oil_temperature_degc: phase.t_oil_k.and_then(|t| finite(t - 273.15)),
        drift_mm_per_min: value(phase.drift_m_per_s, MM_PER_MIN),
        drift_expanded_mm_per_min: expanded(phase.drift_m_per_s, MM_PER_MIN),
        cap_loss_ml_per_min: value(phase.cap_loss_m3_per_s, ML_PER_MIN),
        cap_loss_expanded_ml_per_min: expanded(phase.cap_loss_m3_per_s, ML_PER_MIN),
        rod_gain_ml_per_min: value(phase.rod_gain_m3_per_s, ML_PER_MIN),
        rod_gain_expanded_ml_per_min: expanded(phase.rod_gain_m3_per_s, ML_PER_MIN),
        seen: seen(phase),
    }
}

fn circuit(circuit: &Circuit) -> CircuitEntry {
    let (rod, load) = match circuit.rod {
        RodHold::PushedIn { load } => ("pushed_in", load),
        RodHold::PulledOut { load } => ("pulled_out", load),
        RodHold::Locked => ("locked", None),
        RodHold::Bottomed => ("bottomed", None),
    };
    let port = |chamber: Chamber| match circuit.port(chamber) {
        Port::Blocked => "blocked",
        Port::OnValve => "on_valve",
        Port::OpenToVessel => "open",
        Port::Supplied => "supplied",
    };
    let valve = |chamber: Chamber| match circuit.holding_valve(chamber) {
        HoldingValve::Absent => "absent",
        HoldingValve::InPlace => "in_place",
        HoldingValve::Swapped => "swapped",
    };
    CircuitEntry {
        cap_port: port(Chamber::Cap),
        rod_port: port(Chamber::Rod),
        cap_holding_valve: valve(Chamber::Cap),
        rod_holding_valve: valve(Chamber::Rod),
        rod,
        load_kn: load.and_then(|l| finite(l.get::<kilonewton>())),
        other_cylinder: circuit.beside.map(Beside::word),
    }
}

fn seen(phase: &PhaseFacts) -> SeenEntry {
    let word = |look: Option<Look>| match look {
        Some(Look::Dry) => "dry",
        Some(Look::Wet) => "wet",
        None => "not_looked",
    };
    let collected = phase.seen.collected;
    SeenEntry {
        gland: word(phase.seen.gland),
        cap_port: word(phase.seen.cap_port),
        rod_port: word(phase.seen.rod_port),
        collected_chamber: collected.map(|c| c.chamber.word()),
        collected_ml: collected.and_then(|c| finite(c.volume_m3 * 1e6)),
        collected_expanded_ml: collected.and_then(|c| finite(1.96 * c.standard_m3 * 1e6)),
    }
}
