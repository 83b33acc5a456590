//! Everything the paper is made from, and nothing else.
//!
//! Dates arrive as text already in the shop's time zone; only the start of the
//! recording is kept as an instant, because it is written as UTC too.
//!
//! Invariant: plain data. Two equal sets of facts make the same certificate.

use crate::account::Evaluation;
use crate::account::Subject;
use crate::certificate::by_eye::lacks_papers;
use crate::certificate::letterhead::Letterhead;
use crate::channel::Role;
use crate::cylinder::UnitIdentity;
use crate::health::Flag;
use crate::procedure::HoldPlan;
use crate::quantity::UnitSystem;
use crate::recording::Recording;
use crate::verdict::Outcome;
use crate::verdict::Verdict;
use jiff::Timestamp;
use jiff::tz::TimeZone;

/// Whether this sheet is the one to rely on.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Standing {
    /// The one and only.
    #[default]
    Original,
    /// Printed again.
    Duplicate,
    /// No longer valid, and why; [`Standing::withdrawn`] says the day, too.
    Withdrawn(String),
}

impl Standing {
    /// Withdrawn on a day, as the shop writes it, for a reason.
    pub fn withdrawn(day: &str, reason: &str) -> Self {
        Self::Withdrawn(format!("on {day}: {reason}"))
    }
}

/// What a certificate is made from.
#[derive(Debug, Clone, PartialEq)]
pub struct Facts<'a> {
    /// Number in the register; None for a test that was not registered.
    pub certificate_number: Option<String>,
    /// Whether this sheet is the one to rely on.
    pub standing: Standing,
    /// Name of the shop.
    pub shop_name: String,
    /// What stands beside it at the head.
    pub letterhead: Letterhead,
    /// Units of measure of the paper.
    pub units: UnitSystem,
    /// Role of who tested, "bench technician"; empty for a blank line.
    pub role: String,
    /// Date and time of the test as the shop writes them.
    pub date: String,
    /// Which piece it is.
    pub identity: UnitIdentity,
    /// What was on the bench, what filled it, how it was plumbed and held.
    pub subject: Subject,
    /// How long it was to settle and to hold.
    pub plan: HoldPlan,
    /// What was recorded.
    pub recording: &'a Recording,
    /// Name of the file that holds the recording.
    pub file_name: String,
    /// SHA-256 of that file, 64 hexadecimal digits.
    pub sha256_hex: String,
    /// What the hold showed; None if it could not be evaluated at all.
    pub evaluation: Option<&'a Evaluation>,
    /// What came out.
    pub verdict: &'a Verdict,
    /// What the data say about the measurement.
    pub flags: &'a [Flag],
    /// Readings whose zero, or place, nobody looked at before and after.
    pub not_looked_at: &'a [Role],
    /// Version of the program that writes the paper.
    pub software: String,
}

impl Facts<'_> {
    /// What was not a measurement of a real cylinder, in words; None if it was one.
    pub fn practice(&self) -> Option<&str> {
        let text = self.recording.heading().practice.trim();
        (!text.is_empty()).then_some(text)
    }

    /// Whether the paper is a report only: nothing was judged, nothing can be, or a sensor was
    /// overdue for its calibration or not looked at before and after, or an instrument that a person
    /// read has no certificate.
    pub fn is_report(&self) -> bool {
        let is_unjudged = matches!(self.verdict.outcome, Outcome::Measured | Outcome::NotValid);
        is_unjudged
            || self.is_overdue()
            || !self.not_looked_at.is_empty()
            || lacks_papers(self.subject.by_eye.as_ref())
    }

    /// Whether the calibration of a recorded sensor was due before the day of the test.
    pub fn is_overdue(&self) -> bool {
        let tested = self.started_utc();
        let tested = tested.get(..10).unwrap_or(&tested);
        let tracks = self.recording.tracks().iter();
        // Dates of ISO 8601 sort as text.
        tracks
            .map(|track| track.channel.papers.due.as_str())
            .any(|due| !due.is_empty() && due < tested)
    }

    /// Start of the recording in UTC, "2026-03-14T08:05:00.250Z".
    pub fn started_utc(&self) -> String {
        self.started().iso()
    }

    /// Start of the recording in UTC, in parts.
    pub(super) fn started(&self) -> Utc {
        Utc::from_ms(self.recording.heading().started_utc_ms)
    }
}

/// An instant of UTC in parts, of the Gregorian calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Utc {
    /// Year.
    pub year: i64,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day, 1 to 31.
    pub day: u8,
    /// Hour, 0 to 23.
    pub hour: u8,
    /// Minute, 0 to 59.
    pub minute: u8,
    /// Second, 0 to 59.
    pub second: u8,
    /// Millisecond, 0 to 999.
    pub millisecond: u16,
}

impl Utc {
    /// From milliseconds since 1970; the start of 1970 for an instant no calendar has.
    pub(super) fn from_ms(ms: i64) -> Self {
        let instant = Timestamp::from_millisecond(ms).unwrap_or_default();
        let at = TimeZone::UTC.to_datetime(instant);
        Self {
            year: i64::from(at.year()),
            month: at.month().unsigned_abs(),
            day: at.day().unsigned_abs(),
            hour: at.hour().unsigned_abs(),
            minute: at.minute().unsigned_abs(),
            second: at.second().unsigned_abs(),
            millisecond: at.millisecond().unsigned_abs(),
        }
    }

    /// "2026-03-14T08:05:00.250Z".
    pub(super) fn iso(self) -> String {
        format!(
            "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}.{:03}Z",
            self.year, self.month, self.day, self.hour, self.minute, self.second, self.millisecond
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Checked against `date -u -d @SECONDS`.
    #[test]
    fn instants_become_calendar_dates() {
        let date = |s: i64| {
            let at = Utc::from_ms(s * 1000);
            (at.year, at.month, at.day, at.hour, at.minute, at.second)
        };
        assert_eq!(date(0), (1970, 1, 1, 0, 0, 0));
        assert_eq!(date(951_782_399), (2000, 2, 28, 23, 59, 59));
        assert_eq!(date(951_827_696), (2000, 2, 29, 12, 34, 56));
        assert_eq!(date(1_773_475_500), (2026, 3, 14, 8, 5, 0));
        assert_eq!(date(-1), (1969, 12, 31, 23, 59, 59));
        assert_eq!(date(4_107_542_400), (2100, 3, 1, 0, 0, 0));
    }
}
