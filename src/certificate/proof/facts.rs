//! Everything the paper of a procedure is made from, and nothing else.
//!
//! Each hold brings the facts of a test of one hold, so that its row, its chart and its
//! budget are made by the same code.

use crate::account::Figure;
use crate::account::StrokeSummary;
use crate::certificate::by_eye::lacks_papers;
use crate::certificate::facts::Facts;
use crate::certificate::facts::Standing;
use crate::certificate::letterhead::Letterhead;
use crate::channel::ByEye;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::UnitIdentity;
use crate::health::Flag;
use crate::quantity::UnitSystem;
use crate::recording::Recording;
use crate::verdict::DecisionRule;
use crate::verdict::Judged;
use crate::verdict::Limit;
use crate::verdict::Outcome;

/// What the paper of a procedure is made from.
#[derive(Debug, Clone, PartialEq)]
pub struct ProofFacts<'a> {
    /// Number in the register; None for a test that was not registered.
    pub certificate_number: Option<String>,
    /// Whether this sheet is the one to rely on.
    pub standing: Standing,
    /// Name of the shop.
    pub shop_name: String,
    /// What stands beside it at the head.
    pub letterhead: Letterhead,
    /// Units of measure of the paper.
    pub units: UnitSystem,
    /// Role of who tested; empty for a blank line.
    pub role: String,
    /// Date and time of the test as the shop writes them.
    pub date: String,
    /// Which piece it is.
    pub identity: UnitIdentity,
    /// How it is built.
    pub cylinder: Cylinder,
    /// Name of its oil.
    pub oil: String,
    /// What the procedure is called.
    pub title: String,
    /// Its name in data.
    pub procedure: String,
    /// The instruments, where a person read them; None where a board did.
    pub by_eye: Option<ByEye>,
    /// The whole recording.
    pub recording: &'a Recording,
    /// Name of the file that holds it.
    pub file_name: String,
    /// SHA-256 of that file, 64 hexadecimal digits.
    pub sha256_hex: String,
    /// The steps, in order.
    pub steps: Vec<StepFacts<'a>>,
    /// Which step has the hold that decided; None without a hold.
    pub deciding: Option<usize>,
    /// What came out.
    pub outcome: Outcome,
    /// Why, as sentences.
    pub reasons: &'a [String],
    /// What the steps say of sensors and of each other.
    pub flags: &'a [Flag],
    /// The rule of the shop.
    pub rule: DecisionRule,
    /// Version of the program that writes the paper.
    pub software: String,
}

/// One step of a procedure.
#[derive(Debug, Clone, PartialEq)]
pub struct StepFacts<'a> {
    /// Its name in data.
    pub id: String,
    /// Its name for people.
    pub title: String,
    /// Where it comes from, and how sure that is.
    pub source: String,
    /// What it showed.
    pub shown: StepShown<'a>,
    /// Its outcome; None for a step that decides nothing.
    pub outcome: Option<Outcome>,
    /// Why, in one sentence; empty where the hold's own verdict says it.
    pub reason: String,
}

/// What a step showed.
#[derive(Debug, Clone, PartialEq)]
pub enum StepShown<'a> {
    /// It was not done to its end.
    NotDone,
    /// A person said that it is done.
    Done {
        /// When, s of bench time.
        at_s: f64,
    },
    /// What pressure sensors said with both sides open.
    Vented(Vec<ZeroRead>),
    /// Full strokes.
    Strokes {
        /// How many.
        count: u32,
        /// From furthest in to furthest out, m; None without a position.
        seen_m: Option<f64>,
        /// What the drawing says, m.
        nominal_m: f64,
        /// What else they told; None where nothing was asked of them.
        told: Option<StrokesTold<'a>>,
    },
    /// A rod end that was squeezed by the rod.
    Squeezed {
        /// What the cap end was raised to, Pa gauge.
        asked_pa: f64,
        /// Highest rod-end pressure, Pa gauge; None if it was not read.
        highest_pa: Option<f64>,
        /// The share of free air, or why it cannot be stated.
        air: &'a Result<Figure, String>,
        /// What came out for each limit.
        judged: &'a [Judged],
    },
    /// A pressure that was kept.
    Kept {
        /// At which end.
        chamber: Chamber,
        /// What was asked for, Pa gauge.
        asked_pa: f64,
        /// Lowest and highest while it was kept, Pa gauge.
        between_pa: (f64, f64),
        /// How long, s.
        length_s: f64,
    },
    /// A side that was shut and left alone, as the facts of a test of its own.
    Held {
        /// Its facts.
        facts: Box<Facts<'a>>,
        /// When settling began, s of bench time.
        from_s: f64,
    },
    /// What a person read or saw.
    Read {
        /// As it was typed.
        typed: String,
        /// What was understood, with its unit.
        said_back: String,
    },
}

/// What strokes told besides their number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StrokesTold<'a> {
    /// Figures, and those that cannot be stated.
    pub summary: &'a StrokeSummary,
    /// What came out for each limit.
    pub judged: &'a [Judged],
}

/// What one sensor said with its side open, or with the rod at a known place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZeroRead {
    /// Which.
    pub role: Role,
    /// Mean, Pa gauge or m.
    pub mean_si: f64,
    /// Standard uncertainty of the mean, Pa or m.
    pub standard_si: f64,
}

impl ProofFacts<'_> {
    /// What was not a measurement of a real cylinder, in words; None if it was one.
    pub fn practice(&self) -> Option<&str> {
        let text = self.recording.heading().practice.trim();
        (!text.is_empty()).then_some(text)
    }

    /// Whether the paper is a report only: nothing was judged, nothing can be, or a sensor was
    /// overdue for its calibration, or not looked at before and after.
    pub fn is_report(&self) -> bool {
        let is_unjudged = matches!(self.outcome, Outcome::Measured | Outcome::NotValid);
        is_unjudged
            || lacks_papers(self.by_eye.as_ref())
            || self
                .holds()
                .any(|(_, facts)| facts.is_overdue() || !facts.not_looked_at.is_empty())
    }

    /// The decision rule in one sentence, for what the holds were held against.
    pub(super) fn rule_sentence(&self) -> String {
        let limited = self.holds().flat_map(|(_, hold)| hold.verdict.limited());
        self.rule.sentence(&limited.collect::<Vec<_>>())
    }

    /// All limits that holds, strokes and squeezes were held against.
    pub(super) fn limits(&self) -> impl Iterator<Item = &Limit> {
        let judged = self.steps.iter().flat_map(|step| match &step.shown {
            StepShown::Held { facts, .. } => &facts.verdict.judged[..],
            StepShown::Strokes {
                told: Some(told), ..
            } => told.judged,
            StepShown::Squeezed { judged, .. } => judged,
            _ => &[],
        });
        judged.map(|judged| &judged.limit)
    }

    /// Its holds, in order.
    pub fn holds(&self) -> impl Iterator<Item = (&StepFacts<'_>, &Facts<'_>)> {
        self.steps.iter().filter_map(|step| match &step.shown {
            StepShown::Held { facts, .. } => Some((step, facts.as_ref())),
            _ => None,
        })
    }
}
