//! What the paper of a procedure says, as text.
//!
//! Everything that is printed is decided here and tested as text; `page` only sets it. A hold
//! is said by the code that says a test of one hold.

use crate::account::METHOD_VERSION;
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
use crate::certificate::compose::Paper;
use crate::certificate::compose::build_of;
use crate::certificate::compose::compose;
use crate::certificate::compose::sentence;
use crate::certificate::compose::unit_of;
use crate::certificate::facts::Utc;
use crate::certificate::proof::conclude::conclusion;
use crate::certificate::proof::conclude::remarks;
use crate::certificate::proof::facts::ProofFacts;
use crate::certificate::proof::facts::StepShown;
use crate::certificate::proof::places::not_tested;
use crate::certificate::proof::places::places_tested;
use crate::certificate::proof::steps::StepRow;
use crate::certificate::proof::steps::letter;
use crate::certificate::proof::steps::limit_sources;
use crate::certificate::proof::steps::step_rows;
use crate::certificate::proof::strokes::StrokeTable;
use crate::certificate::proof::strokes::stroke_table;
use crate::certificate::reading::all_in_units;
use crate::certificate::reading::in_units;
use crate::certificate::rows;
use crate::certificate::rows::SensorRow;
use crate::certificate::sentence::Speech;
use crate::cylinder::Chamber;
use crate::quantity::number;
use crate::recording::Ending;

/// Everything the paper of a procedure says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProofPaper {
    /// "Certificate of a cylinder test" or "Report of a cylinder test".
    pub title: String,
    /// What the procedure is called.
    pub procedure: String,
    /// Its number, or that it has none.
    pub number: String,
    /// The shop.
    pub shop: String,
    /// Date and time of the test.
    pub date: String,
    /// What is written across each page.
    pub marks: Vec<Mark>,
    /// Name and content of the lines about the piece.
    pub piece: Vec<(String, String)>,
    /// The outcome as one word.
    pub outcome_word: &'static str,
    /// The outcome as one sentence, or a few.
    pub outcome_sentence: String,
    /// The table of steps.
    pub steps: Vec<StepRow>,
    /// What strokes told; empty without any.
    pub strokes: StrokeTable,
    /// Where the limits come from, one line each; a letter before each if there are several.
    pub limit_sources: Vec<String>,
    /// Where the steps come from, each source once with the numbers of its steps.
    pub step_sources: Vec<String>,
    /// Why the outcome is what it is, and what is to be read beside it.
    pub remarks: Vec<String>,
    /// Where in the stroke holds were done, a line for each direction.
    pub places: Vec<String>,
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
    /// The holds, each with what a paper of its own would say.
    pub holds: Vec<HoldPart>,
    /// Name and content of the lines about how it ran.
    pub run: Vec<(String, String)>,
    /// Name and content of the lines about data and versions.
    pub provenance: Vec<(String, String)>,
    /// Plain text of the QR code.
    pub code_text: String,
}

/// What the paper says of one hold on its own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HoldPart {
    /// Number of its step, from 1.
    pub number: usize,
    /// "Step 7: Piston seal, middle of the stroke".
    pub heading: String,
    /// What a paper of this hold alone would say.
    pub paper: Paper,
}

/// What the paper of a procedure says about these facts.
pub fn compose_proof(facts: &ProofFacts<'_>) -> ProofPaper {
    let steps = step_rows(facts);
    let outcome_sentence = conclusion(facts);
    let number = facts.certificate_number.as_deref();
    let paper = ProofPaper {
        title: title(facts.is_report(), "a cylinder test"),
        procedure: facts.title.clone(),
        number: number_line(number),
        shop: facts.shop_name.clone(),
        date: facts.date.clone(),
        marks: marks(facts.practice(), &facts.standing, facts.is_report()),
        piece: piece(facts),
        outcome_word: outcome_word(facts.outcome, &facts.standing),
        limit_sources: lettered(limit_sources(&steps)),
        strokes: stroke_table(facts),
        steps,
        step_sources: step_sources(facts),
        remarks: remarks(facts, &outcome_sentence),
        outcome_sentence: outcome_said(facts.outcome, &facts.standing, &outcome_sentence),
        places: places_tested(facts),
        not_tested: not_tested(facts),
        rule: rule(facts),
        uncertainty: PLUS_MINUS.into(),
        cautions: cautions(Some(&facts.cylinder)),
        role: facts.role.clone(),
        sensors_title: sensors_title(facts.by_eye.as_ref()),
        sensors: rows::sensors(facts.recording, facts.by_eye.as_ref(), speech(facts)),
        holds: holds(facts),
        run: run(facts),
        provenance: provenance(facts),
        code_text: code_text(
            &facts.recording.heading().run_id,
            number,
            facts.outcome,
            &facts.sha256_hex,
        ),
    };
    in_units_of_shop(paper, facts)
}

/// Reasons come in bar and millimetres; a shop of inches reads its own.
fn in_units_of_shop(mut paper: ProofPaper, facts: &ProofFacts<'_>) -> ProofPaper {
    let limits: Vec<String> = facts.limits().map(|limit| limit.text.clone()).collect();
    let said = |text: &str| in_units(text, facts.units, &limits);
    all_in_units(&mut paper.remarks, facts.units, &limits);
    all_in_units(&mut paper.strokes.notes, facts.units, &limits);
    paper.outcome_sentence = said(&paper.outcome_sentence);
    for row in &mut paper.steps {
        (row.result, row.limit) = (said(&row.result), said(&row.limit));
    }
    for (_, text) in &mut paper.run {
        *text = said(text);
    }
    paper
}

fn speech(facts: &ProofFacts<'_>) -> Speech {
    Speech {
        units: facts.units,
        holding: Chamber::Cap,
    }
}

fn piece(facts: &ProofFacts<'_>) -> Vec<(String, String)> {
    [
        ("Unit", unit_of(&facts.identity)),
        ("Machine", facts.identity.machine.clone()),
        (
            "Build",
            build_of(&facts.cylinder, &facts.identity.seal, speech(facts)),
        ),
        ("Filled with", facts.oil.clone()),
    ]
    .into_iter()
    .filter(|(_, text)| !text.trim().is_empty())
    .map(|(name, text)| (name.to_owned(), text))
    .collect()
}

/// "A: depot sheet 4", or the only source as it is.
fn lettered(sources: Vec<String>) -> Vec<String> {
    match sources.len() {
        0 | 1 => sources,
        _ => sources
            .into_iter()
            .enumerate()
            .map(|(index, source)| format!("{}: {source}", letter(index)))
            .collect(),
    }
}

fn step_sources(facts: &ProofFacts<'_>) -> Vec<String> {
    let mut sources: Vec<(&str, Vec<String>)> = Vec::new();
    for (index, step) in facts.steps.iter().enumerate() {
        let number = (index + 1).to_string();
        match sources.iter_mut().find(|(text, _)| *text == step.source) {
            Some((_, numbers)) => numbers.push(number),
            None => sources.push((&step.source, vec![number])),
        }
    }
    sources
        .into_iter()
        .filter(|(text, _)| !text.trim().is_empty())
        .map(|(text, numbers)| {
            let name = if numbers.len() == 1 { "Step" } else { "Steps" };
            format!("{name} {}: {text}", numbers.join(", "))
        })
        .collect()
}

fn rule(facts: &ProofFacts<'_>) -> String {
    let is_judged = facts
        .holds()
        .any(|(_, hold)| !hold.verdict.judged.is_empty());
    match is_judged {
        true => facts.rule_sentence(),
        false => "No limit was chosen for a hold, so no decision rule was applied.".into(),
    }
}

fn holds(facts: &ProofFacts<'_>) -> Vec<HoldPart> {
    let steps = facts.steps.iter().enumerate();
    steps
        .filter_map(|(index, step)| match &step.shown {
            StepShown::Held { facts: hold, .. } => Some(HoldPart {
                number: index + 1,
                heading: format!("Step {}: {}", index + 1, step.title),
                paper: compose(hold),
            }),
            _ => None,
        })
        .collect()
}

fn run(facts: &ProofFacts<'_>) -> Vec<(String, String)> {
    let times = facts.recording.time_s();
    let length_s = match (times.first(), times.last()) {
        (Some(first), Some(last)) => last - first,
        _ => 0.0,
    };
    let done = facts.steps.iter();
    let done = done.filter(|s| s.shown != StepShown::NotDone).count();
    [
        ("Steps", format!("{done} of {} done", facts.steps.len())),
        ("Recorded", format!("{} min", number(length_s / 60.0, 1.0))),
        (
            "Ended",
            match facts.recording.ending() {
                Ending::Complete => "as planned".into(),
                Ending::Interrupted(why) => sentence(&format!("before its end: {why}")),
            },
        ),
    ]
    .into_iter()
    .filter(|(_, text)| !text.is_empty())
    .map(|(name, text)| (name.to_owned(), text))
    .collect()
}

fn provenance(facts: &ProofFacts<'_>) -> Vec<(String, String)> {
    let mut methods = facts.holds().filter_map(|(_, hold)| hold.evaluation);
    let origin = Origin {
        recording: facts.recording,
        started_utc: Utc::from_ms(facts.recording.heading().started_utc_ms).iso(),
        file_name: &facts.file_name,
        sha256_hex: &facts.sha256_hex,
        software: &facts.software,
        method: methods.next().map_or(METHOD_VERSION, |e| e.method_version),
    };
    let mut lines = origin.lines();
    if !facts.procedure.is_empty() {
        lines.insert(0, ("Procedure".into(), facts.procedure.clone()));
    }
    lines
}
