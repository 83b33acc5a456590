//! `stillrod job` and `stillrod attach`: why a unit is here, what was found, pictures of it.

use super::Data;
use super::block_on;
use anyhow::Context;
use anyhow::bail;
use clap::Args;
use std::path::PathBuf;
use stillrod::daemon::attach::Of;
use stillrod::daemon::attach::attach;
use stillrod::daemon::clock::own_zone;
use stillrod::daemon::jobs::EXAMPLE;
use stillrod::daemon::jobs::enter_sheet;

/// What comes behind the options of `job` in the help.
pub const JOB_HELP: &str = "Examples:\n  \
stillrod job --example > plough.toml    a sheet to copy and fill in\n  \
stillrod job plough.toml                enter it; shows what rebuild and replacement cost\n\n\
Entered again with `number = 12` below [job] it is another version of job 12; what it said before is kept.\n\
Tests of the unit belong to its job while that is open; `went_out = 2026-11-23` closes it.";

/// What comes behind the options of `attach` in the help.
pub const ATTACH_HELP: &str = "Example:\n  \
stillrod attach TV-0312 gland.jpg --job 12 --about \"score below the gland\" --by \"fitter 2\"";

/// What `job` is asked for.
#[derive(Args)]
pub struct Job {
    /// The sheet.
    #[arg(value_name = "SHEET.toml", required_unless_present = "example")]
    sheet: Option<PathBuf>,
    /// Print a sheet to copy and fill in.
    #[arg(long)]
    example: bool,
    #[command(flatten)]
    data: Data,
}

/// Enters a job sheet.
///
/// # Errors
/// If the sheet cannot be used, or the register refuses.
pub fn job(asked: &Job) -> anyhow::Result<u8> {
    let Some(path) = asked.sheet.as_ref().filter(|_| !asked.example) else {
        print!("{EXAMPLE}");
        return Ok(0);
    };
    let text = std::fs::read_to_string(path)
        .with_context(|| format!("{} cannot be read; check the path", path.display()))?;
    let named = (path.display().to_string(), text);
    let (entered, said) = block_on(async {
        let (_, register) = asked.data.open().await?;
        enter_sheet(&register, &named, &own_zone()).await
    })?;
    print!("{said}");
    match entered.unchanged {
        true => println!("Job        {} says nothing new", entered.number),
        false => println!("Job        {}, version {}", entered.number, entered.version),
    }
    if entered.version == 1 && !entered.unchanged {
        println!(
            "Write `number = {}` below [job] before you enter the sheet again.",
            entered.number
        );
    }
    Ok(0)
}

/// What `attach` is asked for.
#[derive(Args)]
pub struct Attach {
    /// Tag of the unit.
    tag: String,
    /// Photos or other files.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Number of the job they belong to.
    #[arg(long, value_name = "NUMBER")]
    job: Option<i64>,
    /// What they show.
    #[arg(long, default_value = "", value_name = "WORDS")]
    about: String,
    /// Who adds them: a role.
    #[arg(long, value_name = "ROLE")]
    by: String,
    #[command(flatten)]
    data: Data,
}

/// Adds files to a unit.
///
/// # Errors
/// If one cannot be added; those before it are.
pub fn attach_files(asked: &Attach) -> anyhow::Result<u8> {
    if asked.by.trim().is_empty() {
        bail!("say who adds the file: --by \"fitter 2\"");
    }
    block_on(async {
        let (folder, register) = asked.data.open_known().await?;
        for file in &asked.files {
            let of = Of {
                tag: &asked.tag,
                job: asked.job,
                about: &asked.about,
                role: &asked.by,
            };
            let (path, is_new) = attach(&folder, &register, file, of).await?;
            match is_new {
                true => println!("{} is kept as {}", file.display(), path.display()),
                false => println!("{} was there already", file.display()),
            }
        }
        Ok(0)
    })
}
