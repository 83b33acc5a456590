//! A year of the Tarn Valley road depot: which cylinder comes in when, how it really is, and what
//! becomes of it.
//!
//! Everything is drawn from a seed: the same seed, the same year. What a test finds is not written
//! here; it is measured on the practice bench.

mod stories;
mod units;

use crate::rehearsal::scenario::Scenario;
use crate::rehearsal::scenario::Unit;

pub use stories::visits;
pub use units::Purpose;

/// The shop file of the year, word for word.
pub const YEAR_SHOP_TOML: &str = include_str!("tarn-valley-year.toml");

/// Start of the year, 1 January 2025, UTC ms since 1970.
pub const YEAR_UTC_MS: i64 = 1_735_689_600_000;

/// Milliseconds of a day.
pub const DAY_MS: i64 = 86_400_000;

/// One test of a visit.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// When it is started, UTC ms since 1970.
    pub at_utc_ms: i64,
    /// What is on the bench; its name is what the run is for.
    pub scenario: Scenario,
    /// Why the paper is withdrawn the day after; empty if it is not.
    pub withdrawn: &'static str,
}

/// Something found when a cylinder was taken apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Which part.
    pub part: &'static str,
    /// What it is like.
    pub condition: &'static str,
    /// Whether it concerns what holds the cylinder together.
    pub structural: bool,
    /// Wear as measured and what it may be, mm.
    pub wear_mm: Option<(f64, f64)>,
}

/// A part that was used, its price in money, and whether the kit contained it.
pub type Used = (&'static str, f64, bool);

/// What either way takes: hours and days of a rebuild, price and days of a replacement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sums {
    /// Fitter's hours of a rebuild.
    pub rebuild_hours: f64,
    /// Work done outside for it, money.
    pub outside_work: f64,
    /// Days the machine stands for a rebuild.
    pub rebuild_days: f64,
    /// Price of a new one, money.
    pub replace_price: f64,
    /// Days until it is there.
    pub replace_days: f64,
}

/// What becomes of a cylinder that came in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Becomes {
    /// It is rebuilt.
    Rebuilt,
    /// Another takes its place.
    Replaced,
    /// Nothing is done to it; why.
    Left(&'static str),
    /// The sheet was a mistake; why.
    NeverCame(&'static str),
}

/// A visit of a cylinder to the shop.
#[derive(Debug, Clone, PartialEq)]
pub struct Visit {
    /// Which.
    pub unit: Unit,
    /// When it comes in and goes out, UTC ms since 1970.
    pub in_and_out_utc_ms: (i64, i64),
    /// Why it comes in.
    pub symptom: String,
    /// Which way it drifts, and the class of what is wet at the rod gland.
    pub drifts_and_class: (&'static str, u8),
    /// Who writes the sheet, by role.
    pub role: &'static str,
    /// Its tests, in order.
    pub tests: Vec<Planned>,
    /// What is found inside.
    pub seen: Vec<Seen>,
    /// What is used.
    pub used: Vec<Used>,
    /// What either way costs; None if nobody asks.
    pub sums: Option<Sums>,
    /// What is meant to become of it.
    pub becomes: Becomes,
}
