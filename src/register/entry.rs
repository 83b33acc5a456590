//! What the register is told about a test, and what it tells again.
//!
//! Plain values; the shell fills [`NewTest`] when a test exists and reads
//! [`Entry`] back. Instants are UTC milliseconds since 1970, because a local time
//! repeats itself for an hour each autumn; the zone is kept beside them as text.

use crate::register::build::Build;
use crate::register::error::RegisterError;
use crate::register::number::NumberPrefix;
use crate::verdict::Outcome;

/// Longest text of one field, in bytes; a longer one is refused.
pub(super) const LONGEST_TEXT: usize = 4_000;

/// No test starts after this, UTC ms since 1970: words are found by rows that go by it (year 2248).
const LATEST_UTC_MS: i64 = 1 << 43;

/// A tested cylinder, as the shop knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unit {
    /// The shop's tag, "TV-0312"; never empty.
    pub tag: String,
    /// What it is.
    pub description: String,
    /// The machine it belongs to.
    pub machine: String,
    /// The maker's number on it.
    pub serial: String,
    /// The seal fitted.
    pub seal: String,
    /// How it is built.
    pub build: Build,
}

impl Unit {
    /// What is written of it.
    pub(super) fn texts(&self) -> [(&'static str, &String); 7] {
        [
            ("unit tag", &self.tag),
            ("description", &self.description),
            ("machine", &self.machine),
            ("serial", &self.serial),
            ("seal", &self.seal),
            ("ports", &self.build.ports),
            ("load-holding valve", &self.build.holding_valve),
        ]
    }
}

/// Where a test was run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bench {
    /// On the shop's bench, with a real cylinder.
    Shop,
    /// On the practice bench.
    Practice,
}

/// What kind of paper a test gets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PaperKind {
    /// A certificate.
    Certificate,
    /// A report without the standing of a certificate.
    Report,
}

impl PaperKind {
    /// The word in the register.
    pub fn word(self) -> &'static str {
        match self {
            Self::Certificate => "certificate",
            Self::Report => "report",
        }
    }
}

/// A sensor that a test was read with, and the calibration it had then.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SensorUsed {
    /// Its serial number; one without is not kept.
    pub serial: String,
    /// What it is called on the bench.
    pub label: String,
    /// Number of its calibration's paper; may be empty.
    pub certificate: String,
    /// Day the calibration is due, "2027-03-31"; may be empty.
    pub due: String,
}

/// A test to be entered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewTest {
    /// Identity of the run; entering it twice makes one entry.
    pub run_id: String,
    /// What was tested. On the shop's bench it replaces an earlier description of the tag.
    pub unit: Unit,
    /// Start of the run, UTC ms since 1970.
    pub started_utc_ms: i64,
    /// Time zone of the shop, as text.
    pub time_zone: String,
    /// What came out.
    pub outcome: Outcome,
    /// The figure to show in lists, as text.
    pub headline: String,
    /// Name of the archive file.
    pub archive_file: String,
    /// SHA-256 of the archive file, 64 lower-case hexadecimal digits.
    pub archive_sha256: String,
    /// Name and version of the program.
    pub software: String,
    /// Version of the evaluation method.
    pub method_version: u32,
    /// The sensors it was read with.
    pub sensors: Vec<SensorUsed>,
    /// Where it was run.
    pub bench: Bench,
    /// What kind of paper it gets.
    pub kind: PaperKind,
    /// The shop's prefix of certificate numbers.
    pub prefix: NumberPrefix,
    /// When the paper is issued, UTC ms since 1970.
    pub issued_utc_ms: i64,
    /// How far the shop's clock is ahead of UTC at that instant, s; decides the year in the number.
    pub issued_utc_offset_s: i32,
}

impl NewTest {
    /// Refuses what the tables would refuse, with a message for people.
    pub(super) fn check(&self) -> Result<(), RegisterError> {
        for (field, text) in [
            ("run id", &self.run_id),
            ("unit tag", &self.unit.tag),
            ("archive file", &self.archive_file),
        ] {
            if text.trim().is_empty() {
                return Err(unfit(field, text, "it must not be empty"));
            }
        }
        for (field, text) in self.texts() {
            if text.len() > LONGEST_TEXT {
                let start: String = text.chars().take(40).collect();
                return Err(unfit(field, &start, "shorten it to 4000 bytes"));
            }
        }
        if !(0..LATEST_UTC_MS).contains(&self.started_utc_ms) {
            let started = self.started_utc_ms.to_string();
            return Err(unfit(
                "start of the test",
                &started,
                "set the clock of this computer",
            ));
        }
        let hash = &self.archive_sha256;
        let is_hex = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
        if hash.len() != 64 || !hash.bytes().all(is_hex) {
            return Err(unfit(
                "archive hash",
                hash,
                "a SHA-256 has 64 lower-case hexadecimal digits",
            ));
        }
        Ok(())
    }

    fn texts(&self) -> impl Iterator<Item = (&'static str, &String)> {
        let own = [
            ("run id", &self.run_id),
            ("time zone", &self.time_zone),
            ("headline", &self.headline),
            ("archive file", &self.archive_file),
            ("software", &self.software),
        ];
        self.unit.texts().into_iter().chain(own)
    }
}

pub(super) fn unfit(field: &'static str, value: &str, wanted: &'static str) -> RegisterError {
    RegisterError::Unfit {
        field,
        value: value.to_owned(),
        wanted,
    }
}

/// Where a test stands in the register.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entered {
    /// Row of the test.
    pub test_id: i64,
    /// Number of its certificate or report.
    pub certificate_number: String,
}

/// A test as the register knows it, without the record behind its paper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Row of the test.
    pub test_id: i64,
    /// Number of its certificate or report.
    pub certificate_number: String,
    /// Identity of the run.
    pub run_id: String,
    /// What was tested, as last described.
    pub unit: Unit,
    /// Start of the run, UTC ms since 1970.
    pub started_utc_ms: i64,
    /// Time zone of the shop, as text.
    pub time_zone: String,
    /// What came out.
    pub outcome: Outcome,
    /// The figure to show in lists, as text.
    pub headline: String,
    /// Name of the archive file.
    pub archive_file: String,
    /// SHA-256 of the archive file, 64 lower-case hexadecimal digits.
    pub archive_sha256: String,
    /// Name and version of the program that entered it.
    pub software: String,
    /// Version of the evaluation method.
    pub method_version: u32,
    /// Where it was run.
    pub bench: Bench,
    /// What kind of paper it got.
    pub kind: PaperKind,
    /// When the paper was issued, UTC ms since 1970.
    pub issued_utc_ms: i64,
    /// Number of the job it belongs to.
    pub job: Option<i64>,
    /// Why its paper was withdrawn, if it was.
    pub withdrawn: Option<String>,
}
