//! The story of one unit for the page, and its charts.

use super::ShopDesk;
use super::broken;
use super::told::day;
use super::told::job_line;
use super::told::test_line;
use crate::chart::Size;
use crate::chart::YearMark;
use crate::chart::YearsPicture;
use crate::chart::years_chart;
use crate::daemon::built::build_text;
use crate::daemon::clock;
use crate::daemon::story;
use crate::daemon::story::Course;
use crate::daemon::story::Point;
use crate::daemon::story::Stated;
use crate::page::Trouble;
use crate::page::view;
use crate::quantity::UnitSystem;
use crate::register::Attachment;
use crate::verdict::Change;
use crate::verdict::StatedFigure;

const WIDE: Size = Size {
    width_pt: 640.0,
    height_pt: 230.0,
};

const NARROW: Size = Size {
    width_pt: 300.0,
    height_pt: 230.0,
};

async fn found(desk: &ShopDesk, tag: &str) -> Result<story::Story, Trouble> {
    let found = story::story(&desk.register, tag).await.map_err(broken)?;
    found.ok_or_else(|| Trouble::no_unit(tag))
}

pub(super) async fn shown(desk: &ShopDesk, tag: &str) -> Result<view::Story, Trouble> {
    let found = found(desk, tag).await?;
    let unit = &found.unit.unit;
    let units = desk
        .shop
        .as_ref()
        .map_or(UnitSystem::Metric, |shop| shop.units);
    // A job without a test stands at the day it came in, a visit at its first test.
    let mut visits: Vec<(String, view::Visit)> = found.visits.iter().map(visit).collect();
    visits.extend(found.untested.iter().map(|job| {
        let alone = view::Visit {
            job: Some(job_line(job)),
            tests: Vec::new(),
            since: None,
            during: None,
        };
        (job.came_in.clone(), alone)
    }));
    visits.sort_by(|a, b| b.0.cmp(&a.0));
    Ok(view::Story {
        unit: view::UnitFacts {
            tag: unit.tag.clone(),
            description: unit.description.clone(),
            machine: unit.machine.clone(),
            serial: unit.serial.clone(),
            seal: unit.seal.clone(),
            built: build_text(&unit.build, units),
        },
        open_job: found.unit.open_job,
        n_tests: found.unit.n_tests,
        visits: visits.into_iter().map(|(_, visit)| visit).collect(),
        courses: courses(&found.courses),
        files: found.files.iter().map(file_line).collect(),
    })
}

fn visit(visit: &story::Visit) -> (String, view::Visit) {
    let first = visit.tests.first();
    let tested = first.map(|test| day(test.started_utc_ms, &test.time_zone));
    let came_in = visit.job.as_ref().map(|job| job.came_in.clone());
    let shown = view::Visit {
        job: visit.job.as_ref().map(job_line),
        tests: visit.tests.iter().map(test_line).collect(),
        since: visit.since.as_ref().map(compared),
        during: visit.during.as_ref().map(compared),
    };
    (came_in.or(tested).unwrap_or_default(), shown)
}

fn compared(found: &story::Compared) -> view::Compared {
    let figure = |figure: &story::ComparedFigure| view::ComparedFigure {
        title: figure.title.clone(),
        figure: figure.name.plain().into(),
        unit: figure.unit.clone(),
        was: in_words(&figure.was),
        is: in_words(&figure.is),
        change: change(figure.change),
    };
    view::Compared {
        earlier: found.earlier.clone(),
        later: found.later.clone(),
        figures: found.figures.iter().map(figure).collect(),
    }
}

fn in_words(stated: &StatedFigure) -> view::Stated {
    match story::stated_text(stated) {
        Stated::Is(text) => view::Stated::Is(text),
        Stated::AtMost(text) => view::Stated::AtMost(text),
        Stated::NotKnown => view::Stated::NotKnown,
    }
}

fn change(found: Change) -> view::Change {
    match found {
        Change::More(lower, upper) => {
            let (from, to) = story::change_ends(lower, upper);
            view::Change::More(from, to)
        }
        Change::Less(lower, upper) => {
            let (from, to) = story::change_ends(-upper, -lower);
            view::Change::Less(from, to)
        }
        Change::NotShown(lower, upper) => view::Change::NotShown(story::change_most(lower, upper)),
        Change::NotComparable(reason) => view::Change::NotComparable(reason.into()),
    }
}

/// Courses with a limit first, then those with values, then what could only be bounded.
fn courses(all: &[Course]) -> Vec<view::Course> {
    let rank = |course: &Course| {
        let has_limit = course.points.iter().any(|point| point.limit.is_some());
        (!has_limit, !has_values(course))
    };
    let mut order: Vec<(usize, &Course)> = all.iter().enumerate().collect();
    order.sort_by_key(|(_, course)| rank(course));
    order
        .into_iter()
        .map(|(index, one)| course(index, one))
        .collect()
}

fn has_values(course: &Course) -> bool {
    course
        .points
        .iter()
        .filter(|point| point.stated.value.is_some())
        .count()
        > 1
}

/// Of a rod that only goes in the size is drawn, as its limit is one.
fn is_size(course: &Course) -> bool {
    let is_negative = |point: &Point| point.stated.value.is_some_and(|value| value < 0.0);
    course.points.iter().all(is_negative)
}

fn course(index: usize, course: &Course) -> view::Course {
    let value = |point: &Point| {
        let day = day(point.started_utc_ms, &point.time_zone);
        (day, in_words(&point.stated))
    };
    view::Course {
        index,
        has_values: has_values(course),
        is_size: is_size(course),
        title: course.title.clone(),
        figure: course.name.plain().into(),
        unit: course.unit.clone(),
        values: course.points.iter().map(value).collect(),
        change: change(course.change),
    }
}

fn file_line(file: &Attachment) -> view::FileLine {
    view::FileLine {
        sha256: file.sha256.clone(),
        name: file.name.clone(),
        about: file.about.clone(),
        job: file.job,
        added: clock::local(file.added_utc_ms, &file.time_zone).0,
        role: file.role.clone(),
        is_picture: matches!(file.ending.as_str(), "jpg" | "jpeg" | "png"),
    }
}

pub(super) async fn years(
    desk: &ShopDesk,
    tag: &str,
    index: usize,
    wide: bool,
) -> Result<String, Trouble> {
    let found = found(desk, tag).await?;
    let course = found.courses.get(index).ok_or_else(Trouble::not_there)?;
    let is_mirrored = is_size(course);
    let mark = |point: &Point| {
        let stated = match is_mirrored {
            true => point.stated.mirrored(),
            false => point.stated,
        };
        YearMark {
            at_utc_ms: point.started_utc_ms,
            day: day(point.started_utc_ms, &point.time_zone),
            value: stated.value,
            lower: stated.lower,
            upper: stated.upper,
            limit: point.limit.as_ref().map(|limit| limit.value),
            outcome: point.outcome,
        }
    };
    let marks: Vec<YearMark> = course.points.iter().map(mark).collect();
    let words = format!("{tag}, {}, {}", course.title, course.name.plain());
    let shown = YearsPicture {
        size: if wide { WIDE } else { NARROW },
        words: &words,
        unit: &course.unit,
        limit_word: view::limit_word(),
    };
    Ok(years_chart(shown, &marks))
}
