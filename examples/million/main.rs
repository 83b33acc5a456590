//! How quick is a large register? Makes one of invented tests and jobs, and times what people
//! ask of it.
//!
//! `cargo run --release --example million` makes `target/million.db` with 1,000,000 tests of 25
//! years and 250,000 jobs (it takes a quarter of an hour and 6 GB) and measures; a file that is
//! there is only measured. `--tests` makes a smaller one. Every row is written by the register's
//! own code, thousands of them in one transaction. The record behind a real hold is 14 kB long;
//! a million of those would be 16 GB, so here it has 4.5 kB unless `--record-bytes` says otherwise.
//! Measured: most searches take 1 to 6 ms (median), several words together 21 ms, the history of a
//! unit 8 ms, opening 50 ms with nothing of the file in memory; the table is in DEVELOPERS.md.

mod depot;
mod made;
mod timed;

use clap::Parser;
use std::path::PathBuf;
use stillrod::register::Register;

/// Makes a large register of invented tests and times what people ask of it.
#[derive(Debug, Parser)]
struct Arguments {
    /// The file; made if it is not there.
    #[arg(long, default_value = "target/million.db")]
    file: PathBuf,
    /// How many tests a new one gets.
    #[arg(long, default_value_t = 1_000_000)]
    tests: u32,
    /// Length of the record behind each paper, bytes.
    #[arg(long, default_value_t = 4_500)]
    record_bytes: usize,
    /// How many questions of each kind are asked.
    #[arg(long, default_value_t = 300)]
    questions: u32,
    /// Check the whole file as well.
    #[arg(long)]
    whole: bool,
}

#[tokio::main]
async fn main() -> anyhow::Result<()> {
    let asked = Arguments::parse();
    if !asked.file.exists() {
        let register = Register::open(&asked.file).await?;
        made::fill(&register, asked.tests, asked.record_bytes).await?;
        register.close().await;
    }
    timed::cold(&asked.file).await?;
    let register = Register::open(&asked.file).await?;
    timed::questions(&register, asked.questions).await?;
    timed::entering(&register, asked.questions, asked.record_bytes).await?;
    register.close().await;
    if asked.whole {
        timed::whole(&asked.file).await?;
    }
    Ok(())
}
