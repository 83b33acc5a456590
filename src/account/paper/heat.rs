//! Heat of a tight hold on paper: as the account expects it, or as it may be as well.
//!
//! Nobody knows how warm oil was when it was shut in, nor how fast it gives its heat away. What
//! the account allows for (its priors) is drawn evenly here: of as many courses as there are each
//! unknown takes each of its values once, in an order of its own, so that a few courses stand for
//! all.
//!
//! Invariant: the same number gives the same heat; nothing is fitted to any bench.

use super::PaperStart;
use crate::account::Subject;
use crate::account::layout::APART_K;
use crate::account::layout::FAST_PART;
use crate::account::layout::HOT_K;
use crate::account::layout::LN_LAG_SIGMA;
use crate::account::layout::LN_TAU_ROD;
use crate::account::layout::LN_TAU_SIGMA;
use crate::account::layout::PRESSED_MEAN;
use crate::account::layout::PRESSED_SIGMA;
use crate::account::layout::PROBE_LAG_S;
use crate::account::layout::PROBE_PART;
use crate::account::layout::PROBE_START_K;
use crate::account::layout::UNSEEN;
use crate::account::layout::WALL_K_PER_S;
use crate::account::layout::relaxation_s;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::fit::normal_quantile;
use crate::oil::PRESSING_HEAT_K_PER_PA;

/// Oil over or under its wall before it is pressed up, K: the size of it in the middle of what a
/// workshop does. Nobody knows which of both, so it joins the heat of pressing by its square.
const FRESH_K: f64 = 1.0;

/// How fast a room cools, K/s: half of what the account allows for.
const ROOM_K_PER_S: f64 = 0.03 / 60.0;

/// How many courses stand for all that heat may do.
pub const HEAT_COURSES: usize = 6;

/// Which value of each unknown a course has, lowest first: the heat of the oil, that of the other
/// end beside it, the time it takes, the wall, the fast part, and the probe's part and lateness.
/// The outermost heat comes first. No two orders are correlated by more than 0.4 (by search).
const ORDERS: [[u8; HEAT_COURSES]; 7] = [
    [0, 5, 1, 4, 2, 3],
    [3, 1, 2, 4, 0, 5],
    [3, 2, 4, 5, 1, 0],
    [4, 1, 0, 3, 5, 2],
    [1, 0, 5, 4, 2, 3],
    [1, 2, 5, 0, 4, 3],
    [0, 1, 2, 3, 5, 4],
];

/// Heat of one course.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PaperHeat {
    /// Oil over its wall when the piece begins to settle, K: cap, rod.
    pub oil_k: [f64; 2],
    /// Time in which most of it goes, s: cap, rod.
    pub tau_s: [f64; 2],
    /// Part of it in the fast mode.
    pub fast_part: f64,
    /// How fast the wall warms at first, K/s.
    pub wall_k_per_s: f64,
    /// What the probe shows over the wall at first, K.
    pub probe_k: f64,
    /// Part of the oil's temperature in what the probe shows.
    pub probe_part: f64,
    /// Lag of the probe, s.
    pub lag_s: f64,
}

impl PaperHeat {
    /// As it is expected.
    pub fn expected(subject: &Subject, cylinder: &Cylinder, start: &PaperStart) -> Self {
        let oil_k = pressed(start).map(|k| FRESH_K.hypot(PRESSED_MEAN * k));
        Self {
            oil_k,
            tau_s: [relaxation_s(cylinder); 2],
            fast_part: FAST_PART.0,
            wall_k_per_s: -ROOM_K_PER_S,
            // It has seen nothing yet of what pressing did.
            probe_k: PROBE_PART.0 * FRESH_K.min(oil_k[probed(subject)]),
            probe_part: PROBE_PART.0,
            lag_s: PROBE_LAG_S,
        }
    }

    /// That of one of the [`HEAT_COURSES`].
    pub fn of_course(
        course: usize,
        subject: &Subject,
        cylinder: &Cylinder,
        start: &PaperStart,
    ) -> Self {
        let [hot, apart, tau, wall, fast, part, probe] = ORDERS.map(|order| {
            let place = f64::from(order[course % HEAT_COURSES]);
            normal_quantile((place + 0.5) / HEAT_COURSES as f64)
        });
        let unseen = match subject.circuit.probe {
            Some(_) => 1.0,
            None => UNSEEN,
        };
        let pressed = pressed(start);
        let own = usize::from(subject.circuit.holding_chamber() == Chamber::Rod);
        let own_k = PRESSED_MEAN * pressed[own]
            + hot * (unseen * HOT_K).hypot(PRESSED_SIGMA * pressed[own]);
        let apart_k = pressed[1 - own] - pressed[own];
        let other_k =
            own_k + PRESSED_MEAN * apart_k + apart * APART_K.hypot(PRESSED_SIGMA * apart_k);
        let mut oil_k = [own_k; 2];
        oil_k[1 - own] = other_k;
        let tau_s = relaxation_s(cylinder) * (LN_TAU_SIGMA * tau).exp();
        let probed = probed(subject);
        let probe_part = PROBE_PART.0 + PROBE_PART.1 * part;
        let late_k = PRESSED_MEAN * pressed[probed];
        let late_sigma_k = PROBE_START_K.hypot(PRESSED_SIGMA * pressed[probed]);
        Self {
            oil_k,
            tau_s: [tau_s, tau_s * LN_TAU_ROD.0.exp()],
            fast_part: FAST_PART.0 + FAST_PART.1 * fast,
            wall_k_per_s: unseen * WALL_K_PER_S * wall,
            probe_k: probe_part * oil_k[probed] - late_k + late_sigma_k * probe,
            probe_part,
            // A probe that is late at first is a slow one.
            lag_s: PROBE_LAG_S * (-LN_LAG_SIGMA * probe).exp(),
        }
    }
}

/// By how much pressing up at once would warm the oil, K: cap, rod.
fn pressed(start: &PaperStart) -> [f64; 2] {
    [Chamber::Cap, Chamber::Rod]
        .map(|chamber| PRESSING_HEAT_K_PER_PA * start.pressure(chamber).pa().max(0.0))
}

/// Place of the chamber whose oil a probe sees.
fn probed(subject: &Subject) -> usize {
    usize::from(subject.circuit.probe == Some(Chamber::Rod))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn level(place: u8) -> f64 {
        normal_quantile((f64::from(place) + 0.5) / HEAT_COURSES as f64)
    }

    #[test]
    fn each_unknown_takes_each_of_its_values_once() {
        for order in ORDERS {
            let mut places = order;
            places.sort_unstable();
            assert_eq!(places, [0, 1, 2, 3, 4, 5]);
        }
    }

    #[test]
    fn no_unknown_hangs_on_another() {
        let size: f64 = ORDERS[0].map(|place| level(place).powi(2)).iter().sum();
        for (index, one) in ORDERS.iter().enumerate() {
            for other in &ORDERS[index + 1..] {
                let product: f64 = one
                    .iter()
                    .zip(other)
                    .map(|(a, b)| level(*a) * level(*b))
                    .sum();
                assert!((product / size).abs() < 0.4, "{one:?} {other:?}");
            }
        }
    }
}
