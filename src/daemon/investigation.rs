//! Several recordings of one unit judged together: which way the oil takes.
//!
//! What is combined must be one question: the same unit, other plumbing, within days. Holds
//! that are not valid are named and left out of the sums.

use super::clock;
use super::conduct::NamedText;
use super::judge::JudgedFile;
use super::paper::chain;
use super::paper::sha256_hex;
use super::paper::write_whole;
use super::screen::worst;
use crate::account::Doubt;
use crate::account::Evaluation;
use crate::account::Fluid;
use crate::account::investigation::Attribution;
use crate::account::investigation::Phase;
use crate::account::investigation::attribute;
use crate::certificate::IsolationFacts;
use crate::certificate::IsolationRecord;
use crate::certificate::PhaseFacts;
use crate::certificate::QuestionAnswer;
use crate::certificate::compose_isolation;
use crate::certificate::isolation_pdf;
use crate::circuit::Circuit;
use crate::circuit::HoldingValve;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::circuit::Seen;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Kind;
use crate::quantity::UnitSystem;
use crate::settings::Asked;
use crate::settings::SeenFile;
use crate::settings::SeenPhase;
use crate::verdict::DecisionRule;
use crate::verdict::Judged;
use crate::verdict::Outcome;
use crate::verdict::judge_ways;
use anyhow::Context;
use anyhow::bail;
use std::path::Path;
use std::path::PathBuf;

/// Holds further apart than this are not combined unless somebody says so, days: there may
/// have been a repair between them.
const TOGETHER_DAYS: i64 = 7;

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

fn name(path: &Path) -> Option<&str> {
    path.file_name().and_then(|name| name.to_str())
}

/// Why recordings cannot be combined.
fn why_apart(files: &[File<'_>]) -> Option<String> {
    let setups = || files.iter().map(|f| (&f.judged.judgement.setup, f.path));
    let (first, first_path) = setups().next()?;
    for (setup, path) in setups() {
        let (a, b) = (first_path.display(), path.display());
        if (&setup.unit.tag, &setup.unit.serial) != (&first.unit.tag, &first.unit.serial) {
            return Some(format!(
                "{a} is of unit {} {}, {b} of {} {}",
                first.unit.tag, first.unit.serial, setup.unit.tag, setup.unit.serial
            ));
        }
    }
    let cylinders =
        || setups().filter_map(|(s, path)| Some((s.subject.piece.cylinder()?, s, path)));
    let (cylinder, own, own_path) = cylinders().next()?;
    for (other, setup, path) in cylinders() {
        if other != cylinder || setup.subject.fluid != own.subject.fluid {
            return Some(format!(
                "{} and {} describe another cylinder or another oil under the same tag",
                own_path.display(),
                path.display()
            ));
        }
    }
    None
}

/// Whether recordings look like one question: other plumbing, within days.
fn is_asked(files: &[File<'_>]) -> bool {
    let plumbing = |file: &File<'_>| {
        let subject = &file.judged.judgement.setup.subject;
        let c = &subject.circuit;
        (
            [c.cap_port, c.rod_port],
            [c.cap_holding_valve, c.rod_holding_valve],
            c.joined,
            subject.piece.cylinder().is_some(),
        )
    };
    let started = || {
        files
            .iter()
            .map(|f| f.judged.recording.heading().started_utc_ms)
    };
    let within_ms = started()
        .max()
        .zip(started().min())
        .map_or(0, |(last, first)| last - first);
    let differs = files
        .iter()
        .any(|file| plumbing(file) != plumbing(&files[0]));
    files.len() > 1 && differs && within_ms <= TOGETHER_DAYS * 86_400_000
}

/// What was seen must be of recordings that are there, each once, and what was collected must
/// come from a port that is open.
fn known(files: &[File<'_>], seen: &SeenFile) -> anyhow::Result<()> {
    let mut hashes = Vec::new();
    for file in files {
        let hash = sha256_hex(file.path)?;
        if hashes.contains(&hash) {
            bail!(
                "{} is given twice; the same hold counts once",
                file.path.display()
            );
        }
        hashes.push(hash);
    }
    for phase in &seen.phases {
        let named = files
            .iter()
            .filter(|f| name(f.path) == Some(&phase.recording));
        if named.clone().count() > 1 {
            bail!(
                "two of the files are called `{}`; rename one, so that it is clear which was seen",
                phase.recording
            );
        }
        for file in named {
            collected_where_it_is_open(file, phase)?;
        }
        if !files.iter().any(|f| name(f.path) == Some(&phase.recording)) {
            let names: Vec<&str> = files.iter().filter_map(|f| name(f.path)).collect();
            bail!(
                "what was seen names the recording `{}`, which is not among those given: {}",
                phase.recording,
                names.join(", ")
            );
        }
    }
    Ok(())
}

fn collected_where_it_is_open(file: &File<'_>, seen: &SeenPhase) -> anyhow::Result<()> {
    let Some(collected) = seen.seen.collected else {
        return Ok(());
    };
    let subject = &file.judged.judgement.setup.subject;
    let vented = subject
        .piece
        .cylinder()
        .is_some_and(|c| c.kind() == Kind::SingleActing);
    let is_breather = vented && collected.chamber == Chamber::Rod;
    if subject.circuit.port(collected.chamber) != Port::OpenToVessel && !is_breather {
        bail!(
            "{}: oil is said to be collected from the {} side, but that port is not open; what drips from a plug or the \
             gland is said by `cap_port`, `rod_port` or `gland`",
            seen.recording,
            collected.chamber.word()
        );
    }
    Ok(())
}

fn facts(
    held: &[Held<'_>],
    phases: &[Phase<'_>],
    asked: &Asked,
    cylinder: &Cylinder,
    attribution: Option<Attribution>,
) -> anyhow::Result<IsolationFacts> {
    // The rig alone has another oil volume, and perhaps other words for itself.
    let is_cylinder = |h: &&Held<'_>| {
        h.file
            .judged
            .judgement
            .setup
            .subject
            .piece
            .cylinder()
            .is_some()
    };
    let first = held
        .iter()
        .find(is_cylinder)
        .context("an investigation needs a cylinder")?;
    let heading = first.file.judged.recording.heading();
    let judgement = &first.file.judged.judgement;
    let shop = judgement.shop.as_ref();
    // Holds without an evaluation come last: the attribution numbers the others.
    let (evaluated, lost): (Vec<&Held<'_>>, Vec<&Held<'_>>) =
        held.iter().partition(|h| h.evaluation.is_some());
    let mut described = Vec::new();
    for (held, phase) in evaluated.iter().zip(phases) {
        described.push(described_by(held, PhaseFacts::from_phase(phase))?);
    }
    for held in lost {
        described.push(described_by(
            held,
            PhaseFacts::without_evaluation(
                &held.label,
                held.file.judged.judgement.setup.subject.circuit,
            ),
        )?);
    }
    Ok(IsolationFacts {
        shop_name: shop.map(|s| s.name.clone()).unwrap_or_default(),
        units: shop.map_or(UnitSystem::Metric, |s| s.units),
        date: clock::local(heading.started_utc_ms, &heading.time_zone).0,
        started_utc_ms: heading.started_utc_ms,
        investigation_id: heading.run_id.clone(),
        identity: judgement.setup.unit.clone(),
        cylinder: *cylinder,
        fluid: match &judgement.setup.subject.fluid {
            Fluid::Oil(oil) => oil.name().to_owned(),
            Fluid::Gas => "gas".into(),
        },
        asked: questions(asked),
        phases: described,
        patterns: attribution
            .iter()
            .flat_map(|a| a.noticed.iter().map(|n| n.sentence.clone()))
            .collect(),
        next_steps: next_steps(attribution.as_ref()),
        attribution,
        also_not_tested: Vec::new(),
        practice: held
            .iter()
            .map(|h| h.file.judged.recording.heading().practice.clone())
            .find(|practice| !practice.is_empty()),
        judged: Vec::new(),
        outcome: Outcome::Measured,
        software: env!("CARGO_PKG_VERSION").into(),
    })
}

fn described_by(held: &Held<'_>, facts: PhaseFacts) -> anyhow::Result<PhaseFacts> {
    let judgement = &held.file.judged.judgement;
    let is_rig = judgement.setup.subject.piece.cylinder().is_none();
    let void = held
        .void
        .clone()
        .or_else(|| judgement.evaluation.as_ref().err().cloned());
    Ok(PhaseFacts {
        plumbed: match is_rig {
            true => "The rig alone: its hoses are capped.".into(),
            false => plumbed(&judgement.setup.subject.circuit),
        },
        file_name: name(held.file.path).unwrap_or_default().to_owned(),
        sha256_hex: sha256_hex(held.file.path)?,
        seen: held.seen,
        void,
        ..facts
    })
}

/// The plumbing as a sentence.
pub fn plumbed(circuit: &Circuit) -> String {
    if circuit.joined {
        return "Both ports joined, pumped up and shut; the rod locked.".into();
    }
    let port = |chamber: Chamber| {
        let valve = match circuit.holding_valve(chamber) {
            HoldingValve::Absent => "",
            HoldingValve::InPlace => " behind its load-holding valve",
            HoldingValve::Swapped => " behind a swapped-in load-holding valve",
        };
        let word = match circuit.port(chamber) {
            Port::Blocked => "plugged",
            Port::OnValve => "on its valve",
            Port::OpenToVessel => "open to a vessel",
            Port::Supplied => "supplied",
        };
        format!("{word}{valve}")
    };
    let rod = match circuit.rod {
        RodHold::PushedIn { .. } => "a load pushes the rod in",
        RodHold::PulledOut { .. } => "a load pulls the rod out",
        RodHold::Locked => "the rod is locked",
        RodHold::Bottomed => "the piston stands on its end",
    };
    format!(
        "Cap port {}, rod port {}; {rod}.",
        port(Chamber::Cap),
        port(Chamber::Rod)
    )
}

fn questions(asked: &Asked) -> Vec<QuestionAnswer> {
    [
        ("Asked", &asked.question),
        ("Oil outside", &asked.external_oil),
        ("Damage", &asked.damage),
        ("Sinks", &asked.sinks),
        ("Should hold the load", &asked.holds_by),
    ]
    .into_iter()
    .filter(|(_, answer)| !answer.is_empty())
    .map(|(question, answer)| QuestionAnswer {
        question: question.into(),
        answer: answer.clone(),
    })
    .collect()
}

fn next_steps(attribution: Option<&Attribution>) -> Vec<String> {
    let Some(attribution) = attribution else {
        return Vec::new();
    };
    match &attribution.next {
        Some(next) => {
            let step = next.step;
            vec![
                format!("{} {}", step.instruction(), step.reason()),
                step.caution().to_owned(),
            ]
        }
        None if !attribution.open().is_empty() => {
            vec!["No further phase that is known here would tell what is open.".into()]
        }
        None => Vec::new(),
    }
}

/// Limits on single paths by what was told apart.
fn judged_ways(
    files: &[File<'_>],
    phases: &[Phase<'_>],
    attribution: Option<&Attribution>,
) -> Vec<Judged> {
    let Some(attribution) = attribution else {
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
    let rule = shops.map(|s| s.rule).next().unwrap_or(DecisionRule::Simple);
    judge_ways(attribution, &limits, rule, rig.map(|(mean, _)| mean))
}

/// The worst of all: of each hold what the investigation does not replace, and what it says
/// of single paths.
fn outcome(files: &[File<'_>], ways: &[Judged], contradicts: bool) -> Outcome {
    let replaced = |judged: &Judged| ways.iter().any(|w| w.limit == judged.limit);
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
