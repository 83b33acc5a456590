//! The campaign behind `examples/coverage`: that its file can be trusted.
//!
//! Twelve holds of one seed: the same rows again, the same file after a stop, and a figure
//! that misses the truth counted as a miss.

#![allow(dead_code, reason = "the report has more to say than is checked here")]

#[path = "../examples/coverage/campaign.rs"]
mod campaign;
#[path = "../examples/coverage/chance.rs"]
mod chance;
#[path = "../examples/coverage/draw.rs"]
mod draw;
#[path = "../examples/coverage/draw_oil.rs"]
mod draw_oil;
#[path = "../examples/coverage/draw_sensors.rs"]
mod draw_sensors;
#[path = "../examples/coverage/in_order.rs"]
mod in_order;
#[path = "../examples/coverage/play.rs"]
mod play;
#[path = "../examples/coverage/risk.rs"]
mod risk;
#[path = "../examples/coverage/rows.rs"]
mod rows;
#[path = "../examples/coverage/see.rs"]
mod see;
#[path = "../examples/coverage/setup_text.rs"]
mod setup_text;
#[path = "../examples/coverage/statistics.rs"]
mod statistics;
#[path = "../examples/coverage/strata.rs"]
mod strata;
#[path = "../examples/coverage/table.rs"]
mod table;

use campaign::Campaign;
use rows::Row;
use std::fs;
use std::path::Path;
use std::path::PathBuf;

const N: u64 = 12;

const CAMPAIGN: Campaign = Campaign {
    seed: 2026,
    without: None,
};

fn run(file: &Path, n: u64, n_threads: usize) {
    CAMPAIGN
        .run(file, n, n_threads, |_| {})
        .expect("a campaign of our own");
}

/// A whole campaign, and a file beside it with part of what it holds.
fn whole_and_part(folder: &Path, part: impl Fn(&str) -> usize) -> (String, PathBuf) {
    let (whole, cut) = (folder.join("whole.csv"), folder.join("cut.csv"));
    run(&whole, N, 2);
    let text = fs::read_to_string(&whole).expect("written");
    fs::write(&cut, &text.as_bytes()[..part(&text)]).expect("writable");
    (text, cut)
}

#[test]
fn a_campaign_is_the_same_again_and_after_a_stop() {
    let folder = tempfile::tempdir().expect("a folder");
    // Stopped in the last number of the third row of hold 9.
    let (text, cut) = whole_and_part(folder.path(), |text| {
        let ninth = text.find("\n9,1,").expect("hold 9") + 1;
        let rows: Vec<usize> = text[ninth..]
            .match_indices('\n')
            .map(|(at, _)| at)
            .collect();
        ninth + rows[2] - 1
    });
    assert!(
        text.contains(&CAMPAIGN.hold(5).expect("rows")),
        "hold 5 is another by itself"
    );
    run(&cut, N, 1);
    assert!(
        text == fs::read_to_string(&cut).expect("readable"),
        "continued differently"
    );

    // Nothing is left to do, and nothing is done.
    run(&cut, N, 2);
    assert!(text == fs::read_to_string(&cut).expect("readable"));

    let other = Campaign {
        seed: 7,
        ..CAMPAIGN
    };
    let refusal = other
        .run(&cut, N, 1, |_| {})
        .expect_err("a file of another seed");
    assert!(
        refusal.to_string().contains("choose another file"),
        "{refusal}"
    );
    check_misses(&campaign::read(&cut).expect("a file of a campaign").1);
}

/// A truth that is moved by 4 sigma is a miss, and the report counts it.
fn check_misses(rows: &[Row]) {
    for figure in ["cap_loss", "drift"] {
        let (hits, n) = table::covered(rows, figure);
        assert!(n >= 6, "only {n} of {figure}");
        let mut moved = rows.to_vec();
        let (mut n_moved, mut n_hits_before) = (0, 0);
        for row in moved
            .iter_mut()
            .filter(|r| r.figure == figure && r.voided.is_empty())
        {
            let (Some(value), Some(standard)) = (row.value, row.standard) else {
                continue;
            };
            n_hits_before += usize::from(row.holds_truth() == Some(true));
            // Every second one, away from the value.
            if row.hold % 2 == 0 {
                let away = if row.truth < value { -4.0 } else { 4.0 };
                row.truth = value + away * standard;
                assert_eq!(row.holds_truth(), Some(false), "hold {}", row.hold);
                n_moved += 1;
            } else {
                row.truth = value + standard;
                assert_eq!(row.holds_truth(), Some(true), "hold {}", row.hold);
            }
        }
        assert!(n_moved >= 2, "only {n_moved} of {figure} were moved");
        assert_eq!(hits, n_hits_before);
        assert_eq!(table::covered(&moved, figure), (n - n_moved, n));
    }
}

#[test]
fn a_hold_cut_anywhere_is_made_again_whole() {
    let folder = tempfile::tempdir().expect("a folder");
    let whole = folder.path().join("whole.csv");
    run(&whole, 2, 2);
    let text = fs::read_to_string(&whole).expect("written");
    let second = text.find("\n1,1,").expect("hold 1");
    let cuts = [
        3,
        60,
        400,
        second - 5,
        second,
        second + 1,
        second + 30,
        text.len() - 1,
    ];
    for length in cuts {
        let cut = folder.path().join(format!("{length}.csv"));
        fs::write(&cut, &text.as_bytes()[..length]).expect("writable");
        run(&cut, 2, 2);
        assert!(
            text == fs::read_to_string(&cut).expect("readable"),
            "cut at {length}"
        );
    }
}

/// Clopper and Pearson define their limits by binomial tails of 2.5 %; those of nothing
/// found are 1 − 0.025^(1/n) in closed form.
#[test]
fn limits_of_a_share_are_those_of_the_binomial() {
    let tail = |n: u32, k: u32, p: f64| -> f64 {
        (k..=n)
            .map(|i| {
                let ways = (0..i).fold(1.0, |w, j| w * f64::from(n - j) / f64::from(j + 1));
                ways * p.powi(i as i32) * (1.0 - p).powi((n - i) as i32)
            })
            .sum()
    };
    for (hits, n) in [(19, 20), (5, 10), (57, 60)] {
        let (low, high) = statistics::share_limits(hits as usize, n as usize);
        assert!((tail(n, hits, low) - 0.025).abs() < 1e-6);
        assert!((1.0 - tail(n, hits + 1, high) - 0.025).abs() < 1e-6);
    }
    let (low, high) = statistics::share_limits(0, 30);
    assert_eq!(low, 0.0);
    assert!((high - (1.0 - 0.025f64.powf(1.0 / 30.0))).abs() < 1e-9);
    assert_eq!(statistics::share_limits(30, 30).1, 1.0);
}

/// Leaks of this domain follow their pressure: no loss stops or starts within a hold.
#[test]
fn no_loss_of_the_domain_turns() {
    for number in 0..30 {
        let seen = see::see(&play::play(777, number), None);
        let turn = seen.evaluation.ok().and_then(|found| found.turn);
        assert_eq!(turn, None, "{number}");
    }
}
