//! Lists from the register, in words: what a search found, units, rebuilds that came back.

use super::built::build_text;
use super::clock;
use crate::quantity::UnitSystem;
use crate::register::CameBack;
use crate::register::Entry;
use crate::register::Job;
use crate::register::SensorKnown;
use crate::register::UnitNow;
use std::fmt::Write as _;

/// A test in one line.
pub fn test_line(entry: &Entry) -> String {
    let (at, _) = clock::local(entry.started_utc_ms, &entry.time_zone);
    let day: String = at.chars().take(16).collect();
    let withdrawn = match &entry.withdrawn {
        Some(reason) => format!("  WITHDRAWN: {reason}"),
        None => String::new(),
    };
    let outcome = entry.outcome.plain();
    format!(
        "{day}  {:<22} {:<9} {outcome:<10} {}{withdrawn}",
        entry.certificate_number,
        entry.unit.tag,
        short(&entry.headline)
    )
}

/// The first sentence of a headline, or its first 90 characters.
fn short(headline: &str) -> String {
    let first = headline.split(". ").next().unwrap_or_default();
    match first.chars().count() > 90 {
        true => format!("{}…", first.chars().take(89).collect::<String>()),
        false => first.into(),
    }
}

/// A job in one line.
pub fn job_line(job: &Job) -> String {
    let until = match job.went_out.is_empty() {
        true => "still here",
        false => &job.went_out,
    };
    let decision = match job.decision {
        Some(decision) => format!("  {}", decision.word()),
        None => String::new(),
    };
    let state = match job.state {
        crate::register::JobState::Withdrawn => format!("  WITHDRAWN: {}", job.reason),
        _ => decision,
    };
    format!(
        "{} to {until}  job {:<4} {:<9} {}{state}",
        job.came_in, job.number, job.tag, job.symptom
    )
}

/// What a search found.
pub fn found_text(tests: &[Entry], jobs: &[Job], most: u32) -> String {
    let mut text = String::new();
    for (heading, n, lines) in [
        (
            "Jobs",
            jobs.len(),
            jobs.iter().map(job_line).collect::<Vec<_>>(),
        ),
        (
            "Tests",
            tests.len(),
            tests.iter().map(test_line).collect::<Vec<_>>(),
        ),
    ] {
        if n == 0 {
            continue;
        }
        let cut = match n >= most as usize {
            true => format!(", the latest {most}"),
            false => String::new(),
        };
        let _ = writeln!(text, "{heading}{cut}");
        lines.iter().for_each(|line| {
            let _ = writeln!(text, "  {line}");
        });
    }
    if text.is_empty() {
        text.push_str("Nothing has all of these words.\n");
    }
    text
}

/// Units, a line each; of one alone also how it is built.
pub fn units_text(units: &[UnitNow]) -> String {
    let mut text = String::new();
    for now in units {
        let last = match &now.last {
            Some((at, number, outcome)) => {
                let day = clock::utc_date(*at);
                format!("{} {day} ({number})", outcome.plain())
            }
            None => "never tested".into(),
        };
        let open = match now.open_job {
            Some(job) => format!("  job {job} is open"),
            None => String::new(),
        };
        let _ = writeln!(
            text,
            "{:<9} {:<26} {:<20} {:<18} {} {}, {} {}; last {last}{open}",
            now.unit.tag,
            now.unit.description,
            now.unit.machine,
            now.unit.seal,
            now.n_tests,
            plural(now.n_tests, "test"),
            now.n_jobs,
            plural(now.n_jobs, "job"),
        );
    }
    if let [one] = units {
        let built = build_text(&one.unit.build, UnitSystem::Metric);
        if !built.is_empty() {
            let _ = writeln!(text, "{:<9} {built}", "");
        }
    }
    text
}

fn plural(n: i64, word: &str) -> String {
    match n {
        1 => word.into(),
        _ => format!("{word}s"),
    }
}

/// Sensors with their calibrations; `today` is a day, "2026-11-27".
pub fn sensors_text(sensors: &[SensorKnown], today: &str) -> String {
    let mut text = String::new();
    for sensor in sensors {
        let due = match sensor.due.as_str() {
            "" => "no day given".into(),
            due if due < today => format!("OVERDUE since {due}"),
            due => format!("due {due}"),
        };
        let paper = match sensor.certificate.as_str() {
            "" => "no paper",
            paper => paper,
        };
        let practice = match sensor.practice {
            true => "  (practice bench)",
            false => "",
        };
        let _ = writeln!(
            text,
            "{:<12} {:<12} {due:<22} {paper:<20} used with it since {}, {} {}{practice}",
            sensor.serial,
            sensor.label,
            clock::utc_date(sensor.since_utc_ms),
            sensor.n_calibrations,
            plural(sensor.n_calibrations, "calibration"),
        );
    }
    text
}

/// Which rebuilds came back within `days`, and how many of each kind of seal.
pub fn came_back_text(rebuilds: &[CameBack], days: i64) -> String {
    let is_back = |rebuild: &&CameBack| rebuild.next.as_ref().is_some_and(|next| next.3 <= days);
    let back: Vec<&CameBack> = rebuilds.iter().filter(is_back).collect();
    let mut text = format!(
        "{} of {} rebuilds came back within {days} days.\n",
        back.len(),
        rebuilds.len()
    );
    for rebuild in &back {
        if let Some((job, came_in, symptom, after)) = &rebuild.next {
            let _ = writeln!(
                text,
                "  {:<9} out {} (job {}), back {came_in} after {after} {}: {symptom} (job {job})",
                rebuild.tag,
                rebuild.went_out,
                rebuild.job,
                plural(*after, "day"),
            );
        }
    }
    let mut seals: Vec<&str> = rebuilds.iter().map(|r| r.seal.as_str()).collect();
    seals.sort_unstable();
    seals.dedup();
    for seal in seals {
        let of =
            |list: &mut dyn Iterator<Item = &CameBack>| list.filter(|r| r.seal == seal).count();
        let (n_back, n) = (of(&mut back.iter().copied()), of(&mut rebuilds.iter()));
        let name = if seal.is_empty() {
            "seal not written down"
        } else {
            seal
        };
        let _ = writeln!(text, "  {name}: {n_back} of {n}");
    }
    text
}
