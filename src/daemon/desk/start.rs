//! The first screen: what is here, what was last done.

use super::ShopDesk;
use super::bench::tag_on_the_bench;
use super::told::job_line;
use super::told::test_line;
use crate::daemon::clock;
use crate::daemon::watch::Room;
use crate::daemon::watch::Seen;
use crate::daemon::watch::What;
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
    let seen = desk.watch.look();
    let last_happened = seen.happened.0.last().map(|one| one.at_utc_ms);
    Ok(view::Start {
        alarms: alarms(desk, seen),
        last_happened,
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

/// What was seen, the worst first.
fn alarms(desk: &ShopDesk, seen: Seen) -> Vec<view::Alarm> {
    let zone = desk.time_zone();
    let room = match seen.room {
        Some(Room::Little(free, hours)) => Some(view::Alarm::LittleRoom(size(free), hours)),
        Some(Room::None(free)) => Some(view::Alarm::NoRoom(size(free))),
        Some(Room::Enough) | None => None,
    };
    let others = seen.others.into_iter().map(|other| {
        let name = match other.name.is_empty() {
            true => view::some_program().into(),
            false => other.name,
        };
        match other.run {
            Some(run) => view::Alarm::Records(name, other.pid, run),
            None => view::Alarm::AlsoOpen(name, other.pid),
        }
    });
    let (happened, n_forgotten) = seen.happened;
    let happened = happened.into_iter().map(|one| {
        let at = clock::local(one.at_utc_ms, &zone).0;
        match one.what {
            What::Moved(by_s) if by_s < 0.0 => view::Alarm::ClockBack(at, long(-by_s)),
            What::Moved(by_s) => view::Alarm::ClockForward(at, long(by_s)),
            What::Slept(for_s) => view::Alarm::Slept(at, long(for_s)),
        }
    });
    let more = (n_forgotten > 0).then_some(view::Alarm::MoreBefore(n_forgotten));
    room.into_iter()
        .chain(more)
        .chain(happened)
        .chain(others)
        .collect()
}

/// "1.4 GB": bytes to two digits.
fn size(bytes: u64) -> String {
    match bytes {
        0..10_000_000 => format!("{:.1} MB", bytes as f64 / 1e6),
        10_000_000..1_000_000_000 => format!("{:.0} MB", bytes as f64 / 1e6),
        _ => format!("{:.1} GB", bytes as f64 / 1e9),
    }
}

/// "12 s", "5 min", "3 h 20 min", "2 days": a time to about two digits.
fn long(s: f64) -> String {
    let minutes = (s / 60.0).round() as u64;
    match minutes {
        _ if s < 90.0 => format!("{s:.0} s"),
        0..120 => format!("{minutes} min"),
        120..2_880 => format!("{} h {} min", minutes / 60, minutes % 60),
        _ => format!("{:.0} days", s / 86_400.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_and_sizes_have_two_digits() {
        for (s, expected) in [
            (3.2, "3 s"),
            (89.4, "89 s"),
            (90.0, "2 min"),
            (3_600.0, "60 min"),
            (12_000.0, "3 h 20 min"),
            (8e5, "9 days"),
        ] {
            assert_eq!(long(s), expected);
        }
        for (bytes, expected) in [
            (0, "0.0 MB"),
            (199_999_999, "200 MB"),
            (1_400_000_000, "1.4 GB"),
        ] {
            assert_eq!(size(bytes), expected);
        }
    }
}
