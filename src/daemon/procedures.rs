//! `stillrod procedures`: what is built in, and one of them to copy and change.

use crate::settings::SettingsError;
use crate::settings::about_procedure;
use crate::settings::built_in;
use crate::settings::built_ins;
use anyhow::anyhow;
use std::fmt::Write;

/// All built-in procedures with what they are for.
///
/// # Errors
/// If one cannot be read, which a test would have shown.
pub fn procedure_list() -> Result<String, SettingsError> {
    let mut out =
        String::from("Built in; `stillrod procedures NAME` prints one to copy and change\n");
    for known in built_ins() {
        // Writing to a String cannot fail.
        let _ = writeln!(out, "  {:<30} {}", known.name, about_procedure(known)?);
    }
    Ok(out)
}

/// The text of a built-in procedure.
///
/// # Errors
/// With the names there are.
pub fn procedure_text(name: &str) -> anyhow::Result<&'static str> {
    let found = built_in(name).map_err(|message| anyhow!(message))?;
    Ok(found.text)
}
