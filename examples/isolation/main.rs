//! Which way does the oil go, and is it so? A campaign of investigations on the practice
//! bench.
//!
//! `cargo run --release --example isolation -- --n 2000` draws machines with no leak, one
//! or two, holds them in the phases a shop would plan, lets the program say which way the
//! oil takes, and counts how often that is right, open or wrong. Where a way is open and a
//! phase is advised, that phase is held too. `--table FILE` reports a file without making
//! more, `--show N` prints all of one investigation.

#[path = "../coverage/chance.rs"]
mod chance;
#[path = "../coverage/draw.rs"]
#[allow(dead_code, reason = "the coverage campaign draws whole holds with it")]
mod draw;
#[path = "../coverage/draw_oil.rs"]
mod draw_oil;
#[path = "../coverage/draw_sensors.rs"]
#[allow(dead_code, reason = "the poorest sensors are left out here")]
mod draw_sensors;
#[path = "../coverage/in_order.rs"]
mod in_order;
#[path = "../coverage/play.rs"]
#[allow(dead_code, reason = "the coverage campaign asks for more")]
mod play;
#[path = "../coverage/see.rs"]
mod see;
#[path = "../coverage/setup_text.rs"]
mod setup_text;
#[path = "../coverage/statistics.rs"]
#[allow(dead_code, reason = "the coverage campaign asks for more")]
mod statistics;
#[path = "../../tests/support/ways.rs"]
mod ways;

mod bench;
mod investigate;
mod machine;
mod plan;
mod rows;
mod score;
mod show;
mod table;
mod truth;

use anyhow::Context;
use clap::Parser;
use std::fs;
use std::io::Write;
use std::num::NonZero;
use std::path::Path;
use std::path::PathBuf;

/// A campaign of investigations on the practice bench: is the part that is named the one?
#[derive(Debug, Parser)]
struct Arguments {
    /// How many investigations.
    #[arg(long, default_value_t = 200)]
    n: u64,
    /// The number of the first.
    #[arg(long, default_value_t = 0)]
    from: u64,
    /// Seed of all.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// File of the rows; written anew.
    #[arg(long, default_value = "target/isolation.csv")]
    out: PathBuf,
    /// Threads; as many as the machine can run at once if not given.
    #[arg(long)]
    threads: Option<usize>,
    /// Only report what a file has.
    #[arg(long)]
    table: Option<PathBuf>,
    /// Print everything of one investigation instead.
    #[arg(long)]
    show: Option<u64>,
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    if let Some(number) = arguments.show {
        print!("{}", show::show(arguments.seed, number));
        return Ok(());
    }
    let file = match &arguments.table {
        Some(file) => file,
        None => {
            make(&arguments)?;
            &arguments.out
        }
    };
    let (first_line, rows) = read(file)?;
    print!("{}", table::table(&first_line, &rows));
    Ok(())
}

fn make(arguments: &Arguments) -> anyhow::Result<()> {
    let n_threads = arguments
        .threads
        .unwrap_or_else(|| std::thread::available_parallelism().map_or(1, NonZero::get));
    let file = &arguments.out;
    let mut out =
        fs::File::create(file).with_context(|| format!("cannot make {}", file.display()))?;
    writeln!(out, "# isolation: seed {}", arguments.seed)
        .with_context(|| format!("cannot write to {}", file.display()))?;
    let numbers = arguments.from..arguments.from + arguments.n;
    in_order::in_order(
        numbers.clone(),
        n_threads,
        |number| {
            let investigation = investigate::Investigation::of(arguments.seed, number);
            text(
                &rows::rows(number, &investigation),
                number == arguments.from,
            )
        },
        |number, text| {
            out.write_all(text?.as_bytes())
                .with_context(|| format!("cannot write to {}", file.display()))?;
            if (number + 1).is_multiple_of(50) {
                eprintln!("{} of {} investigations", number + 1, numbers.end);
            }
            Ok(())
        },
    )
}

fn text(rows: &[rows::Row], has_names: bool) -> anyhow::Result<String> {
    let mut writer = csv::WriterBuilder::new()
        .has_headers(has_names)
        .from_writer(Vec::new());
    for row in rows {
        writer.serialize(row).context("a row cannot be written")?;
    }
    let bytes = writer.into_inner().context("a row cannot be written")?;
    String::from_utf8(bytes).context("a row is no text")
}

fn read(file: &Path) -> anyhow::Result<(String, Vec<rows::Row>)> {
    let text =
        fs::read_to_string(file).with_context(|| format!("cannot read {}", file.display()))?;
    let (line, rest) = text
        .split_once('\n')
        .filter(|(line, _)| line.starts_with("# isolation"))
        .with_context(|| format!("{} is no file of this campaign", file.display()))?;
    let mut reader = csv::ReaderBuilder::new().from_reader(rest.as_bytes());
    let rows: Result<Vec<rows::Row>, csv::Error> = reader.deserialize().collect();
    Ok((line.to_owned(), rows.context("a row cannot be read")?))
}
