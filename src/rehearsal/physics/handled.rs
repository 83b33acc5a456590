//! The cylinder while somebody works it: pressures and extension are given, heat follows.
//!
//! Oil of the tank is a little warmer than the wall; what is pumped in takes the place of
//! part of the old. Nothing counts as leaked while the cylinder is worked.

use crate::cylinder::Chamber as Side;
use crate::quantity::Length;
use crate::quantity::unit::meter;
use crate::rehearsal::physics::chamber::Around;
use crate::rehearsal::physics::chamber::Chamber;
use crate::rehearsal::physics::instant::Instant;
use crate::rehearsal::physics::instant::Passed;
use crate::rehearsal::physics::run::Begin;
use crate::rehearsal::physics::specimen::Specimen;
use crate::rehearsal::physics::warmth::Warmth;
use crate::rehearsal::physics::warmth::warming;

/// Longest step of the heat, s: small against the fast mode of a narrow cylinder, some 100 s.
const LONGEST_STEP_S: f64 = 1.0;

const SIDES: [Side; 2] = [Side::Cap, Side::Rod];

/// A cylinder in somebody's hands.
#[derive(Debug, Clone)]
pub(crate) struct Handled {
    specimen: Specimen,
    chambers: [Chamber; 2],
    fresh_k: [f64; 2],
    at_s: f64,
    warmth: [Warmth; 2],
    pressures_pa: [f64; 2],
}

impl Handled {
    /// At 0 s, vented, with oil from the tank in it.
    pub(crate) fn vented(specimen: &Specimen) -> Self {
        let fresh_k = [specimen.cap.fresh_heat_k, specimen.rod.fresh_heat_k];
        Self {
            specimen: specimen.clone(),
            chambers: [&specimen.cap, &specimen.rod]
                .map(|own| Chamber::new(&specimen.oil, own, specimen.wall_pa)),
            fresh_k,
            at_s: 0.0,
            warmth: fresh_k.map(Warmth::fresh),
            pressures_pa: [0.0; 2],
        }
    }

    /// The cylinder at a time, s, with its pressures then, cap and rod, Pa, and its extension,
    /// m; times must not fall. Pressures went there in a straight line.
    pub(crate) fn at(&mut self, time_s: f64, pressures_pa: [f64; 2], x_m: f64) -> Instant {
        let length_s = (time_s - self.at_s).max(0.0);
        let n_steps = (length_s / LONGEST_STEP_S).ceil();
        for step in 0..n_steps as u32 {
            let part = |ends: u32| f64::from(ends) / n_steps;
            for side in 0..2 {
                let (from_pa, to_pa) = (self.pressures_pa[side], pressures_pa[side]);
                let pressure_pa = |part: f64| from_pa + part * (to_pa - from_pa);
                let ends_pa = [pressure_pa(part(step)), pressure_pa(part(step + 1))];
                self.warmth[side] = warmed(
                    &self.specimen,
                    SIDES[side],
                    &self.warmth[side],
                    ends_pa,
                    length_s / n_steps,
                );
            }
        }
        (self.at_s, self.pressures_pa) = (time_s, pressures_pa);
        self.instant(x_m)
    }

    /// Takes the place of a part of the old oil, 0 to 1, with oil from the tank.
    pub(crate) fn fill(&mut self, part: f64) {
        for (own, fresh_k) in self.warmth.iter_mut().zip(self.fresh_k) {
            for mode_k in &mut own.oil_k {
                *mode_k += part * (fresh_k - *mode_k);
            }
        }
    }

    /// Oil in a chamber of this cylinder with what is plumbed to it now, as it stands, kg; and what
    /// a cubic metre of it weighs in a glass, kg/m³. What creeps is left out: it comes back too
    /// slowly to be let off.
    pub(crate) fn holds_kg(&self, plumbed: &Specimen, side: Side, x_m: f64) -> (f64, f64) {
        let (at, own) = match side {
            Side::Cap => (0, &plumbed.cap),
            Side::Rod => (1, &plumbed.rod),
        };
        let chamber = Chamber::new(&plumbed.oil, own, plumbed.wall_pa);
        let heat = &plumbed.heat;
        let warmth = &self.warmth[at];
        let x = Length::new::<meter>(x_m);
        let around = Around {
            rigid_m3: plumbed.cylinder.volume(side, x).value,
            wall_k: heat.wall_k + heat.wall_k_per_s * self.at_s + warmth.wall_k,
            heat_k: warmth.heat_k(heat),
        };
        let p_pa = self.pressures_pa[at];
        let in_glass = chamber.density(0.0, chamber.oil_k(p_pa, &around));
        (chamber.mass(p_pa, &around), in_glass)
    }

    /// Goes on from a cylinder that was left alone until now.
    pub(super) fn take(&mut self, now: &Instant, warmth: [Warmth; 2]) {
        self.at_s = now.time_s;
        self.warmth = warmth;
        self.pressures_pa = [now.p_cap_pa, now.p_rod_pa];
    }

    /// How it stands if it is left alone now.
    pub(super) fn begin(&self) -> Begin {
        Begin {
            at_s: self.at_s,
            warmth: self.warmth,
        }
    }

    fn instant(&self, x_m: f64) -> Instant {
        let heat = &self.specimen.heat;
        let surroundings_k = heat.wall_k + heat.wall_k_per_s * self.at_s;
        let [cap, rod] = std::array::from_fn(|side| {
            let own = &self.warmth[side];
            let around = Around {
                // Mass is not asked for.
                rigid_m3: 0.0,
                wall_k: surroundings_k + own.wall_k,
                heat_k: own.heat_k(heat),
            };
            let p_pa = self.pressures_pa[side];
            let oil_k = self.chambers[side].oil_k(p_pa, &around);
            let density = self.chambers[side].density(p_pa, oil_k);
            (oil_k, around.wall_k, density)
        });
        Instant {
            time_s: self.at_s,
            p_cap_pa: self.pressures_pa[0],
            p_rod_pa: self.pressures_pa[1],
            x_m,
            oil_cap_k: cap.0,
            oil_rod_k: rod.0,
            wall_cap_k: cap.1,
            wall_rod_k: rod.1,
            surroundings_k,
            density_cap: cap.2,
            density_rod: rod.2,
            passed_kg: Passed::default(),
            going_kg_per_s: Passed::default(),
        }
    }
}

/// Heat of a chamber after a short time in which its pressure went from one end to the other
/// (Heun).
pub(super) fn warmed(
    specimen: &Specimen,
    side: Side,
    own: &Warmth,
    [from_pa, to_pa]: [f64; 2],
    length_s: f64,
) -> Warmth {
    let by_second = |own: &Warmth, p_pa| warming(&specimen.heat, &specimen.oil, side, own, p_pa);
    let first = by_second(own, from_pa);
    let last = by_second(&own.along(&first, length_s), to_pa);
    own.along(&first, 0.5 * length_s)
        .along(&last, 0.5 * length_s)
}
