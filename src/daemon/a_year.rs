//! A year of the Tarn Valley road depot, rehearsed: every test on the practice bench, with its
//! recording, its row and its paper, and the sheets of the jobs they belong to.
//!
//! The bench is played as fast as it can, several at once; then everything is entered in the order
//! of its dates. Starts and issues carry the dates of the year, and every recording and paper says
//! that it is practice. What a test finds is measured, never written in advance.

use super::clock;
use super::folder::DataFolder;
use super::folder::Shelf;
use super::hand::Hand;
use super::live;
use super::paper::SOFTWARE;
use super::paper::enter_at;
use super::rehearse::PATIENCE;
use super::rehearse::PRACTICE;
use super::reissue::mark;
use super::screen::Screen;
use crate::archive;
use crate::link::Adapter;
use crate::recording::Heading;
use crate::register::Register;
use crate::register::Withdrawal;
use crate::rehearsal::Pace;
use crate::rehearsal::VirtualBoard;
use crate::rehearsal::year::DAY_MS;
use crate::rehearsal::year::Planned;
use crate::rehearsal::year::Visit;
use crate::rehearsal::year::YEAR_SHOP_TOML;
use crate::rehearsal::year::YEAR_UTC_MS;
use crate::rehearsal::year::visits;
use crate::settings::Shop;
use crate::settings::Test;
use anyhow::Context;
use anyhow::ensure;
use std::collections::BTreeMap;
use std::path::Path;
use std::path::PathBuf;
use tokio::runtime::Handle;
use tokio::task::JoinSet;

mod sheets;

/// Practice benches that run at once.
const N_BENCHES: usize = 3;

/// What the year's shop file is called.
const SHOP_FILE: &str = "tarn-valley-year.toml";

/// What came of a year.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Year {
    /// Tests by outcome: its word and how many.
    pub outcomes: BTreeMap<&'static str, usize>,
    /// Cylinders that were tested.
    pub n_units: usize,
    /// Tests.
    pub n_tests: usize,
    /// Jobs, with those that were withdrawn.
    pub n_jobs: usize,
    /// Papers that were withdrawn.
    pub n_withdrawn: usize,
}

/// Something that happens at an instant.
#[derive(Debug, Clone, Copy)]
enum Happens<'a> {
    ComesIn(usize, &'a Visit),
    IsTested(&'a Planned),
    IsWithdrawn(&'a Planned),
    GoesOut(usize, &'a Visit),
}

/// Rehearses a year of the depot into a new data folder. The same seed makes the same year. `told`
/// is given sentences on how far it is.
///
/// # Errors
/// If the folder has a register already, or disk, register or pseudo-terminal refuse.
pub async fn a_year(folder: &Path, seed: u64, told: impl FnMut(String)) -> anyhow::Result<Year> {
    days(folder, seed, 366, told).await
}

/// The first days of a year.
///
/// # Errors
/// As [`a_year`].
pub async fn days(
    folder: &Path,
    seed: u64,
    n_days: i64,
    mut told: impl FnMut(String),
) -> anyhow::Result<Year> {
    let folder = DataFolder::open(folder)?;
    ensure!(
        !folder.register().exists(),
        "{} has a register already; name a new folder for the year",
        folder.register().display()
    );
    let until_utc_ms = YEAR_UTC_MS + n_days * DAY_MS;
    let mut visits = visits(seed);
    visits.retain(|visit| visit.in_and_out_utc_ms.1 < until_utc_ms);
    let tests: Vec<&Planned> = visits.iter().flat_map(|visit| &visit.tests).collect();
    play(&folder.shelf()?, &tests, &mut told).await?;
    let register = Register::open(&folder.register()).await?;
    let year = enter_all(&folder, &register, &visits, &mut told).await?;
    register.close().await;
    Ok(year)
}

/// Plays all tests up to their recordings.
async fn play(
    shelf: &Shelf,
    tests: &[&Planned],
    told: &mut impl FnMut(String),
) -> anyhow::Result<()> {
    let mut benches = JoinSet::new();
    let mut n_done: usize = 0;
    for test in tests {
        if benches.len() >= N_BENCHES {
            benches.join_next().await.context("a bench")???;
            n_done += 1;
            if n_done.is_multiple_of(20) {
                told(format!("{n_done} of {} tests recorded", tests.len()));
            }
        }
        // A line stays on its thread, so each bench has one.
        let (runtime, test, shelf) = (Handle::current(), (*test).clone(), shelf.clone());
        benches.spawn_blocking(move || runtime.block_on(record(test, shelf)));
    }
    while let Some(done) = benches.join_next().await {
        done??;
    }
    told(format!("all {} tests recorded", tests.len()));
    Ok(())
}

/// One test on a practice bench of its own, up to its recording.
async fn record(planned: Planned, shelf: Shelf) -> anyhow::Result<()> {
    let setup_toml = planned.scenario.setup_toml();
    let shop = Shop::parse(SHOP_FILE, YEAR_SHOP_TOML)?;
    let test = Test::parse("setup of the year", &setup_toml, Some(&shop))?;
    let heading = Heading {
        run_id: run_id(&planned),
        started_utc_ms: planned.at_utc_ms,
        time_zone: shop.time_zone,
        software: SOFTWARE.into(),
        source: String::new(),
        setup_toml,
        shop_toml: YEAR_SHOP_TOML.into(),
        practice: PRACTICE.into(),
    };
    let board = tokio::task::spawn_blocking(move || {
        VirtualBoard::start(&planned.scenario, Pace::AsFastAsItCan)
    });
    let board = board.await??;
    let adapter = Adapter::new(board.port_path());
    let mut screen = Screen::new(true);
    live::record(
        adapter,
        PATIENCE,
        &shelf,
        heading,
        &test,
        &mut Hand::Nobody,
        &mut screen,
    )
    .await?;
    Ok(())
}

fn run_id(planned: &Planned) -> String {
    clock::run_id(planned.at_utc_ms, planned.scenario.name)
}

/// Everything of some visits, in the order of its instants.
fn in_order(visits: &[Visit]) -> Vec<(i64, Happens<'_>)> {
    let mut all = Vec::new();
    for (index, visit) in visits.iter().enumerate() {
        let (comes_in, goes_out) = visit.in_and_out_utc_ms;
        all.push((comes_in, Happens::ComesIn(index, visit)));
        for test in &visit.tests {
            // The paper is issued when hold and settling are over.
            let length_ms = (1e3 * test.scenario.length_s()).round() as i64;
            let issued = test.at_utc_ms + length_ms;
            all.push((issued, Happens::IsTested(test)));
            if !test.withdrawn.is_empty() {
                all.push((issued + DAY_MS / 24, Happens::IsWithdrawn(test)));
            }
        }
        all.push((goes_out, Happens::GoesOut(index, visit)));
    }
    all.sort_by_key(|(at_utc_ms, _)| *at_utc_ms);
    all
}

async fn enter_all(
    folder: &DataFolder,
    register: &Register,
    visits: &[Visit],
    told: &mut impl FnMut(String),
) -> anyhow::Result<Year> {
    let mut year = Year {
        n_jobs: visits.len(),
        ..Year::default()
    };
    let mut units = std::collections::BTreeSet::new();
    let mut numbers: BTreeMap<String, String> = BTreeMap::new();
    let mut jobs: BTreeMap<usize, i64> = BTreeMap::new();
    for (at_utc_ms, happens) in in_order(visits) {
        match happens {
            Happens::ComesIn(index, visit) => {
                let number = sheets::comes_in(register, visit, at_utc_ms).await?;
                jobs.insert(index, number);
            }
            Happens::GoesOut(index, visit) => {
                let number = jobs.get(&index).copied().context("it came in")?;
                sheets::goes_out(register, visit, number, at_utc_ms).await?;
            }
            Happens::IsTested(planned) => {
                let (number, outcome) = entered(folder, register, planned, at_utc_ms).await?;
                numbers.insert(run_id(planned), number);
                *year.outcomes.entry(outcome).or_default() += 1;
                year.n_tests += 1;
                units.insert(planned.scenario.unit.tag);
                if year.n_tests.is_multiple_of(20) {
                    told(format!("{} tests entered", year.n_tests));
                }
            }
            Happens::IsWithdrawn(planned) => {
                let number = numbers.get(&run_id(planned)).context("it was issued")?;
                let withdrawal = Withdrawal {
                    number: number.clone(),
                    at_utc_ms,
                    time_zone: "Europe/London".into(),
                    role: "bench technician".into(),
                    reason: planned.withdrawn.into(),
                };
                register.withdraw(&withdrawal).await?;
                mark(folder, register, number).await?;
                year.n_withdrawn += 1;
            }
        }
    }
    year.n_units = units.len();
    Ok(year)
}

/// Judges a recording, enters it, makes its paper; its number and outcome.
async fn entered(
    folder: &DataFolder,
    register: &Register,
    planned: &Planned,
    at_utc_ms: i64,
) -> anyhow::Result<(String, &'static str)> {
    let path: PathBuf = folder.recordings().join(format!("{}.h5", run_id(planned)));
    let recording = archive::read(&path)?;
    let entered = enter_at(folder, register, (&path, &recording), at_utc_ms).await?;
    Ok((entered.number, entered.found.outcome().word()))
}
