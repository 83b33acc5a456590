//! How evenly the rod goes: its speed from reading to reading, against its own slow course.
//!
//! Stick-slip indicator (our definition, no source): standard deviation of the speeds between
//! neighbouring readings in the middle half of the stroke, about a straight line in time, less
//! what the noise of the position makes of it, by the mean speed. 0 is even; a rod that stands
//! and jumps comes to 1 and more. A line is taken off because hands open a valve slowly.
//!
//! What it cannot see: jumps shorter than the rod goes from one reading to the next are averaged
//! away. Where that is more than [`SEEN_BY_M`], nothing is stated.

/// Longest way from one reading to the next for which the indicator is stated, m (common
/// practice, no source).
pub(super) const SEEN_BY_M: f64 = 2e-3;

/// Fewest speeds that make a spread.
const SPEEDS_LEAST: f64 = 20.0;

/// Sums of the speeds of one way.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Paces {
    first: Option<(f64, f64)>,
    last: Option<(f64, f64)>,
    n: f64,
    t: f64,
    v: f64,
    tt: f64,
    tv: f64,
    vv: f64,
}

/// How evenly one way went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Evenness {
    /// Spread of the speed by its mean.
    pub slip: f64,
    /// What the noise of the position may still leave in it, one sigma.
    pub floor: f64,
}

impl Paces {
    /// Takes time in s and way in m, in the direction of travel, of the next reading.
    pub fn push(&mut self, time_s: f64, way_m: f64) {
        let (from_s, _) = *self.first.get_or_insert((time_s, way_m));
        if let Some((before_s, before_m)) = self.last.filter(|last| time_s > last.0) {
            let v = (way_m - before_m) / (time_s - before_s);
            let t = 0.5 * (time_s + before_s) - from_s;
            self.n += 1.0;
            self.t += t;
            self.v += v;
            self.tt += t * t;
            self.tv += t * v;
            self.vv += v * v;
        }
        self.last = Some((time_s, way_m));
    }

    /// Mean speed over the middle, m/s; None where it did not move on.
    pub fn speed(&self) -> Option<f64> {
        let ((from_s, from_m), (until_s, until_m)) = (self.first?, self.last?);
        let speed = (until_m - from_m) / (until_s - from_s);
        (self.n >= SPEEDS_LEAST && speed.is_finite() && speed > 0.0).then_some(speed)
    }

    /// Way from one reading to the next, m.
    pub fn between_m(&self) -> Option<f64> {
        Some(self.speed()? * self.interval_s()?)
    }

    fn interval_s(&self) -> Option<f64> {
        Some((self.last?.0 - self.first?.0) / self.n)
    }

    /// How evenly it went; `noise_m` is the standard deviation of one reading of the position.
    pub fn evenness(&self, noise_m: f64) -> Option<Evenness> {
        let speed = self.speed()?;
        if self.between_m()? > SEEN_BY_M {
            return None;
        }
        let of_times = self.tt - self.t * self.t / self.n;
        let of_both = self.tv - self.t * self.v / self.n;
        let of_speeds = self.vv - self.v * self.v / self.n;
        let about_line = (of_speeds - of_both * of_both / of_times).max(0.0) / (self.n - 2.0);
        // The noise of two readings is in each difference.
        let of_noise = 2.0 * (noise_m / self.interval_s()?).powi(2);
        Some(Evenness {
            slip: (about_line - of_noise).max(0.0).sqrt() / speed,
            floor: (of_noise * (2.0 / self.n).sqrt()).sqrt() / speed,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn played(interval_s: f64, n: u32, way_m: impl Fn(f64) -> f64) -> Paces {
        let mut paces = Paces::default();
        for i in 0..=n {
            let time_s = f64::from(i) * interval_s;
            paces.push(time_s, way_m(time_s));
        }
        paces
    }

    /// A rod that stands and jumps by s at once moves by 0 or s between readings that lie a part
    /// f of its period apart: variance s²·f(1 − f), mean s·f, so √((1 − f)/f) (by hand).
    #[test]
    fn a_staircase_has_the_spread_of_its_jumps() {
        for (period_s, jump_m) in [(0.31_f64, 3e-3_f64), (0.523, 5e-3), (0.21, 1.5e-3)] {
            let paces = played(0.1, 1800, |t| (t / period_s).floor() * jump_m);
            let found = paces.evenness(0.0).expect("slow enough").slip;
            let f = 0.1 / period_s;
            let right = ((1.0 - f) / f).sqrt();
            assert!(
                (found / right - 1.0).abs() < 0.02,
                "{period_s}: {found} {right}"
            );
        }
    }

    /// A sine of 20 % in the speed is 0.2/√2 seen through the mean over an interval, which
    /// damps it by sin(πfΔt)/(πfΔt).
    #[test]
    fn a_ripple_is_seen_as_far_as_the_readings_let_it() {
        let (v, hz) = (0.010, 1.3);
        let w = 2.0 * std::f64::consts::PI * hz;
        let paces = played(0.1, 2000, |t| v * t - 0.2 * v / w * (w * t).cos());
        let found = paces.evenness(0.0).expect("slow enough").slip;
        let damped = (w * 0.05).sin() / (w * 0.05);
        let right = 0.2 / 2.0_f64.sqrt() * damped;
        assert!((found / right - 1.0).abs() < 0.01, "{found} {right}");
    }

    #[test]
    fn a_valve_that_is_opened_slowly_is_no_stick_slip() {
        let paces = played(0.1, 200, |t| 0.008 * t + 0.5 * 4e-4 * t * t);
        assert!(paces.evenness(0.0).expect("slow enough").slip < 1e-4);
    }

    #[test]
    fn readings_too_far_apart_state_nothing() {
        let at = |v: f64| played(0.1, 200, move |t| v * t);
        assert!(at(0.0199).evenness(0.0).is_some());
        assert!(at(0.0201).evenness(0.0).is_none() && at(0.0201).speed().is_some());
        assert!(at(0.0).speed().is_none() && at(-0.01).evenness(0.0).is_none());
    }
}
