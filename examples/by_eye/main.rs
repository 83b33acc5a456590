//! How honest is a person with a gauge? A campaign over readings by eye.
//!
//! `cargo run --release --example by_eye -- --n 800` draws holds over the domain of the
//! campaign with a board, lets somebody read each with instruments of drawn quality, and
//! counts how often the stated 95 % interval holds the truth.

#![allow(
    dead_code,
    reason = "the campaign with a board uses more of what is drawn"
)]

#[path = "../coverage/chance.rs"]
mod chance;
mod count;
#[path = "../coverage/draw.rs"]
mod draw;
#[path = "../coverage/draw_oil.rs"]
mod draw_oil;
#[path = "../coverage/draw_sensors.rs"]
mod draw_sensors;
mod play;
#[path = "../coverage/setup_text.rs"]
mod setup_text;
#[path = "../coverage/statistics.rs"]
mod statistics;

use clap::Parser;
use count::Stated;
use count::stated;
use stillrod::account::FigureName;

/// A campaign over readings by eye: does the stated interval hold the truth?
#[derive(Debug, Parser)]
struct Arguments {
    /// How many holds.
    #[arg(long, default_value_t = 800)]
    n: u64,
    /// Seed of all holds.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Print each figure that misses its truth.
    #[arg(long)]
    misses: bool,
}

fn main() {
    let asked = Arguments::parse();
    let mut all = Vec::new();
    let (mut n_read, mut n_void, mut n_silent) = (0u32, 0u32, 0u32);
    for index in 0.. {
        if u64::from(n_read) >= asked.n {
            break;
        }
        let Some(read) = play::read(asked.seed, index) else {
            continue;
        };
        n_read += 1;
        let found = stated(&read);
        n_void += u32::from(found.iter().any(|one| one.is_void));
        n_silent += u32::from(found.is_empty());
        if asked.misses {
            for one in found.iter().filter(|one| !one.holds() && !one.is_void) {
                println!("hold {index} ({} side): {one:?}", play::side(&read.hold));
            }
        }
        all.extend(found);
    }
    println!(
        "{n_read} holds read, {n_void} void by their readings, {n_silent} without any figure; seed {}\n",
        asked.seed
    );
    println!(
        "figure                             n   holds truth   half width: median, 90 %   leak at its limit passes: n, guarded \
         (95 % upper), whole interval"
    );
    let stands: Vec<Stated> = all.into_iter().filter(|one| !one.is_void).collect();
    for name in [
        FigureName::LeakDown,
        FigureName::Drift,
        FigureName::CapLoss,
        FigureName::RodGain,
    ] {
        line(name.word(), &stands, |one| one.name == name);
    }
    println!();
    for plumbing in [
        "both blocked",
        "rod port open",
        "locked rod",
        "hanging load",
        "cap port on valve",
    ] {
        for name in [FigureName::CapLoss, FigureName::RodGain] {
            let label = format!("{} {plumbing}", name.word());
            line(&label, &stands, |one| {
                one.name == name && one.plumbing == plumbing
            });
        }
    }
    println!();
    for (label, from, until) in [
        ("division below 1 bar", 0.0, 1.0),
        ("1 to 3 bar", 1.0, 3.0),
        ("3 bar and more", 3.0, 1e9),
    ] {
        line(label, &stands, |one| {
            one.name == FigureName::CapLoss && (from..until).contains(&one.division_bar)
        });
    }
}

fn line(label: &str, all: &[Stated], is_of: impl Fn(&Stated) -> bool) {
    let own: Vec<&Stated> = all.iter().filter(|one| is_of(one)).collect();
    if own.is_empty() {
        return;
    }
    let n = own.len() as f64;
    let n_held = own.iter().filter(|one| one.holds()).count() as f64;
    // A tight piece has no limit at what is true of it.
    let leaks: Vec<&&Stated> = own.iter().filter(|one| one.leaks()).collect();
    let passed = |is: fn(&Stated) -> bool| leaks.iter().filter(|one| is(one)).count();
    let guarded = passed(Stated::passes_at_its_limit);
    let percent = |count: usize| 100.0 * count as f64 / (leaks.len().max(1)) as f64;
    let mut halves: Vec<f64> = own.iter().map(|one| one.half).collect();
    halves.sort_by(f64::total_cmp);
    let at = |share: f64| halves[((n - 1.0) * share) as usize];
    println!(
        "{label:<30} {:>5}   {:>5.1} %   {:>9.3} {:>9.3}   {:>5}  {:>5.1} % ({:>4.1} %) {:>5.1} %",
        own.len(),
        100.0 * n_held / n,
        at(0.5),
        at(0.9),
        leaks.len(),
        percent(guarded),
        100.0 * statistics::upper_limit(guarded, leaks.len(), 0.05),
        percent(passed(Stated::is_below_its_limit))
    );
}
