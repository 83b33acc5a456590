//! Certificate numbers: `TV-2026-0001`, consecutive in each calendar year.
//!
//! Practice runs have a series of their own (`PRACTICE-TV-2026-0001`), so that
//! they never use up a number of the shop. Which number is next is decided in the
//! transaction that writes the row, not here.

use crate::register::entry::Bench;
use crate::register::error::RegisterError;

/// Longest prefix of a number, in letters.
const LONGEST_PREFIX: usize = 16;

/// What the numbers of practice runs begin with.
const PRACTICE: &str = "PRACTICE";

/// The shop's prefix of its certificate numbers: 1 to 16 of A–Z, 0–9 and inner hyphens.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NumberPrefix(String);

impl NumberPrefix {
    /// Checks a prefix as the shop wrote it.
    ///
    /// Capitals only, because `tv` and `TV` would be two series that people read as one.
    pub fn new(text: &str) -> Result<Self, RegisterError> {
        let fits = !text.is_empty()
            && text.len() <= LONGEST_PREFIX
            && text
                .bytes()
                .all(|b| b.is_ascii_uppercase() || b.is_ascii_digit() || b == b'-')
            && !text.starts_with('-')
            && !text.ends_with('-')
            && !text.starts_with(PRACTICE);
        if fits {
            Ok(Self(text.to_owned()))
        } else {
            Err(RegisterError::Unfit {
                field: "number prefix",
                value: text.to_owned(),
                wanted: "use 1 to 16 capital letters, digits or inner hyphens, not beginning with PRACTICE",
            })
        }
    }

    /// The prefix as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The series that a run on a bench is numbered in.
    pub(super) fn series(&self, bench: Bench) -> String {
        match bench {
            Bench::Shop => self.0.clone(),
            Bench::Practice => format!("{PRACTICE}-{}", self.0),
        }
    }
}

/// On which bench the test of a number was done: no prefix of a shop begins as those of practice do.
pub fn bench_of(number: &str) -> Bench {
    match number.starts_with(PRACTICE) {
        true => Bench::Practice,
        false => Bench::Shop,
    }
}

/// One number: series, year and the place in it, at least four digits.
pub(super) fn written(series: &str, year: i64, sequence: i64) -> String {
    format!("{series}-{year}-{sequence:04}")
}

/// Calendar year (proleptic Gregorian) of an instant in UTC milliseconds since 1970,
/// read on a clock `utc_offset_s` seconds ahead of UTC.
///
/// Whole 400-year cycles of 146 097 days are taken out first, counted from 1 January
/// 2000, the start of one; what is left is less than one cycle.
pub(super) fn year_of(utc_ms: i64, utc_offset_s: i32) -> i64 {
    const DAYS_IN_CYCLE: i64 = 146_097;
    const DAYS_1970_TO_2000: i64 = 10_957;
    let day = utc_ms
        .div_euclid(1000)
        .saturating_add(i64::from(utc_offset_s))
        .div_euclid(86_400)
        - DAYS_1970_TO_2000;
    let mut left = day.rem_euclid(DAYS_IN_CYCLE);
    let mut year = 2000 + 400 * day.div_euclid(DAYS_IN_CYCLE);
    loop {
        let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
        let days = if leap { 366 } else { 365 };
        if left < days {
            return year;
        }
        left -= days;
        year += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_year_is_the_one_on_the_shops_calendar() {
        // Instants from Python's datetime (proleptic Gregorian calendar).
        for (utc_ms, offset_s, year) in [
            (0, 0, 1970),
            (-1, 0, 1969),
            (1_798_759_800_000, 0, 2026),     // 2026-12-31 23:30 UTC
            (1_798_759_800_000, 3600, 2027),  // the same instant, 00:30 an hour east
            (1_798_763_400_000, 0, 2027),     // 2027-01-01 00:30 UTC
            (1_798_763_400_000, -3600, 2026), // the same instant, 23:30 an hour west
            (951_782_400_000, 0, 2000),       // 2000-02-29
            (978_307_199_999, 0, 2000),       // last millisecond of a leap year
            (978_307_200_000, 0, 2001),
            (4_102_444_800_000, 0, 2100), // 2100 is no leap year …
            (4_133_980_799_999, 0, 2100), // … so it ends after 365 days
            (4_133_980_800_000, 0, 2101),
        ] {
            assert_eq!(year_of(utc_ms, offset_s), year, "{utc_ms} {offset_s}");
        }
    }

    #[test]
    fn no_instant_is_too_far_to_have_a_year() {
        assert!(year_of(i64::MAX, i32::MAX) > 292_000_000);
        assert!(year_of(i64::MIN, i32::MIN) < -292_000_000);
    }

    #[test]
    fn a_number_grows_past_four_digits() {
        assert_eq!(written("TV", 2026, 1), "TV-2026-0001");
        assert_eq!(written("TV", 2026, 10_000), "TV-2026-10000");
    }

    #[test]
    fn a_shop_cannot_choose_a_prefix_that_reads_as_practice_or_as_another() {
        for good in ["TV", "T-V2", "0", "ABCDEFGHIJKLMNOP"] {
            assert!(NumberPrefix::new(good).is_ok(), "{good}");
        }
        for bad in [
            "",
            "tv",
            "-TV",
            "TV-",
            "T V",
            "TÄ",
            "PRACTICE",
            "PRACTICE-TV",
            "T'V",
            "ABCDEFGHIJKLMNOPQ",
        ] {
            assert!(NumberPrefix::new(bad).is_err(), "{bad}");
        }
    }
}
