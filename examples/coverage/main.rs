//! How honest is the account? A campaign on the practice bench.
//!
//! `cargo run --release --example coverage -- --n 10000` draws holds over a wide domain of
//! cylinders, oils and sensors, evaluates each as the program would, and counts how often
//! the stated 95 % interval holds the truth. The file of a campaign can be continued after
//! a stop at any moment; `--table` reports one without making more, `--show` prints all of
//! one hold.

mod campaign;
mod chance;
mod draw;
mod draw_oil;
mod draw_sensors;
mod in_order;
mod known;
mod play;
mod risk;
mod rows;
mod see;
mod setup_text;
mod show;
mod statistics;
mod strata;
mod table;

use anyhow::Context;
use clap::Parser;
use std::num::NonZero;
use std::path::PathBuf;
use stillrod::account::Term;

/// A campaign on the practice bench: does the stated interval hold the truth?
#[derive(Debug, Parser)]
struct Arguments {
    /// How many holds the file shall have.
    #[arg(long, default_value_t = 1000)]
    n: u64,
    /// Seed of all holds.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// File of the campaign; continued if it is there.
    #[arg(long, default_value = "target/coverage.csv")]
    out: PathBuf,
    /// Threads; as many as the machine can run at once if not given.
    #[arg(long)]
    threads: Option<usize>,
    /// A term of the account to leave out, to see what it is there for.
    #[arg(long)]
    without: Option<String>,
    /// Only report what the file has.
    #[arg(long)]
    table: bool,
    /// Only say how the ± compares with that of the same holds if all but the readings were
    /// known.
    #[arg(long)]
    known: bool,
    /// Print everything of one hold instead.
    #[arg(long)]
    show: Option<u64>,
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    let without = match &arguments.without {
        None => None,
        Some(word) => Some(Term::from_word(word).with_context(|| {
            let known: Vec<&str> = Term::ALL.iter().map(|term| term.word()).collect();
            format!("there is no term `{word}`; there are {}", known.join(", "))
        })?),
    };
    if let Some(index) = arguments.show {
        print!("{}", show::show(arguments.seed, index, without));
        return Ok(());
    }
    if arguments.known {
        print!("{}", known::table(arguments.seed, arguments.n));
        return Ok(());
    }
    if !arguments.table {
        let campaign = campaign::Campaign {
            seed: arguments.seed,
            without,
        };
        let n_threads = arguments
            .threads
            .unwrap_or_else(|| std::thread::available_parallelism().map_or(1, NonZero::get));
        let told = |n_done: u64| {
            if n_done.is_multiple_of(100) {
                eprintln!("{n_done} of {} holds", arguments.n);
            }
        };
        campaign.run(&arguments.out, arguments.n, n_threads, told)?;
    }
    let (first_line, rows) = campaign::read(&arguments.out)?;
    print!("{}", table::table(&first_line, &rows));
    Ok(())
}
