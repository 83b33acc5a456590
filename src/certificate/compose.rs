//! What the paper says, as text.
//!
//! Everything that is printed is decided here and tested as text; `pdf` only sets
//! it. Sentences are those a fitter would say.
//!
//! Invariant: pure; nothing that is not valid is said as a figure.

use crate::account::Doubt;
use crate::account::Fluid;
use crate::account::Forecast;
use crate::account::METHOD_VERSION;
use crate::certificate::by_eye::LookRow;
use crate::certificate::by_eye::looks;
use crate::certificate::by_eye::sensors_title;
use crate::certificate::common::Mark;
use crate::certificate::common::Origin;
use crate::certificate::common::PLUS_MINUS;
use crate::certificate::common::cautions;
use crate::certificate::common::code_text;
use crate::certificate::common::marks;
use crate::certificate::common::number_line;
use crate::certificate::common::outcome_said;
use crate::certificate::common::outcome_word;
use crate::certificate::common::title;
use crate::certificate::facts::Facts;
use crate::certificate::reading::all_in_units;
use crate::certificate::reading::in_units;
use crate::certificate::rows;
use crate::certificate::rows::FigureBudget;
use crate::certificate::rows::ResultRow;
use crate::certificate::rows::SensorRow;
use crate::certificate::sentence::Speech;
use crate::certificate::untested::untested;
use crate::cylinder::Cylinder;
use crate::cylinder::Kind;
use crate::cylinder::Piece;
use crate::cylinder::UnitIdentity;
use crate::health::Weight;
use crate::procedure::HOLD;
use crate::procedure::SETTLE;
use crate::quantity::number;
use crate::quantity::unit::second;
use crate::recording::Ending;
use crate::verdict::Judged;
use crate::verdict::Outcome;

/// Everything a paper says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Paper {
    /// "Certificate of a cylinder test" or "Report of a cylinder test".
    pub title: String,
    /// The shop.
    pub shop: String,
    /// Date and time of the test.
    pub date: String,
    /// Its number, or that it has none.
    pub number: String,
    /// What is written across each page.
    pub marks: Vec<Mark>,
    /// Name and content of the lines about the piece.
    pub piece: Vec<(String, String)>,
    /// The outcome as one word.
    pub outcome_word: &'static str,
    /// The outcome as one sentence, or a few.
    pub outcome_sentence: String,
    /// One sentence for each limit, with its outcome.
    pub sentences: Vec<String>,
    /// Pressures that could come to exceed a rating; to be seen before anything else.
    pub warnings: Vec<String>,
    /// What is to come if the piece is left standing.
    pub outlook: Vec<String>,
    /// The result table.
    pub results: Vec<ResultRow>,
    /// Why the outcome is what it is, and what is to be read beside it.
    pub remarks: Vec<String>,
    /// What was not tested.
    pub not_tested: Vec<String>,
    /// The decision rule in one sentence.
    pub rule: String,
    /// What "±" means.
    pub uncertainty: String,
    /// Cautions.
    pub cautions: Vec<String>,
    /// Whose signature the line is for; empty for a blank.
    pub role: String,
    /// What the list of sensors is called.
    pub sensors_title: &'static str,
    /// The sensors.
    pub sensors: Vec<SensorRow>,
    /// What a person read during the hold, look by look; nothing where a board read.
    pub looks: Vec<LookRow>,
    /// Where the uncertainty comes from.
    pub budgets: Vec<FigureBudget>,
    /// What the pattern of pressures and movement says.
    pub findings: Vec<String>,
    /// Name and content of the lines about phases.
    pub phases: Vec<(String, String)>,
    /// Name and content of the lines about data and versions.
    pub provenance: Vec<(String, String)>,
    /// Plain text of the QR code.
    pub code_text: String,
}

/// What the paper says about these facts.
pub fn compose(facts: &Facts<'_>) -> Paper {
    let speech = Speech {
        units: facts.units,
        holding: facts.subject.circuit.holding_chamber(),
    };
    let what = match facts.subject.piece {
        Piece::Cylinder(_) => "a cylinder test",
        Piece::Chamber(_) => "a pressure-hold test",
    };
    let judged = &facts.verdict.judged;
    let outcome_sentence = outcome_sentence(facts, speech);
    let paper = Paper {
        title: title(facts.is_report(), what),
        number: number_line(facts.certificate_number.as_deref()),
        shop: facts.shop_name.clone(),
        date: facts.date.clone(),
        marks: marks(facts.practice(), &facts.standing, facts.is_report()),
        piece: piece(facts, speech),
        outcome_word: outcome_word(facts.verdict.outcome, &facts.standing),
        outcome_sentence: outcome_said(facts.verdict.outcome, &facts.standing, &outcome_sentence),
        sentences: judged
            .iter()
            .map(|j| {
                let said = speech.judged(j, facts.evaluation);
                format!("{said} {}.", j.outcome.plain())
            })
            .collect(),
        warnings: forecast(facts).map_or_else(Vec::new, |f| f.warnings(facts.units)),
        outlook: forecast(facts).map_or_else(Vec::new, |f| f.sentences(facts.units)),
        results: rows::results(facts, speech),
        remarks: remarks(facts, &outcome_sentence),
        not_tested: untested(facts, speech),
        rule: if judged.is_empty() {
            "No limit was chosen, so no decision rule was applied.".into()
        } else {
            format!(
                "{}{}",
                facts.verdict.rule_sentence(),
                rows::accepted(
                    judged,
                    facts.evaluation.map_or(&[][..], |e| &e.figures),
                    speech
                )
            )
        },
        uncertainty: PLUS_MINUS.into(),
        cautions: cautions(facts.subject.piece.cylinder()),
        role: facts.role.clone(),
        sensors_title: sensors_title(facts.subject.by_eye.as_ref()),
        sensors: rows::sensors(facts.recording, facts.subject.by_eye.as_ref(), speech),
        looks: looks(facts.recording),
        budgets: rows::budgets(facts, speech),
        findings: facts
            .evaluation
            .map_or_else(Vec::new, |e| e.findings.clone()),
        phases: phases(facts),
        provenance: provenance(facts),
        code_text: code_text(
            &facts.recording.heading().run_id,
            facts.certificate_number.as_deref(),
            facts.verdict.outcome,
            &facts.sha256_hex,
        ),
    };
    in_units_of_shop(paper, facts)
}

/// Reasons and findings come in bar and millimetres; a shop of inches reads its own.
fn in_units_of_shop(mut paper: Paper, facts: &Facts<'_>) -> Paper {
    let judged = facts.verdict.judged.iter();
    let limits: Vec<String> = judged.map(|j| j.limit.text.clone()).collect();
    for texts in [
        &mut paper.sentences,
        &mut paper.remarks,
        &mut paper.findings,
    ] {
        all_in_units(texts, facts.units, &limits);
    }
    for text in [&mut paper.outcome_sentence, &mut paper.rule] {
        *text = in_units(text, facts.units, &limits);
    }
    for (_, text) in &mut paper.phases {
        *text = in_units(text, facts.units, &limits);
    }
    paper
}

/// The forecast, unless nothing of this measurement can be believed.
fn forecast<'a>(facts: &Facts<'a>) -> Option<&'a Forecast> {
    let forecast = facts.evaluation?.forecast.as_ref();
    forecast.filter(|_| facts.verdict.outcome != Outcome::NotValid)
}

fn piece(facts: &Facts<'_>, speech: Speech) -> Vec<(String, String)> {
    let mut lines = Vec::new();
    let mut add = |name: &str, text: String| {
        if !text.trim().is_empty() {
            lines.push((name.to_string(), text));
        }
    };
    add("Unit", unit_of(&facts.identity));
    add("Machine", facts.identity.machine.clone());
    add("Build", build(facts, speech));
    add(
        "Filled with",
        match &facts.subject.fluid {
            Fluid::Oil(oil) => oil.name().to_string(),
            Fluid::Gas => "gas".into(),
        },
    );
    lines
}

/// Tag, description and serial number, as far as they are known.
pub(super) fn unit_of(identity: &UnitIdentity) -> String {
    let serial = if identity.serial.is_empty() {
        String::new()
    } else {
        format!("serial number {}", identity.serial)
    };
    let said = [&identity.tag, &identity.description, &serial].map(String::as_str);
    join(&said, ", ")
}

fn build(facts: &Facts<'_>, speech: Speech) -> String {
    match &facts.subject.piece {
        Piece::Cylinder(cylinder) => build_of(cylinder, &facts.identity.seal, speech),
        Piece::Chamber(_) => "rigid chamber without a moving part".into(),
    }
}

/// How a cylinder is built, in words.
pub(super) fn build_of(cylinder: &Cylinder, seal: &str, speech: Speech) -> String {
    let kind = match cylinder.kind() {
        Kind::DoubleActing => "double-acting cylinder",
        Kind::DoubleRod => "double-rod cylinder",
        Kind::SingleActing => "single-acting cylinder with a vented rod side",
        Kind::Plunger => "plunger",
        Kind::TelescopicStage => "one stage of a telescopic ram",
    };
    let size = cylinder.size();
    let mut text = format!(
        "{kind}, bore {}, rod {}, stroke {}",
        speech.length(size.bore.value),
        speech.length(size.rod.value),
        speech.length(size.stroke.value)
    );
    if !seal.is_empty() {
        text += &format!(", seal: {seal}");
    }
    text
}

/// The outcome of a hold as one sentence, or a few.
pub(super) fn outcome_sentence(facts: &Facts<'_>, speech: Speech) -> String {
    let judged = &facts.verdict.judged;
    let outcome = facts.verdict.outcome;
    let with = |wanted: Outcome| judged.iter().filter(move |j| j.outcome == wanted);
    let n = judged.len();
    match outcome {
        Outcome::Pass => {
            let nearest = judged.iter().min_by(|a, b| margin(a).total_cmp(&margin(b)));
            let said = nearest.map(|j| speech.judged(j, facts.evaluation));
            let said = said.unwrap_or_default();
            if n > 1 {
                format!("Within all {n} limits. Nearest to its limit: {said}")
            } else {
                said
            }
        }
        Outcome::Fail => {
            let failed: Vec<&Judged> = with(Outcome::Fail).collect();
            let said = failed.first().map(|j| speech.judged(j, facts.evaluation));
            let said = said.unwrap_or_default();
            if n > 1 {
                format!("Over {} of {n} limits. {said}", failed.len())
            } else {
                said
            }
        }
        Outcome::Undecided => {
            let first = with(Outcome::Undecided).next();
            first.map_or_else(String::new, |j| {
                let said = speech.judged(j, facts.evaluation);
                format!("{said} {}", sentence(&j.reason))
            })
        }
        Outcome::NotValid => {
            let reason = facts.verdict.reasons.first();
            let voided = facts.evaluation.is_none()
                || facts.flags.iter().any(|flag| flag.weight == Weight::Voids);
            let what = if voided {
                "No figure of this hold can be believed."
            } else {
                "Not every limit could be judged."
            };
            let of_limit = with(Outcome::NotValid).next().map(|j| &j.reason);
            let reason = reason
                .or(of_limit)
                .map_or("the reason was not recorded", |r| r);
            format!("{what} {}", sentence(reason))
        }
        Outcome::Measured => {
            let figure = facts.evaluation.and_then(|e| e.figures.first());
            let said =
                figure.map_or_else(|| "No figure could be stated.".into(), |f| speech.figure(f));
            format!("No limit was chosen, so nothing was judged. {said}")
        }
    }
}

/// How far inside its limit a figure is; the probability says it best.
pub(super) fn margin(judged: &Judged) -> f64 {
    let by_value = judged
        .number
        .map(|number| 1.0 - number.abs() / judged.limit.number);
    // Probabilities near one are all alike; the value then says which is nearer.
    match (judged.probability_within, by_value) {
        (Some(probability), _) if probability < 0.999 => probability,
        (_, Some(by_value)) => 1.0 + by_value,
        _ => f64::INFINITY,
    }
}

fn remarks(facts: &Facts<'_>, said: &str) -> Vec<String> {
    let mut remarks: Vec<String> = Vec::new();
    let mut add = |text: &str| {
        let text = sentence(text);
        // What was said already, or with more to it, is not said again.
        let bare = text.trim_end_matches('.');
        let is_new = !said.contains(bare) && remarks.iter().all(|r| !r.contains(bare));
        if !text.is_empty() && is_new {
            remarks.push(text);
        }
    };
    for reason in &facts.verdict.reasons {
        add(reason);
    }
    for judged in &facts.verdict.judged {
        // A reason that ends with the limit says no more than the row of the table.
        let says_more = !judged.reason.ends_with(&judged.limit.text);
        if judged.outcome != Outcome::Pass && says_more {
            add(&judged.reason);
        }
    }
    let mut flags: Vec<_> = facts.flags.iter().collect();
    flags.sort_by_key(|f| std::cmp::Reverse(f.weight == Weight::Voids));
    for flag in flags {
        add(&flag.evidence);
    }
    for doubt in facts.evaluation.map_or(&[][..], |e| &e.doubts) {
        match doubt {
            Doubt::NoFit { evidence } | Doubt::Note { evidence } => add(evidence),
        }
    }
    remarks
}

fn phases(facts: &Facts<'_>) -> Vec<(String, String)> {
    let plan = format!(
        "{} s to settle, {} s to hold",
        number(facts.plan.settle().get::<second>(), 10.0),
        number(facts.plan.length().get::<second>(), 10.0)
    );
    let mut lines = vec![("Planned".to_string(), plan)];
    for phase in facts.recording.phases() {
        let name = match phase.name.as_str() {
            SETTLE => "Settling".to_string(),
            HOLD => "Hold".to_string(),
            other => other.to_string(),
        };
        let text = format!(
            "{} s to {} s",
            number(phase.from_s, 1.0),
            number(phase.until_s, 1.0)
        );
        lines.push((name, text));
    }
    if let Some(evaluation) = facts.evaluation {
        let (from, until) = evaluation.hold_s;
        let text = format!("{} s to {} s", number(from, 1.0), number(until, 1.0));
        lines.push(("Counted".into(), text));
    }
    lines.push((
        "Ended".into(),
        match facts.recording.ending() {
            Ending::Complete => "as planned".into(),
            Ending::Interrupted(why) => format!("before its end: {why}"),
        },
    ));
    lines
}

fn provenance(facts: &Facts<'_>) -> Vec<(String, String)> {
    let method = facts
        .evaluation
        .map_or(METHOD_VERSION, |e| e.method_version);
    Origin {
        recording: facts.recording,
        started_utc: facts.started_utc(),
        file_name: &facts.file_name,
        sha256_hex: &facts.sha256_hex,
        software: &facts.software,
        method,
    }
    .lines()
}

/// With a capital and a full stop, as a sentence has them.
pub(super) fn sentence(text: &str) -> String {
    let text = text.trim();
    let mut chars = text.chars();
    let Some(first) = chars.next() else {
        return String::new();
    };
    let end = if text.ends_with(['.', '!', '?']) {
        ""
    } else {
        "."
    };
    format!("{}{}{end}", first.to_uppercase(), chars.as_str())
}

fn join(parts: &[&str], between: &str) -> String {
    let said: Vec<&str> = parts.iter().copied().filter(|p| !p.is_empty()).collect();
    said.join(between)
}
