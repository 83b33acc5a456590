//! The rod in motion: oil that is let in and out, seals that stick and slide, pressures that follow.
//!
//! The piston has a mass; each chamber gives way by its own oil, air and hose. Friction of seals
//! and guide sticks up to its greatest, falls as the rod begins to slide and rises with speed
//! (Coulomb, Stribeck and viscous). Steps are of one length, so the same valve gives the same
//! course.

use crate::rehearsal::physics::chamber::Around;
use crate::rehearsal::physics::chamber::Chamber;
use crate::rehearsal::physics::chamber::REFERENCE_K;
use crate::rehearsal::physics::specimen::ChamberOil;
use crate::rehearsal::physics::specimen::Specimen;

/// Length of a step, s: short against the swing of rod and oil, some 20 ms.
pub(crate) const STEP_S: f64 = 5e-4;

/// What moves with the rod, kg.
const MASS_KG: f64 = 40.0;

/// Resistance of an open line to the tank, Pa·s/m³: a twentieth of a bar for 2.5 mL/s.
const LINE_PA_S_PER_M3: f64 = 2e9;

/// A relief valve opens over this part of its setting.
const RELIEF_PART: f64 = 0.05;

/// Friction of seals and guide together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seals {
    /// Greatest friction of a rod that stands, N.
    pub static_n: f64,
    /// Friction of a slow rod once it slides, N.
    pub coulomb_n: f64,
    /// Speed over which it falls from the one to the other, m/s; above zero.
    pub stribeck_m_per_s: f64,
    /// Rise with speed, N·s/m.
    pub viscous_n_s_per_m: f64,
}

impl Seals {
    /// Friction at a speed above zero, N.
    pub fn sliding_n(&self, speed_m_per_s: f64) -> f64 {
        self.dry_n(speed_m_per_s) + self.viscous_n_s_per_m * speed_m_per_s
    }

    fn dry_n(&self, speed_m_per_s: f64) -> f64 {
        let falls = (-(speed_m_per_s / self.stribeck_m_per_s).powi(2)).exp();
        self.coulomb_n + (self.static_n - self.coulomb_n) * falls
    }
}

/// How the two ports stand, cap and rod.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Valve {
    /// Oil that the pump would bring, m³/s.
    pub flow_m3_per_s: [f64; 2],
    /// Whether a port stands open to the tank.
    pub is_open: [bool; 2],
    /// Setting of the relief valve, Pa gauge.
    pub relief_pa: f64,
}

/// A cylinder whose rod moves.
#[derive(Debug, Clone)]
pub(crate) struct Moved {
    chambers: [Chamber; 2],
    areas_m2: [f64; 2],
    dead_m3: [f64; 2],
    stroke_m: f64,
    seals: Seals,
    /// What pulls the rod out all the time, N.
    pull_n: f64,
    pressures_pa: [f64; 2],
    x_m: f64,
    speed_m_per_s: f64,
    n_steps: u64,
}

impl Moved {
    /// A cylinder at rest, with the bench's hose at a port that is not plugged.
    pub(crate) fn new(
        specimen: &Specimen,
        (seals, pull_n): (Seals, f64),
        hoses: [Option<(f64, f64)>; 2],
        (pressures_pa, x_m): ([f64; 2], f64),
    ) -> Self {
        let cylinder = &specimen.cylinder;
        let size = cylinder.size();
        let with_hose = |own: &ChamberOil, hose: Option<(f64, f64)>| {
            let (hose_m3, hose_pa) = hose.unwrap_or((own.hose_m3, own.hose_pa));
            let own = ChamberOil {
                hose_m3,
                hose_pa,
                ..*own
            };
            Chamber::new(&specimen.oil, &own, specimen.wall_pa)
        };
        Self {
            chambers: [
                with_hose(&specimen.cap, hoses[0]),
                with_hose(&specimen.rod, hoses[1]),
            ],
            areas_m2: [cylinder.cap_area().value, cylinder.annulus_area().value],
            dead_m3: [size.cap_dead_volume.value, size.rod_dead_volume.value],
            stroke_m: size.stroke.value,
            seals,
            pull_n,
            pressures_pa,
            x_m,
            speed_m_per_s: 0.0,
            n_steps: 0,
        }
    }

    /// Pressures, cap and rod, Pa gauge, and extension, m.
    pub(crate) fn stands(&self) -> ([f64; 2], f64) {
        (self.pressures_pa, self.x_m)
    }

    /// Goes on to a time since it began, s, by what the hands do with the valve at each step:
    /// they see the time and the extension.
    pub(crate) fn goes_on(&mut self, since_s: f64, mut hands: impl FnMut(f64, f64) -> Valve) {
        let until = (since_s / STEP_S + 1e-6).floor().max(0.0) as u64;
        while self.n_steps < until {
            let valve = hands(self.n_steps as f64 * STEP_S, self.x_m);
            self.step(&valve);
            self.n_steps += 1;
        }
    }

    fn step(&mut self, valve: &Valve) {
        let into = [0, 1].map(|side| self.flows_in(side, valve));
        // Outwards the cap side grows and the rod side shrinks.
        let grows = [1.0, -1.0];
        for side in 0..2 {
            let volume_m3 = self.rigid_m3(side);
            let around = Around {
                rigid_m3: volume_m3,
                wall_k: REFERENCE_K,
                heat_k: 0.0,
            };
            let give = self.chambers[side].give_m3_per_pa(self.pressures_pa[side], &around);
            let net = into[side] - grows[side] * self.areas_m2[side] * self.speed_m_per_s;
            self.pressures_pa[side] += net * STEP_S / give;
        }
        self.moves();
    }

    fn rigid_m3(&self, side: usize) -> f64 {
        let way_m = if side == 0 {
            self.x_m
        } else {
            self.stroke_m - self.x_m
        };
        self.dead_m3[side] + self.areas_m2[side] * way_m
    }

    fn flows_in(&self, side: usize, valve: &Valve) -> f64 {
        let pa = self.pressures_pa[side];
        let left = (valve.relief_pa - pa) / (RELIEF_PART * valve.relief_pa);
        let pumped = valve.flow_m3_per_s[side] * left.clamp(0.0, 1.0);
        let drains = if valve.is_open[side] {
            pa / LINE_PA_S_PER_M3
        } else {
            0.0
        };
        pumped - drains
    }

    /// One step of the rod: what sticks stays, what comes to a stop is stopped by it.
    fn moves(&mut self) {
        let [cap_pa, rod_pa] = self.pressures_pa;
        let push_n = cap_pa * self.areas_m2[0] - rod_pa * self.areas_m2[1] + self.pull_n;
        let is_at_stop =
            (self.x_m <= 0.0 && push_n < 0.0) || (self.x_m >= self.stroke_m && push_n > 0.0);
        if self.speed_m_per_s == 0.0 && (is_at_stop || push_n.abs() <= self.seals.static_n) {
            return;
        }
        let sign = match self.speed_m_per_s {
            v if v != 0.0 => v.signum(),
            _ => push_n.signum(),
        };
        let dry_n = self.seals.dry_n(self.speed_m_per_s.abs());
        let viscous = self.seals.viscous_n_s_per_m * STEP_S / MASS_KG;
        let speed =
            (self.speed_m_per_s + (push_n - sign * dry_n) * STEP_S / MASS_KG) / (1.0 + viscous);
        // Friction stops a rod and never turns it round.
        self.speed_m_per_s = if speed * sign > 0.0 { speed } else { 0.0 };
        self.x_m += self.speed_m_per_s * STEP_S;
        if !(0.0..=self.stroke_m).contains(&self.x_m) {
            self.x_m = self.x_m.clamp(0.0, self.stroke_m);
            self.speed_m_per_s = 0.0;
        }
    }
}
