//! The procedures that come with the program.
//!
//! Each is a file like a shop's own would be, and a good start for one. What a step rests on is
//! said beside it; where it is common practice it says so.

use super::file::ProcedureFile;
use crate::settings::SettingsError;
use crate::settings::read;

/// A procedure that comes with the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BuiltIn {
    /// Its name, as a setup writes it.
    pub name: &'static str,
    /// Its file, word for word.
    pub text: &'static str,
}

macro_rules! files {
    ($($name:literal),+ $(,)?) => {
        &[$(BuiltIn { name: $name, text: include_str!(concat!("built_in/", $name, ".toml")) }),+]
    };
}

const ALL: &[BuiltIn] = files![
    "rebuild-proof-double-acting",
    "rebuild-proof-ram",
    "rebuild-proof-telescopic",
    "seal-along-the-stroke",
    "quick-leak-down",
    "gross-leak-in-two-minutes",
    "held-load-on-the-machine",
    "rig-and-hoses-alone",
    "gauge-and-cup",
];

/// All of them, in the order a person should meet them.
pub fn built_ins() -> &'static [BuiltIn] {
    ALL
}

/// The one of a name.
///
/// # Errors
/// With the names there are.
pub fn built_in(name: &str) -> Result<BuiltIn, String> {
    let found = ALL.iter().find(|known| known.name == name);
    found.copied().ok_or_else(|| {
        let known: Vec<&str> = ALL.iter().map(|known| known.name).collect();
        format!(
            "no procedure `{name}` is built in; there are: {}. A file of your own is named by `file`",
            known.join(", ")
        )
    })
}

/// What a built-in procedure is for, in a sentence.
///
/// # Errors
/// If its file is no procedure.
pub fn about_procedure(known: &BuiltIn) -> Result<String, SettingsError> {
    let found: ProcedureFile = read(known.name, known.text)?;
    Ok(found.procedure.about)
}
