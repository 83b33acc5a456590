//! The commands: what each is asked for, and what it shows.

pub mod calibrate;
pub mod find;
pub mod job;
pub mod judge;
pub mod key;
pub mod moving;
pub mod papers;
pub mod plan;
pub mod record;
pub mod rehearse;
pub mod report;
pub mod serve;
pub mod verify;

use anyhow::Context;
use clap::Args;
use std::path::PathBuf;
use stillrod::daemon::conduct::NamedText;
use stillrod::daemon::folder::DataFolder;
use stillrod::register::Register;

/// The data folder of a command that works on the register.
#[derive(Args)]
pub struct Data {
    /// Folder with recordings, papers and the register.
    #[arg(long, default_value = "stillrod-data", value_name = "FOLDER")]
    pub data: PathBuf,
}

impl Data {
    /// Opens folder and register, both made if there are none.
    pub async fn open(&self) -> anyhow::Result<(DataFolder, Register)> {
        let folder = DataFolder::open(&self.data)?;
        let register = Register::open(&folder.register()).await?;
        Ok((folder, register))
    }

    /// Opens folder and register to read what is there.
    pub async fn open_known(&self) -> anyhow::Result<(DataFolder, Register)> {
        if !self.data.join("register.db").exists() {
            anyhow::bail!(
                "there is no register in {}; name the data folder with --data",
                self.data.display()
            );
        }
        self.open().await
    }
}

/// Runs a command to its end.
pub fn block_on<T>(work: impl Future<Output = anyhow::Result<T>>) -> anyhow::Result<T> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .context("the task runtime of this program cannot be started")?;
    runtime.block_on(work)
}

/// Tasks on all cores.
pub fn runtime() -> anyhow::Result<tokio::runtime::Runtime> {
    tokio::runtime::Runtime::new().context("the task runtime of this program cannot be started")
}

/// The text of a file, with its name for errors.
pub fn named_text(path: PathBuf) -> anyhow::Result<NamedText> {
    let text = std::fs::read_to_string(&path)
        .with_context(|| format!("{} cannot be read; check the path", path.display()))?;
    Ok((path.display().to_string(), text))
}
