//! `setup.toml`, `shop.toml`, `seen.toml` and procedures: loading, checking, errors that point at the line.
//!
//! A setup says what is on the bench, how it is plumbed, how long to hold and what is
//! known of the sensors. A shop file says who the shop is, how it decides and its
//! acceptance limits. Nothing is assumed that changes an outcome: there are no default
//! limits and no default sensor uncertainties.

mod by_eye;
mod calibration;
mod hold;
mod job;
mod job_form;
mod letterhead;
mod limits;
mod other_limits;
mod plumbing;
mod procedure;
mod seen;
mod sensor;
mod setup;
mod shop;
mod supply;
mod text;
mod untaken;
mod walk_text;

pub use calibration::PointsCalibration;
pub use calibration::in_unit;
pub use calibration::value_si;
pub use hold::Meant;
pub use job::Costs;
pub use job::Handover;
pub use job::JobSheet;
pub use job_form::MOST_ROWS;
pub use job_form::WrittenSheet;
pub use job_form::sheet_fields;
pub use job_form::write_sheet;
pub use letterhead::LOGO_MOST_BYTES;
pub use letterhead::Letterhead;
pub use letterhead::Logo;
pub use letterhead::PaperSize;
pub use limits::LimitSet;
pub use limits::ToldLimit;
pub use limits::with_files;
pub use other_limits::with_limit;
pub use other_limits::with_limits;
pub use procedure::BuiltIn;
pub use procedure::PlannedStep;
pub use procedure::Repeat;
pub use procedure::Test;
pub use procedure::about_procedure;
pub use procedure::built_in;
pub use procedure::built_ins;
pub use procedure::names_procedure;
pub use procedure::with_lines;
pub use procedure::with_other_procedure;
pub use procedure::with_procedure;
pub use seen::Asked;
pub use seen::SeenFile;
pub use seen::SeenPhase;
pub use sensor::SensorSetup;
pub use sensor::sensors_of;
pub use setup::Setup;
pub use shop::Shop;
pub use untaken::Untaken;
pub use walk_text::WalkWords;
pub use walk_text::walk_text;

/// Why a settings file cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{file}, line {line}: {message}")]
pub struct SettingsError {
    /// The file.
    pub file: String,
    /// Line, counted from 1.
    pub line: usize,
    /// What is wrong and what would be right.
    pub message: String,
}

impl SettingsError {
    fn at(file: &str, text: &str, offset: usize, message: impl Into<String>) -> Self {
        let line = text.get(..offset).unwrap_or(text).matches('\n').count() + 1;
        Self {
            file: file.into(),
            line,
            message: message.into(),
        }
    }
}

/// A file and its text, for errors that point at a line.
struct Source<'a> {
    file: &'a str,
    text: &'a str,
}

impl Source<'_> {
    fn error<T>(&self, place: &toml::Spanned<T>, message: impl Into<String>) -> SettingsError {
        SettingsError::at(self.file, self.text, place.span().start, message)
    }

    fn whole(&self, message: &str) -> SettingsError {
        SettingsError::at(self.file, self.text, 0, message)
    }
}

/// Reads a whole file of one shape.
fn read<T: serde::de::DeserializeOwned>(file: &str, text: &str) -> Result<T, SettingsError> {
    toml::from_str(text).map_err(|error| {
        let offset = error.span().map_or(0, |span| span.start);
        SettingsError::at(file, text, offset, error.message())
    })
}
