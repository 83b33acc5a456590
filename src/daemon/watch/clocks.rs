//! Three clocks side by side: that of the wall, one that stands while the computer sleeps, and one
//! that goes on meanwhile. Where they part, the clock was moved or the computer slept.
//!
//! Invariant: pure; the clocks are handed in.

/// A step of the wall clock that is told of, s: less is what a time server evens out.
const LEAST_STEP_S: f64 = 3.0;

/// A sleep that is told of, s.
const LEAST_SLEEP_S: f64 = 2.0;

/// Most of what happened that is kept; the first are forgotten, and counted.
const MOST_KEPT: usize = 20;

/// The clocks at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Wall clock, ms of UTC since 1970.
    pub wall_utc_ms: i64,
    /// A clock that stands while the computer sleeps, s.
    pub awake_s: f64,
    /// Time since the computer was started, sleep included, s; None where the system does not say.
    pub up_s: Option<f64>,
}

/// Something that happened between two looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Happened {
    /// When it was seen, by the wall clock as it is since, ms of UTC since 1970.
    pub at_utc_ms: i64,
    /// What it was.
    pub what: What,
}

/// What can happen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum What {
    /// The wall clock was moved by so many seconds; positive is forward.
    Moved(f64),
    /// The computer slept for so many seconds.
    Slept(f64),
}

/// Compares each look with the one before.
#[derive(Debug, Clone, PartialEq)]
pub struct Clocks {
    last: Moment,
    kept: Vec<Happened>,
    n_forgotten: usize,
}

impl Clocks {
    /// Begins at a moment.
    pub fn from(first: Moment) -> Self {
        Self {
            last: first,
            kept: Vec::new(),
            n_forgotten: 0,
        }
    }

    /// Looks at the clocks again.
    pub fn look(&mut self, now: Moment) {
        let awake_s = now.awake_s - self.last.awake_s;
        let asleep_s = match (now.up_s, self.last.up_s) {
            (Some(now), Some(last)) => (now - last - awake_s).max(0.0),
            _ => 0.0,
        };
        let wall_s = (now.wall_utc_ms - self.last.wall_utc_ms) as f64 / 1e3;
        let moved_s = wall_s - awake_s - asleep_s;
        self.last = now;
        if asleep_s >= LEAST_SLEEP_S {
            self.keep(now, What::Slept(asleep_s));
        }
        if moved_s.abs() >= LEAST_STEP_S {
            self.keep(now, What::Moved(moved_s));
        }
    }

    fn keep(&mut self, now: Moment, what: What) {
        if self.kept.len() == MOST_KEPT {
            self.kept.remove(0);
            self.n_forgotten += 1;
        }
        self.kept.push(Happened {
            at_utc_ms: now.wall_utc_ms,
            what,
        });
    }

    /// What happened and was not read, the first first, and how many before that were forgotten.
    pub fn happened(&self) -> (Vec<Happened>, usize) {
        (self.kept.clone(), self.n_forgotten)
    }

    /// All that stands there up to the last one of this instant was read.
    pub fn read_until(&mut self, utc_ms: i64) {
        // A clock that went back has made an order of its own: what counts is the place.
        let last = self.kept.iter().rposition(|one| one.at_utc_ms == utc_ms);
        if let Some(last) = last {
            self.kept.drain(..=last);
            self.n_forgotten = 0;
        }
    }
}

/// Seconds since the start of the computer, from `/proc/uptime`.
pub fn up_s(text: &str) -> Option<f64> {
    let up_s: f64 = text.split_whitespace().next()?.parse().ok()?;
    up_s.is_finite().then_some(up_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Wall clock, awake and up at each look, s; what happened: s and a word.
    #[track_caller]
    fn check(looks: &[(f64, f64, Option<f64>)], expected: &[(&str, f64)]) -> Clocks {
        let moment = |(wall_s, awake_s, up_s): (f64, f64, Option<f64>)| Moment {
            wall_utc_ms: (wall_s * 1e3) as i64,
            awake_s,
            up_s,
        };
        let mut clocks = Clocks::from(moment(looks[0]));
        for look in &looks[1..] {
            clocks.look(moment(*look));
        }
        let found: Vec<(&str, f64)> = clocks
            .happened()
            .0
            .iter()
            .map(|one| match one.what {
                What::Moved(by_s) => ("moved", by_s.round()),
                What::Slept(for_s) => ("slept", for_s.round()),
            })
            .collect();
        assert_eq!(found, expected);
        clocks
    }

    #[test]
    fn clocks_that_go_together_say_nothing() {
        let even = |s: f64| (1_000.0 + s, s, Some(90.0 + s));
        check(&[even(0.0), even(5.0), even(10.0), even(3_600.0)], &[]);
        // A time server that evens out 2 s at once is no step.
        check(&[even(0.0), (1_007.0, 5.0, Some(95.0))], &[]);
    }

    #[test]
    fn a_clock_that_is_moved_is_told_of_with_its_direction() {
        check(
            &[(0.0, 0.0, Some(9.0)), (3_605.0, 5.0, Some(14.0))],
            &[("moved", 3_600.0)],
        );
        check(
            &[(9e5, 0.0, Some(9.0)), (8.2e5, 5.0, Some(14.0))],
            &[("moved", -80_005.0)],
        );
        check(&[(0.0, 0.0, Some(9.0)), (7.9, 5.0, Some(14.0))], &[]);
        check(
            &[(0.0, 0.0, Some(9.0)), (8.1, 5.0, Some(14.0))],
            &[("moved", 3.0)],
        );
    }

    #[test]
    fn a_sleep_is_no_moved_clock() {
        check(
            &[(0.0, 0.0, Some(9.0)), (305.0, 5.0, Some(314.0))],
            &[("slept", 300.0)],
        );
        // Both at once: an hour of sleep, and a clock that lost it.
        let both = [(0.0, 0.0, Some(9.0)), (5.0, 5.0, Some(3_614.0))];
        check(&both, &[("slept", 3_600.0), ("moved", -3_600.0)]);
    }

    #[test]
    fn where_the_system_does_not_say_how_long_it_is_up_only_the_wall_clock_is_judged() {
        check(&[(0.0, 0.0, None), (305.0, 5.0, None)], &[("moved", 300.0)]);
        check(&[(0.0, 0.0, Some(1.0)), (5.0, 5.0, None)], &[]);
        for (text, expected) in [
            ("351735.47 234388.90\n", Some(351_735.47)),
            ("", None),
            ("up", None),
            ("NaN 1", None),
        ] {
            assert_eq!(up_s(text), expected, "{text}");
        }
    }

    #[test]
    fn what_was_read_goes_and_what_came_since_stays() {
        let steps = [
            (0.0, 0.0, None),
            (100.0, 0.0, None),
            (50.0, 0.0, None),
            (200.0, 0.0, None),
        ];
        let mut clocks = check(
            &steps,
            &[("moved", 100.0), ("moved", -50.0), ("moved", 150.0)],
        );
        // The second step went back in time, and is still behind the first.
        clocks.read_until(50_000);
        assert_eq!(clocks.happened().0.len(), 1);
        clocks.read_until(7);
        assert_eq!(clocks.happened().0.len(), 1);
        clocks.read_until(200_000);
        assert_eq!(clocks.happened(), (Vec::new(), 0));
    }

    #[test]
    fn a_clock_that_is_moved_all_the_time_fills_no_memory() {
        let mut clocks = Clocks::from(Moment {
            wall_utc_ms: 0,
            awake_s: 0.0,
            up_s: None,
        });
        for n in 1..=30 {
            clocks.look(Moment {
                wall_utc_ms: n * 10_000,
                awake_s: 0.0,
                up_s: None,
            });
        }
        let (kept, n_forgotten) = clocks.happened();
        assert_eq!((kept.len(), n_forgotten), (20, 10));
        assert_eq!(kept[19].at_utc_ms, 300_000);
    }
}
