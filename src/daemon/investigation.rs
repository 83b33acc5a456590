//! Several recordings of one unit judged together: which way the oil takes.
//!
//! What is combined must be one question: the same unit, other plumbing, within days. Holds
//! that are not valid are named and left out of the sums.

mod one_question;
mod sheet;

use self::one_question::TOGETHER_DAYS;
use self::one_question::is_asked;
use self::one_question::known;
use self::one_question::name;
use self::one_question::why_apart;
use self::sheet::facts;
use super::conduct::NamedText;
use super::judge::JudgedFile;
use super::paper::chain;
use super::paper::write_whole;
use super::screen::worst;
use crate::account::Doubt;
use crate::account::Evaluation;
use crate::account::investigation::Attribution;
use crate::account::investigation::Phase;
use crate::account::investigation::attribute;
use crate::certificate::IsolationFacts;
use crate::certificate::IsolationRecord;
use crate::certificate::compose_isolation;
use crate::certificate::isolation_pdf;
use crate::circuit::Seen;
use crate::cylinder::Chamber;
use crate::settings::SeenFile;
use crate::verdict::DecisionRule;
use crate::verdict::Judged;
use crate::verdict::Outcome;
use crate::verdict::judge_ways;
use crate::verdict::of_turn;
use anyhow::Context;
use anyhow::bail;
use std::path::Path;
use std::path::PathBuf;

/// A recording that was judged by itself, with its file.
pub struct File<'a> {
    /// Where it is.
    pub path: &'a Path,
    /// What was made of it.
    pub judged: &'a JudgedFile,
}

/// What several recordings came to together.
#[derive(Debug, Clone)]
pub struct Investigated {
    /// Everything its sheet is made from.
    pub facts: IsolationFacts,
    /// What came out for limits on single paths.
    pub judged: Vec<Judged>,
    /// The worst of all outcomes.
    pub outcome: Outcome,
}

/// Judges recordings together. None if they are no investigation by themselves and nobody
/// said that they are one, by a file of what was seen.
///
/// # Errors
/// If they cannot be one although somebody said so, or the sums cannot be solved.
pub fn investigated(
    files: &[File<'_>],
    seen: Option<&SeenFile>,
) -> anyhow::Result<Option<Investigated>> {
    let apart = why_apart(files);
    match (apart, seen) {
        (Some(why), Some(_)) => bail!("these recordings are no investigation: {why}"),
        (Some(_), None) => return Ok(None),
        (None, None) if !is_asked(files) => return Ok(None),
        (None, _) => {}
    }
    let seen_file = seen.cloned().unwrap_or_default();
    let cylinder = files
        .iter()
        .find_map(|f| f.judged.judgement.setup.subject.piece.cylinder());
    let cylinder =
        cylinder.context("an investigation needs the hold of a cylinder, not only of the rig")?;
    known(files, &seen_file)?;
    let held: Vec<Held<'_>> = files
        .iter()
        .enumerate()
        .map(|(index, file)| Held::of(file, &seen_file, letter(index)))
        .collect();
    let with_evaluation = held
        .iter()
        .filter_map(|h| Some((h, h.evaluation.as_ref()?)));
    let phases: Vec<Phase<'_>> = with_evaluation
        .map(|(held, evaluation)| Phase {
            label: &held.label,
            subject: &held.file.judged.judgement.setup.subject,
            evaluation,
            seen: held.seen,
        })
        .collect();
    let attribution = attribute(&phases)?;
    let contradicts = attribution
        .as_ref()
        .is_some_and(|a| a.contradiction.is_some());
    let judged = judged_ways(files, &phases, attribution.as_ref());
    let outcome = outcome(files, &judged, contradicts);
    let facts = IsolationFacts {
        judged: judged.clone(),
        outcome,
        ..facts(&held, &phases, &seen_file.asked, cylinder, attribution)?
    };
    Ok(Some(Investigated {
        facts,
        judged,
        outcome,
    }))
}

/// Refuses a sheet that would be written over what it is made from, or that is no PDF by its
/// name.
///
/// # Errors
/// With the name, and what to give instead.
pub fn check_sheet(sheet: &Path, inputs: &[&Path]) -> anyhow::Result<()> {
    if sheet
        .extension()
        .is_none_or(|e| !e.eq_ignore_ascii_case("pdf"))
    {
        bail!(
            "--sheet {}: the sheet is a PDF; give it a name that ends in .pdf",
            sheet.display()
        );
    }
    let same = |a: &Path, b: &Path| match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => a == b,
    };
    let record = sheet.with_extension("json");
    for input in inputs {
        if same(sheet, input) || same(&record, input) {
            bail!(
                "--sheet {}: {} would be written over; give the sheet another name",
                sheet.display(),
                input.display()
            );
        }
    }
    Ok(())
}

/// Judges files together that were judged one by one, and writes the sheet where it is
/// asked for. `seen` is a file of what eyes saw.
///
/// # Errors
/// If they are no investigation although `seen` or a sheet is given, or a file cannot be
/// used.
pub fn together(
    paths: &[PathBuf],
    judged: &[JudgedFile],
    seen: Option<&NamedText>,
    sheet: Option<&Path>,
) -> anyhow::Result<Option<Investigated>> {
    let seen = seen
        .map(|(file, text)| SeenFile::parse(file, text))
        .transpose()?;
    let files: Vec<File<'_>> = paths
        .iter()
        .zip(judged)
        .map(|(path, judged)| File { path, judged })
        .collect();
    let found = match investigated(&files, seen.as_ref()) {
        // Each file was judged by itself; nobody asked for more.
        Err(error) if seen.is_none() && sheet.is_none() => {
            eprintln!("stillrod: not judged together: {}", chain(&error));
            None
        }
        found => found?,
    };
    match (&found, sheet) {
        (Some(found), Some(path)) => found.write_sheet(path)?,
        (None, Some(_)) => bail!(
            "no sheet: these recordings are no investigation (one unit, other plumbing, within {TOGETHER_DAYS} days); \
             give --seen seen.toml to say that they are"
        ),
        (_, None) => {}
    }
    Ok(found)
}

/// Whether the account of a hold does not fit, so that its flows are not stated.
fn misfit(file: &File<'_>) -> bool {
    let evaluation = file.judged.judgement.evaluation.as_ref();
    let doubts = evaluation.map(|e| e.doubts.as_slice()).unwrap_or_default();
    doubts
        .iter()
        .any(|doubt| matches!(doubt, Doubt::NoFit { .. }))
}

/// A, B … Z, A2, B2 …
fn letter(index: usize) -> String {
    let letter = char::from(b'A' + (index % 26) as u8);
    match index / 26 {
        0 => letter.to_string(),
        round => format!("{letter}{}", round + 1),
    }
}

/// One recording on its way into the investigation.
struct Held<'a> {
    file: &'a File<'a>,
    label: String,
    seen: Seen,
    /// What may be used of its evaluation; None if there is none.
    evaluation: Option<Evaluation>,
    void: Option<String>,
}

impl<'a> Held<'a> {
    fn of(file: &'a File<'a>, seen_file: &SeenFile, letter: String) -> Self {
        let judgement = &file.judged.judgement;
        let written = seen_file
            .phases
            .iter()
            .find(|p| Some(p.recording.as_str()) == name(file.path));
        let is_void = judgement.is_void();
        let void = (is_void || misfit(file)).then(|| {
            judgement
                .verdict
                .reasons
                .first()
                .cloned()
                .unwrap_or_default()
        });
        let evaluation =
            judgement
                .evaluation
                .as_ref()
                .ok()
                .cloned()
                .map(|evaluation| match is_void {
                    // Nothing of a broken measurement goes into a sum or is told of.
                    true => Evaluation {
                        counted: None,
                        met: None,
                        figures: Vec::new(),
                        by_heat_m_per_s: None,
                        turn: None,
                        evened: None,
                        ..evaluation
                    },
                    false => evaluation,
                });
        Self {
            file,
            label: written.and_then(|w| w.label.clone()).unwrap_or(letter),
            seen: written.map(|w| w.seen).unwrap_or_default(),
            evaluation,
            void,
        }
    }
}

/// Limits on single paths by what was told apart.
fn judged_ways(
    files: &[File<'_>],
    phases: &[Phase<'_>],
    attribution: Option<&Attribution>,
) -> Vec<Judged> {
    let Some(attribution) = attribution.filter(|a| !a.answers.is_empty()) else {
        return Vec::new();
    };
    let rig = phases.iter().find(|p| p.cylinder().is_none());
    let rig = rig.and_then(|p| p.evaluation.counted.as_ref()?.sum(Chamber::Cap));
    let mut limits = Vec::new();
    for file in files {
        for limit in &file.judged.judgement.setup.limits {
            if !limits.contains(limit) {
                limits.push(limit.clone());
            }
        }
    }
    let shops = files
        .iter()
        .filter_map(|f| f.judged.judgement.shop.as_ref());
    let rule = shops.map(|s| s.rule).reduce(DecisionRule::stricter);
    let rule = rule.unwrap_or(DecisionRule::Simple);
    let oil_k: Vec<Option<f64>> = phases
        .iter()
        .map(|p| p.evaluation.over_hold.t_oil_k)
        .collect();
    let rig = rig.map(|(mean, _)| mean);
    let judged = judge_ways(attribution, &limits, rule, rig, &oil_k).into_iter();
    let turn = phases.iter().find_map(|p| p.evaluation.turn.as_ref());
    judged
        .map(|judged| match turn {
            Some(turn) => of_turn(judged, turn),
            None => judged,
        })
        .collect()
}

/// The worst of all: of each hold what the investigation does not replace, and what it says
/// of single paths.
fn outcome(files: &[File<'_>], ways: &[Judged], contradicts: bool) -> Outcome {
    let replaced = |judged: &Judged| ways.iter().any(|w| w.limit.asks_the_same(&judged.limit));
    let of_holds = files.iter().flat_map(|file| {
        let verdict = &file.judged.judgement.verdict;
        let is_void = file.judged.judgement.is_void() || misfit(file);
        let void = is_void.then_some(Outcome::NotValid);
        let own = verdict
            .judged
            .iter()
            .filter(|j| !replaced(j))
            .map(|j| j.outcome);
        own.chain(void).collect::<Vec<_>>()
    });
    let has_limits = files
        .iter()
        .any(|f| !f.judged.judgement.setup.limits.is_empty());
    // Phases that contradict each other pass nothing together.
    let together = (contradicts && has_limits).then_some(Outcome::Undecided);
    let all: Vec<Outcome> = of_holds
        .chain(ways.iter().map(|w| w.outcome))
        .chain(together)
        .collect();
    worst(all.into_iter()).unwrap_or(Outcome::Measured)
}

impl Investigated {
    /// The record as JSON.
    pub fn record_json(&self) -> String {
        IsolationRecord::from_facts(&self.facts).to_json_pretty()
    }

    /// Writes the sheet, and its record beside it with the ending `.json`.
    ///
    /// # Errors
    /// If a text cannot be set or the disk refuses.
    pub fn write_sheet(&self, path: &Path) -> anyhow::Result<()> {
        let bytes = isolation_pdf(&self.facts)
            .with_context(|| format!("the sheet {} cannot be made", path.display()))?;
        write_whole(path, &bytes)?;
        write_whole(&path.with_extension("json"), self.record_json().as_bytes())
    }

    /// What came out, as text.
    pub fn text(&self) -> String {
        let paper = compose_isolation(&self.facts);
        let conclusion = &paper.conclusion;
        let mut lines = vec![format!("TOGETHER: {}", conclusion.word)];
        lines.extend(conclusion.sentences.iter().map(|s| format!("  {s}")));
        let sections = [
            ("What was noticed", &self.facts.patterns),
            ("What would tell more", &self.facts.next_steps),
            ("Not tested", &paper.not_tested),
        ];
        for (heading, sentences) in sections {
            if !sentences.is_empty() {
                lines.push(format!("\n{heading}"));
                lines.extend(sentences.iter().map(|s| format!("  {s}")));
            }
        }
        lines.join("\n")
    }
}
