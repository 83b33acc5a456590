//! `stillrod verify`: what is said of each file, and the exit status.

use anyhow::Context;
use clap::Args;
use std::path::PathBuf;
use stillrod::daemon::verify::Grade;
use stillrod::daemon::verify::KeptHead;
use stillrod::daemon::verify::KeyList;
use stillrod::daemon::verify::head;
use stillrod::daemon::verify::verify;

/// What comes behind the options in the help.
pub const HELP: &str = "Examples:\n  \
stillrod verify TV-2026-0031.pdf --key public-keys.txt   a paper, with the list that the shop hands out\n  \
stillrod verify stillrod-data/register.db                 all rows, their chain, and the recordings beside it\n  \
stillrod verify --head stillrod-data/register.db          number and hash of the last row, to keep elsewhere\n  \
stillrod verify --head-was TV-2026-0031 0123456789abcdef register.db\n\n\
Exit status: 0 only if every file is whole and its key is in the list; 10 if something was changed;\n\
1 if a file cannot be read; 20 if something is not signed, or whose key it is cannot be told.\n\n\
Limits: a chain does not show that its own end was cut off, unless its head was kept elsewhere\n\
(--head, --head-was; each paper has the head it was issued with on its back page). Whoever has the secret\n\
key, or changed the list of public keys, can write anything.";

/// What is asked.
#[derive(Args)]
pub struct Verify {
    /// Papers (.pdf), records (.json), recordings (.h5) or a register; told apart by content.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// The shop's list of public keys; that of the data folder without.
    #[arg(long, value_name = "public-keys.txt")]
    key: Option<PathBuf>,
    /// The data folder whose list of keys is used without --key.
    #[arg(long, default_value = "stillrod-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Print number and hash of a register's last row, and nothing else.
    #[arg(long, conflicts_with = "head_was")]
    head: bool,
    /// Check that a head that was kept elsewhere is still in a register's chain.
    #[arg(long, num_args = 2, value_names = ["NUMBER", "HASH"])]
    head_was: Option<Vec<String>>,
}

/// Looks at the files and tells; returns the exit status of the worst.
///
/// # Errors
/// If the list of keys cannot be read, or what was typed is no head.
pub fn run(asked: &Verify) -> anyhow::Result<u8> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .context("the task runtime of this program cannot be started")?;
    let mut worst = Grade::Whole;
    if asked.head {
        for path in &asked.files {
            let (line, grade) = runtime.block_on(head(path))?;
            println!("{line}");
            if grade == Grade::Changed {
                eprintln!("stillrod: this register is not as it was signed; see `stillrod verify`");
            }
            worst = worst.max(grade);
        }
        return Ok(worst.exit_status());
    }
    let keys = KeyList::find(asked.key.as_deref(), &asked.data)?;
    let kept = match asked.head_was.as_deref() {
        Some([number, hash]) => Some(KeptHead::new(number, hash)?),
        _ => None,
    };
    for path in &asked.files {
        let told = runtime.block_on(verify(path, &keys, kept.as_ref()));
        println!("{}", path.display());
        told.lines.iter().for_each(|line| println!("  {line}"));
        worst = worst.max(told.grade);
    }
    Ok(worst.exit_status())
}
