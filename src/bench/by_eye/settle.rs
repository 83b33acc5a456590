//! Whether a side has settled, by a few readings: the rule of `steady`, with windows that are as
//! long as the scale needs.

use crate::bench::steady::LIKE_LEAKS;
use crate::bench::steady::N_ALIKE;
use crate::procedure::Steady;
use crate::procedure::eye_window_s;

/// Readings of a side that settles.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct EyeSettling {
    rule: Steady,
    /// Time between two looks, s.
    pub window_s: f64,
    /// When, s, and what, Pa.
    read: Vec<(f64, f64)>,
}

impl EyeSettling {
    /// `reading_si` is one sigma of a reading, Pa.
    pub fn new(rule: Steady, reading_si: f64) -> Self {
        Self {
            rule,
            window_s: eye_window_s(&rule, reading_si),
            read: Vec::new(),
        }
    }

    pub fn push(&mut self, at_s: f64, pa: f64) {
        self.read.push((at_s, pa));
    }

    /// Takes the last one back.
    pub fn pop(&mut self) {
        self.read.pop();
    }

    /// Longest time to wait, s.
    pub fn at_most_s(&self) -> f64 {
        self.rule.at_most.value
    }

    /// Whether the rate stayed, from window to window, as often as the rule asks.
    pub fn is_steady(&self) -> bool {
        let n_needed = N_ALIKE as usize + 2;
        let Some(last) = self.read.len().checked_sub(n_needed) else {
            return false;
        };
        let rates: Vec<(f64, f64)> = self.read[last..]
            .windows(2)
            .map(|pair| {
                let ((t0, p0), (t1, p1)) = (pair[0], pair[1]);
                ((p1 - p0) / (t1 - t0).max(1e-3), 0.5 * (p0 + p1))
            })
            .collect();
        rates.windows(2).all(|pair| {
            let ((before, _), (now, mean_pa)) = (pair[0], pair[1]);
            let by_a_leak = match mean_pa > 0.0 {
                true => LIKE_LEAKS * before * now * self.window_s / mean_pa,
                false => 0.0,
            };
            (now - before).abs() <= self.rule.bend_most.pa_per_s() + by_a_leak.max(0.0)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::PressureRate;
    use crate::quantity::Time;
    use crate::quantity::unit::second;

    /// Windows until it has settled, of a gauge of 1 bar read to half a bar.
    fn settles_after(course: impl Fn(f64) -> f64) -> Option<usize> {
        let rule = Steady {
            bend_most: PressureRate::from_pa_per_s(0.5e5 / 60.0),
            window: Time::new::<second>(30.0),
            at_most: Time::new::<second>(3600.0),
        };
        let mut settling = EyeSettling::new(rule, 1e5 / 12f64.sqrt());
        (0..20).find(|n| {
            let t = *n as f64 * settling.window_s;
            let read = (course(t) / 0.5e5).round() * 0.5e5;
            settling.push(t, read);
            settling.is_steady()
        })
    }

    /// A leak keeps its rate: three windows. Fresh oil that loses 20 bar with 6 min to e changes
    /// its rate by more than 0.5 bar/min from window to window for a while: with windows of
    /// 2.83 min its rates are 2.66, 1.66, 1.03, 0.65 and 0.40 bar/min (by hand).
    #[test]
    fn a_leak_settles_at_once_and_fresh_oil_later() {
        assert_eq!(settles_after(|t| 160e5 - 0.4e5 / 60.0 * t), Some(3));
        let fresh = settles_after(|t| 140e5 + 20e5 * (-t / 360.0).exp());
        assert!(fresh.is_some_and(|n| n >= 4), "{fresh:?}");
        let wild = settles_after(|t| 160e5 + 10e5 * (t / 170.0).sin());
        assert_eq!(wild, None);
    }
}
