//! A setup file from the disk, with the procedure that it names.

use super::conduct::NamedText;
use crate::settings::with_procedure;
use anyhow::Context;
use std::path::Path;

/// Reads a setup file and the procedure it names, which is built in or stands beside it.
///
/// # Errors
/// If a file cannot be read, with the line that names it.
pub fn setup_text(path: &Path) -> anyhow::Result<NamedText> {
    let file = path.display().to_string();
    let text = std::fs::read_to_string(path)
        .with_context(|| format!("{file} cannot be read; check the path"))?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let all = with_procedure(&file, &text, |name| {
        std::fs::read_to_string(folder.join(name)).map_err(|error| error.to_string())
    })?;
    Ok((file, all))
}
