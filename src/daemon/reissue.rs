//! Papers that are made again: a duplicate, or one that is marked as withdrawn.
//!
//! A paper is made from the recording, judged anew, and from the row. It is handed out only if
//! that says what was entered then; a program that would judge otherwise today refuses.

use super::clock;
use super::folder::DataFolder;
use super::found::Filed;
use super::found::found;
use super::paper::set_paper;
use super::paper::sha256_hex;
use super::paper::standing;
use super::paper::write_whole;
use crate::archive;
use crate::certificate::Standing;
use crate::register::Register;
use crate::register::Withdrawal;
use anyhow::Context;
use anyhow::bail;
use std::path::PathBuf;

/// Withdraws a paper: enters who says so and why, and marks the shop's own copy. Returns where
/// that is.
///
/// # Errors
/// If there is no such number, it is withdrawn already, or role or reason are missing; if the copy
/// cannot be made again, which changes nothing of the withdrawal.
pub async fn withdraw(
    folder: &DataFolder,
    register: &Register,
    (number, role, reason): (&str, &str, &str),
) -> anyhow::Result<PathBuf> {
    let entry = register.find_by_number(number).await?;
    let time_zone = entry.map(|entry| entry.time_zone).unwrap_or_default();
    let withdrawal = Withdrawal {
        number: number.into(),
        at_utc_ms: clock::now_utc_ms(),
        time_zone,
        role: role.into(),
        reason: reason.into(),
    };
    register.withdraw(&withdrawal).await?;
    mark(folder, register, number).await.with_context(|| {
        format!("{number} is withdrawn, but the copy in `papers` could not be marked; write on it by hand")
    })
}

/// Marks the shop's own copy of a paper that was withdrawn.
pub(super) async fn mark(
    folder: &DataFolder,
    register: &Register,
    number: &str,
) -> anyhow::Result<PathBuf> {
    make_again(folder, register, number, None).await
}

/// Makes the paper of a number again, as a duplicate, or as withdrawn if it is. Returns where it is.
///
/// # Errors
/// If there is no such number, its recording is not there or another, or this program would say
/// something else of it than was entered.
pub async fn duplicate(
    folder: &DataFolder,
    register: &Register,
    number: &str,
) -> anyhow::Result<PathBuf> {
    make_again(folder, register, number, Some(Standing::Duplicate)).await
}

async fn make_again(
    folder: &DataFolder,
    register: &Register,
    number: &str,
    as_a_copy: Option<Standing>,
) -> anyhow::Result<PathBuf> {
    let Some(entry) = register.find_by_number(number).await? else {
        bail!(
            "there is no paper {number} in {}",
            register.path().display()
        );
    };
    let archive = folder.recordings().join(&entry.archive_file);
    let hash = sha256_hex(&archive)
        .with_context(|| format!("the recording of {number} is not there; put it back first"))?;
    if hash != entry.archive_sha256 {
        bail!(
            "{} is another file than was entered as {number}; nothing is made from it",
            archive.display()
        );
    }
    let recording = archive::read(&archive)?;
    let found = found(&recording, None)?;
    let filed = Filed {
        path: &archive,
        sha256_hex: &hash,
        number: Some(number),
    };
    let today = found.record_json(&recording, filed)?;
    let entered = register.record_json(number).await?.unwrap_or_default();
    if without_version(&today) != without_version(&entered) {
        bail!(
            "this program ({}) would say something else of the recording than was entered as {number} \
             by {}; make the copy with that version, or copy the paper itself",
            super::paper::SOFTWARE,
            entry.software
        );
    }
    let (standing, ending) = match (standing(register, number).await?, as_a_copy) {
        // A withdrawn paper is that before it is anything else.
        (Standing::Original, Some(copy)) => (copy, "-duplicate"),
        (standing, Some(_)) => (standing, "-duplicate"),
        (standing, None) => (standing, ""),
    };
    let (bytes, _) = set_paper(folder, register, (&found, &recording, filed), standing).await?;
    let path = folder.papers().join(format!("{number}{ending}.pdf"));
    write_whole(&path, &bytes)?;
    Ok(path)
}

/// A record without the line that names the program's version.
fn without_version(record: &str) -> String {
    let lines = record
        .lines()
        .filter(|line| !line.trim_start().starts_with("\"stillrod\":"));
    lines.collect::<Vec<_>>().join("\n")
}
