//! The outcome of a procedure in a sentence or a few, and what is to be read beside it.

use crate::certificate::compose::margin;
use crate::certificate::compose::outcome_sentence;
use crate::certificate::compose::sentence;
use crate::certificate::facts::Facts;
use crate::certificate::proof::facts::ProofFacts;
use crate::certificate::proof::facts::StepFacts;
use crate::certificate::proof::facts::StepShown;
use crate::certificate::proof::places::in_a_sentence;
use crate::certificate::proof::seen::place;
use crate::certificate::sentence::Speech;
use crate::verdict::Judged;
use crate::verdict::Outcome;

/// More limits than this are not named in the sentence; the table has them.
const LIMITS_NAMED: usize = 2;

/// The outcome as a sentence or a few.
pub(super) fn conclusion(facts: &ProofFacts<'_>) -> String {
    match facts.outcome {
        Outcome::Pass => passed(facts),
        Outcome::Fail => failed(facts),
        Outcome::Undecided | Outcome::NotValid => open(facts),
        Outcome::Measured => measured(facts),
    }
}

/// "Step 7 (Piston seal, middle of the stroke)".
pub(super) fn step_name(number: usize, step: &StepFacts<'_>) -> String {
    format!("Step {number} ({})", step.title)
}

/// Steps with an outcome, the deciding one first, with their numbers.
fn with<'a, 'b>(
    facts: &'a ProofFacts<'b>,
    wanted: Outcome,
) -> impl Iterator<Item = (usize, &'a StepFacts<'b>)> {
    let deciding = facts.deciding.into_iter();
    let others = (0..facts.steps.len()).filter(|i| Some(*i) != facts.deciding);
    deciding
        .chain(others)
        .filter_map(|index| Some((index + 1, facts.steps.get(index)?)))
        .filter(move |(_, step)| step.outcome == Some(wanted))
}

/// What a step itself says of its outcome.
fn own_words(facts: &ProofFacts<'_>, step: &StepFacts<'_>) -> String {
    match &step.shown {
        StepShown::Held { facts: hold, .. } => outcome_sentence(hold, speech(facts, hold)),
        StepShown::Read { said_back, .. } if step.reason.is_empty() => sentence(said_back),
        _ => sentence(&step.reason),
    }
}

fn speech(facts: &ProofFacts<'_>, hold: &Facts<'_>) -> Speech {
    Speech {
        units: facts.units,
        holding: place(hold).chamber,
    }
}

fn passed(facts: &ProofFacts<'_>) -> String {
    let holds: Vec<(usize, &Facts<'_>)> = judged_holds(facts).collect();
    let by_people = with(facts, Outcome::Pass)
        .filter(|(_, step)| matches!(step.shown, StepShown::Read { .. }))
        .count();
    let mut said = Vec::new();
    if let Some((number, hold, judged)) = nearest(facts) {
        let n = holds.len();
        let what = match n {
            1 => "The hold is".to_owned(),
            n => format!("All {n} holds are"),
        };
        let places: Vec<_> = holds.iter().map(|(_, hold)| place(hold)).collect();
        said.push(format!(
            "{what} within {}: {}.",
            limits(&holds),
            in_a_sentence(&places, facts)
        ));
        let words = speech(facts, hold);
        let figure = hold.evaluation.and_then(|e| e.figure(judged.limit.figure));
        let nearest = match (figure, n_limits(&holds) > LIMITS_NAMED) {
            (Some(figure), false) => words.figure(figure),
            _ => words.judged(judged, hold.evaluation),
        };
        match n {
            1 => said.push(nearest),
            _ => said.push(format!("Nearest to its limit, step {number}: {nearest}")),
        }
    }
    match by_people {
        0 => {}
        1 if holds.is_empty() => {
            said.push("One reading by a person passes; no hold was judged.".into())
        }
        n if holds.is_empty() => {
            said.push(format!("{n} readings by people pass; no hold was judged."))
        }
        1 => said.push("One reading by a person passes too.".into()),
        n => said.push(format!("{n} readings by people pass too.")),
    }
    match moved_limits(facts) {
        0 => {}
        1 => said.push("The moving rod is within its limit too.".into()),
        n => said.push(format!("The moving rod is within its {n} limits too.")),
    }
    said.join(" ")
}

/// The judged figure that is nearest to its limit, with its hold and the number of its step.
pub(super) fn nearest<'a>(facts: &'a ProofFacts<'_>) -> Option<(usize, &'a Facts<'a>, &'a Judged)> {
    judged_holds(facts)
        .flat_map(|(number, hold)| hold.verdict.judged.iter().map(move |j| (number, hold, j)))
        .min_by(|a, b| margin(a.2).total_cmp(&margin(b.2)))
}

/// How many limits strokes and squeezes were held against.
fn moved_limits(facts: &ProofFacts<'_>) -> usize {
    let of = |step: &StepFacts<'_>| match &step.shown {
        StepShown::Strokes {
            told: Some(told), ..
        } => told.judged.len(),
        StepShown::Squeezed { judged, .. } => judged.len(),
        _ => 0,
    };
    facts.steps.iter().map(of).sum()
}

/// Holds that were judged against a limit, with the numbers of their steps.
fn judged_holds<'a>(facts: &'a ProofFacts<'_>) -> impl Iterator<Item = (usize, &'a Facts<'a>)> {
    let steps = facts.steps.iter().enumerate();
    steps.filter_map(|(index, step)| match &step.shown {
        StepShown::Held { facts: hold, .. } if !hold.verdict.judged.is_empty() => {
            Some((index + 1, hold.as_ref()))
        }
        _ => None,
    })
}

/// Limits that say the same of the same figure are one.
fn distinct<'a>(holds: &[(usize, &'a Facts<'_>)]) -> Vec<&'a Judged> {
    let mut all: Vec<&Judged> = Vec::new();
    for judged in holds.iter().flat_map(|(_, hold)| &hold.verdict.judged) {
        let is_same = |j: &&Judged| {
            j.limit.figure == judged.limit.figure && j.limit.text == judged.limit.text
        };
        if !all.iter().any(is_same) {
            all.push(judged);
        }
    }
    all
}

fn n_limits(holds: &[(usize, &Facts<'_>)]) -> usize {
    distinct(holds).len()
}

/// "their limit of 0.12 mL/min", or how many there are.
fn limits(holds: &[(usize, &Facts<'_>)]) -> String {
    let all = distinct(holds);
    let whose = if holds.len() == 1 { "its" } else { "their" };
    match all.as_slice() {
        [first, others @ ..] if others.iter().all(|j| j.limit.text == first.limit.text) => {
            format!("{whose} limit of {}", first.limit.text)
        }
        several if several.len() <= LIMITS_NAMED => {
            let said: Vec<String> = several
                .iter()
                .map(|j| format!("{} {}", lower_first(j.limit.figure.plain()), j.limit.text))
                .collect();
            format!("{whose} limits ({})", said.join(", "))
        }
        several => format!("{whose} {} limits", several.len()),
    }
}

fn lower_first(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| {
        first.to_lowercase().to_string() + chars.as_str()
    })
}

fn failed(facts: &ProofFacts<'_>) -> String {
    let failed: Vec<(usize, &StepFacts<'_>)> = with(facts, Outcome::Fail).collect();
    let Some((number, step)) = failed.first() else {
        return reasons(facts);
    };
    let judged = facts.steps.iter().filter(|s| s.outcome.is_some()).count();
    let many = match (failed.len(), judged) {
        (1, _) => String::new(),
        (n, all) => format!(" {n} of {all} judged steps fail."),
    };
    let words = own_words(facts, step);
    format!("{}: {words}{many}", step_name(*number, step))
}

/// Undecided or not valid: the reason.
fn open(facts: &ProofFacts<'_>) -> String {
    let own = with(facts, facts.outcome).next();
    let whole = reasons(facts);
    match own {
        // What concerns all steps comes before what concerns one.
        _ if !whole.is_empty() => whole,
        Some((number, step)) => {
            format!("{}: {}", step_name(number, step), own_words(facts, step))
        }
        None => "The reason was not recorded.".into(),
    }
}

/// The reasons of the whole procedure, as sentences; the rest stands in the remarks.
fn reasons(facts: &ProofFacts<'_>) -> String {
    let said: Vec<String> = facts.reasons.iter().take(2).map(|r| sentence(r)).collect();
    said.join(" ")
}

fn measured(facts: &ProofFacts<'_>) -> String {
    let is_judged = facts
        .steps
        .iter()
        .any(|s| s.outcome.is_some_and(|o| o != Outcome::Measured));
    let first = with(facts, Outcome::Measured).next();
    let Some((number, step)) = first else {
        return "No step of this procedure decides anything.".into();
    };
    let name = step_name(number, step);
    match is_judged {
        true => format!(
            "Nothing is over a limit, but not everything has one. {name}: {}",
            measured_words(facts, step)
        ),
        false => {
            let n = facts.holds().count();
            let holds = match n {
                0 => String::new(),
                1 => " One hold was measured.".into(),
                n => format!(" {n} holds were measured."),
            };
            let words = measured_words(facts, step);
            format!("No limit was chosen, so nothing was judged.{holds} {name}: {words}")
        }
    }
}

/// What a step without a limit showed: the flow of a hold, if there is one.
fn measured_words(facts: &ProofFacts<'_>, step: &StepFacts<'_>) -> String {
    let StepShown::Held { facts: hold, .. } = &step.shown else {
        return own_words(facts, step);
    };
    let figures = hold.evaluation.map_or(&[][..], |e| &e.figures);
    let flow = figures
        .iter()
        .find(|f| f.name.metric_unit() == "mL/min" && f.measured.is_some());
    flow.or(figures.first())
        .map_or("No figure could be stated.".into(), |f| {
            speech(facts, hold).figure(f)
        })
}

/// Why the outcome is what it is, and what is to be read beside it; what was `said` already,
/// or with more to it, is not said again.
pub(super) fn remarks(facts: &ProofFacts<'_>, said: &str) -> Vec<String> {
    let mut remarks: Vec<String> = Vec::new();
    let mut add = |text: String| {
        let bare = text.trim_end_matches('.');
        let is_new = !said.contains(bare) && remarks.iter().all(|r| !r.contains(bare));
        if !bare.is_empty() && is_new {
            remarks.push(text);
        }
    };
    for reason in facts.reasons {
        add(sentence(reason));
    }
    for (index, step) in facts.steps.iter().enumerate() {
        let name = step_name(index + 1, step);
        match &step.shown {
            StepShown::Held { facts: hold, .. } => {
                for reason in &hold.verdict.reasons {
                    add(format!("{name}: {}", sentence(reason)));
                }
            }
            // The table says what was read, and against what.
            StepShown::Read { .. } => {}
            _ if step.reason.is_empty() => {}
            _ => add(format!("{name}: {}", sentence(&step.reason))),
        }
    }
    for flag in facts.flags {
        add(sentence(&flag.evidence));
    }
    remarks
}
