//! The one place where the time of day is read.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use std::time::Instant;

/// Now, in milliseconds of UTC since 1970.
pub fn now_utc_ms() -> i64 {
    Timestamp::now().as_millisecond()
}

/// A time of a file, in milliseconds of UTC since 1970.
pub fn utc_ms(time: std::time::SystemTime) -> i64 {
    Timestamp::try_from(time).map_or(0, |t| t.as_millisecond())
}

/// A clock that only goes forward, for "each second".
#[derive(Debug, Clone, Copy)]
pub struct Forward(Instant);

impl Forward {
    /// Starts at zero.
    #[allow(
        clippy::disallowed_methods,
        reason = "the daemon reads the clock, here and nowhere else"
    )]
    pub fn start() -> Self {
        Self(Instant::now())
    }

    /// Seconds since the start.
    pub fn seconds(&self) -> f64 {
        self.0.elapsed().as_secs_f64()
    }
}

/// An instant as the shop writes it, "2026-11-25 09:30 GMT", and the offset of its clock from
/// UTC in seconds. A zone this computer does not know is written as UTC.
pub fn local(utc_ms: i64, time_zone: &str) -> (String, i32) {
    let Ok(instant) = Timestamp::from_millisecond(utc_ms) else {
        return ("unknown date".into(), 0);
    };
    let zone = TimeZone::get(time_zone).unwrap_or(TimeZone::UTC);
    let local = instant.to_zoned(zone);
    (
        local.strftime("%Y-%m-%d %H:%M %Z").to_string(),
        local.offset().seconds(),
    )
}

/// The time of day of an instant as the shop's clocks show it, "09:30:12".
pub fn time_of_day(utc_ms: i64, time_zone: &str) -> String {
    let instant = Timestamp::from_millisecond(utc_ms).unwrap_or_default();
    let zone = TimeZone::get(time_zone).unwrap_or(TimeZone::UTC);
    instant.to_zoned(zone).strftime("%H:%M:%S").to_string()
}

/// The time zone of this computer, as text.
pub fn own_zone() -> String {
    let zone = TimeZone::system();
    zone.iana_name().unwrap_or("UTC").to_owned()
}

/// The first and the last millisecond of a day in this computer's zone, UTC since 1970; None for a
/// text that is no day.
pub fn day_utc_ms(day: &str) -> Option<(i64, i64)> {
    let day: jiff::civil::Date = day.parse().ok()?;
    let start = |day: jiff::civil::Date| day.to_zoned(TimeZone::system()).ok();
    let (first, next) = (start(day)?, start(day.tomorrow().ok()?)?);
    let ms = |zoned: jiff::Zoned| zoned.timestamp().as_millisecond();
    Some((ms(first), ms(next) - 1))
}

/// The day of an instant in UTC, "2026-11-25".
pub fn utc_date(utc_ms: i64) -> String {
    let instant = Timestamp::from_millisecond(utc_ms).unwrap_or_default();
    instant.strftime("%Y-%m-%d").to_string()
}

/// The stem of a run's file names: UTC and a word.
pub fn run_id(utc_ms: i64, word: &str) -> String {
    let stamp = Timestamp::from_millisecond(utc_ms).unwrap_or_default();
    format!("{}-{word}", stamp.strftime("%Y%m%d-%H%M%S"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_is_named_after_its_start_in_utc() {
        assert_eq!(
            run_id(1_773_475_500_000, "tight-rebuild"),
            "20260314-080500-tight-rebuild"
        );
    }

    #[test]
    fn an_unknown_zone_is_written_as_utc() {
        assert_eq!(
            local(1_773_475_500_000, "Nowhere/Atall"),
            ("2026-03-14 08:05 UTC".into(), 0)
        );
    }
}
