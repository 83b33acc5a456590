//! Whether a shut side has settled: its pressure no longer changes its rate.
//!
//! Heat that evens out and hoses that give way slow down while the pressure hardly falls; a
//! leak slows down no faster than the pressure that drives it, or a few times as fast where air is in the oil. So the rate
//! of one window is held against that of the window before, and what a leak may do is no unrest.

use crate::procedure::Steady;

/// A leak slows down this many times faster than its pressure falls at most: once for a laminar
/// one, twice more for the stiffness of air (own computation).
pub(super) const LIKE_LEAKS: f64 = 3.0;

/// Times in a row that the rate must stay: once may be chance.
pub(super) const N_ALIKE: u32 = 2;

/// Watches a pressure, window by window.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SteadyWatch {
    rule: Steady,
    window: Window,
    rate_before: Option<f64>,
    n_alike: u32,
}

/// Sums of one window, for a line through it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Window {
    from_s: f64,
    n: f64,
    t: f64,
    p: f64,
    tt: f64,
    tp: f64,
}

impl Window {
    fn new(from_s: f64) -> Self {
        Self {
            from_s,
            ..Self::default()
        }
    }

    fn push(&mut self, time_s: f64, pa: f64) {
        let t = time_s - self.from_s;
        self.n += 1.0;
        self.t += t;
        self.p += pa;
        self.tt += t * t;
        self.tp += t * pa;
    }

    fn mean(&self) -> Option<f64> {
        (self.n > 0.0).then(|| self.p / self.n)
    }

    /// Slope of the line, Pa/s; None of fewer than three readings.
    fn rate(&self) -> Option<f64> {
        let spread = self.n * self.tt - self.t * self.t;
        (self.n >= 3.0 && spread > 0.0).then(|| (self.n * self.tp - self.t * self.p) / spread)
    }
}

impl SteadyWatch {
    /// From the moment a pressure was reached, s.
    pub(super) fn new(rule: Steady, from_s: f64) -> Self {
        Self {
            rule,
            window: Window::new(from_s),
            rate_before: None,
            n_alike: 0,
        }
    }

    /// Takes a reading in Pa gauge; one that is missing counts for nothing.
    pub(super) fn push(&mut self, time_s: f64, pressure_pa: Option<f64>) {
        if time_s >= self.window.from_s + self.rule.window.value {
            let rate = self.window.rate();
            let mean_pa = self.window.mean();
            let is_alike = self.rate_before.zip(rate).is_some_and(|(before, now)| {
                let window_s = self.rule.window.value;
                let by_a_leak = mean_pa
                    .filter(|pa| *pa > 0.0)
                    .map_or(0.0, |pa| LIKE_LEAKS * before * now * window_s / pa);
                (now - before).abs() <= self.rule.bend_most.pa_per_s() + by_a_leak.max(0.0)
            });
            self.n_alike = if is_alike { self.n_alike + 1 } else { 0 };
            self.rate_before = rate;
            self.window = Window::new(time_s);
        }
        if let Some(pa) = pressure_pa {
            self.window.push(time_s, pa);
        }
    }

    /// Whether it has settled.
    pub(super) fn is_steady(&self) -> bool {
        self.n_alike >= N_ALIKE
    }

    /// Longest time to wait for it, s.
    pub(super) fn at_most_s(&self) -> f64 {
        self.rule.at_most.value
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::PressureRate;
    use crate::quantity::Time;
    use crate::quantity::unit::second;

    fn settled_after_s(pressure: impl Fn(f64) -> f64) -> Option<f64> {
        let rule = Steady {
            bend_most: PressureRate::from_pa_per_s(0.1e5 / 60.0),
            window: Time::new::<second>(30.0),
            at_most: Time::new::<second>(3600.0),
        };
        let mut watch = SteadyWatch::new(rule, 0.0);
        (0..36_000).map(|i| f64::from(i) * 0.1).find(|time_s| {
            watch.push(*time_s, Some(pressure(*time_s)));
            watch.is_steady()
        })
    }

    /// A pressure after fast pumping, p = 344.7 − 4.14·(1 − e^(−t/180)) bar (practitioner case):
    /// its rate is 1.38 bar/min at first and changes by 0.1 bar/min in half a minute until
    /// 1.38·e^(−t/180)·(1 − e^(−1/6)) = 0.1, at 135 s of the earlier window's middle
    /// (computed); so three windows later.
    #[test]
    fn fast_pumping_settles_for_minutes_and_a_leak_at_once() {
        let pumped = |t: f64| 344.7e5 - 4.14e5 * (1.0 - (-t / 180.0).exp());
        let after = settled_after_s(pumped).expect("settles");
        assert!((180.0..=240.5).contains(&after), "{after}");
        let leak = |t: f64| 160e5 - 5e5 / 60.0 * t;
        assert!(settled_after_s(leak).expect("a steady leak") < 91.0);
        // A gross one that empties the side within minutes is not waited for either.
        let gross = |t: f64| 160e5 * (-t / 370.0).exp();
        assert!(settled_after_s(gross).expect("a gross leak") < 91.0);
    }

    #[test]
    fn a_reading_that_is_missing_settles_nothing() {
        let rule = Steady {
            bend_most: PressureRate::from_pa_per_s(1e9),
            window: Time::new::<second>(10.0),
            at_most: Time::new::<second>(60.0),
        };
        let mut watch = SteadyWatch::new(rule, 0.0);
        for i in 0..1000 {
            watch.push(f64::from(i) * 0.1, None);
            assert!(!watch.is_steady());
        }
    }
}
