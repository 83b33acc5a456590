//! The story of one unit: its jobs, its tests, and what changed from one to the next.

use super::find::job_line;
use super::find::test_line;
use super::find::units_text;
use crate::account::FigureName;
use crate::certificate::MeasuredFigure;
use crate::certificate::measured;
use crate::quantity::number;
use crate::register::Attachment;
use crate::register::Entry;
use crate::register::Job;
use crate::register::Register;
use crate::register::UnitNow;
use crate::register::UnitsOf;
use crate::verdict::Change;
use crate::verdict::Outcome;
use crate::verdict::StatedFigure;
use crate::verdict::change;
use anyhow::Context;
use anyhow::bail;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Figures that are compared: what a fitter asks for.
const COMPARED: [FigureName; 9] = [
    FigureName::CapLoss,
    FigureName::RodGain,
    FigureName::PistonBypass,
    FigureName::GlandLeakage,
    FigureName::CapPortLeakage,
    FigureName::RodPortLeakage,
    FigureName::CapValveLeakage,
    FigureName::RodValveLeakage,
    FigureName::Drift,
];

/// A test with the figures of its record.
struct Told {
    entry: Entry,
    figures: Vec<MeasuredFigure>,
}

/// The story of a unit, the latest last.
///
/// # Errors
/// If there is no unit of this tag, or the register cannot be read.
pub async fn history(register: &Register, tag: &str) -> anyhow::Result<String> {
    let Some(unit) = register.units(UnitsOf::Tag(tag), "").await?.pop() else {
        bail!("there is no unit {tag} in the register; `stillrod find` shows what there is");
    };
    let mut records = register.records_of_unit(tag).await?;
    let mut tests = Vec::new();
    for entry in register.tests_of_unit(tag).await?.into_iter().rev() {
        let number = &entry.certificate_number;
        let record = records.remove(&entry.test_id).unwrap_or_default();
        let figures = measured(&record)
            .with_context(|| format!("the record of {number} in the register cannot be read"))?;
        tests.push(Told { entry, figures });
    }
    let jobs = register.jobs_of_unit(tag).await?;
    let files = register.attachments_of_unit(tag).await?;
    Ok(story(&unit, &jobs, &tests, &files))
}

fn story(unit: &UnitNow, jobs: &[Job], tests: &[Told], files: &[Attachment]) -> String {
    let mut text = units_text(std::slice::from_ref(unit));
    // A visit is the tests of one job, or one test without a job.
    let mut visits: Vec<(Option<&Job>, Vec<&Told>)> = Vec::new();
    for told in tests {
        let job = told.entry.job;
        let is_same = |(known, _): &(Option<&Job>, Vec<&Told>)| {
            job.is_some() && known.map(|job| job.number) == job
        };
        match visits.iter_mut().find(|visit| is_same(visit)) {
            Some((_, visit)) => visit.push(told),
            None => {
                let job = jobs.iter().find(|known| Some(known.number) == job);
                visits.push((job, vec![told]));
            }
        }
    }
    for job in jobs.iter().rev() {
        if !visits
            .iter()
            .any(|(known, _)| known.is_some_and(|known| known.number == job.number))
        {
            let _ = writeln!(text, "\n{}\n  (no test)", job_line(job));
        }
    }
    let mut before: Option<&Told> = None;
    for (job, visit) in &visits {
        text.push('\n');
        if let Some(job) = job {
            let _ = writeln!(text, "{}", job_line(job));
        }
        for told in visit {
            let _ = writeln!(text, "  {}", test_line(&told.entry));
        }
        let mut whole = visit.iter().copied().filter(|told| counts(told));
        let (first, last) = (whole.next(), whole.next_back());
        if let (Some(before), Some(first)) = (before, first) {
            text.push_str(&compared("Since it was here last", before, first));
        }
        if let (Some(first), Some(last)) = (first, last) {
            text.push_str(&compared("Before and after", first, last));
        }
        before = last.or(first).or(before);
    }
    text.push_str(&over_time(tests));
    for file in files {
        let job = file.job.map(|job| format!("job {job}, "));
        let job = job.unwrap_or_default();
        let _ = writeln!(
            text,
            "File  {}  {job}{} ({})",
            file.name,
            file.about,
            file.file_name()
        );
    }
    text
}

/// Whether anything is compared with it.
fn counts(told: &Told) -> bool {
    told.entry.outcome != Outcome::NotValid && told.entry.withdrawn.is_none()
}

fn key(figure: &MeasuredFigure) -> (&str, FigureName, &str) {
    (&figure.phase, figure.name, &figure.unit)
}

fn compared(heading: &str, earlier: &Told, later: &Told) -> String {
    let mut text = String::new();
    let mut last_title = "";
    for figure in later.figures.iter().filter(|f| COMPARED.contains(&f.name)) {
        let Some(was) = earlier.figures.iter().find(|f| key(f) == key(figure)) else {
            continue;
        };
        if last_title != figure.title {
            last_title = &figure.title;
            let _ = writeln!(text, "    {last_title}");
        }
        let _ = writeln!(
            text,
            "      {}: {} → {} {}: {}",
            figure.name.plain(),
            stated_text(&was.stated),
            stated_text(&figure.stated),
            figure.unit,
            change_text(&was.stated, &figure.stated, &figure.unit)
        );
    }
    let numbers = format!(
        "{} → {}",
        earlier.entry.certificate_number, later.entry.certificate_number
    );
    match text.is_empty() {
        true => format!("  {heading} ({numbers}): no phase was measured both times\n"),
        false => format!("  {heading} ({numbers})\n{text}"),
    }
}

fn stated_text(stated: &StatedFigure) -> String {
    let half = 0.5 * (stated.upper - stated.lower);
    match stated.value {
        Some(value) if half.is_finite() => {
            format!("{} ± {}", number(value, half), number(half, half))
        }
        Some(value) => number(value, 0.1 * value),
        None if stated.upper.is_finite() => {
            format!("at most {}", number(stated.upper, 0.1 * stated.upper))
        }
        None => "not known".into(),
    }
}

/// A change in words. Of what is negative both times (a rod that goes in) the size is compared.
fn change_text(was: &StatedFigure, is: &StatedFigure, unit: &str) -> String {
    let is_negative = |stated: &StatedFigure| stated.value.is_some_and(|value| value < 0.0);
    let found = match is_negative(was) && is_negative(is) {
        true => change(&was.mirrored(), &is.mirrored()),
        false => change(was, is),
    };
    let by = |from: f64, to: f64| {
        let width = 0.5 * (to - from);
        format!("{} to {} {unit}", number(from, width), number(to, width))
    };
    match found {
        Change::More(lower, upper) => format!("more, by {}", by(lower, upper)),
        Change::Less(lower, upper) => format!("less, by {}", by(-upper, -lower)),
        Change::NotShown(lower, upper) => {
            let most = lower.abs().max(upper.abs());
            format!(
                "no change that can be shown (less than {} {unit})",
                number(most, 0.3 * most)
            )
        }
        Change::NotComparable(reason) => format!("cannot be compared: {reason}"),
    }
}

/// The same figures from the first time to the last, where there are three or more.
fn over_time(tests: &[Told]) -> String {
    let mut courses: BTreeMap<(String, &'static str, String), Vec<&StatedFigure>> = BTreeMap::new();
    for told in tests.iter().filter(|told| counts(told)) {
        for figure in told.figures.iter().filter(|f| COMPARED.contains(&f.name)) {
            let key = (
                figure.title.clone(),
                figure.name.plain(),
                figure.unit.clone(),
            );
            courses.entry(key).or_default().push(&figure.stated);
        }
    }
    let mut text = String::new();
    for ((title, name, unit), course) in &courses {
        let (Some(first), Some(last), true) = (course.first(), course.last(), course.len() > 2)
        else {
            continue;
        };
        let values: Vec<String> = course.iter().map(|stated| stated_text(stated)).collect();
        let _ = writeln!(
            text,
            "  {title}, {name}: {} {unit}; first to last {}",
            values.join(" → "),
            change_text(first, last, unit)
        );
    }
    match text.is_empty() {
        true => text,
        false => format!("\nOver all tests\n{text}"),
    }
}
