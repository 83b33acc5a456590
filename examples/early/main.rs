//! What does it cost and save to end a hold as soon as it is decided?
//!
//! `cargo run --release --example early -- --n 5000` draws holds over the domain of the coverage
//! campaign, each of ten minutes, looks at each as the program does live, and judges it against
//! limits about the truth and, where it is tight, about its own uncertainty.

#[path = "../coverage/chance.rs"]
mod chance;
#[expect(dead_code, reason = "the coverage campaign uses more of it")]
#[path = "../coverage/draw.rs"]
mod draw;
#[path = "../coverage/draw_oil.rs"]
mod draw_oil;
#[expect(dead_code, reason = "the coverage campaign uses more of it")]
#[path = "../coverage/draw_sensors.rs"]
mod draw_sensors;
#[path = "../coverage/in_order.rs"]
mod in_order;
mod looked;
#[expect(dead_code, reason = "the coverage campaign uses more of it")]
#[path = "../coverage/play.rs"]
mod play;
mod report;
#[path = "../coverage/setup_text.rs"]
mod setup_text;
#[expect(dead_code, reason = "the coverage campaign uses more of it")]
#[path = "../coverage/statistics.rs"]
mod statistics;

use anyhow::Context;
use clap::Parser;
use looked::Row;
use looked::looked;
use std::path::PathBuf;

/// Holds that end as decided: risk and time.
#[derive(Debug, Parser)]
struct Arguments {
    /// How many holds are drawn.
    #[arg(long, default_value_t = 1000)]
    n: u64,
    /// Number of the first.
    #[arg(long, default_value_t = 0)]
    from: u64,
    /// Seed of all holds.
    #[arg(long, default_value_t = 9)]
    seed: u64,
    /// File of the rows; written anew.
    #[arg(long, default_value = "target/early.csv")]
    out: PathBuf,
    /// Threads.
    #[arg(long, default_value_t = 1)]
    threads: usize,
    /// Leave holds of tight cylinders out: only those that leak have a limit at the truth.
    #[arg(long)]
    leaking: bool,
    /// Only report what these files have.
    #[arg(long, num_args = 1..)]
    table: Vec<PathBuf>,
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    if arguments.table.is_empty() {
        let mut out = csv::Writer::from_path(&arguments.out)
            .with_context(|| format!("cannot write {}", arguments.out.display()))?;
        in_order::in_order(
            arguments.from..arguments.from + arguments.n,
            arguments.threads,
            |index| Ok(looked(arguments.seed, index, arguments.leaking)),
            |_, rows: anyhow::Result<Vec<Row>>| {
                for row in rows? {
                    out.serialize(row)?;
                }
                out.flush()?;
                Ok(())
            },
        )?;
    }
    let files = match arguments.table.is_empty() {
        true => vec![arguments.out],
        false => arguments.table,
    };
    let mut rows: Vec<Row> = Vec::new();
    for file in files {
        let mut reader = csv::Reader::from_path(&file)
            .with_context(|| format!("cannot read {}", file.display()))?;
        // The last line may be half a one while a campaign goes on.
        rows.extend(reader.deserialize::<Row>().map_while(Result::ok));
    }
    print!("{}", report::report(&rows));
    Ok(())
}
