//! Fewer points for the same picture: lowest and highest value of each column.
//!
//! A spike of one sample is still seen, however long the recording is.

/// Points of a line that look the same as all samples when drawn in `n_columns`.
///
/// `breaks_s` are times over which the line must not be drawn; a sample without a
/// value breaks it as well. A break is a point that is not finite.
pub(super) fn thinned(
    time_s: &[f64],
    value: impl Fn(usize) -> f64,
    breaks_s: &[(f64, f64)],
    n_columns: usize,
) -> Vec<(f64, f64)> {
    let (Some(first), Some(last)) = (time_s.first(), time_s.last()) else {
        return Vec::new();
    };
    let width_s = ((last - first) / n_columns.max(1) as f64).max(f64::MIN_POSITIVE);
    let mut points = Vec::new();
    let mut column = Column::default();
    let mut breaks = Breaks::new(breaks_s);
    for (index, &t) in time_s.iter().enumerate() {
        let crossed = breaks.step(t);
        let v = match crossed {
            Crossed::Inside => f64::NAN,
            Crossed::Nothing | Crossed::Break => value(index),
        };
        let broken = crossed != Crossed::Nothing || !v.is_finite();
        let number = ((t - first) / width_s) as usize;
        if broken || number != column.number {
            column.empty_into(&mut points);
            column.number = number;
        }
        if broken {
            points.push((f64::NAN, f64::NAN));
        }
        if v.is_finite() {
            column.take(t, v);
        }
    }
    column.empty_into(&mut points);
    points.dedup_by(|a, b| a.0.is_nan() && b.0.is_nan());
    points
}

/// What lies between two samples that follow each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Crossed {
    /// Nothing: they belong together.
    Nothing,
    /// A break: the line starts anew.
    Break,
    /// The later one is inside a break and must not be drawn.
    Inside,
}

/// Breaks of a line, met one after another as time rises.
pub(super) struct Breaks {
    ahead: Vec<(f64, f64)>,
}

impl Breaks {
    /// From starts and ends; a break without length is none.
    pub(super) fn new(breaks_s: &[(f64, f64)]) -> Self {
        let mut ahead: Vec<_> = breaks_s.iter().copied().filter(|b| b.0 < b.1).collect();
        ahead.sort_by(|a, b| b.1.total_cmp(&a.1));
        Self { ahead }
    }

    /// What lies between the time asked for before and this one.
    pub(super) fn step(&mut self, t: f64) -> Crossed {
        let mut crossed = Crossed::Nothing;
        while self.ahead.last().is_some_and(|b| b.1 <= t) {
            self.ahead.pop();
            crossed = Crossed::Break;
        }
        if self.ahead.last().is_some_and(|b| b.0 < t) {
            crossed = Crossed::Inside;
        }
        crossed
    }
}

#[derive(Default)]
struct Column {
    number: usize,
    low: Option<(f64, f64)>,
    high: Option<(f64, f64)>,
}

impl Column {
    fn take(&mut self, t: f64, v: f64) {
        if self.low.is_none_or(|low| v < low.1) {
            self.low = Some((t, v));
        }
        if self.high.is_none_or(|high| v >= high.1) {
            self.high = Some((t, v));
        }
    }

    fn empty_into(&mut self, points: &mut Vec<(f64, f64)>) {
        if let (Some(low), Some(high)) = (self.low.take(), self.high.take()) {
            let (one, two) = if low.0 <= high.0 {
                (low, high)
            } else {
                (high, low)
            };
            points.push(one);
            if two != one {
                points.push(two);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spike_of_one_sample_in_a_million_is_kept() {
        let time: Vec<f64> = (0..1_000_000).map(|i| f64::from(i) * 1e-3).collect();
        let points = thinned(&time, |i| if i == 777_777 { 9.0 } else { 1.0 }, &[], 800);
        assert!(points.len() <= 1602, "{} points", points.len());
        assert!(points.iter().any(|p| p.1 == 9.0));
    }

    #[test]
    fn a_gap_and_a_missing_value_break_the_line() {
        let time = [0.0, 1.0, 2.0, 5.0, 6.0, 7.0];
        let value = |i: usize| if i == 4 { f64::NAN } else { 1.0 };
        let points = thinned(&time, value, &[(2.0, 5.0)], 100);
        assert_eq!(points.iter().filter(|p| p.0.is_nan()).count(), 2);
        assert_eq!(points.iter().filter(|p| p.0.is_finite()).count(), 5);
    }

    #[test]
    fn no_samples_give_no_points() {
        assert!(thinned(&[], |_| 0.0, &[], 10).is_empty());
    }
}
