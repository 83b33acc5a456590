//! `stillrod calibrate`: the curve of a sensor through points against a reference.

use super::named_text;
use super::runtime;
use anyhow::Context;
use clap::Args;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;
use stillrod::daemon::calibrate::Calibrated;
use stillrod::daemon::calibrate::calibrate;
use stillrod::daemon::calibrate_walk::calibrate_walk;

/// What comes behind the options in the help.
pub const HELP: &str = "Examples:\n  \
stillrod calibrate points.toml --write p-11.toml\n  \
stillrod calibrate points.toml --port /dev/serial/by-id/usb-board --write p-11.toml\n\n\
The points stand in a table [sensors.p_cap.calibration], in a file of their own or in a setup. What is written\n\
goes below [sensors.p_cap] of the setup; the curve is fitted again from its points each time a hold is judged.\n\
With --port they are taken now: leave `points` away, bring the reference to each value and type what it shows.";

/// What is asked.
#[derive(Args)]
pub struct Calibrate {
    /// Points, or a setup with points.
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Write the tables for a setup to this new file.
    #[arg(long, value_name = "FILE")]
    write: Option<PathBuf>,
    /// Take the points now: the serial adapter of the board that reads the sensor.
    #[arg(long, value_name = "PORT")]
    port: Option<PathBuf>,
    /// Which sensor, where several have no points yet.
    #[arg(long, value_name = "SENSOR", requires = "port")]
    sensor: Option<String>,
}

/// Fits, and writes if that is asked.
///
/// # Errors
/// If the points cannot be used, the adapter cannot be read, or the file is there already.
pub fn run(asked: Calibrate) -> anyhow::Result<u8> {
    let file = named_text(asked.file)?;
    if let Some(path) = asked.write.as_deref().filter(|path| path.exists()) {
        anyhow::bail!("{} is there already; name a new file", path.display());
    }
    let found = match asked.port {
        Some(port) => runtime()?.block_on(calibrate_walk(&file, &port, asked.sensor.as_deref())),
        None => calibrate(&file),
    };
    write_calibrated(&found?, asked.write.as_deref())
}

fn write_calibrated(found: &[Calibrated], write: Option<&Path>) -> anyhow::Result<u8> {
    for sensor in found {
        println!("{}", sensor.text);
    }
    if let Some(path) = write {
        let blocks: Vec<&str> = found.iter().map(|sensor| sensor.block.as_str()).collect();
        // A calibration that stands is not written over.
        let made = std::fs::File::create_new(path);
        made.and_then(|mut file| file.write_all(blocks.join("\n").as_bytes()))
            .with_context(|| format!("{} cannot be written; name a new file", path.display()))?;
        println!("Written    {}", path.display());
    }
    Ok(0)
}
