//! The course of a cylinder that is left standing: movement and pressures to come.
//!
//! Two balances of mass (cap side, rod side), the balance of forces without inertia, leak
//! laws scaled from flows that were measured, and oil that takes the temperature of what is
//! round it. A numerical course: where a closed form exists (`blocked`), it is the check.
//!
//! Invariants: mass is conserved (a flow is a volume at the pressure of the side it leaves
//! from when the course begins); pressures never fall below that of an empty chamber; the
//! rod never leaves its stroke.

mod leak;
mod side;

pub use leak::Leak;
pub use leak::TIGHT;
pub use side::EMPTY_PA;
pub use side::Side;

use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::oil::PRESSING_HEAT_K_PER_PA;
use crate::quantity::Length;
use crate::quantity::unit::meter;
use side::pressed;
use side::softness;
use side::unpressed;

/// Flows below this part of the first ones count as none: the rod is at rest.
const REST_PART: f64 = 2e-4;

/// Oil that may be booked wrongly in one step, by the oil of the chamber.
const STEP_TOLERANCE: f64 = 1e-6;

/// Most steps of a course; what is longer ends there, as a course without an end.
const N_STEPS_MAX: usize = 20_000;

/// Everything a course begins with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing<'a> {
    /// The cylinder.
    pub cylinder: &'a Cylinder,
    /// Extension, m.
    pub x_m: f64,
    /// Whether the rod is held by a stop.
    pub is_locked: bool,
    /// Cap side.
    pub cap: Side,
    /// Rod side.
    pub rod: Side,
    /// Past the piston, cap to rod; driven by the difference of the two pressures.
    pub piston: Leak,
    /// Out of the cap side to the atmosphere.
    pub cap_out: Leak,
    /// Out of the rod side to the atmosphere.
    pub rod_out: Leak,
    /// How oil in a rigid steel chamber swells, 1/K (α − 3α_steel).
    pub swelling_per_k: f64,
    /// Time in which the oil takes the temperature of what is round it, s.
    pub heat_time_s: f64,
}

/// A moment of a course.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Time since the start, s.
    pub time_s: f64,
    /// Extension, m.
    pub x_m: f64,
    /// Cap-end pressure, Pa gauge.
    pub p_cap_pa: f64,
    /// Rod-end pressure, Pa gauge.
    pub p_rod_pa: f64,
}

/// How a course ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// Nothing flows any more.
    Rest,
    /// The piston has come to an end of its stroke.
    StrokeEnd,
    /// It goes on beyond the time that was asked for.
    GoesOn,
}

/// A course from its start to its end.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// Moments in order of time; the first is the start.
    pub moments: Vec<Moment>,
    /// How it ends.
    pub end: End,
}

/// Masses (m³ at zero gauge pressure and the temperature around) and excess of temperature
/// over the course that pressing alone would take, K.
#[derive(Debug, Clone, Copy)]
struct State {
    mass: [f64; 2],
    warmer_k: [f64; 2],
}

impl Standing<'_> {
    /// Follows the course for at most `until_s`.
    pub fn follow(&self, until_s: f64) -> Course {
        let mut state = self.first_state();
        let mut now = self.now();
        let mut course = Course {
            moments: vec![now],
            end: End::GoesOn,
        };
        let first = self.first_size(now);
        let mut step = (until_s / 10.0).min(10.0);
        for _ in 0..N_STEPS_MAX {
            let left = until_s - now.time_s;
            if left <= 1e-9 * until_s {
                break;
            }
            let warm_until = 8.0 * self.heat_time_s;
            let longest = if now.time_s < warm_until && self.is_warm() {
                0.25 * self.heat_time_s
            } else {
                0.25 * until_s
            };
            let taken = step.min(left).min(longest);
            let (mass, error) = self.stepped(&state, now, taken);
            if error > 1.0 && taken > 1e-6 {
                step = taken * (0.9 * error.powf(-1.0 / 3.0)).clamp(0.1, 0.9);
                continue;
            }
            state.mass = mass;
            self.cool(&mut state, now, taken);
            let next = self.moment(&state, now.time_s + taken, now.x_m);
            self.vent(&mut state, &next);
            now = next;
            course.moments.push(now);
            step = taken * (0.9 * error.max(1e-9).powf(-1.0 / 3.0)).clamp(0.2, 4.0);
            if self.is_at_end(now) {
                course.end = End::StrokeEnd;
                break;
            }
            let is_warm = self.is_warm() && now.time_s < warm_until;
            if !is_warm && self.flow_size(now) <= REST_PART * first {
                course.end = End::Rest;
                break;
            }
        }
        course
    }

    /// The moment it begins with.
    pub fn now(&self) -> Moment {
        self.moment(&self.first_state(), 0.0, self.x_m)
    }

    /// Where the rod and the pressures go when the oil of both sides cools by `by_k` (warms,
    /// if it is negative) and nothing leaks meanwhile.
    pub fn cooled(&self, by_k: f64) -> Moment {
        let mut state = self.first_state();
        state.warmer_k.iter_mut().for_each(|k| *k -= by_k);
        self.moment(&state, 0.0, self.x_m)
    }

    fn is_warm(&self) -> bool {
        self.swelling_per_k > 0.0 && self.heat_time_s > 0.0
    }

    fn side(&self, chamber: Chamber) -> &Side {
        match chamber {
            Chamber::Cap => &self.cap,
            Chamber::Rod => &self.rod,
        }
    }

    fn volume(&self, chamber: Chamber, x_m: f64) -> f64 {
        let own = self
            .cylinder
            .volume(chamber, Length::new::<meter>(x_m))
            .value;
        (own + self.side(chamber).extra_m3).max(1e-9)
    }

    fn first_state(&self) -> State {
        let mass = |chamber| {
            let side = self.side(chamber);
            let p = side.pressure_pa.max(EMPTY_PA);
            let swollen = self.swelling_per_k * side.warmer_k;
            self.volume(chamber, self.x_m) * (pressed(side, p) - swollen).exp()
        };
        State {
            mass: [mass(Chamber::Cap), mass(Chamber::Rod)],
            warmer_k: [self.cap.warmer_k, self.rod.warmer_k],
        }
    }

    /// Load by the pressures at the start, N; positive pushes the rod in.
    pub fn load_n(&self) -> f64 {
        let area = |chamber| self.cylinder.area(chamber).value;
        let p = |chamber| {
            let side = self.side(chamber);
            if side.is_open { 0.0 } else { side.pressure_pa }
        };
        p(Chamber::Cap) * area(Chamber::Cap) - p(Chamber::Rod) * area(Chamber::Rod)
    }

    /// Pressure of a chamber with this oil in it at the extension `x_m`.
    fn pressure(&self, chamber: Chamber, state: &State, x_m: f64) -> f64 {
        let side = self.side(chamber);
        if side.is_open {
            return 0.0;
        }
        let index = usize::from(chamber == Chamber::Rod);
        let wanted = (state.mass[index] / self.volume(chamber, x_m)).ln()
            + self.swelling_per_k * state.warmer_k[index];
        let p = unpressed(side, wanted);
        side.opens_at_pa.map_or(p, |opens| p.min(opens))
    }

    /// The extension that balances the load, and the pressures there.
    fn moment(&self, state: &State, time_s: f64, near_m: f64) -> Moment {
        let at = |x_m: f64| Moment {
            time_s,
            x_m,
            p_cap_pa: self.pressure(Chamber::Cap, state, x_m),
            p_rod_pa: self.pressure(Chamber::Rod, state, x_m),
        };
        if self.is_locked {
            return at(self.x_m);
        }
        let (ac, ar) = (
            self.cylinder.cap_area().value,
            self.cylinder.annulus_area().value,
        );
        let load = self.load_n();
        let spare = |x: f64| {
            let m = at(x);
            m.p_cap_pa * ac - m.p_rod_pa * ar - load
        };
        let stroke = self.cylinder.size().stroke.value;
        let mut x = near_m;
        for _ in 0..6 {
            let here = at(x);
            let force = here.p_cap_pa * ac - here.p_rod_pa * ar - load;
            let slope = self.stiffness(Chamber::Cap, &here) + self.stiffness(Chamber::Rod, &here);
            let move_m = force / slope.max(1.0);
            if move_m.abs() < 1e-10 && x > 0.0 && x < stroke {
                return here;
            }
            x = (x + move_m).clamp(0.0, stroke);
        }
        // Where a chamber runs empty or the stroke ends there is a corner, and that way may
        // not come to an end. The further out, the less force: a bracket round the last
        // place, then a secant that is kept inside it.
        let (mut low, mut high) = (near_m - 1e-5, near_m + 1e-5);
        let mut width = 1e-4;
        while low > 0.0 && spare(low) < 0.0 {
            (low, width) = (low - width, 4.0 * width);
        }
        width = 1e-4;
        while high < stroke && spare(high) > 0.0 {
            (high, width) = (high + width, 4.0 * width);
        }
        (low, high) = (low.max(0.0), high.min(stroke));
        let (mut over, mut under) = (spare(low), spare(high));
        if over <= 0.0 {
            return at(low);
        }
        if under >= 0.0 {
            return at(high);
        }
        for _ in 0..100 {
            let secant = low + (high - low) * over / (over - under);
            let margin = 0.05 * (high - low);
            let x = secant.clamp(low + margin, high - margin);
            let value = spare(x);
            if value > 0.0 {
                (low, over) = (x, value);
            } else {
                (high, under) = (x, value);
            }
            if high - low < 1e-12 || value.abs() < 1e-6 {
                break;
            }
        }
        at(if over < -under { low } else { high })
    }

    /// Stiffness of one chamber against the rod, N/m; none if it is open, empty or vented.
    fn stiffness(&self, chamber: Chamber, at: &Moment) -> f64 {
        let side = self.side(chamber);
        let p = match chamber {
            Chamber::Cap => at.p_cap_pa,
            Chamber::Rod => at.p_rod_pa,
        };
        if side.is_open || p <= EMPTY_PA || side.opens_at_pa.is_some_and(|opens| p >= opens) {
            return 0.0;
        }
        let area = self.cylinder.area(chamber).value;
        let soft = softness(side, p);
        area * area / (self.volume(chamber, at.x_m) * soft)
    }

    /// Oil that leaves each chamber by time, in mass.
    fn losses(&self, now: Moment) -> [f64; 2] {
        let density = |chamber| {
            let side = self.side(chamber);
            pressed(side, side.pressure_pa.max(EMPTY_PA)).exp()
        };
        let (cap, rod) = (density(Chamber::Cap), density(Chamber::Rod));
        let past = self.piston.at(now.p_cap_pa - now.p_rod_pa);
        // Booked at the density of the side that held the higher pressure at the start.
        let past = past
            * if self.piston.driven_by_pa >= 0.0 {
                cap
            } else {
                rod
            };
        let out = |leak: &Leak, p: f64, density: f64| leak.at(p.max(0.0)) * density;
        [
            past + out(&self.cap_out, now.p_cap_pa, cap),
            out(&self.rod_out, now.p_rod_pa, rod) - past,
        ]
    }

    fn flow_size(&self, now: Moment) -> f64 {
        let past = self.piston.at(now.p_cap_pa - now.p_rod_pa).abs();
        past + self.cap_out.at(now.p_cap_pa.max(0.0)) + self.rod_out.at(now.p_rod_pa.max(0.0))
    }

    fn first_size(&self, now: Moment) -> f64 {
        self.flow_size(now).max(f64::MIN_POSITIVE)
    }

    /// One step by the third-order method of Bogacki and Shampine, with its error in parts of
    /// what is tolerated.
    fn stepped(&self, state: &State, now: Moment, step: f64) -> ([f64; 2], f64) {
        let rate = |mass: [f64; 2], near: Moment| {
            let there = State {
                mass: mass.map(|m| m.max(1e-12)),
                ..*state
            };
            let m = self.moment(&there, now.time_s, near.x_m);
            (self.losses(m).map(|l| -l), m)
        };
        let add = |k: [f64; 2], part: f64| [0, 1].map(|i| state.mass[i] + step * part * k[i]);
        let (k1, at1) = rate(state.mass, now);
        let (k2, at2) = rate(add(k1, 0.5), at1);
        let (k3, at3) = rate(add(k2, 0.75), at2);
        let mean = [0, 1].map(|i| (2.0 * k1[i] + 3.0 * k2[i] + 4.0 * k3[i]) / 9.0);
        let mass = add(mean, 1.0);
        let (k4, _) = rate(mass, at3);
        let error = [0, 1].map(|i| {
            let other = 7.0 / 24.0 * k1[i] + 0.25 * k2[i] + k3[i] / 3.0 + 0.125 * k4[i];
            step * (mean[i] - other).abs() / (STEP_TOLERANCE * state.mass[i].max(1e-9))
        });
        (mass.map(|m| m.max(1e-12)), error[0].max(error[1]))
    }

    /// The oil goes towards the temperature around it. Pressing warms it at once, and that
    /// heat leaves too.
    fn cool(&self, state: &mut State, now: Moment, step: f64) {
        if !self.is_warm() {
            return;
        }
        let gone = 1.0 - (-step / self.heat_time_s).exp();
        let sides = [(&self.cap, now.p_cap_pa), (&self.rod, now.p_rod_pa)];
        for ((side, p), excess) in sides.into_iter().zip(&mut state.warmer_k) {
            let pressing = PRESSING_HEAT_K_PER_PA * (p - side.pressure_pa);
            *excess -= (*excess + pressing) * gone;
        }
    }

    /// What a valve lets out is gone; what a vessel gives or takes is not booked.
    fn vent(&self, state: &mut State, now: &Moment) {
        for (index, chamber) in [Chamber::Cap, Chamber::Rod].into_iter().enumerate() {
            let side = self.side(chamber);
            let p = match (side.is_open, side.opens_at_pa) {
                (true, _) => 0.0,
                (false, Some(opens)) => opens,
                (false, None) => continue,
            };
            let swollen = self.swelling_per_k * state.warmer_k[index];
            let most = self.volume(chamber, now.x_m) * (pressed(side, p) - swollen).exp();
            state.mass[index] = if side.is_open {
                most
            } else {
                state.mass[index].min(most)
            };
        }
    }

    fn is_at_end(&self, now: Moment) -> bool {
        let stroke = self.cylinder.size().stroke.value;
        !self.is_locked && (now.x_m <= 1e-9 || now.x_m >= stroke - 1e-9)
    }
}

impl Course {
    /// The last moment.
    pub fn last(&self) -> Moment {
        *self.moments.last().expect("a course has its start")
    }

    /// The last moment before the piston comes to an end of its stroke, else the last one.
    pub fn last_free(&self) -> Moment {
        let cut = usize::from(self.end == End::StrokeEnd && self.moments.len() > 1);
        self.moments[self.moments.len() - 1 - cut]
    }

    /// The state at a time, on straight lines between moments; the last one after the end.
    pub fn at(&self, time_s: f64) -> Moment {
        let after = self.moments.partition_point(|m| m.time_s < time_s);
        let (Some(before), Some(next)) = (
            self.moments.get(after.saturating_sub(1)),
            self.moments.get(after),
        ) else {
            return Moment {
                time_s,
                ..self.last()
            };
        };
        let span = next.time_s - before.time_s;
        let part = if span > 0.0 {
            (time_s - before.time_s) / span
        } else {
            1.0
        };
        let mix = |a: f64, b: f64| a + part * (b - a);
        Moment {
            time_s,
            x_m: mix(before.x_m, next.x_m),
            p_cap_pa: mix(before.p_cap_pa, next.p_cap_pa),
            p_rod_pa: mix(before.p_rod_pa, next.p_rod_pa),
        }
    }

    /// Speed of the rod at the end, m/s, positive outwards.
    pub fn last_speed(&self) -> f64 {
        // The step into the end of the stroke is cut short by it.
        let n_whole = self.moments.len() - usize::from(self.end == End::StrokeEnd);
        let [.., a, b] = &self.moments[..n_whole.max(2).min(self.moments.len())] else {
            return 0.0;
        };
        (b.x_m - a.x_m) / (b.time_s - a.time_s)
    }

    /// Time in which `part` of the movement, or of the change of pressure where nothing
    /// moves, is done, s.
    pub fn time_of_part(&self, part: f64) -> f64 {
        let (first, last) = (self.moments[0], self.last());
        let done = |m: &Moment| {
            if (last.x_m - first.x_m).abs() > 1e-6 {
                (m.x_m - first.x_m) / (last.x_m - first.x_m)
            } else {
                let change = last.p_cap_pa - first.p_cap_pa;
                if change.abs() < 1.0 {
                    1.0
                } else {
                    (m.p_cap_pa - first.p_cap_pa) / change
                }
            }
        };
        let Some(index) = self.moments.iter().position(|m| done(m) >= part) else {
            return last.time_s;
        };
        if index == 0 {
            return 0.0;
        }
        let (a, b) = (&self.moments[index - 1], &self.moments[index]);
        let (from, until) = (done(a), done(b));
        a.time_s + (b.time_s - a.time_s) * (part - from) / (until - from).max(1e-12)
    }
}

#[cfg(test)]
mod tests;
