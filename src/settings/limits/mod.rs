//! The shop's limits: single ones, and tables whose row is chosen by the unit.
//!
//! A table says for each row what it holds for: level, bore, seal and kind, which the setup
//! knows, and bands of oil temperature and pressure, which are measured. Every row states the
//! same conditions and no two rows hold for one unit. What stands between two rows is no
//! limit: nothing is interpolated.

mod choose;
mod file;
mod library;
mod row;
mod value;

pub(super) use choose::Asking;
pub(super) use file::LimitTable;
pub(super) use file::TableTable;
pub(super) use file::single;
pub(super) use file::table;
pub(super) use library::LimitFile;
pub(super) use library::Parts;
pub(super) use library::parts;
pub use library::with_files;

use crate::account::FigureName;
use crate::quantity::GaugePressure;
use crate::quantity::Temperature;
use row::SetRow;
use serde::Deserialize;

/// What was done to a unit before its test, in the words of the settings files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Level {
    New,
    Rebuilt,
    InService,
}

impl Level {
    fn plain(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::Rebuilt => "rebuilt",
            Self::InService => "in service",
        }
    }
}

/// A limit of the shop, or a table of limits under one id.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitSet {
    /// The shop's name for it.
    pub id: String,
    /// The figure it is for.
    pub figure: FigureName,
    is_table: bool,
    is_at_load: bool,
    at_pressure: Option<GaugePressure>,
    at_temperature: Option<Temperature>,
    rows: Vec<SetRow>,
}

/// A limit, or a row of a table of them, as it was typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToldLimit {
    /// What it holds for; nothing for a single limit.
    pub holds_for: String,
    /// Its value as typed.
    pub text: String,
    /// Where it comes from, in the shop's words.
    pub source: String,
}

impl LimitSet {
    /// What was typed, row by row.
    pub fn told(&self) -> Vec<ToldLimit> {
        let row = |row: &SetRow| ToldLimit {
            holds_for: match self.is_table {
                true => row.words(),
                false => String::new(),
            },
            text: row.value.text.clone(),
            source: row.source.clone(),
        };
        self.rows.iter().map(row).collect()
    }

    /// The pressure and the oil temperature that a single limit is stated for.
    pub fn stated_at(&self) -> (Option<GaugePressure>, Option<Temperature>) {
        (self.at_pressure, self.at_temperature)
    }

    /// The pressure it is stated for, if it is a single limit that says so.
    pub(super) fn stated_pressure(&self) -> Option<GaugePressure> {
        self.at_pressure
    }
}

#[cfg(test)]
mod tests;
