//! Everything an isolation sheet is made from, and nothing else.
//!
//! Dates arrive as text already in the shop's time zone; only the start of the first
//! phase is kept as an instant, for the file.
//!
//! Invariant: plain data. Two equal sets of facts make the same sheet.

use crate::account::FigureName;
use crate::account::investigation::Attribution;
use crate::account::investigation::Phase;
use crate::certificate::letterhead::Letterhead;
use crate::circuit::Circuit;
use crate::circuit::Seen;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::UnitIdentity;
use crate::quantity::UnitSystem;
use crate::verdict::Judged;
use crate::verdict::Outcome;

/// What an isolation sheet is made from.
#[derive(Debug, Clone, PartialEq)]
pub struct IsolationFacts {
    /// Name of the shop.
    pub shop_name: String,
    /// What stands beside it at the head.
    pub letterhead: Letterhead,
    /// Units of measure of the sheet.
    pub units: UnitSystem,
    /// Date and time of the first phase as the shop writes them.
    pub date: String,
    /// Start of the first phase, milliseconds since 1970 UTC; what the file is dated.
    pub started_utc_ms: i64,
    /// What tells this investigation from all others; empty for none.
    pub investigation_id: String,
    /// Which piece it is.
    pub identity: UnitIdentity,
    /// How it is built.
    pub cylinder: Cylinder,
    /// What fills it, "ISO VG 46".
    pub fluid: String,
    /// What was asked and seen before anything was plumbed.
    pub asked: Vec<QuestionAnswer>,
    /// The holds, in the order in which [`Attribution`] numbers them.
    pub phases: Vec<PhaseFacts>,
    /// Which ways leak; None if no phase has a sum that could tell of it.
    pub attribution: Option<Attribution>,
    /// What the pattern of pressures and movement says, in plain sentences.
    pub patterns: Vec<String>,
    /// What to do next, in plain sentences, the first first.
    pub next_steps: Vec<String>,
    /// What else was not tested, beside what follows from the ways and the plumbing.
    pub also_not_tested: Vec<String>,
    /// What came out for limits on single paths.
    pub judged: Vec<Judged>,
    /// The worst of all outcomes, of the holds and together.
    pub outcome: Outcome,
    /// What was not a measurement of a real cylinder, in words; None if it was one.
    pub practice: Option<String>,
    /// Version of the program that writes the sheet.
    pub software: String,
}

/// A question that was asked before the first phase, and its answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QuestionAnswer {
    /// A few words: "Oil outside".
    pub question: String,
    /// "none seen".
    pub answer: String,
}

/// A value with its expanded uncertainty, coverage 95 %, both in SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expanded {
    /// The value.
    pub value_si: f64,
    /// Its expanded uncertainty, not negative.
    pub expanded_si: f64,
}

/// One hold of the investigation.
#[derive(Debug, Clone, PartialEq)]
pub struct PhaseFacts {
    /// What people call it: "A".
    pub label: String,
    /// What was plumbed, in one sentence.
    pub plumbed: String,
    /// The plumbing.
    pub circuit: Circuit,
    /// Name of the file that holds the recording.
    pub file_name: String,
    /// SHA-256 of that file, hexadecimal; the sheet prints its beginning.
    pub sha256_hex: String,
    /// Length of the counted hold, s.
    pub length_s: Option<f64>,
    /// Cap-end pressure at start and end of the hold, Pa gauge.
    pub p_cap_pa: Option<(f64, f64)>,
    /// Rod-end pressure at start and end of the hold, Pa gauge.
    pub p_rod_pa: Option<(f64, f64)>,
    /// Oil temperature, mean over the hold, K.
    pub t_oil_k: Option<f64>,
    /// Movement of the rod, m/s, positive when it extends.
    pub drift_m_per_s: Option<Expanded>,
    /// Oil lost from the cap side, mean over the hold, m³/s.
    pub cap_loss_m3_per_s: Option<Expanded>,
    /// Oil gained on the rod side, mean over the hold, m³/s.
    pub rod_gain_m3_per_s: Option<Expanded>,
    /// What eyes saw.
    pub seen: Seen,
    /// Why nothing of this phase counts; None if it counts.
    pub void: Option<String>,
}

impl PhaseFacts {
    /// A phase of which nothing could be evaluated.
    pub fn without_evaluation(label: &str, circuit: Circuit) -> Self {
        Self {
            label: label.to_owned(),
            plumbed: String::new(),
            circuit,
            file_name: String::new(),
            sha256_hex: String::new(),
            length_s: None,
            p_cap_pa: None,
            p_rod_pa: None,
            t_oil_k: None,
            drift_m_per_s: None,
            cap_loss_m3_per_s: None,
            rod_gain_m3_per_s: None,
            seen: Seen::default(),
            void: None,
        }
    }

    /// What a phase's evaluation gives; plumbing in words, file and void are left to be
    /// filled in.
    pub fn from_phase(phase: &Phase<'_>) -> Self {
        let counted = phase.evaluation.counted.as_ref();
        let ends = |p: &[f64]| Some((*p.first()?, *p.last()?));
        let sum = |chamber: Chamber| {
            let (value_si, standard) = counted?.sum(chamber)?;
            Some(Expanded {
                value_si,
                expanded_si: COVERAGE_95 * standard,
            })
        };
        let drift = phase.evaluation.figure(FigureName::Drift);
        Self {
            label: phase.label.to_owned(),
            plumbed: String::new(),
            circuit: *phase.circuit(),
            file_name: String::new(),
            sha256_hex: String::new(),
            length_s: counted.map(|c| c.drive.length_s),
            p_cap_pa: counted.and_then(|c| ends(&c.drive.p_cap_pa)),
            p_rod_pa: counted.and_then(|c| ends(c.drive.p_rod_pa.as_ref()?)),
            t_oil_k: counted.and_then(|c| c.drive.oil_k),
            drift_m_per_s: drift.and_then(|figure| {
                let measured = figure.measured?;
                Some(Expanded {
                    value_si: measured.value_si,
                    expanded_si: figure.coverage_factor * measured.standard_si,
                })
            }),
            cap_loss_m3_per_s: sum(Chamber::Cap),
            rod_gain_m3_per_s: sum(Chamber::Rod),
            seen: phase.seen,
            void: None,
        }
    }
}

/// Roots of a counted sum's variance that cover 95 %.
const COVERAGE_95: f64 = 1.96;
