//! What happened to one unit, as data: visits, what changed between tests, courses of figures.
//!
//! `history` tells it in words, the page shows it. Which tests are compared with which, and what
//! counts, is decided here, once.

use crate::account::FigureName;
use crate::certificate::LimitThen;
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
use std::collections::BTreeMap;

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

/// The story of a unit.
#[derive(Debug, Clone)]
pub struct Story {
    /// As it stands.
    pub unit: UnitNow,
    /// Jobs without a test, the first first.
    pub untested: Vec<Job>,
    /// The others, and tests without a job, in the order of their first tests.
    pub visits: Vec<Visit>,
    /// Figures that were measured three times or more.
    pub courses: Vec<Course>,
    /// Its files, the last added first.
    pub files: Vec<Attachment>,
}

/// The tests of one job, or one test without a job.
#[derive(Debug, Clone)]
pub struct Visit {
    /// The job.
    pub job: Option<Job>,
    /// Its tests, the first first.
    pub tests: Vec<Entry>,
    /// The first test against the last one before it.
    pub since: Option<Compared>,
    /// The last test against the first.
    pub during: Option<Compared>,
}

/// Two tests beside each other.
#[derive(Debug, Clone)]
pub struct Compared {
    /// Number of the earlier paper.
    pub earlier: String,
    /// Number of the later paper.
    pub later: String,
    /// Figures of phases that were measured both times.
    pub figures: Vec<ComparedFigure>,
}

/// A figure that was measured both times.
#[derive(Debug, Clone)]
pub struct ComparedFigure {
    /// Heading of its phase.
    pub title: String,
    /// Which figure.
    pub name: FigureName,
    /// Unit of measure.
    pub unit: String,
    /// What it was.
    pub was: StatedFigure,
    /// What it is.
    pub is: StatedFigure,
    /// What changed.
    pub change: Change,
}

/// The same figure from the first time to the last.
#[derive(Debug, Clone)]
pub struct Course {
    /// Heading of its phase.
    pub title: String,
    /// Which figure.
    pub name: FigureName,
    /// Unit of measure.
    pub unit: String,
    /// Each time.
    pub points: Vec<Point>,
    /// What changed from the first time to the last.
    pub change: Change,
}

/// A figure, once.
#[derive(Debug, Clone)]
pub struct Point {
    /// When the test began, UTC ms since 1970.
    pub started_utc_ms: i64,
    /// Time zone of the shop then.
    pub time_zone: String,
    /// What came out of the whole test.
    pub outcome: Outcome,
    /// The figure.
    pub stated: StatedFigure,
    /// The limit it was held against.
    pub limit: Option<LimitThen>,
}

/// The story of a unit; None if there is no unit of this tag.
///
/// # Errors
/// If the register cannot be read.
pub async fn story(register: &Register, tag: &str) -> anyhow::Result<Option<Story>> {
    let Some(unit) = register.units(UnitsOf::Tag(tag), "").await?.pop() else {
        return Ok(None);
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
    Ok(Some(arranged(unit, jobs, &tests, files)))
}

fn arranged(unit: UnitNow, jobs: Vec<Job>, tests: &[Told], files: Vec<Attachment>) -> Story {
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
    let is_tested = |job: &&Job| {
        let mut known = visits.iter().filter_map(|(known, _)| *known);
        known.any(|known| known.number == job.number)
    };
    let untested: Vec<Job> = jobs
        .iter()
        .rev()
        .filter(|job| !is_tested(job))
        .cloned()
        .collect();
    let mut before: Option<&Told> = None;
    let mut compared_visits = Vec::new();
    for (job, visit) in &visits {
        let mut whole = visit.iter().copied().filter(|told| counts(told));
        let (first, last) = (whole.next(), whole.next_back());
        compared_visits.push(Visit {
            job: job.cloned(),
            tests: visit.iter().map(|told| told.entry.clone()).collect(),
            since: before
                .zip(first)
                .map(|(before, first)| compared(before, first)),
            during: first.zip(last).map(|(first, last)| compared(first, last)),
        });
        before = last.or(first).or(before);
    }
    Story {
        unit,
        untested,
        visits: compared_visits,
        courses: courses(tests),
        files,
    }
}

/// Whether anything is compared with it.
fn counts(told: &Told) -> bool {
    told.entry.outcome != Outcome::NotValid && told.entry.withdrawn.is_none()
}

fn key(figure: &MeasuredFigure) -> (&str, FigureName, &str) {
    (&figure.phase, figure.name, &figure.unit)
}

fn compared(earlier: &Told, later: &Told) -> Compared {
    let mut figures = Vec::new();
    for figure in later.figures.iter().filter(|f| COMPARED.contains(&f.name)) {
        let Some(was) = earlier.figures.iter().find(|f| key(f) == key(figure)) else {
            continue;
        };
        figures.push(ComparedFigure {
            title: figure.title.clone(),
            name: figure.name,
            unit: figure.unit.clone(),
            was: was.stated,
            is: figure.stated,
            change: changed(&was.stated, &figure.stated),
        });
    }
    Compared {
        earlier: earlier.entry.certificate_number.clone(),
        later: later.entry.certificate_number.clone(),
        figures,
    }
}

/// A figure with its uncertainty, without its unit of measure; None if nothing is known of it.
pub fn stated_text(stated: &StatedFigure) -> Stated {
    let half = 0.5 * (stated.upper - stated.lower);
    match stated.value {
        Some(value) if half.is_finite() => {
            Stated::Is(format!("{} ± {}", number(value, half), number(half, half)))
        }
        Some(value) => Stated::Is(number(value, 0.1 * value)),
        None if stated.upper.is_finite() => {
            Stated::AtMost(number(stated.upper, 0.1 * stated.upper))
        }
        None => Stated::NotKnown,
    }
}

/// How a figure is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stated {
    /// By its value.
    Is(String),
    /// By an upper bound.
    AtMost(String),
    /// Not at all.
    NotKnown,
}

/// A change. Of what is negative both times (a rod that goes in) the size is compared.
fn changed(was: &StatedFigure, is: &StatedFigure) -> Change {
    let is_negative = |stated: &StatedFigure| stated.value.is_some_and(|value| value < 0.0);
    match is_negative(was) && is_negative(is) {
        true => change(&was.mirrored(), &is.mirrored()),
        false => change(was, is),
    }
}

/// The ends of a change with as many digits as they have, the smaller first.
pub fn change_ends(from: f64, to: f64) -> (String, String) {
    let width = 0.5 * (to - from);
    (number(from, width), number(to, width))
}

/// What a change that cannot be shown would be less than.
pub fn change_most(lower: f64, upper: f64) -> String {
    let most = lower.abs().max(upper.abs());
    number(most, 0.3 * most)
}

/// The same figures from the first time to the last, where there are three or more.
fn courses(tests: &[Told]) -> Vec<Course> {
    let mut found: BTreeMap<(String, &'static str, String), (FigureName, Vec<Point>)> =
        BTreeMap::new();
    for told in tests.iter().filter(|told| counts(told)) {
        for figure in told.figures.iter().filter(|f| COMPARED.contains(&f.name)) {
            let key = (
                figure.title.clone(),
                figure.name.plain(),
                figure.unit.clone(),
            );
            let course = found.entry(key).or_insert((figure.name, Vec::new()));
            course.1.push(Point {
                started_utc_ms: told.entry.started_utc_ms,
                time_zone: told.entry.time_zone.clone(),
                outcome: told.entry.outcome,
                stated: figure.stated,
                limit: figure.limit.clone(),
            });
        }
    }
    let mut courses = Vec::new();
    for ((title, _, unit), (name, points)) in found {
        let (Some(first), Some(last), true) = (points.first(), points.last(), points.len() > 2)
        else {
            continue;
        };
        courses.push(Course {
            change: changed(&first.stated, &last.stated),
            title,
            name,
            unit,
            points,
        });
    }
    courses
}
