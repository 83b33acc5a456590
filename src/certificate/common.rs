//! What all papers have in common: titles, marks, cautions, where the data come from.
//!
//! Invariant: pure, as `compose` is.

use crate::certificate::facts::Standing;
use crate::certificate::record::RECORD_FILE;
use crate::cylinder::Cylinder;
use crate::quantity::number;
use crate::recording::Recording;
use crate::verdict::Outcome;

/// What "±" means.
pub(super) const PLUS_MINUS: &str = "± is the expanded uncertainty, coverage 95 %.";

/// Words across the page that say what the paper is not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// The word that is seen from far.
    pub big: String,
    /// What it means.
    pub small: String,
    /// Both, as they stand in the text.
    pub line: String,
}

impl Mark {
    pub(super) fn new(big: &str, between: &str, small: &str) -> Self {
        Self {
            big: big.into(),
            small: small.into(),
            line: format!("{big}{between}{small}"),
        }
    }
}

/// "Certificate of a cylinder test", or a report of it.
pub(super) fn title(is_report: bool, what: &str) -> String {
    let kind = match is_report {
        true => "Report",
        false => "Certificate",
    };
    format!("{kind} of {what}")
}

/// "No. TV-2026-0001", or that there is none.
pub(super) fn number_line(number: Option<&str>) -> String {
    number.map_or("without a number, not registered".into(), |n| {
        format!("No. {n}")
    })
}

/// The marks of a paper.
pub(super) fn marks(practice: Option<&str>, standing: &Standing, is_report: bool) -> Vec<Mark> {
    let mut marks = Vec::new();
    if practice.is_some() {
        let small = "not a measurement of a real cylinder";
        marks.push(Mark::new("PRACTICE", " – ", small));
    }
    match standing {
        Standing::Original => {}
        Standing::Duplicate => marks.push(Mark::new("DUPLICATE", ", ", "printed again")),
        Standing::Withdrawn(why) => marks.push(match why.starts_with("on ") {
            true => Mark::new("WITHDRAWN", " ", why),
            false => Mark::new("WITHDRAWN", ": ", why),
        }),
    }
    if is_report {
        marks.push(Mark::new("REPORT", ", ", "not a certificate"));
    }
    marks
}

/// The outcome as one word; a withdrawn paper has none any more.
pub(super) fn outcome_word(outcome: Outcome, standing: &Standing) -> &'static str {
    match standing {
        Standing::Withdrawn(_) => "Withdrawn",
        Standing::Original | Standing::Duplicate => outcome.plain(),
    }
}

/// The sentence beside that word.
pub(super) fn outcome_said(outcome: Outcome, standing: &Standing, sentence: &str) -> String {
    match standing {
        Standing::Withdrawn(_) => format!(
            "This paper counts no longer. When it was issued it said: {}. {sentence}",
            outcome.plain().to_lowercase()
        ),
        Standing::Original | Standing::Duplicate => sentence.into(),
    }
}

/// What a paper warns of.
pub(super) fn cautions(cylinder: Option<&Cylinder>) -> Vec<String> {
    let first = "A pass here is not a lifting approval, statutory inspection or structural certificate. \
         General cautions, no procedure: the machine maker's instructions, local rules and \
         qualified people come first.";
    let mut cautions = vec![first.to_string()];
    cautions.extend(hazards(cylinder));
    cautions
}

/// What is dangerous of a plugged and loaded piece.
pub(super) fn hazards(cylinder: Option<&Cylinder>) -> [String; 3] {
    let ratio = cylinder.and_then(Cylinder::intensification);
    let ratio = ratio.map_or(String::new(), |r| {
        format!(
            " Cap-end pressure can raise the rod end to {} times its size.",
            number(r, 1.0)
        )
    });
    [
        "Oil under pressure goes through gloves and skin: look for leaks with card, never by hand; \
         even a small injection wound is an emergency."
            .into(),
        format!(
            "A plugged cylinder stores energy, and its pressure climbs in the sun.{ratio} \
             Open a fitting only without load and with both gauges at zero."
        ),
        "Block a held load mechanically; nobody under it, nobody in line with the rod.".into(),
    ]
}

/// Where the data of a paper come from.
pub(super) struct Origin<'a> {
    /// The recording.
    pub recording: &'a Recording,
    /// When it began, UTC.
    pub started_utc: String,
    /// Name of its file.
    pub file_name: &'a str,
    /// SHA-256 of that file.
    pub sha256_hex: &'a str,
    /// Version of the program.
    pub software: &'a str,
    /// Version of the evaluation.
    pub method: u32,
}

impl Origin<'_> {
    /// Name and content of the lines about data and versions.
    pub(super) fn lines(&self) -> Vec<(String, String)> {
        let heading = self.recording.heading();
        let loss = self.recording.loss();
        let rows = format!(
            "{} rows; samples lost: {}; gaps: {}",
            self.recording.time_s().len(),
            loss.n_samples_lost,
            self.recording.gaps().len()
        );
        [
            ("Run", heading.run_id.clone()),
            (
                "Started",
                format!("{} ({})", self.started_utc, heading.time_zone),
            ),
            ("Data from", heading.source.clone()),
            ("Practice", heading.practice.trim().to_string()),
            ("File", self.file_name.to_string()),
            ("SHA-256", self.sha256_hex.to_string()),
            ("Data", rows),
            (
                "Attached",
                format!("{RECORD_FILE}, the record for programs"),
            ),
            ("Recorded by", heading.software.clone()),
            (
                "Evaluated by",
                format!("stillrod {}, method {}", self.software, self.method),
            ),
        ]
        .into_iter()
        .filter(|(_, text)| !text.is_empty())
        .map(|(name, text)| (name.to_string(), text))
        .collect()
    }
}

/// Plain text of the QR code: the number, else the run, the outcome and the whole hash.
pub(super) fn code_text(
    run_id: &str,
    number: Option<&str>,
    outcome: Outcome,
    sha256_hex: &str,
) -> String {
    let what = match number {
        Some(number) => format!("certificate {number}"),
        None => format!("run {run_id}"),
    };
    format!("{what}\noutcome {}\nsha256 {sha256_hex}", outcome.word())
}
