//! `stillrod find`, `history`, `units` and `rebuilds`: what the register knows.

use super::Data;
use super::block_on;
use anyhow::Context;
use clap::Args;
use stillrod::daemon::clock::day_utc_ms;
use stillrod::daemon::clock::now_utc_ms;
use stillrod::daemon::clock::utc_date;
use stillrod::daemon::find::came_back_text;
use stillrod::daemon::find::found_text;
use stillrod::daemon::find::sensors_text;
use stillrod::daemon::find::units_text;
use stillrod::daemon::history::history;
use stillrod::register::Period;
use stillrod::register::UnitsOf;

/// What comes behind the options of `find` in the help.
pub const FIND_HELP: &str = "Examples:\n  \
stillrod find TV-0312                          tests and jobs of a unit\n  \
stillrod find carrier 7 --from 2026-10-01      of a machine, since a day\n  \
stillrod find sinks overnight                  jobs with these words in symptom, findings or parts\n  \
stillrod find                                  the latest\n\n\
Finds what has every word, each as the beginning of one; case and accents do not count.";

/// What comes behind the options of `history` in the help.
pub const HISTORY_HELP: &str = "Example:\n  \
stillrod history TV-0312\n\n\
Jobs, tests and papers of a unit in order, and for each phase that was measured twice what changed: more, less,\n\
or no change that can be shown. Different pressure and oil temperature are allowed for in full.";

/// What comes behind the options of `rebuilds` in the help.
pub const REBUILDS_HELP: &str = "Example:\n  \
stillrod rebuilds --within 180 --since 2026-01-01\n\n\
Rebuilds are jobs with the decision `rebuild` that went out; one came back if the unit has a later job,\n\
unless that was decided `leave`: a check that found nothing is no comeback.";

/// What `find` is asked for.
#[derive(Args)]
pub struct Find {
    /// Tag, number, machine, seal, symptom: any words.
    words: Vec<String>,
    /// First day.
    #[arg(long, value_name = "DAY")]
    from: Option<String>,
    /// Last day.
    #[arg(long, value_name = "DAY")]
    until: Option<String>,
    /// Most lines of each kind.
    #[arg(long, default_value_t = 30, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1000))]
    most: u32,
    #[command(flatten)]
    data: Data,
}

/// Finds tests and jobs.
///
/// # Errors
/// If a day is none, or the register cannot be read.
pub fn find(asked: &Find) -> anyhow::Result<u8> {
    let day = |text: &Option<String>| {
        let found = text.as_deref().map(|text| {
            day_utc_ms(text).with_context(|| format!("`{text}` is no day; write it as 2026-11-20"))
        });
        found.transpose()
    };
    let (from, until) = (day(&asked.from)?, day(&asked.until)?);
    let period = Period {
        from_utc_ms: from.map_or(Period::ALWAYS.from_utc_ms, |day| day.0),
        until_utc_ms: until.map_or(Period::ALWAYS.until_utc_ms, |day| day.1),
    };
    let words = asked.words.join(" ");
    block_on(async {
        let (_, register) = asked.data.open_known().await?;
        let tests = register.matching(&words, period, asked.most).await?;
        let mut jobs = register.jobs_matching(&words, asked.most).await?;
        // A job was here from the day it came in to the day it went out.
        jobs.retain(|job| {
            let from = asked.from.as_deref().unwrap_or_default();
            let until = asked.until.as_deref().unwrap_or("9999");
            job.came_in.as_str() <= until
                && (job.went_out.is_empty() || job.went_out.as_str() >= from)
        });
        print!("{}", found_text(&tests, &jobs, asked.most));
        Ok(0)
    })
}

/// What `history` is asked for.
#[derive(Args)]
pub struct History {
    /// Tag of the unit.
    tag: String,
    #[command(flatten)]
    data: Data,
}

/// Tells the story of a unit.
///
/// # Errors
/// If there is no such unit, or the register cannot be read.
pub fn history_of(asked: &History) -> anyhow::Result<u8> {
    block_on(async {
        let (_, register) = asked.data.open_known().await?;
        print!("{}", history(&register, &asked.tag).await?);
        Ok(0)
    })
}

/// What `units` is asked for.
#[derive(Args)]
pub struct Units {
    /// Only those of this machine, as it is written.
    #[arg(long, value_name = "MACHINE", conflicts_with = "seal")]
    machine: Option<String>,
    /// Only those with this seal, as it is written.
    #[arg(long, value_name = "SEAL")]
    seal: Option<String>,
    #[command(flatten)]
    data: Data,
}

/// Lists units.
///
/// # Errors
/// If the register cannot be read.
pub fn units(asked: &Units) -> anyhow::Result<u8> {
    let of = match (&asked.machine, &asked.seal) {
        (Some(machine), _) => UnitsOf::Machine(machine),
        (None, Some(seal)) => UnitsOf::Seal(seal),
        (None, None) => UnitsOf::Shop,
    };
    block_on(async {
        let (_, register) = asked.data.open_known().await?;
        let mut after = String::new();
        loop {
            let some = register.units(of, &after).await?;
            let Some(last) = some.last() else {
                return Ok(0);
            };
            after.clone_from(&last.unit.tag);
            print!("{}", units_text(&some));
        }
    })
}

/// What `rebuilds` is asked for.
#[derive(Args)]
pub struct Rebuilds {
    /// Days within which a visit counts as coming back.
    #[arg(long, default_value_t = 365, value_name = "DAYS", value_parser = clap::value_parser!(i64).range(1..=36_500))]
    within: i64,
    /// Only those that went out since this day.
    #[arg(long, default_value = "", value_name = "DAY")]
    since: String,
    #[command(flatten)]
    data: Data,
}

/// Tells which rebuilds came back.
///
/// # Errors
/// If the day is none, or the register cannot be read.
pub fn rebuilds(asked: &Rebuilds) -> anyhow::Result<u8> {
    if !asked.since.is_empty() && day_utc_ms(&asked.since).is_none() {
        anyhow::bail!("`{}` is no day; write it as 2026-11-20", asked.since);
    }
    block_on(async {
        let (_, register) = asked.data.open_known().await?;
        let all = register.rebuilds(&asked.since).await?;
        print!("{}", came_back_text(&all, asked.within));
        Ok(0)
    })
}

/// Lists sensors with their calibrations.
///
/// # Errors
/// If the register cannot be read.
pub fn sensors(asked: &Data) -> anyhow::Result<u8> {
    block_on(async {
        let (_, register) = asked.open_known().await?;
        let today = utc_date(now_utc_ms());
        print!("{}", sensors_text(&register.sensors().await?, &today));
        Ok(0)
    })
}
