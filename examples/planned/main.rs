//! Is a hold as good as it was foreseen?
//!
//! `cargo run --release --example planned -- --n 250` draws cylinders, sensors and heat over the
//! domain of the coverage campaign and takes their leaks away. The ± that is foreseen from the
//! setup alone is compared with the one that is reached when the hold is played; and a hold of the
//! length that was said to be needed is played, with a tight unit and with one at twice the limit.

#[path = "../coverage/chance.rs"]
mod chance;
mod compared;
#[expect(dead_code, reason = "the coverage campaign uses more of it")]
#[path = "../coverage/draw.rs"]
mod draw;
#[path = "../coverage/draw_oil.rs"]
mod draw_oil;
#[path = "../coverage/draw_sensors.rs"]
mod draw_sensors;
#[path = "../coverage/in_order.rs"]
mod in_order;
#[expect(dead_code, reason = "the coverage campaign uses more of it")]
#[path = "../coverage/play.rs"]
mod play;
mod report;
#[path = "../coverage/setup_text.rs"]
mod setup_text;

use anyhow::Context;
use clap::Parser;
use compared::Row;
use compared::compared;
use std::path::PathBuf;

/// Foreseen against reached.
#[derive(Debug, Parser)]
struct Arguments {
    /// How many holds are drawn.
    #[arg(long, default_value_t = 250)]
    n: u64,
    /// Number of the first of them.
    #[arg(long, default_value_t = 0)]
    from: u64,
    /// Seed of all holds.
    #[arg(long, default_value_t = 21)]
    seed: u64,
    /// File of the rows; written anew.
    #[arg(long, default_value = "target/planned.csv")]
    out: PathBuf,
    /// Threads.
    #[arg(long, default_value_t = 1)]
    threads: usize,
    /// Only report what this file has.
    #[arg(long)]
    table: bool,
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    if !arguments.table {
        let mut out = csv::Writer::from_path(&arguments.out)
            .with_context(|| format!("cannot write {}", arguments.out.display()))?;
        in_order::in_order(
            arguments.from..arguments.from + arguments.n,
            arguments.threads,
            |index| Ok(compared(arguments.seed, index)),
            |_, rows: anyhow::Result<Vec<Row>>| {
                for row in rows? {
                    out.serialize(row)?;
                }
                out.flush()?;
                Ok(())
            },
        )?;
    }
    let mut reader = csv::Reader::from_path(&arguments.out)
        .with_context(|| format!("cannot read {}", arguments.out.display()))?;
    // The last line may be half a one while a campaign goes on.
    let rows: Vec<Row> = reader.deserialize::<Row>().map_while(Result::ok).collect();
    print!("{}", report::report(&rows));
    Ok(())
}
