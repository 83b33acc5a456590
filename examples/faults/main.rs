//! What the practice bench's faults do to figures and outcomes, and what is said of runs
//! without any.
//!
//! `cargo run --release --example faults` prints the table of faults in one hold, `--procedure`
//! that of faults in a whole procedure; `--clean 1000` counts false alarms in runs with nothing
//! wrong, with `--procedure` in whole procedures.

#![allow(dead_code, reason = "parts are shared with tests and another campaign")]

#[path = "../coverage/chance.rs"]
mod chance;
mod clean;
#[path = "../coverage/draw.rs"]
mod draw;
#[path = "../coverage/draw_oil.rs"]
mod draw_oil;
#[path = "../coverage/draw_sensors.rs"]
mod draw_sensors;
mod line;
mod play;
mod procedure;
mod rig_run;
#[path = "../coverage/play.rs"]
mod sampled;
#[path = "../coverage/setup_text.rs"]
mod setup_text;
mod struck;
mod table;

use clap::Parser;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;
use stillrod::health::Weight;
use stillrod::rehearsal::injected;

/// Faults on the practice bench, and false alarms without any.
#[derive(Debug, Parser)]
struct Arguments {
    /// Count false alarms in so many clean runs instead.
    #[arg(long)]
    clean: Option<u64>,
    /// Do the faults to a whole procedure, as a shop tests.
    #[arg(long)]
    procedure: bool,
    /// Seed of the clean runs.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Only faults whose name contains this; all that is said of them.
    #[arg(long)]
    only: Option<String>,
}

fn main() {
    let arguments = Arguments::parse();
    match arguments.clean {
        Some(n) if arguments.procedure => false_alarms_in_procedures(arguments.seed, n),
        Some(n) => false_alarms(arguments.seed, n),
        None => faults(arguments.only.as_deref(), arguments.procedure),
    }
}

/// Does a job for each number below `n` on two threads; results in order.
fn in_parallel<T: Send>(n: usize, job: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let mut done: Vec<(usize, T)> = std::thread::scope(|scope| {
        let work = || {
            let mut own = Vec::new();
            loop {
                let index = next.fetch_add(1, Ordering::Relaxed);
                if index >= n {
                    return own;
                }
                own.push((index, job(index)));
            }
        };
        let threads = [scope.spawn(work), scope.spawn(work)];
        threads
            .into_iter()
            .flat_map(|t| t.join().expect("no panic"))
            .collect()
    });
    done.sort_by_key(|(index, _)| *index);
    done.into_iter().map(|(_, done)| done).collect()
}

fn false_alarms(seed: u64, n: u64) {
    let runs = in_parallel(n as usize, |index| clean::run(seed, index as u64));
    let n_told = runs.iter().filter(|run| run.is_told_of()).count();
    for run in &runs {
        for flag in &run.false_alarms {
            let weight = match flag.weight {
                Weight::Voids => "VOIDS",
                Weight::Remark => "remark",
            };
            println!("{}: {weight}: {}", run.name, flag.evidence);
        }
    }
    println!("{n_told} of {n} clean runs were told of");
}

fn false_alarms_in_procedures(seed: u64, n: u64) {
    let all = in_parallel(n as usize, |index| {
        procedure::wrongly_said(seed + index as u64)
    });
    let n_told = all.iter().filter(|said| !said.is_empty()).count();
    for (index, said) in all.iter().enumerate() {
        said.iter()
            .for_each(|why| println!("seed {}: {why}", seed + index as u64));
    }
    println!("{n_told} of {n} procedures with nothing wrong were told of");
}

fn faults(only: Option<&str>, in_procedure: bool) {
    let mut all = injected();
    all.retain(|fault| only.is_none_or(|part| fault.name.contains(part)));
    let rows = match in_procedure {
        false => {
            let bench = table::Bench::new();
            in_parallel(all.len(), |index| bench.row(&all[index]))
        }
        true => {
            all.retain(procedure::can_be);
            let rig = procedure::Rig::new();
            in_parallel(all.len(), |index| rig.row(&all[index]))
        }
    };
    let excused = match in_procedure {
        false => table::NEEDS_PROCEDURE,
        true => &[],
    };
    print!("{}", table::markdown(&rows));
    for row in &rows {
        tell(row, excused, only.is_some());
    }
    if in_procedure {
        for (name, why) in procedure::ONLY_IN_ONE_HOLD {
            println!("\nNot in this procedure: {name}: {why}.");
        }
    }
}

/// Deceits of a fault, and all that is said of it if that is asked for.
fn tell(row: &table::Row, excused: &[(&str, &str)], all: bool) {
    for (word, played) in [("tight", &row.tight), ("leaking", &row.leaking)] {
        let known = excused.iter().find(|(name, _)| *name == row.name);
        match (played.deceives(), known) {
            (true, Some((_, why))) => {
                println!("\nNot seen: {} ({word} cylinder): {why}.", row.name)
            }
            (true, None) => println!("\nDECEIVES: {} in a {word} cylinder", row.name),
            (false, _) => {}
        }
        if all {
            println!(
                "{} {word}: {} (without: {})",
                row.name, played.outcome, played.without
            );
            played.voids.iter().for_each(|v| println!("  - {v}"));
            played.remarks.iter().for_each(|r| println!("  ~ {r}"));
        }
    }
}
