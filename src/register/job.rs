//! A visit of a unit to the shop: why it came in, what was found, what was done to it.
//!
//! Plain values. The sheet that somebody wrote is kept word for word; what stands here beside it is
//! what the register looks for.

use crate::register::entry::LONGEST_TEXT;
use crate::register::entry::Unit;
use crate::register::entry::unfit;
use crate::register::error::RegisterError;

/// Longest sheet, in bytes.
const LONGEST_SHEET: usize = 200_000;

/// Most rows of a sheet.
const MOST_ROWS: usize = 500;

/// How far a job is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum JobState {
    /// The unit is in the shop.
    Open,
    /// It went out again.
    Done,
    /// The job was entered by mistake.
    Withdrawn,
}

impl JobState {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Open, Self::Done, Self::Withdrawn];

    /// The word in the register.
    pub fn word(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::Done => "done",
            Self::Withdrawn => "withdrawn",
        }
    }
}

/// What was decided to do with the unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decision {
    /// New seals and whatever else it needs.
    Rebuild,
    /// Another cylinder.
    Replace,
    /// Nothing.
    Leave,
}

impl Decision {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Rebuild, Self::Replace, Self::Leave];

    /// The word in the register.
    pub fn word(self) -> &'static str {
        match self {
            Self::Rebuild => "rebuild",
            Self::Replace => "replace",
            Self::Leave => "leave",
        }
    }
}

/// What was found when a unit was taken apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Which part: "rod", "piston seal".
    pub part: String,
    /// What it is like, in words.
    pub condition: String,
    /// Whether it concerns what holds the cylinder together.
    pub structural: bool,
    /// Wear or size as measured, m.
    pub measured_m: Option<f64>,
    /// What it may be at most, m.
    pub limit_m: Option<f64>,
}

impl Finding {
    /// Whether more was measured than may be.
    pub fn is_over(&self) -> bool {
        self.measured_m
            .zip(self.limit_m)
            .is_some_and(|(m, l)| m > l)
    }
}

/// A part that was used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartUsed {
    /// What it is.
    pub part: String,
    /// How many.
    pub count: u32,
    /// Price of one, hundredths of the shop's money.
    pub price_hundredths: u32,
    /// Whether the seal kit contained it.
    pub from_kit: bool,
}

/// A version of a job to be entered.
#[derive(Debug, Clone, PartialEq)]
pub struct NewJob {
    /// Which job it is a new version of; none opens one.
    pub number: Option<i64>,
    /// What came in. A unit that is known stays described as it is.
    pub unit: Unit,
    /// When this version is entered, UTC ms since 1970.
    pub entered_utc_ms: i64,
    /// Time zone of the shop, as text.
    pub time_zone: String,
    /// Who enters it, by role: "fitter 2".
    pub role: String,
    /// How far it is.
    pub state: JobState,
    /// Why it was withdrawn, or why it was decided so.
    pub reason: String,
    /// Day it came in, "2026-11-20".
    pub came_in: String,
    /// Day it went out; empty while it is here.
    pub went_out: String,
    /// Why it came in, in the words of who brought it.
    pub symptom: String,
    /// What was decided.
    pub decision: Option<Decision>,
    /// What was found.
    pub findings: Vec<Finding>,
    /// What was used.
    pub parts: Vec<PartUsed>,
    /// The sheet, word for word.
    pub sheet: String,
}

impl NewJob {
    /// Refuses what the tables would refuse, with a message for people.
    pub(super) fn check(&self) -> Result<(), RegisterError> {
        let needed = [
            ("unit tag", &self.unit.tag),
            ("role", &self.role),
            ("symptom", &self.symptom),
        ];
        for (field, text) in needed {
            if text.trim().is_empty() {
                return Err(unfit(field, text, "it must not be empty"));
            }
        }
        if self.state == JobState::Withdrawn && self.reason.trim().is_empty() {
            return Err(unfit("reason", "", "say why the job is withdrawn"));
        }
        let is_day = |text: &str| {
            let form = |(i, b): (usize, u8)| match i {
                4 | 7 => b == b'-',
                _ => b.is_ascii_digit(),
            };
            text.len() == 10 && text.bytes().enumerate().all(form)
        };
        for (field, day) in [("came_in", &self.came_in), ("went_out", &self.went_out)] {
            let may_be_empty = field == "went_out";
            if !(is_day(day) || may_be_empty && day.is_empty()) {
                return Err(unfit(field, day, "write a day as 2026-11-20"));
            }
        }
        if !self.went_out.is_empty() && self.went_out < self.came_in {
            return Err(unfit(
                "went_out",
                &self.went_out,
                "it went out before it came in",
            ));
        }
        if self.findings.len() > MOST_ROWS || self.parts.len() > MOST_ROWS {
            return Err(unfit("sheet", "", "it has more than 500 findings or parts"));
        }
        if self.sheet.len() > LONGEST_SHEET {
            return Err(unfit("sheet", "", "shorten it to 200 000 bytes"));
        }
        for (field, text) in self.texts() {
            if text.len() > LONGEST_TEXT {
                let start: String = text.chars().take(40).collect();
                return Err(unfit(field, &start, "shorten it to 4000 bytes"));
            }
        }
        Ok(())
    }

    fn texts(&self) -> impl Iterator<Item = (&'static str, &String)> {
        let unit = self.unit.texts().into_iter();
        let found = self
            .findings
            .iter()
            .flat_map(|f| [("part", &f.part), ("condition", &f.condition)]);
        let used = self.parts.iter().map(|p| ("part", &p.part));
        let own = [
            ("role", &self.role),
            ("reason", &self.reason),
            ("symptom", &self.symptom),
            ("time zone", &self.time_zone),
        ];
        unit.chain(own).chain(found).chain(used)
    }
}

/// A version of a job as the register knows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Its number.
    pub number: i64,
    /// Which version this is, from 1.
    pub version: i64,
    /// Tag of the unit.
    pub tag: String,
    /// When this version was entered, UTC ms since 1970.
    pub entered_utc_ms: i64,
    /// Time zone of the shop then.
    pub time_zone: String,
    /// Who entered it, by role.
    pub role: String,
    /// How far it is.
    pub state: JobState,
    /// Why it was withdrawn, or why it was decided so.
    pub reason: String,
    /// Day it came in.
    pub came_in: String,
    /// Day it went out; empty while it is here.
    pub went_out: String,
    /// Why it came in.
    pub symptom: String,
    /// What was decided.
    pub decision: Option<Decision>,
    /// What was found.
    pub findings: Vec<Finding>,
    /// What was used.
    pub parts: Vec<PartUsed>,
    /// The sheet, word for word.
    pub sheet: String,
}

/// Where a version of a job stands in the register.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct JobEntered {
    /// Number of the job.
    pub number: i64,
    /// Which version this is, from 1.
    pub version: i64,
    /// Whether it says nothing that the version before did not; nothing was written then.
    pub unchanged: bool,
}
