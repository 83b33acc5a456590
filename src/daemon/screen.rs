//! What a person sees in the terminal: a bar while a test runs, the result after it.
//!
//! Progress goes to standard error, results to standard output, so that results can be
//! piped.

use super::by_chance::by_chance_text;
use super::judgement::Judgement;
use super::test_run::TestRun;
use crate::account::Doubt;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::account::FigureName;
use crate::account::Forecast;
use crate::archive::Progress;
use crate::bench::Answer;
use crate::bench::Ask;
use crate::bench::Stage;
use crate::channel::Role;
use crate::health::Weight;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;
use crate::verdict::Outcome;
use crate::verdict::Verdict;
use indicatif::ProgressBar;
use indicatif::ProgressStyle;
use std::fmt::Write;

/// Cautions that stand with every test in the terminal; the paper has them in full.
pub const CAUTION: &str = "\
Oil under pressure pierces skin: no hands near a leak. Block the load, unload and vent before you touch a fitting.
stillrod measures and commands nothing; Ctrl-C ends the recording only. The machine maker, local rules and a
qualified person come first. A pass is no lifting approval, inspection or structural certificate.";

/// The screen of a running test.
#[derive(Debug)]
pub struct Screen {
    bar: ProgressBar,
    is_quiet: bool,
}

impl Screen {
    /// A screen; `quiet` shows nothing.
    pub fn new(quiet: bool) -> Self {
        let bar = if quiet {
            ProgressBar::hidden()
        } else {
            ProgressBar::new(1)
        };
        let style = ProgressStyle::with_template("{msg}\n[{bar:40}] {percent:>3} %  {prefix}");
        bar.set_style(
            style
                .unwrap_or_else(|_| ProgressStyle::default_bar())
                .progress_chars("=> "),
        );
        Self {
            bar,
            is_quiet: quiet,
        }
    }

    /// Something to read now.
    pub fn warn(&self, text: &str) {
        if self.bar.is_hidden() {
            eprintln!("! {text}");
        } else {
            self.bar.println(format!("! {text}"));
        }
    }

    /// How the test stands, with its figures so far.
    pub fn show(&self, run: &TestRun, so_far: Option<&Evaluation>) {
        let (reached_s, until_s) = run.bench().progress_s();
        self.bar.set_length(until_s.ceil() as u64);
        self.bar.set_position(reached_s.min(until_s) as u64);
        let stage = match run.bench().stage() {
            Stage::Waiting => "waiting for the first sample",
            Stage::Asking | Stage::Typing => "waiting for you",
            Stage::Reaching => "waiting for the pressure",
            Stage::Dwelling => "keep the pressure",
            Stage::Vented => "both sides open: reading zero",
            Stage::Squeezing => "raise the cap end slowly",
            Stage::Stroking => "counting full strokes",
            Stage::Settling => "settling: nothing counts yet",
            Stage::Holding => "holding: this counts",
            Stage::Over => "recorded",
        };
        self.bar
            .set_prefix(format!("{reached_s:.0} of {until_s:.0} s, {stage}"));
        let readings: Vec<String> = run
            .latest()
            .map(|(channel, value)| reading(channel.role, value))
            .collect();
        let figures = so_far.map(so_far_text).unwrap_or_default();
        self.bar.set_message(readings.join("   ") + &figures);
    }

    /// What a person is asked for.
    pub fn ask(&self, ask: &Ask) {
        let mut lines = vec![format!("\n{}", ask.title)];
        lines.extend(ask.tell.iter().map(|sentence| format!("  {sentence}")));
        match ask.answer {
            Answer::Done => lines.push("  Press Enter when it is done.".into()),
            Answer::Reach(_) => {}
            Answer::Typed(asked) => lines.push(format!(
                "  Type it as in \"{}\", then Enter.",
                asked.example()
            )),
        }
        self.say(&lines.join("\n"));
    }

    /// Something to read, which is no warning.
    pub fn say(&self, text: &str) {
        match (self.is_quiet, self.bar.is_hidden()) {
            (true, _) => {}
            (false, true) => println!("{text}"),
            (false, false) => self.bar.println(text),
        }
    }

    /// The recording is over and goes into its file.
    pub fn storing(&self, progress: Progress) {
        self.bar.set_message("");
        self.bar.set_length(100);
        self.bar.set_position((100.0 * progress.share) as u64);
        self.bar.set_prefix(progress.to_string());
    }

    /// The recording is in its file.
    pub fn recorded(&self) {
        self.bar.finish_and_clear();
    }
}

/// The figures so far on a line of their own; they decide nothing.
fn so_far_text(evaluation: &Evaluation) -> String {
    use FigureName::{CapLoss, Drift, LeakDown, RodGain};
    let measured = [Drift, LeakDown, CapLoss, RodGain]
        .into_iter()
        .filter_map(|name| evaluation.figure(name))
        .filter(|figure| figure.measured.is_some());
    let texts: Vec<String> = measured
        .map(|f| figure_text(f, UnitSystem::Metric, 0))
        .collect();
    match texts.is_empty() {
        true => String::new(),
        false => format!("\nso far: {}", texts.join("; ")),
    }
}

fn reading(role: Role, si: Option<f64>) -> String {
    let (name, text) = match role {
        Role::CapPressure => ("cap end", si.map(|v| format!("{:.1} bar", v / 1e5))),
        Role::RodPressure => ("rod end", si.map(|v| format!("{:.1} bar", v / 1e5))),
        Role::Position => ("position", si.map(|v| format!("{:.2} mm", v * 1e3))),
        Role::OilTemperature => ("oil", si.map(|v| format!("{:.1} °C", v - 273.15))),
        Role::WallTemperature => ("wall", si.map(|v| format!("{:.1} °C", v - 273.15))),
        Role::Supply => ("supply", si.map(|v| format!("{v:.2} V"))),
    };
    format!("{name} {}", text.unwrap_or_else(|| "lost".into()))
}

/// The result of a test as text.
pub fn result_text(judgement: &Judgement) -> String {
    let mut out = String::new();
    let units = judgement
        .shop
        .as_ref()
        .map_or(UnitSystem::Metric, |s| s.units);
    let verdict = &judgement.verdict;
    // Writing to a String cannot fail.
    let mut line = |text: String| {
        let _ = writeln!(out, "{text}");
    };
    if let Ok(evaluation) = &judgement.evaluation {
        let heading = match verdict.outcome {
            Outcome::NotValid => {
                "Figures of a measurement that is not valid: for finding the fault, nothing else"
            }
            _ => "Figures (± for 95 %)",
        };
        line(heading.into());
        for figure in &evaluation.figures {
            line(format!("  {}", figure_text(figure, units, NAME_WIDTH)));
        }
        let notes = evaluation.doubts.iter().filter_map(|doubt| match doubt {
            Doubt::Note { evidence } => Some(format!("Note: {evidence}.")),
            Doubt::NoFit { .. } => None,
        });
        let said: Vec<String> = evaluation.findings.iter().cloned().chain(notes).collect();
        if !said.is_empty() {
            line("\nWhat the hold shows".into());
            said.iter()
                .for_each(|sentence| line(format!("  {sentence}")));
        }
    }
    if let Some(forecast) = forecast(judgement) {
        let said = forecast.sentences(units);
        if !said.is_empty() {
            line("\nWhat is to come".into());
            said.iter()
                .for_each(|sentence| line(format!("  {sentence}")));
        }
    }
    let remarks: Vec<&str> = judgement
        .flags
        .iter()
        .filter(|f| f.weight == Weight::Remark)
        .map(|f| f.evidence.as_str())
        .collect();
    if !remarks.is_empty() {
        line("\nRemarks on the measurement".into());
        remarks
            .iter()
            .for_each(|remark| line(format!("  {remark}")));
    }
    for warning in forecast(judgement).map_or_else(Vec::new, |f| f.warnings(units)) {
        line(format!("\nWARNING  {warning}"));
    }
    decision(verdict, &mut line);
    let by_chance = judgement.evaluation.as_ref().ok();
    let by_chance = by_chance.map_or_else(Vec::new, |e| by_chance_text(e, units));
    if !by_chance.is_empty() {
        line(format!("\n{}", by_chance.join("\n")));
    }
    out
}

/// The outcome with its reasons, limit by limit.
fn decision(verdict: &Verdict, line: &mut impl FnMut(String)) {
    line(format!("\n{}", verdict.outcome.plain().to_uppercase()));
    for reason in &verdict.reasons {
        line(format!("  {reason}"));
    }
    for judged in &verdict.judged {
        let plain = judged.limit.figure.plain();
        line(format!(
            "  {plain}: {}. {}",
            judged.reason,
            judged.outcome.plain()
        ));
        line(format!(
            "      limit {} ({})",
            judged.limit.id,
            judged.limit.origin()
        ));
    }
    if !verdict.judged.is_empty() {
        line(format!("  {}", verdict.rule_sentence()));
    }
}

/// The forecast, unless nothing of this measurement can be believed.
fn forecast(judgement: &Judgement) -> Option<&Forecast> {
    let evaluation = judgement.evaluation.as_ref().ok()?;
    evaluation
        .forecast
        .as_ref()
        .filter(|_| judgement.verdict.outcome != Outcome::NotValid)
}

/// Column of the figures' names in a list.
const NAME_WIDTH: usize = 32;

fn figure_text(figure: &Figure, units: UnitSystem, width: usize) -> String {
    let (factor, unit) = shown(figure.name.metric_unit(), units);
    let name = figure.name.plain();
    let column = if width > 0 { 10 } else { 0 };
    match figure.measured {
        Some(measured) => {
            let expanded = figure.coverage_factor * measured.standard_si * factor;
            format!(
                "{name:<width$} {:>column$} ± {} {unit}",
                number(measured.value_si * factor, expanded),
                number(expanded, expanded)
            )
        }
        None => {
            let (lower, upper) = (figure.lower_si * factor, figure.upper_si * factor);
            let size = (upper - lower).abs().max(1e-9);
            format!(
                "{name:<width$} between {} and {} {unit}",
                number(lower, size),
                number(upper, size)
            )
        }
    }
}

/// The worst of several outcomes, in the order fail, not valid, undecided, measured, pass.
pub fn worst(outcomes: impl Iterator<Item = Outcome>) -> Option<Outcome> {
    const ORDER: [Outcome; 5] = [
        Outcome::Fail,
        Outcome::NotValid,
        Outcome::Undecided,
        Outcome::Measured,
        Outcome::Pass,
    ];
    let found: Vec<Outcome> = outcomes.collect();
    ORDER.into_iter().find(|outcome| found.contains(outcome))
}
