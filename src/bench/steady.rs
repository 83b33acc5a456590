//! Whether a shut side has settled: its pressure no longer changes its rate.
//!
//! A leak keeps its rate while the pressure hardly falls; heat that evens out and hoses that
//! give way slow down. So the rate of one window is held against that of the window before.

use crate::procedure::Steady;

/// Times in a row that the rate must stay: once may be chance.
const N_ALIKE: u32 = 2;

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
            let is_alike = self.rate_before.zip(rate).is_some_and(|(before, now)| {
                (now - before).abs() <= self.rule.bend_most.pa_per_s()
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
