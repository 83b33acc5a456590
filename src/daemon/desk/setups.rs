//! Setup files of the shop, one for each unit: `setups/*.toml` of the data folder.
//!
//! What a browser sends is looked up in this listing; it never becomes a path.

use crate::daemon::folder::DataFolder;
use crate::daemon::setup_file::setup_text;
use std::path::Path;
use std::path::PathBuf;

/// Most setups that are listed.
const MOST_SETUPS: usize = 500;

/// Largest setup that is read, bytes.
const LARGEST_SETUP: u64 = 1024 * 1024;

/// What the names of a shop's own procedures begin with, which stand beside the setups for them.
const PROCEDURE: &str = "procedure";

/// Names and paths, by name. A folder that cannot be listed has none.
pub(super) fn setups(folder: &DataFolder) -> Vec<(String, PathBuf)> {
    let entries = std::fs::read_dir(folder.setups()).into_iter().flatten();
    let files = entries.flatten().take(MOST_SETUPS).filter_map(|entry| {
        let path = entry.path();
        let name = entry.file_name().into_string().ok()?;
        let is_setup = path.extension().is_some_and(|end| end == "toml");
        (is_setup && path.is_file() && !name.starts_with(PROCEDURE)).then_some((name, path))
    });
    let mut files: Vec<_> = files.collect();
    files.sort();
    files
}

/// The text of one, with the procedure that it names.
///
/// # Errors
/// If it cannot be read, or is too large to be one.
pub(super) fn read(path: &Path) -> anyhow::Result<String> {
    let size = std::fs::metadata(path).map_or(0, |found| found.len());
    anyhow::ensure!(
        size <= LARGEST_SETUP,
        "{} has more than {LARGEST_SETUP} bytes: that is no setup",
        path.display()
    );
    Ok(setup_text(path)?.1)
}
