//! What passes the piston at some places of the stroke only.
//!
//! Invariant: without wear the flow is that of the seal, digit for digit.

use crate::rehearsal::physics::leak::Leak;

/// Length over which a score runs out at its ends, and over which a seat lets go, m (common
/// practice, no source): so smooth that a solver can follow it.
const RUNS_OUT_M: f64 = 0.5e-3;

/// A stretch of the tube where more passes the piston.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scored {
    /// Where it begins, extension in m.
    pub from_m: f64,
    /// Where it ends, extension in m.
    pub until_m: f64,
    /// What passes there besides what the seal lets by.
    pub leak: Leak,
}

/// Wear that depends on where the piston stands.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wear {
    /// Scores of the tube.
    pub scored: Vec<Scored>,
    /// The piston sits on the cap end: nothing passes it up to this extension, m.
    pub seats_below_m: Option<f64>,
}

impl Wear {
    /// What passes the piston at an extension, by the flow of each leak.
    pub(super) fn flow(&self, x_m: f64, seal: &Leak, flow: &dyn Fn(&Leak) -> f64) -> f64 {
        let scored: f64 = self
            .scored
            .iter()
            .map(|score| score.part(x_m) * flow(&score.leak))
            .sum();
        let open = self
            .seats_below_m
            .map_or(1.0, |below_m| rise((x_m - below_m) / RUNS_OUT_M));
        open * (flow(seal) + scored)
    }
}

impl Scored {
    /// Part of it that acts at an extension: nothing outside, all of it inside.
    fn part(&self, x_m: f64) -> f64 {
        rise((x_m - self.from_m) / RUNS_OUT_M) * rise((self.until_m - x_m) / RUNS_OUT_M)
    }
}

/// From 0 to 1 between 0 and 1, without a corner.
pub(super) fn rise(part: f64) -> f64 {
    let part = part.clamp(0.0, 1.0);
    part * part * (3.0 - 2.0 * part)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn passes_ml_min(wear: &Wear, x_m: f64) -> f64 {
        let seal = Leak::laminar(0.1, 100.0);
        wear.flow(x_m, &seal, &|leak| leak.flow(100e5, 1.0)) * 60e6
    }

    #[test]
    fn a_score_lets_more_by_where_it_is_and_nothing_elsewhere() {
        let score = Scored {
            from_m: 0.15,
            until_m: 0.26,
            leak: Leak::laminar(0.6, 100.0),
        };
        let wear = Wear {
            scored: vec![score],
            seats_below_m: None,
        };
        for (x_m, expected) in [
            (0.0, 0.1),
            (0.15, 0.1),
            (0.15025, 0.4),
            (0.1505, 0.7),
            (0.2595, 0.7),
            (0.26, 0.1),
            (0.4, 0.1),
        ] {
            let found = passes_ml_min(&wear, x_m);
            assert!((found - expected).abs() < 1e-6, "{x_m}: {found}");
        }
    }

    #[test]
    fn a_piston_on_its_seat_lets_nothing_by() {
        let wear = Wear {
            scored: Vec::new(),
            seats_below_m: Some(0.002),
        };
        assert_eq!(passes_ml_min(&wear, 0.0), 0.0);
        assert_eq!(passes_ml_min(&wear, 0.002), 0.0);
        assert!((passes_ml_min(&wear, 0.003) - 0.1).abs() < 1e-9);
    }
}
