//! The list of units, and units in whose tests or jobs words were found.

use super::ShopDesk;
use super::told::day;
use super::told::outcome;
use crate::daemon::clock;
use crate::page::view;
use crate::register::Bench;
use crate::register::Job;
use crate::register::Period;
use crate::register::UnitNow;
use crate::register::UnitsOf;
use crate::register::bench_of;
use std::collections::BTreeMap;

/// Units on one page of the list.
const N_ROWS: usize = 50;

/// Most tests and most jobs that are looked at in a search.
const MOST_FOUND: u32 = 200;

/// Most places that are named for one unit.
const MOST_PLACES: usize = 4;

pub(super) async fn units(
    desk: &ShopDesk,
    asked: &view::UnitsAsked,
) -> anyhow::Result<view::Units> {
    let is_search = [&asked.words, &asked.from, &asked.until]
        .iter()
        .any(|text| !text.is_empty());
    match is_search {
        true => searched(desk, asked).await,
        false => listed(desk, &asked.after).await,
    }
}

async fn listed(desk: &ShopDesk, after: &str) -> anyhow::Result<view::Units> {
    let mut units = desk.register.units(UnitsOf::Shop, after).await?;
    let has_more = units.len() > N_ROWS;
    units.truncate(N_ROWS);
    Ok(view::Units {
        next: units
            .last()
            .filter(|_| has_more)
            .map(|last| last.unit.tag.clone()),
        rows: units.iter().map(|now| row(desk, now, Vec::new())).collect(),
        ..view::Units::default()
    })
}

async fn searched(desk: &ShopDesk, asked: &view::UnitsAsked) -> anyhow::Result<view::Units> {
    let mut faults = Vec::new();
    let mut day_of = |field: &str, text: &str| {
        let found = clock::day_utc_ms(text);
        if found.is_none() && !text.is_empty() {
            faults.push(view::Fault::no_day(field));
        }
        found
    };
    let (from, until) = (day_of("from", &asked.from), day_of("until", &asked.until));
    if !faults.is_empty() {
        return Ok(view::Units {
            faults,
            ..view::Units::default()
        });
    }
    let period = Period {
        from_utc_ms: from.map_or(Period::ALWAYS.from_utc_ms, |day| day.0),
        until_utc_ms: until.map_or(Period::ALWAYS.until_utc_ms, |day| day.1),
    };
    let tests = desk
        .register
        .matching(&asked.words, period, MOST_FOUND)
        .await?;
    let jobs = desk
        .register
        .jobs_matching(&asked.words, MOST_FOUND)
        .await?;
    let is_cut = tests.len().max(jobs.len()) >= MOST_FOUND as usize;
    // In the order in which they were found; a unit of just this tag comes first.
    let mut places: BTreeMap<String, Vec<view::FoundIn>> = BTreeMap::new();
    let mut order = vec![asked.words.clone()];
    for job in jobs
        .iter()
        .filter(|job| was_here(job, &asked.from, &asked.until))
    {
        order.push(job.tag.clone());
        let found = view::FoundIn::Job(job.number, job.symptom.clone());
        places.entry(job.tag.clone()).or_default().push(found);
    }
    for test in &tests {
        order.push(test.unit.tag.clone());
        let day = day(test.started_utc_ms, &test.time_zone);
        let found = view::FoundIn::Test(test.certificate_number.clone(), day);
        places.entry(test.unit.tag.clone()).or_default().push(found);
    }
    let mut rows: Vec<view::UnitRow> = Vec::new();
    for tag in order {
        if rows.len() == N_ROWS || rows.iter().any(|row| row.tag == tag) {
            continue;
        }
        if let Some(now) = desk.register.units(UnitsOf::Tag(&tag), "").await?.pop() {
            let mut found_in = places.remove(&tag).unwrap_or_default();
            found_in.truncate(MOST_PLACES);
            rows.push(row(desk, &now, found_in));
        }
    }
    Ok(view::Units {
        is_cut: is_cut || rows.len() == N_ROWS,
        rows,
        ..view::Units::default()
    })
}

/// Whether a unit was here between two days; either may be empty.
fn was_here(job: &Job, from: &str, until: &str) -> bool {
    let came_before_end = until.is_empty() || job.came_in.as_str() <= until;
    came_before_end && (job.went_out.is_empty() || job.went_out.as_str() >= from)
}

fn row(desk: &ShopDesk, now: &UnitNow, found_in: Vec<view::FoundIn>) -> view::UnitRow {
    let last = now
        .last
        .as_ref()
        .map(|(at, number, came_out)| view::LastTest {
            day: day(*at, &desk.time_zone()),
            number: number.clone(),
            outcome: outcome(*came_out),
            is_practice: bench_of(number) == Bench::Practice,
        });
    view::UnitRow {
        tag: now.unit.tag.clone(),
        description: now.unit.description.clone(),
        machine: now.unit.machine.clone(),
        seal: now.unit.seal.clone(),
        n_tests: now.n_tests,
        n_jobs: now.n_jobs,
        last,
        open_job: now.open_job,
        found_in,
    }
}
