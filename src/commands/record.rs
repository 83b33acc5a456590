//! `stillrod record`: a test with a real board, or by eye.

use super::report::report;
use super::runtime;
use clap::Args;
use std::path::PathBuf;
use std::time::Duration;
use stillrod::daemon::conduct::Task;
use stillrod::daemon::conduct::record;
use stillrod::daemon::setup_file::setup_text;
use stillrod::daemon::shop_file::shop_text;

/// How long an adapter that was pulled is waited for.
const PATIENCE: Duration = Duration::from_secs(60);

/// What comes behind the options in the help.
pub const HELP: &str = "Examples:\n  \
stillrod record --port /dev/serial/by-id/usb-board --setup setup.toml --shop shop.toml\n  \
stillrod record --setup by-eye.toml --shop shop.toml      gauge, dial, thermometer and cup, no board\n\n\
For one hold set pressure and plumbing first; recording begins at once. A setup with a [procedure]\n\
is gone through step by step, with answers typed here. Instruments under [by_eye] are asked for when it is\n\
time to read them; `wrong` takes the last reading back. A name under /dev/serial/by-id stays the same\n\
when the adapter is plugged in again. Ctrl-C ends the recording as interrupted, and nothing else.";

/// What is asked.
#[derive(Args)]
pub struct Record {
    /// The serial adapter; none for a setup whose instruments you read yourself.
    #[arg(long, value_name = "PORT")]
    port: Option<PathBuf>,
    /// What is on the bench.
    #[arg(long, value_name = "FILE")]
    setup: PathBuf,
    /// The shop and its limits.
    #[arg(long, value_name = "FILE")]
    shop: Option<PathBuf>,
    /// Folder for recordings, papers and the register.
    #[arg(long, default_value = "stillrod-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Print the record as JSON.
    #[arg(long)]
    json: bool,
}

/// Records and judges; returns the exit status.
///
/// # Errors
/// If a file or the adapter cannot be used, or nothing can be stored.
pub fn run(asked: Record) -> anyhow::Result<u8> {
    let task = Task {
        setup: setup_text(&asked.setup)?,
        shop: asked.shop.map(|path| shop_text(&path)).transpose()?,
        practice: String::new(),
        word: "hold".into(),
        patience: PATIENCE,
        folder: asked.data,
        quiet: asked.json,
    };
    let conducted = runtime()?.block_on(record(&task, asked.port.as_deref()))?;
    Ok(report(conducted, &task.folder, asked.json))
}
