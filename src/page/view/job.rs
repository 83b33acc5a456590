//! A job sheet as a form: what is typed, what is wrong with it, what it comes to.

use super::Fault;

/// A form of a job sheet. Names of fields are those of the sheet; rows are `finding-0-part`.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct JobForm {
    /// Names and values, as typed.
    pub values: Vec<(String, String)>,
    /// Rows of findings that are shown.
    pub n_findings: usize,
    /// Rows of parts that are shown.
    pub n_parts: usize,
    /// What is wrong.
    pub faults: Vec<Fault>,
    /// What a rebuild and a replacement cost, if that was typed.
    pub worth: Option<Worth>,
    /// A structural finding, which decides by itself: part and condition.
    pub structural: Option<String>,
    /// When the last version was entered and by which role; empty for a new job.
    pub entered: String,
    /// Whether the job was withdrawn; it is changed no more.
    pub is_withdrawn: bool,
}

/// Costs of both ways beside each other, as texts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Worth {
    /// In what money.
    pub money: String,
    /// A rebuild.
    pub rebuild: Sum,
    /// A replacement.
    pub replace: Sum,
    /// Which way that points.
    pub points: Points,
    /// Hours of rebuilding at which both cost the same.
    pub even_at_hours: Option<String>,
    /// Days of standing that would make up for the difference.
    pub days_that_tip: Option<String>,
}

/// A sum with its lines.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sum {
    /// What all comes to.
    pub total: String,
    /// What each line is for, and costs.
    pub items: Vec<(String, String)>,
}

/// Which way the sum points.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Points {
    /// To a rebuild, by so much.
    Rebuild(String),
    /// To a replacement, by so much.
    Replace(String),
    /// To neither.
    Neither,
    /// A structural finding decides.
    Structural,
}

/// What came of a form that was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum JobSent {
    /// It is entered: the number of the job.
    Entered(i64),
    /// Something is wrong; the form again, with all that was typed.
    Again(Box<JobForm>),
}

/// A file to be kept with a unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewFile {
    /// Tag of the unit.
    pub tag: String,
    /// Number of one of its jobs.
    pub job: Option<i64>,
    /// What it shows.
    pub about: String,
    /// Who adds it, by role.
    pub by: String,
    /// Its name where it came from.
    pub name: String,
    /// What is in it.
    pub bytes: Vec<u8>,
}

impl JobForm {
    /// The value of a field, or nothing.
    pub fn value(&self, name: &str) -> &str {
        let found = self.values.iter().find(|(known, _)| known == name);
        found.map_or("", |(_, value)| value.as_str())
    }

    /// Sets a value.
    pub fn set(&mut self, name: &str, value: &str) {
        self.values.retain(|(known, _)| known != name);
        self.values.push((name.into(), value.into()));
    }
}
