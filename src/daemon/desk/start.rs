//! The first screen: what is here, what was last done.

use super::ShopDesk;
use super::bench::tag_on_the_bench;
use super::told::job_line;
use super::told::test_line;
use crate::daemon::clock;
use crate::page::view;

/// Most open jobs that are listed.
const MOST_JOBS: u32 = 40;

/// Tests that are listed.
const N_TESTS: u32 = 8;

pub(super) async fn start(desk: &ShopDesk) -> anyhow::Result<view::Start> {
    let (open_jobs, n_open) = desk.register.open_jobs(MOST_JOBS).await?;
    let last = desk.register.latest(N_TESTS).await?;
    let today = clock::utc_date(clock::now_utc_ms());
    let sensors = desk.register.sensors().await?;
    let is_overdue = |due: &str| !due.is_empty() && due < today.as_str();
    let overdue = sensors.iter().filter(|s| !s.practice && is_overdue(&s.due));
    Ok(view::Start {
        n_more_jobs: n_open - open_jobs.len() as i64,
        open_jobs: open_jobs.iter().map(job_line).collect(),
        on_the_bench: tag_on_the_bench(desk),
        made_good: desk.bench.made_good.clone(),
        last_tests: last.iter().map(test_line).collect(),
        overdue_sensors: overdue
            .map(|s| format!("{} ({})", s.label, s.serial))
            .collect(),
    })
}
