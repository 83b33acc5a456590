//! A shop's whole record as a copy on another disk, and back from it.
//!
//! A copy is a folder like the data folder: register, recordings, papers, files, the list of public
//! keys. The register is copied by the database itself, because what was written last may still be
//! in the log beside it. The secret key goes along only when asked: who has it can sign anything.
//! Files that the copy has already, with the same bytes, are not copied again.

use super::folder::DataFolder;
use super::keys::PUBLIC_KEYS;
use super::keys::SIGNING_KEY;
use super::keys::make_folder;
use super::paper::sha256_hex;
use super::verify::Grade;
use super::verify::KeyList;
use super::verify::verify;
use crate::register::Register;
use anyhow::Context;
use anyhow::bail;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::path::PathBuf;

/// What was copied.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Copied {
    /// Files that were written.
    pub n_written: u64,
    /// Files that were there already.
    pub n_there: u64,
    /// Whether the secret key is among them.
    pub has_key: bool,
}

/// Copies a data folder to another disk, while it is in use.
///
/// # Errors
/// If the copy cannot be written, or is not whole when it is looked at. A register that is damaged
/// before it is copied leaves an earlier copy as it was.
pub async fn backup(
    folder: &DataFolder,
    to: &Path,
    with_key: bool,
) -> anyhow::Result<(Copied, Vec<String>)> {
    let register = Register::open(&folder.register()).await?;
    backup_of(folder, &register, to, with_key).await
}

/// The same with a register that is open.
///
/// # Errors
/// As for [`backup`].
pub async fn backup_of(
    folder: &DataFolder,
    register: &Register,
    to: &Path,
    with_key: bool,
) -> anyhow::Result<(Copied, Vec<String>)> {
    let copy = DataFolder::open(to)?;
    let mut copied = Copied::default();
    let log = log_of(&copy);
    if log.exists() {
        bail!(
            "{} is a data folder that is in use, or was after a crash: beside its register lies {}. \
             Name another folder, or look into that one first: `stillrod find --data {}`",
            to.display(),
            log.display(),
            to.display()
        );
    }
    // First the register, then the files: each row has its files then, as they are written first.
    let unfinished = copy.register().with_extension("part");
    if unfinished.exists() {
        std::fs::remove_file(&unfinished)
            .with_context(|| format!("{} cannot be replaced", unfinished.display()))?;
    }
    register.export(&unfinished).await?;
    std::fs::rename(&unfinished, copy.register())
        .with_context(|| format!("{} cannot be written", copy.register().display()))?;
    copied.n_written += 1;
    copy_files(folder, &copy, &mut copied)?;
    make_folder(&copy.keys())?;
    for (name, wanted) in [(PUBLIC_KEYS, true), (SIGNING_KEY, with_key)] {
        let from = folder.keys().join(name);
        if wanted && from.exists() {
            copy_file(&from, &copy.keys().join(name), &mut copied)?;
            copied.has_key |= name == SIGNING_KEY;
        }
    }
    let told = check(&copy).await?;
    Ok((copied, told))
}

/// Puts a copy in the place of a data folder, which must be new or empty.
///
/// # Errors
/// If there is something already, or the copy is not whole.
pub async fn restore(from: &Path, folder: &Path) -> anyhow::Result<(Copied, Vec<String>)> {
    let copy = DataFolder::at(from);
    if !copy.register().is_file() {
        bail!(
            "{} is no copy of a shop: there is no register.db in it",
            from.display()
        );
    }
    let is_used = std::fs::read_dir(folder).is_ok_and(|mut all| all.next().is_some());
    if is_used {
        bail!(
            "{} is in use already; name a new folder with --data, or move that one away first",
            folder.display()
        );
    }
    let told = check(&copy).await?;
    let folder = DataFolder::open(folder)?;
    let mut copied = Copied::default();
    copy_files(&copy, &folder, &mut copied)?;
    make_folder(&folder.keys())?;
    for name in [PUBLIC_KEYS, SIGNING_KEY] {
        let from = copy.keys().join(name);
        if from.exists() {
            let target = folder.keys().join(name);
            copy_file(&from, &target, &mut copied)?;
            if name == SIGNING_KEY {
                // A stick knows no owner; here only they may read it.
                std::fs::set_permissions(&target, std::fs::Permissions::from_mode(0o600))
                    .with_context(|| format!("{} cannot be protected", target.display()))?;
                copied.has_key = true;
            }
        }
    }
    // Whoever copied a data folder by hand has the last rows in the log beside the register.
    if log_of(&copy).exists() {
        copy_file(&log_of(&copy), &log_of(&folder), &mut copied)?;
    }
    // The register comes last: a folder with a register is whole.
    copy_file(&copy.register(), &folder.register(), &mut copied)?;
    Register::open(&folder.register()).await?.close().await;
    Ok((copied, told))
}

/// What the database keeps beside a register that is open, or was when its program was killed.
fn log_of(folder: &DataFolder) -> PathBuf {
    folder.register().with_extension("db-wal")
}

/// Whether a copy is whole: the register by its signatures, and each recording by its hash.
async fn check(copy: &DataFolder) -> anyhow::Result<Vec<String>> {
    let list = copy.keys().join(PUBLIC_KEYS);
    let keys = KeyList::find(list.exists().then_some(list.as_path()), copy.root())?;
    let told = verify(&copy.register(), &keys, None).await;
    match told.grade {
        Grade::Whole | Grade::Untold => Ok(told.lines),
        Grade::Changed | Grade::Unreadable => bail!(
            "the copy in {} is not as it was signed:\n  {}",
            copy.root().display(),
            told.lines.join("\n  ")
        ),
    }
}

fn copy_files(from: &DataFolder, to: &DataFolder, copied: &mut Copied) -> anyhow::Result<()> {
    let parts = [
        (from.recordings(), to.recordings()),
        (from.papers(), to.papers()),
        (from.files(), to.files()),
    ];
    for (source, target) in parts {
        if !source.exists() {
            continue;
        }
        std::fs::create_dir_all(&target)
            .with_context(|| format!("{} cannot be made", target.display()))?;
        let all = std::fs::read_dir(&source)
            .with_context(|| format!("{} cannot be listed", source.display()))?;
        for entry in all {
            let path = entry?.path();
            // What is being written has its name yet to come.
            let is_unfinished = path.extension().is_some_and(|end| end == "part");
            if let (true, false, Some(name)) = (path.is_file(), is_unfinished, path.file_name()) {
                copy_file(&path, &target.join(name), copied)?;
            }
        }
    }
    Ok(())
}

/// Copies a file whole, or leaves one that is the same.
fn copy_file(from: &Path, to: &Path, copied: &mut Copied) -> anyhow::Result<()> {
    if is_same(from, to) {
        copied.n_there += 1;
        return Ok(());
    }
    let unfinished = to.with_extension("part");
    let write = || -> std::io::Result<()> {
        std::fs::copy(from, &unfinished)?;
        std::fs::File::open(&unfinished)?.sync_all()?;
        std::fs::rename(&unfinished, to)
    };
    write().with_context(|| {
        format!(
            "{} cannot be copied to {}; is there room, and may you write there?",
            from.display(),
            to.display()
        )
    })?;
    copied.n_written += 1;
    Ok(())
}

fn is_same(from: &Path, to: &Path) -> bool {
    let size = |path: &Path| std::fs::metadata(path).map(|found| found.len()).ok();
    let (Some(a), Some(b)) = (size(from), size(to)) else {
        return false;
    };
    a == b && sha256_hex(from).ok() == sha256_hex(to).ok()
}
