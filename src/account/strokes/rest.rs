//! The rod at an end of its stroke: where it stands, and what pushes until it moves.

use super::mean::Mean;
use super::way::Travel;

/// A rod that stood for less was not at rest, s (common practice, no source).
const REST_LEAST_S: f64 = 0.5;

/// The rod at an end.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Rest {
    /// Which way it will go from here.
    pub travel: Travel,
    since_s: f64,
    latest_s: f64,
    first_m: f64,
    place: Mean,
    before_n: Option<f64>,
    peak: Option<Peak>,
    is_read: bool,
}

/// The highest force in the direction of travel before the rod moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Peak {
    /// The force, N: half of an unseen rise is added.
    pub force_n: f64,
    /// What the readings leave open of it, one sigma, N.
    pub standard_n: f64,
}

impl Rest {
    /// From a time in s and a place in m.
    pub fn new(travel: Travel, time_s: f64, x_m: f64) -> Self {
        let mut place = Mean::default();
        place.push(x_m);
        Self {
            travel,
            since_s: time_s,
            latest_s: time_s,
            first_m: x_m,
            place,
            before_n: None,
            peak: None,
            is_read: true,
        }
    }

    /// Where it stands, m.
    pub fn place_m(&self) -> f64 {
        self.place.value().unwrap_or(self.first_m)
    }

    /// Whether it stood long enough to have been at rest.
    pub fn is_long(&self) -> bool {
        self.latest_s - self.since_s >= REST_LEAST_S
    }

    /// Takes a place; whether the rod has left the end by more than `seen_m`, m.
    pub fn goes(&mut self, time_s: f64, x_m: f64, seen_m: f64) -> bool {
        let sign = self.travel.sign();
        if sign * (x_m - self.place_m()) > seen_m {
            return true;
        }
        if sign * (x_m - self.first_m) < -0.5 * seen_m {
            // It still came further in: what was seen so far belongs to the way before.
            *self = Self::new(self.travel, time_s, x_m);
        } else {
            self.place.push(x_m);
        }
        self.latest_s = time_s;
        false
    }

    /// Takes the force on the piston, N, positive outwards; None for one that was not read.
    pub fn pushed(&mut self, outwards_n: Option<f64>) {
        let Some(outwards_n) = outwards_n else {
            self.is_read = false;
            return;
        };
        let force_n = self.travel.sign() * outwards_n;
        let is_highest = self.peak.is_none_or(|peak| force_n > peak.force_n);
        if is_highest {
            // It rose on from the last reading before the rod gave way, by at most as much as
            // between the two readings before: anything of it is as likely (a rectangle).
            let rise_n = self
                .before_n
                .map_or(0.0, |before| (force_n - before).max(0.0));
            self.peak = Some(Peak {
                force_n,
                standard_n: rise_n / 12.0_f64.sqrt(),
            });
        }
        self.before_n = Some(force_n);
    }

    /// What it took to move it, if it was at rest and all was read.
    pub fn breakaway(&self) -> Option<Peak> {
        let peak = self.peak.filter(|_| self.is_read && self.is_long())?;
        Some(Peak {
            force_n: peak.force_n + 0.5 * 12.0_f64.sqrt() * peak.standard_n,
            ..peak
        })
    }
}
