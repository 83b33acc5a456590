//! The first screen: what is open, what was last done.

use super::Alarm;
use super::story::JobLine;
use super::story::TestLine;

/// What the first screen shows.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Start {
    /// Open jobs, the first that came in first.
    pub open_jobs: Vec<JobLine>,
    /// Open jobs that are not in the list.
    pub n_more_jobs: i64,
    /// The last tests, the latest first.
    pub last_tests: Vec<TestLine>,
    /// Tag of the unit that is on the bench, if a test is.
    pub on_the_bench: Option<String>,
    /// What an earlier run left undone and was made good at the start of the program, in sentences.
    pub made_good: Vec<String>,
    /// What goes wrong around the bench.
    pub alarms: Vec<Alarm>,
    /// Mark of the last of what happened to clock and computer, for "I have read this".
    pub last_happened: Option<i64>,
    /// Labels of sensors whose calibration is overdue.
    pub overdue_sensors: Vec<String>,
}
