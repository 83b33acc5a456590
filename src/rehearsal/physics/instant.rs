//! The cylinder at one instant, and the oil that went each way.
//!
//! Plain numbers: what they mean is said here, what makes them is elsewhere.

use crate::cylinder::Kind;
use crate::rehearsal::physics::run::State;
use crate::rehearsal::physics::run::X;

/// Oil that went each way, in kg or kg/s, positive in the direction of leaking.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Passed {
    /// Past the piston, cap to rod.
    pub piston: f64,
    /// Out at the gland.
    pub gland: f64,
    /// At the cap port's plug or fitting.
    pub cap_plug: f64,
    /// Through the valve on the cap port, or into its vessel.
    pub cap_valve: f64,
    /// At the rod port's plug or fitting.
    pub rod_plug: f64,
    /// Through the valve on the rod port, or into its vessel; at the breather of a vented
    /// rod side, where what passed the piston drains at once.
    pub rod_valve: f64,
}

/// The cylinder at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instant {
    /// Time since the start, s.
    pub time_s: f64,
    /// Cap-end pressure, Pa gauge.
    pub p_cap_pa: f64,
    /// Rod-end pressure, Pa gauge; that of the atmosphere where there is no such chamber.
    pub p_rod_pa: f64,
    /// Extension, m.
    pub x_m: f64,
    /// Cap-end oil, K.
    pub oil_cap_k: f64,
    /// Rod-end oil, K.
    pub oil_rod_k: f64,
    /// Wall of the cap end, K.
    pub wall_cap_k: f64,
    /// Wall of the rod end, K.
    pub wall_rod_k: f64,
    /// Surroundings, K.
    pub surroundings_k: f64,
    /// Density of the cap-end oil, kg/m³.
    pub density_cap: f64,
    /// Density of the rod-end oil, kg/m³.
    pub density_rod: f64,
    /// Oil that went each way since the start, kg.
    pub passed_kg: Passed,
    /// Oil going each way now, kg/s.
    pub going_kg_per_s: Passed,
}

/// How many numbers an [`Instant`] is made of, without its time.
pub(super) const N_NUMBERS: usize = 22;

/// Which of them are the oil that passed; how fast it goes follows in the same order.
const PASSED: std::ops::Range<usize> = 10..10 + X;

impl Instant {
    pub(super) fn numbers(&self) -> [f64; N_NUMBERS] {
        let (passed, going) = (self.passed_kg.numbers(), self.going_kg_per_s.numbers());
        let mut all = [0.0; N_NUMBERS];
        all[..10].copy_from_slice(&[
            self.p_cap_pa,
            self.p_rod_pa,
            self.x_m,
            self.oil_cap_k,
            self.oil_rod_k,
            self.wall_cap_k,
            self.wall_rod_k,
            self.surroundings_k,
            self.density_cap,
            self.density_rod,
        ]);
        all[10..16].copy_from_slice(&passed);
        all[16..].copy_from_slice(&going);
        all
    }

    pub(super) fn from_numbers(time_s: f64, of: &[f64; N_NUMBERS]) -> Self {
        Self {
            time_s,
            p_cap_pa: of[0],
            p_rod_pa: of[1],
            x_m: of[2],
            oil_cap_k: of[3],
            oil_rod_k: of[4],
            wall_cap_k: of[5],
            wall_rod_k: of[6],
            surroundings_k: of[7],
            density_cap: of[8],
            density_rod: of[9],
            passed_kg: Passed::from_numbers(&of[10..16]),
            going_kg_per_s: Passed::from_numbers(&of[16..]),
        }
    }
}

impl Instant {
    /// The cylinder between this instant and a later one that nothing sudden lies between: a
    /// straight line, but for the oil that passed, whose flow at both ends is known (Hermite).
    pub fn towards(&self, later: &Self, time_s: f64) -> Self {
        let length_s = later.time_s - self.time_s;
        if length_s <= 0.0 {
            return Self { time_s, ..*later };
        }
        let part = ((time_s - self.time_s) / length_s).clamp(0.0, 1.0);
        let rest = 1.0 - part;
        let (first, last) = (self.numbers(), later.numbers());
        let mut numbers: [f64; N_NUMBERS] =
            std::array::from_fn(|i| rest * first[i] + part * last[i]);
        for passed in PASSED {
            let (chord, going) = (last[passed] - first[passed], passed + X);
            let bend =
                rest * (length_s * first[going] - chord) - part * (length_s * last[going] - chord);
            numbers[passed] += part * rest * bend;
        }
        Self::from_numbers(time_s, &numbers)
    }
}

impl Passed {
    /// Net loss of the cap end; the gland closes it where there is no piston seal.
    pub fn out_of_cap(&self, kind: Kind) -> f64 {
        let gland = if kind.has_piston_seal() {
            0.0
        } else {
            self.gland
        };
        self.piston + gland + self.cap_plug + self.cap_valve
    }

    /// Net loss of the rod end.
    pub fn out_of_rod(&self, kind: Kind) -> f64 {
        if !kind.has_piston_seal() {
            return 0.0;
        }
        self.gland + self.rod_plug + self.rod_valve - self.piston
    }

    /// What went, and what went before it.
    pub fn and(&self, before: &Self) -> Self {
        let (now, before) = (self.numbers(), before.numbers());
        Self::from_numbers(&std::array::from_fn::<f64, X, _>(|i| now[i] + before[i]))
    }

    /// What went since an earlier time.
    pub fn since(&self, before: &Self) -> Self {
        let (now, before) = (self.numbers(), before.numbers());
        Self::from_numbers(&std::array::from_fn::<f64, X, _>(|i| now[i] - before[i]))
    }

    pub(super) fn from_grams(state: &State) -> Self {
        Self {
            piston: 1e-3 * state[0],
            gland: 1e-3 * state[1],
            cap_plug: 1e-3 * state[2],
            cap_valve: 1e-3 * state[3],
            rod_plug: 1e-3 * state[4],
            rod_valve: 1e-3 * state[5],
        }
    }

    pub(super) fn to_grams(self) -> [f64; X] {
        self.numbers().map(|kg| 1e3 * kg)
    }

    fn numbers(self) -> [f64; X] {
        [
            self.piston,
            self.gland,
            self.cap_plug,
            self.cap_valve,
            self.rod_plug,
            self.rod_valve,
        ]
    }

    fn from_numbers(of: &[f64]) -> Self {
        Self {
            piston: of[0],
            gland: of[1],
            cap_plug: of[2],
            cap_valve: of[3],
            rod_plug: of[4],
            rod_valve: of[5],
        }
    }
}
