//! The story of one unit in words: its jobs, its tests, and what changed from one to the next.

use super::find::job_line;
use super::find::test_line;
use super::find::units_text;
use super::story::Compared;
use super::story::Course;
use super::story::Stated;
use super::story::Story;
use super::story::change_ends;
use super::story::change_most;
use super::story::stated_text;
use super::story::story;
use crate::register::Register;
use crate::verdict::Change;
use crate::verdict::StatedFigure;
use anyhow::bail;
use std::fmt::Write as _;

/// The story of a unit, the latest last.
///
/// # Errors
/// If there is no unit of this tag, or the register cannot be read.
pub async fn history(register: &Register, tag: &str) -> anyhow::Result<String> {
    match story(register, tag).await? {
        Some(story) => Ok(told(&story)),
        None => {
            bail!("there is no unit {tag} in the register; `stillrod find` shows what there is")
        }
    }
}

fn told(story: &Story) -> String {
    let mut text = units_text(std::slice::from_ref(&story.unit));
    for job in &story.untested {
        let _ = writeln!(text, "\n{}\n  (no test)", job_line(job));
    }
    for visit in &story.visits {
        text.push('\n');
        if let Some(job) = &visit.job {
            let _ = writeln!(text, "{}", job_line(job));
        }
        for entry in &visit.tests {
            let _ = writeln!(text, "  {}", test_line(entry));
        }
        if let Some(since) = &visit.since {
            text.push_str(&compared("Since it was here last", since));
        }
        if let Some(during) = &visit.during {
            text.push_str(&compared("Before and after", during));
        }
    }
    text.push_str(&over_time(&story.courses));
    for file in &story.files {
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

fn compared(heading: &str, found: &Compared) -> String {
    let mut text = String::new();
    let mut last_title = "";
    for figure in &found.figures {
        if last_title != figure.title {
            last_title = &figure.title;
            let _ = writeln!(text, "    {last_title}");
        }
        let _ = writeln!(
            text,
            "      {}: {} → {} {}: {}",
            figure.name.plain(),
            in_words(&figure.was),
            in_words(&figure.is),
            figure.unit,
            change_text(figure.change, &figure.unit)
        );
    }
    let numbers = format!("{} → {}", found.earlier, found.later);
    match text.is_empty() {
        true => format!("  {heading} ({numbers}): no phase was measured both times\n"),
        false => format!("  {heading} ({numbers})\n{text}"),
    }
}

fn in_words(stated: &StatedFigure) -> String {
    match stated_text(stated) {
        Stated::Is(text) => text,
        Stated::AtMost(text) => format!("at most {text}"),
        Stated::NotKnown => "not known".into(),
    }
}

fn change_text(found: Change, unit: &str) -> String {
    let by = |from: f64, to: f64| {
        let (from, to) = change_ends(from, to);
        format!("{from} to {to} {unit}")
    };
    match found {
        Change::More(lower, upper) => format!("more, by {}", by(lower, upper)),
        Change::Less(lower, upper) => format!("less, by {}", by(-upper, -lower)),
        Change::NotShown(lower, upper) => format!(
            "no change that can be shown (less than {} {unit})",
            change_most(lower, upper)
        ),
        Change::NotComparable(reason) => format!("cannot be compared: {reason}"),
    }
}

fn over_time(courses: &[Course]) -> String {
    let mut text = String::new();
    for course in courses {
        let values: Vec<String> = course.points.iter().map(|p| in_words(&p.stated)).collect();
        let _ = writeln!(
            text,
            "  {}, {}: {} {}; first to last {}",
            course.title,
            course.name.plain(),
            values.join(" → "),
            course.unit,
            change_text(course.change, &course.unit)
        );
    }
    match text.is_empty() {
        true => text,
        false => format!("\nOver all tests\n{text}"),
    }
}
