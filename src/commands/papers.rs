//! `stillrod withdraw`, `paper` and `label`: papers that no longer count, copies, labels of units.

use super::Data;
use super::block_on;
use anyhow::Context;
use clap::Args;
use std::path::PathBuf;
use stillrod::daemon::label::label;
use stillrod::daemon::reissue::duplicate;
use stillrod::daemon::reissue::withdraw;
use stillrod::daemon::shop_file::shop_text;
use stillrod::settings::Shop;

/// What comes behind the options of `withdraw` in the help.
pub const WITHDRAW_HELP: &str = "Example:\n  \
stillrod withdraw TV-2026-0031 --by \"bench technician\" --reason \"wrong cylinder on the bench\"\n\n\
The paper stays in the register, with the reason, and cannot be taken back: a new test makes a new paper.\n\
The shop's own copy is marked across each page; ask for the one that was handed out.";

/// What comes behind the options of `paper` in the help.
pub const PAPER_HELP: &str = "Example:\n  \
stillrod paper TV-2026-0031    writes papers/TV-2026-0031-duplicate.pdf, marked as a duplicate\n\n\
It is made from the recording and says what was entered then, or is not made.";

/// What `withdraw` is asked for.
#[derive(Args)]
pub struct Withdraw {
    /// Number of the paper.
    number: String,
    /// Who says so: a role.
    #[arg(long, value_name = "ROLE")]
    by: String,
    /// Why.
    #[arg(long, value_name = "WORDS")]
    reason: String,
    #[command(flatten)]
    data: Data,
}

/// Withdraws a paper.
///
/// # Errors
/// If the register refuses, or the copy cannot be marked.
pub fn withdraw_paper(asked: &Withdraw) -> anyhow::Result<u8> {
    block_on(async {
        let (folder, register) = asked.data.open_known().await?;
        let what = (
            asked.number.as_str(),
            asked.by.as_str(),
            asked.reason.as_str(),
        );
        let path = withdraw(&folder, &register, what).await?;
        println!(
            "{} is withdrawn; {} is marked",
            asked.number,
            path.display()
        );
        println!("Ask for the copy that was handed out.");
        Ok(0)
    })
}

/// What `paper` is asked for.
#[derive(Args)]
pub struct Paper {
    /// Number of the paper.
    number: String,
    #[command(flatten)]
    data: Data,
}

/// Makes a paper again, as a duplicate.
///
/// # Errors
/// If it cannot be made, or would say something else than the one before.
pub fn paper(asked: &Paper) -> anyhow::Result<u8> {
    block_on(async {
        let (folder, register) = asked.data.open_known().await?;
        let path = duplicate(&folder, &register, &asked.number).await?;
        println!("{}", path.display());
        Ok(0)
    })
}

/// What comes behind the options of `label` in the help.
pub const LABEL_HELP: &str = "Example:\n  \
stillrod label TV-0312 --shop shop.toml    writes papers/label-TV-0312.pdf, 62 mm by 29 mm\n\n\
It has the tag in letters and as a QR code, so that the unit is found again, and no result.";

/// What `label` is asked for.
#[derive(Args)]
pub struct Label {
    /// Tag of the unit.
    tag: String,
    /// The shop whose name it has.
    #[arg(long, value_name = "FILE")]
    shop: Option<PathBuf>,
    #[command(flatten)]
    data: Data,
}

/// Makes the label of a unit.
///
/// # Errors
/// If there is no such unit, or the label cannot be made.
pub fn label_of(asked: &Label) -> anyhow::Result<u8> {
    let shop = match &asked.shop {
        Some(path) => {
            let (file, text) = shop_text(path)?;
            Shop::parse(&file, &text).context("the shop file")?.name
        }
        None => String::new(),
    };
    block_on(async {
        let (folder, register) = asked.data.open_known().await?;
        let path = label(&folder, &register, &asked.tag, &shop).await?;
        println!("{}", path.display());
        Ok(0)
    })
}
