//! Scales: from values to points, and the numbers written beside them.
//!
//! Ticks are 1, 2 or 5 times a power of ten. Time is written in seconds, minutes
//! or hours, whichever a person would say.

/// A straight scale from values to points on the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    /// The value at `from_pt`.
    pub low: f64,
    /// The value at `until_pt`.
    pub high: f64,
    /// Where the lower value is, in points.
    pub from_pt: f64,
    /// Where the higher value is, in points.
    pub until_pt: f64,
}

impl Scale {
    /// Where a value is, in points.
    pub(super) fn at(&self, value: f64) -> f64 {
        self.from_pt + (value - self.low) / (self.high - self.low) * (self.until_pt - self.from_pt)
    }

    /// Values with their text, about `n_wanted` of them.
    pub(super) fn ticks(&self, n_wanted: usize) -> Vec<(f64, String)> {
        let step = nice_step((self.high - self.low) / n_wanted.max(1) as f64);
        let decimals = (-step.log10().floor()).clamp(0.0, 9.0) as usize;
        let first = (self.low / step - 1e-9).ceil() as i64;
        let last = (self.high / step + 1e-9).floor() as i64;
        (first..=last.min(first + 50))
            .map(|i| (i as f64 * step, format!("{:.*}", decimals, i as f64 * step)))
            .map(|(v, text)| (v, text.replace('-', "−")))
            .collect()
    }
}

/// A range that holds all finite values with air around it, at least `least` wide.
pub(super) fn range(values: impl Iterator<Item = f64>, least: f64) -> Option<(f64, f64)> {
    let (low, high) = values
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
            (l.min(v), h.max(v))
        });
    if low > high {
        return None;
    }
    let air = (0.08 * (high - low)).max((least - (high - low)) / 2.0);
    Some((low - air, high + air))
}

/// Seconds of one unit of time, and its name, for an axis of this length.
pub(super) fn time_unit(length_s: f64) -> (f64, &'static str) {
    if length_s < 150.0 {
        (1.0, "s")
    } else if length_s < 3.0 * 3600.0 {
        (60.0, "min")
    } else {
        (3600.0, "h")
    }
}

fn nice_step(rough: f64) -> f64 {
    if !(rough.is_finite() && rough > 0.0) {
        return 1.0;
    }
    let power = 10f64.powf(rough.log10().floor());
    let share = rough / power;
    let factor = if share < 1.5 {
        1.0
    } else if share < 3.5 {
        2.0
    } else if share < 7.5 {
        5.0
    } else {
        10.0
    };
    factor * power
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(low: f64, high: f64, n_wanted: usize, expected: &[&str]) {
        let scale = Scale {
            low,
            high,
            from_pt: 0.0,
            until_pt: 100.0,
        };
        let found: Vec<String> = scale.ticks(n_wanted).into_iter().map(|t| t.1).collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn ticks_are_round_numbers_with_a_real_minus() {
        check(-0.1, 0.32, 4, &["−0.1", "0.0", "0.1", "0.2", "0.3"]);
        check(-0.3, 0.62, 4, &["−0.2", "0.0", "0.2", "0.4", "0.6"]);
        check(-1.0, 5.0, 6, &["−1", "0", "1", "2", "3", "4", "5"]);
    }

    #[test]
    fn a_flat_signal_still_has_a_range() {
        assert_eq!(range([5.0, 5.0].into_iter(), 1.0), Some((4.5, 5.5)));
        assert_eq!(range([f64::NAN].into_iter(), 1.0), None);
    }
}
