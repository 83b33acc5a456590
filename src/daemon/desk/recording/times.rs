//! Times of a recording: typed, said, and stretches that lie closer, wider, before and behind.
//!
//! Invariant: a stretch lies within the recording and is never shorter than [`SHORTEST_S`].

use crate::page::view::Fault;
use crate::page::view::RecordingAsked;
use crate::page::view::Stretch;
use crate::quantity::Time;
use crate::quantity::parse;

/// Shortest stretch that is shown, s: ten readings of a fast board.
pub(super) const SHORTEST_S: f64 = 0.01;

/// Longest text of a time.
const LONGEST_TEXT: usize = 40;

/// From when to when, s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Span {
    pub from_s: f64,
    pub until_s: f64,
}

impl Span {
    /// All of a recording.
    pub fn whole(from_s: f64, until_s: f64) -> Self {
        Self {
            from_s,
            until_s: until_s.max(from_s + SHORTEST_S),
        }
    }

    fn long_s(self) -> f64 {
        self.until_s - self.from_s
    }

    /// The same, moved and shortened so that it lies within; where it was as good as nothing, it
    /// is widened first.
    pub fn within(self, whole: Self) -> Self {
        let middle_s = 0.5 * (self.from_s + self.until_s);
        let long_s = self.long_s().clamp(SHORTEST_S, whole.long_s());
        let from_s = match self.long_s() < SHORTEST_S {
            true => middle_s - 0.5 * long_s,
            false => self.from_s,
        };
        let from_s = from_s.clamp(whole.from_s, whole.until_s - long_s);
        Self {
            from_s,
            until_s: from_s + long_s,
        }
    }

    /// The part that lies within.
    fn cut(self, whole: Self) -> Self {
        Self {
            from_s: self.from_s.max(whole.from_s),
            until_s: self.until_s.min(whole.until_s),
        }
        .within(whole)
    }

    /// Around the middle, so many times as long; with ends that are round.
    fn scaled(self, factor: f64) -> Self {
        let middle_s = 0.5 * (self.from_s + self.until_s);
        let half_s = 0.5 * factor * self.long_s();
        Self {
            from_s: middle_s - half_s,
            until_s: middle_s + half_s,
        }
        .round()
    }

    fn moved(self, by_s: f64) -> Self {
        Self {
            from_s: self.from_s + by_s,
            until_s: self.until_s + by_s,
        }
        .round()
    }

    /// Ends to a hundredth of the length or a little finer.
    fn round(self) -> Self {
        let step_s = 10f64.powf(self.long_s().log10().floor() - 2.0).max(1e-3);
        let to = |s: f64| (s / step_s).round() * step_s;
        Self {
            from_s: to(self.from_s),
            until_s: to(self.until_s),
        }
    }

    /// Up to an end of the whole that rounding left out.
    fn up_to_the_ends(self, whole: Self) -> Self {
        let near_s = 0.02 * self.long_s();
        let to = |s: f64, end_s: f64| if (s - end_s).abs() < near_s { end_s } else { s };
        Self {
            from_s: to(self.from_s, whole.from_s),
            until_s: to(self.until_s, whole.until_s),
        }
    }

    pub fn closer(self, whole: Self) -> Option<Self> {
        let closer = self.scaled(0.5).within(whole);
        (self.long_s() > 1.5 * SHORTEST_S).then_some(closer)
    }

    pub fn wider(self, whole: Self) -> Option<Self> {
        (!self.is_all(whole)).then(|| self.scaled(2.0).cut(whole).up_to_the_ends(whole))
    }

    pub fn earlier(self, whole: Self) -> Option<Self> {
        let is_there = self.from_s > whole.from_s + 1e-3;
        is_there.then(|| self.moved(-0.5 * self.long_s()).within(whole))
    }

    pub fn later(self, whole: Self) -> Option<Self> {
        let is_there = self.until_s < whole.until_s - 1e-3;
        is_there.then(|| self.moved(0.5 * self.long_s()).within(whole))
    }

    /// Whether nothing of it is left out.
    pub fn is_all(self, whole: Self) -> bool {
        self.from_s <= whole.from_s + 1e-3 && self.until_s >= whole.until_s - 1e-3
    }

    /// With a fifth of its length around it, to be looked at.
    pub fn around(self, whole: Self) -> Self {
        let by_s = (0.2 * self.long_s()).max(0.5);
        Self {
            from_s: self.from_s - by_s,
            until_s: self.until_s + by_s,
        }
        .cut(whole)
    }

    /// For the page.
    pub fn shown(self) -> Stretch {
        Stretch {
            from: address(self.from_s),
            until: address(self.until_s),
            from_said: said(self.from_s),
            until_said: said(self.until_s),
        }
    }
}

/// What of a recording is asked for; or what is wrong with it.
pub(super) fn asked(asked: &RecordingAsked, whole: Span) -> Result<Span, Vec<Fault>> {
    let mut faults = Vec::new();
    let mut read = |field: &str, text: &str, empty_s: f64| match typed(text) {
        Some(None) => empty_s,
        Some(Some(time_s)) => time_s,
        None => {
            faults.push(Fault::no_time(field));
            empty_s
        }
    };
    let span = Span {
        from_s: read("from", &asked.from, whole.from_s),
        until_s: read("until", &asked.until, whole.until_s),
    };
    if faults.is_empty() && span.from_s >= span.until_s {
        let is_behind = asked.until.trim().is_empty();
        faults.push(match is_behind {
            true => Fault::outside("from", &whole.shown()),
            false => Fault::ends_before(),
        });
    } else if faults.is_empty() && span.from_s >= whole.until_s {
        faults.push(Fault::outside("from", &whole.shown()));
    } else if faults.is_empty() && span.until_s <= whole.from_s {
        faults.push(Fault::outside("until", &whole.shown()));
    }
    match faults.is_empty() {
        true => Ok(span.cut(whole)),
        false => Err(faults),
    }
}

/// A time as people type it: "312", "312.5 s", "5:12", "1:05:12", "3 min"; nothing for an empty
/// text, None for one that is no time.
pub(super) fn typed(text: &str) -> Option<Option<f64>> {
    let text = text.trim();
    if text.is_empty() {
        return Some(None);
    }
    if text.len() > LONGEST_TEXT {
        return None;
    }
    let time_s = match text.split_once(':') {
        Some(_) => of_parts(text)?,
        None => {
            let with_unit = match text.ends_with(|c: char| c.is_ascii_digit()) {
                true => format!("{text} s"),
                false => text.to_owned(),
            };
            parse::<Time>(&with_unit).ok()?.quantity.value
        }
    };
    time_s.is_finite().then_some(Some(time_s))
}

/// Hours, minutes and seconds with colons between them.
fn of_parts(text: &str) -> Option<f64> {
    let parts: Vec<&str> = text.split(':').collect();
    let (last, before) = parts.split_last()?;
    if before.len() > 2 {
        return None;
    }
    let is_plain = |part: &str, may_be: &[char]| {
        let is_known = |c: char| c.is_ascii_digit() || may_be.contains(&c);
        part.starts_with(|c: char| c.is_ascii_digit()) && part.chars().all(is_known)
    };
    if !is_plain(last, &['.', ',']) || !before.iter().all(|part| is_plain(part, &[])) {
        return None;
    }
    let mut time_s: f64 = last.replace(',', ".").parse().ok()?;
    let mut worth_s = 60.0;
    let mut part_below = time_s;
    for part in before.iter().rev() {
        // "12:75" could be meant in more than one way.
        if part_below >= 60.0 {
            return None;
        }
        part_below = part.parse().ok()?;
        time_s += worth_s * part_below;
        worth_s *= 60.0;
    }
    Some(time_s)
}

/// A time in an address: seconds, to the millisecond.
fn address(time_s: f64) -> String {
    trimmed(&format!("{time_s:.3}"))
}

/// A time for people, as it can be typed again: "12.3 s", "5:12", "1:05:12".
pub(super) fn said(time_s: f64) -> String {
    let sign = if time_s < -0.0005 { "-" } else { "" };
    let ms = (time_s.abs() * 1e3).round();
    let (minutes, ms) = ((ms / 60_000.0).floor(), ms % 60_000.0);
    let seconds = trimmed(&format!("{:.3}", ms / 1e3));
    if minutes < 1.0 {
        return format!("{sign}{seconds} s");
    }
    let pad = if ms < 10_000.0 { "0" } else { "" };
    let (hours, minutes) = ((minutes / 60.0).floor(), minutes % 60.0);
    match hours < 1.0 {
        true => format!("{sign}{minutes}:{pad}{seconds}"),
        false => format!("{sign}{hours}:{minutes:02}:{pad}{seconds}"),
    }
}

fn trimmed(text: &str) -> String {
    let text = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.'),
        false => text,
    };
    match text {
        "-0" => "0".into(),
        text => text.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHOLE: Span = Span {
        from_s: 0.0,
        until_s: 400.0,
    };

    fn of(from: &str, until: &str) -> Result<Span, Vec<Fault>> {
        asked(
            &RecordingAsked {
                from: from.into(),
                until: until.into(),
                ..RecordingAsked::default()
            },
            WHOLE,
        )
    }

    #[track_caller]
    fn check(from: &str, until: &str, expected: (f64, f64)) {
        let found = of(from, until).expect("a stretch");
        assert_eq!((found.from_s, found.until_s), expected, "{from} {until}");
    }

    #[test]
    fn times_are_read_as_people_write_them() {
        for (text, expected_s) in [
            ("312", 312.0),
            ("312.5", 312.5),
            ("312,5", 312.5),
            ("5:12", 312.0),
            ("5:12.25", 312.25),
            ("1:05:12", 3912.0),
            ("3 min", 180.0),
            ("1 h", 3600.0),
            ("90 s", 90.0),
            ("-2", -2.0),
        ] {
            assert_eq!(typed(text), Some(Some(expected_s)), "{text}");
        }
        assert_eq!(typed("  "), Some(None));
        for wrong in [
            "NaN",
            "inf",
            "-inf",
            "x",
            "12:75",
            "1:2:3:4",
            ":",
            "1:",
            ":1",
            "5:-3",
            "1e999",
            "3 bar",
            "5:1e3",
            "0x10",
            "1,000,000",
            "12 30",
        ] {
            assert_eq!(typed(wrong), None, "{wrong}");
        }
        assert_eq!(typed(&"1".repeat(41)), None);
    }

    #[test]
    fn what_is_said_can_be_typed() {
        for time_s in [
            0.0, 0.001, 12.3, 59.9994, 59.9996, 60.0, 312.34, 3599.9999, 3912.0, 90_000.5,
        ] {
            let text = said(time_s);
            let back = typed(&text).expect("a time").expect("a time");
            assert!((back - time_s).abs() < 0.0006, "{time_s} {text}");
        }
        assert_eq!(
            (said(62.0), said(3600.0), said(5.25)),
            ("1:02".into(), "1:00:00".into(), "5.25 s".into())
        );
    }

    #[test]
    fn a_stretch_lies_within_the_recording() {
        check("", "", (0.0, 400.0));
        check("100", "", (100.0, 400.0));
        check("-50", "100", (0.0, 100.0));
        check("300", "1e300", (300.0, 400.0));
        check("-1e300", "1e300", (0.0, 400.0));
        check("399.999", "", (399.99, 400.0));
        // As good as nothing is widened around its middle.
        let found = of("100", "100.001").expect("a stretch");
        assert!(
            (found.from_s - 99.9955).abs() < 1e-9 && (found.long_s() - SHORTEST_S).abs() < 1e-9
        );
    }

    #[test]
    fn what_cannot_be_shown_is_said_at_its_field() {
        for (from, until, field) in [
            ("NaN", "", "from"),
            ("", "inf", "until"),
            ("200", "100", "until"),
            ("200", "200", "until"),
            ("500", "", "from"),
            ("400", "", "from"),
            ("500", "600", "from"),
            ("-9", "-3", "until"),
            ("1e300", "", "from"),
        ] {
            let faults = of(from, until).expect_err("no stretch");
            assert_eq!(faults[0].field, field, "{from} {until}");
        }
        assert_eq!(of("a", "b").expect_err("no stretch").len(), 2);
    }

    #[test]
    fn closer_and_wider_lead_there_and_back() {
        let part = Span {
            from_s: 100.0,
            until_s: 200.0,
        };
        let closer = part.closer(WHOLE).expect("closer");
        assert_eq!((closer.from_s, closer.until_s), (125.0, 175.0));
        assert_eq!(closer.wider(WHOLE), Some(part));
        let odd = Span::whole(0.0, 360.18);
        let closer = odd.closer(odd).expect("closer");
        assert_eq!(closer.wider(odd), Some(odd));
        let earlier = part.earlier(WHOLE).expect("earlier");
        assert_eq!((earlier.from_s, earlier.until_s), (50.0, 150.0));
        assert_eq!(earlier.later(WHOLE), Some(part));
        assert_eq!(WHOLE.wider(WHOLE), None);
        assert_eq!((WHOLE.earlier(WHOLE), WHOLE.later(WHOLE)), (None, None));
    }

    #[test]
    fn however_often_one_looks_closer_it_ends() {
        let mut span = WHOLE;
        let mut n_steps = 0;
        while let Some(closer) = span.closer(WHOLE) {
            assert!(
                closer.from_s >= 0.0 && closer.until_s <= 400.0 && closer.long_s() < span.long_s()
            );
            span = closer;
            n_steps += 1;
        }
        assert!((10..20).contains(&n_steps), "{n_steps}");
        while let Some(wider) = span.wider(WHOLE) {
            assert!(wider.long_s() > span.long_s());
            span = wider;
        }
        assert_eq!(span, WHOLE);
    }
}
