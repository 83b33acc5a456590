//! `stillrod backup`, `restore`, `export` and `import`: the record on other disks, in other programs.

use super::Data;
use super::block_on;
use clap::Args;
use std::path::PathBuf;
use stillrod::daemon::exchange::export;
use stillrod::daemon::exchange::import;
use stillrod::daemon::folder::DataFolder;
use stillrod::daemon::moving::Copied;
use stillrod::daemon::moving::backup;
use stillrod::daemon::moving::restore;

/// What comes behind the options of `backup` in the help.
pub const BACKUP_HELP: &str = "Moving to another computer, in two commands:\n  \
stillrod backup /media/stick/stillrod --with-key       here\n  \
stillrod restore /media/stick/stillrod                 there\n\n\
May run while the bench is in use. The copy is checked: the register page by page, rows and chain by their signatures,\n\
recordings by their hashes. Files that are there already are not copied again. Without --with-key the secret key stays\n\
here and the other computer makes its own; with it, keep the stick where you keep the key of the safe.";

/// What comes behind the options of `export` in the help.
pub const EXPORT_HELP: &str = "Example:\n  \
stillrod export for-the-office\n\n\
units, jobs, tests and figures, each as .csv (spreadsheets) and .jsonl (a JSON object in each line). Recordings are\n\
HDF5 files and can be copied as they are.";

/// What comes behind the options of `import` in the help.
pub const IMPORT_HELP: &str = "Examples:\n  \
stillrod import units.csv --by office              a table with a column `tag`, from any spreadsheet\n  \
stillrod import other/tests.jsonl --by office      tests of another bench; recordings beside it or in other/recordings\n  \
stillrod import run.h5 --by office                 one recording\n\n\
A unit that is known stays as its last test described it. A test is judged here and gets a number of this register.";

/// What `backup` is asked for.
#[derive(Args)]
pub struct Backup {
    /// Folder for the copy.
    #[arg(value_name = "FOLDER")]
    to: PathBuf,
    /// Take the secret key along.
    #[arg(long)]
    with_key: bool,
    #[command(flatten)]
    data: Data,
}

/// Copies the shop's record.
///
/// # Errors
/// If the copy cannot be written, or is not whole.
pub fn backup_to(asked: &Backup) -> anyhow::Result<u8> {
    block_on(async {
        let (folder, register) = asked.data.open_known().await?;
        register.close().await;
        let (copied, told) = backup(&folder, &asked.to, asked.with_key).await?;
        say(copied, &told);
        println!("Copy       {}", asked.to.display());
        Ok(0)
    })
}

fn say(copied: Copied, told: &[String]) {
    told.iter().for_each(|line| println!("{line}"));
    let key = match copied.has_key {
        true => ", the secret key among them",
        false => ", without the secret key",
    };
    println!(
        "{} files written, {} were there already{key}",
        copied.n_written, copied.n_there
    );
}

/// What `restore` is asked for.
#[derive(Args)]
pub struct Restore {
    /// Folder with the copy.
    #[arg(value_name = "FOLDER")]
    from: PathBuf,
    #[command(flatten)]
    data: Data,
}

/// Puts a copy in place.
///
/// # Errors
/// If there is something already, or the copy is not whole.
pub fn restore_from(asked: &Restore) -> anyhow::Result<u8> {
    block_on(async {
        let (copied, told) = restore(&asked.from, &asked.data.data).await?;
        say(copied, &told);
        println!("Data       {}", asked.data.data.display());
        Ok(0)
    })
}

/// What `export` is asked for.
#[derive(Args)]
pub struct Export {
    /// Folder for the tables.
    #[arg(value_name = "FOLDER")]
    to: PathBuf,
    #[command(flatten)]
    data: Data,
}

/// Writes tables.
///
/// # Errors
/// If one is there already, or cannot be written.
pub fn export_to(asked: &Export) -> anyhow::Result<u8> {
    block_on(async {
        let (_, register) = asked.data.open_known().await?;
        let said = export(&register, &asked.to).await?;
        said.iter().for_each(|line| println!("{line}"));
        Ok(0)
    })
}

/// What `import` is asked for.
#[derive(Args)]
pub struct Import {
    /// Tables or recordings.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Who brings them in: a role.
    #[arg(long, value_name = "ROLE")]
    by: String,
    #[command(flatten)]
    data: Data,
}

/// Takes in tables and recordings.
///
/// # Errors
/// If one cannot be read; those before it are in.
pub fn import_files(asked: &Import) -> anyhow::Result<u8> {
    block_on(async {
        let (folder, register): (DataFolder, _) = asked.data.open().await?;
        for file in &asked.files {
            let said = import(&folder, &register, file, &asked.by).await?;
            said.iter().for_each(|line| println!("{line}"));
        }
        Ok(0)
    })
}
