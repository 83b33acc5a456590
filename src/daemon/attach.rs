//! Photos and other files of a unit: copied beside the register under their hash.

use super::clock;
use super::folder::DataFolder;
use super::paper::write_whole;
use crate::register::Attachment;
use crate::register::Register;
use crate::signature::Digest;
use anyhow::Context;
use anyhow::bail;
use std::path::Path;
use std::path::PathBuf;

/// Largest file that is taken, bytes.
const LARGEST: u64 = 100_000_000;

/// What a file is of.
#[derive(Debug, Clone, Copy)]
pub struct Of<'a> {
    /// Tag of the unit.
    pub tag: &'a str,
    /// Number of one of its jobs.
    pub job: Option<i64>,
    /// What it shows.
    pub about: &'a str,
    /// Who adds it, by role.
    pub role: &'a str,
}

/// Adds a file to a unit; returns where it lies, and whether it is new.
///
/// # Errors
/// If it cannot be read or copied, is empty or larger than 100 MB, or the register refuses.
pub async fn attach(
    folder: &DataFolder,
    register: &Register,
    path: &Path,
    of: Of<'_>,
) -> anyhow::Result<(PathBuf, bool)> {
    let shown = path.display();
    let found = std::fs::metadata(path).with_context(|| format!("{shown} cannot be read"))?;
    if !found.is_file() || found.len() == 0 || found.len() > LARGEST {
        bail!("{shown} is no file of 1 byte to 100 MB");
    }
    let bytes = std::fs::read(path).with_context(|| format!("{shown} cannot be read"))?;
    let text = |part: Option<&std::ffi::OsStr>| {
        part.map(|part| part.to_string_lossy().into_owned())
            .unwrap_or_default()
    };
    let (name, ending) = (text(path.file_name()), text(path.extension()));
    keep(folder, register, (&name, &ending, &bytes), of).await
}

/// Keeps the content of a file of a unit, with its name and how that ends; returns where it lies, and
/// whether it is new.
///
/// # Errors
/// If it cannot be written, or the register refuses.
pub async fn keep(
    folder: &DataFolder,
    register: &Register,
    (name, ending, bytes): (&str, &str, &[u8]),
    of: Of<'_>,
) -> anyhow::Result<(PathBuf, bool)> {
    let mut attachment = Attachment {
        tag: of.tag.into(),
        job: of.job,
        sha256: Digest::of(bytes).hex(),
        ending: ending.to_lowercase(),
        size_bytes: bytes.len() as i64,
        name: name.into(),
        about: of.about.into(),
        added_utc_ms: clock::now_utc_ms(),
        time_zone: clock::own_zone(),
        role: of.role.into(),
    };
    if !attachment.ending.bytes().all(|b| b.is_ascii_alphanumeric()) {
        attachment.ending.clear();
    }
    // First the file, then the row: a row without a file is a loss, a file without a row is none.
    std::fs::create_dir_all(folder.files())
        .with_context(|| format!("{} cannot be made", folder.files().display()))?;
    let target = folder.files().join(attachment.file_name());
    if !target.exists() {
        write_whole(&target, bytes)?;
    }
    let is_new = register.attach(&attachment).await?;
    Ok((target, is_new))
}
