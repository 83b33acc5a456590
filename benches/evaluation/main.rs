//! How fast a hold is evaluated: `cargo bench --bench evaluation`.
//!
//! Half an hour of hold at 1000 samples a second on five channels, played by the practice
//! bench: reading and writing its file, also signed, judging it, the evaluation alone; the same thinned to 20 samples
//! a second; and the figures shown while a hold goes on, at its start and at its end. Each
//! figure is the median of several runs with the quickest and the slowest beside it.

#![allow(
    clippy::disallowed_methods,
    reason = "a benchmark reads the clock; the core still does not"
)]
#![allow(clippy::unwrap_used, reason = "a benchmark may stop at once")]

mod long_hold;
mod paper;

use long_hold::LongHold;
use std::hint::black_box;
use std::time::Instant;
use stillrod::account::Growing;
use stillrod::account::Trials;
use stillrod::account::check_by_chance;
use stillrod::account::evaluate;
use stillrod::archive;
use stillrod::daemon::judgement::judged;
use stillrod::procedure::HOLD;
use stillrod::recording::Recording;
use stillrod::signature::SigningKey;

/// Samples a second of the long hold, and how many of them one is left of when it is thinned.
const SAMPLES_PER_S: u32 = 1000;
const THINNED_BY: usize = 50;

/// Copies by which the memory of a growing hold is weighed.
const N_COPIES: usize = 400;

fn main() {
    println!("{}\n", machine());
    let LongHold { setup, recording } = long_hold::played(SAMPLES_PER_S);
    let thinned = long_hold::thinned(&recording, THINNED_BY);
    println!("{:<58} {:>10}   quickest to slowest", "", "median");
    // First, while no memory lies idle that copies could take.
    live(&recording, &setup);
    for (rate, recording) in [(SAMPLES_PER_S, &recording), (20, &thinned)] {
        batch(rate, recording, &setup);
    }
    check(&thinned, &setup);
    paper::timed_paper(&thinned);
}

/// The whole way of a finished recording, and its parts.
fn batch(rate: u32, recording: &Recording, setup: &stillrod::settings::Setup) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("long-hold.h5");
    archive::write(recording, &path).unwrap();
    let size_mb = std::fs::metadata(&path).unwrap().len() as f64 / 1e6;
    let n_rows = recording.time_s().len();
    println!("{rate} samples a second: {n_rows} rows of 5 channels, file {size_mb:.0} MB");
    timed("  reading the file", 5, || archive::read(&path).unwrap());
    let signed = folder.path().join("signed.h5");
    let key = SigningKey::from_random(&[1; 32]);
    timed("  writing it", 3, || {
        std::fs::remove_file(&path).unwrap();
        archive::write(recording, &path).unwrap();
    });
    timed("  writing it signed", 3, || {
        let _ = std::fs::remove_file(&signed);
        archive::write_signed(recording, &signed, &key).unwrap();
    });
    timed("  looking at its signature", 5, || {
        archive::check(&signed).unwrap()
    });
    timed("  judging it: health, evaluation, limits", 5, || {
        judged(recording, None).unwrap()
    });
    timed("    of that the evaluation", 9, || {
        evaluate(recording, &setup.subject).unwrap()
    });
}

/// The check by chance; its cost does not hang on the rate.
fn check(recording: &Recording, setup: &stillrod::settings::Setup) {
    let mut evaluation = evaluate(recording, &setup.subject).unwrap();
    let label = format!("check by chance, {} trials", Trials::USUAL);
    timed(&label, 3, || {
        let trials = Trials::usual();
        check_by_chance(recording, &setup.subject, trials, &mut evaluation).unwrap();
    });
}

/// Figures while the hold goes on.
fn live(recording: &Recording, setup: &stillrod::settings::Setup) {
    println!("while the hold goes on, {SAMPLES_PER_S} samples a second");
    let start_s = recording.phase(HOLD).unwrap().from_s;
    let channels = recording.tracks().iter().map(|t| t.channel.clone());
    let mut growing = Growing::new(setup.subject.clone(), channels.collect(), start_s, start_s);
    let mut next = recording.time_s().partition_point(|t| *t < start_s);
    // Copies stay until the end, so that none takes the memory of those before it.
    let mut kept = Vec::new();
    // Up to a minute; a second more is what is timed.
    for (minutes, until_s) in [(1, 60.0), (30, 1799.0)] {
        let mut pushed = |growing: &mut Growing, until_s: f64| {
            while let Some(time_s) = recording.time_s().get(next).filter(|t| **t <= until_s) {
                growing.push(*time_s, recording.tracks().iter().map(|t| t.value(next)));
                next += 1;
            }
        };
        pushed(&mut growing, start_s + until_s);
        let before = Instant::now();
        pushed(&mut growing, start_s + until_s + 1.0);
        let second_ms = before.elapsed().as_secs_f64() * 1e3;
        println!("  after {minutes} min");
        println!("    taking in one second of rows {second_ms:>36.2} ms");
        timed("    figures so far", 9, || growing.evaluation().unwrap());
        println!("    memory {:>58.0} kB", weighed_kb(&growing, &mut kept));
    }
}

/// Times `run` so often and prints a line.
fn timed<T>(label: &str, n_runs: usize, mut run: impl FnMut() -> T) {
    let mut times_ms: Vec<f64> = (0..n_runs)
        .map(|_| {
            let before = Instant::now();
            black_box(run());
            before.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    times_ms.sort_unstable_by(f64::total_cmp);
    let (quickest, slowest) = (times_ms[0], times_ms[n_runs - 1]);
    println!(
        "{label:<58} {:>7.0} ms   {quickest:.0} to {slowest:.0} ({n_runs} runs)",
        times_ms[n_runs / 2]
    );
}

/// Memory of a growing hold: what the program grows by when it is copied.
fn weighed_kb(growing: &Growing, kept: &mut Vec<Growing>) -> f64 {
    let before = resident_kb();
    kept.extend((0..N_COPIES).map(|_| growing.clone()));
    (resident_kb() - before) / N_COPIES as f64
}

/// Memory that the program has now.
fn resident_kb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|l| l.starts_with("VmRSS:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

/// Processor and number of cores.
fn machine() -> String {
    let info = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let model = info.lines().find(|line| line.starts_with("model name"));
    let model = model.and_then(|line| line.split_once(": "));
    let n_cores = std::thread::available_parallelism().map_or(0, usize::from);
    format!("{} ({n_cores} cores)", model.map_or("processor", |m| m.1))
}
