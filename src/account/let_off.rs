//! Oil that ought to come out while the pressure of a locked end is let off, as the setup has it.
//!
//! What a locked side loses is reckoned from its volume and its softness as they are written, and
//! no sensor sees either. The oil that a known fall of pressure sets free does.
//!
//! V(p)·ρ(p)/ρ(0) before, less the same after: oil with its air, wall and hose as the account
//! expects them, and the oil a little warmer again than quick expansion left it. Its uncertainty is
//! that of the account's own priors, each by itself (JCGM 100, 5.1).

use super::Fluid;
use super::Measured;
use super::Subject;
use super::layout::AIR;
use super::layout::BARE_WALL;
use super::layout::DEAD_PART;
use super::layout::LN_HOSE_SIGMA;
use super::layout::LN_WALL_SIGMA;
use super::layout::STIFFENING;
use super::layout::ln_stiffness_sigma;
use super::layout::relaxation_s;
use crate::channel::SensorErrors;
use crate::circuit::HOSE_STIFFNESS_PA;
use crate::cylinder::Chamber;
use crate::oil::AIR_IN_A_HOLD;
use crate::oil::AeratedOil;
use crate::oil::PRESSING_HEAT_K_PER_PA;
use crate::quantity::Length;
use crate::quantity::Temperature;
use crate::quantity::unit::kelvin;
use crate::quantity::unit::meter;

/// Oil temperature where nobody measured it, and how well that is known, K.
const UNREAD_K: (f64, f64) = (313.15, 15.0);

/// How far a leak's law lets what leaks meanwhile be off, as a part of it.
const LEAK_PART: f64 = 0.5;

/// A pressure that was let off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LetOff {
    /// Of which end.
    pub chamber: Chamber,
    /// From what, Pa gauge.
    pub from_pa: f64,
    /// To what, Pa gauge.
    pub to_pa: f64,
    /// Extension of the rod, m.
    pub x_m: f64,
    /// Temperature of the oil before, K; None if nobody measured it.
    pub oil_k: Option<f64>,
    /// From the first pressure to the second, s.
    pub took_s: f64,
    /// Fall of the pressure before it was let off, Pa/s; what leaked meanwhile goes by it.
    pub falls_pa_per_s: f64,
    /// Pressure meanwhile by that before, mean over the time, 0 to 1.
    pub mean_part: f64,
    /// Errors of the pressure sensor as they are stated.
    pub pressure: SensorErrors,
    /// Uncertainty of the extension (one sigma), m.
    pub x_standard_m: f64,
}

/// What is not known of a chamber and of its pressures.
#[derive(Clone, Copy)]
enum Unknown {
    LnStiffness,
    Stiffening,
    LnWall,
    LnHose,
    Air,
    Room,
    Warmed,
    Span,
    ZeroFrom,
}

/// All of them.
const UNKNOWN: [Unknown; 9] = [
    Unknown::LnStiffness,
    Unknown::Stiffening,
    Unknown::LnWall,
    Unknown::LnHose,
    Unknown::Air,
    Unknown::Room,
    Unknown::Warmed,
    Unknown::Span,
    Unknown::ZeroFrom,
];

/// A chamber as one may suppose it.
#[derive(Clone, Copy)]
struct Supposed {
    law: AeratedOil,
    wall_pa: f64,
    hose_m3: f64,
    hose_pa: f64,
    chamber_m3: f64,
    expansion_per_k: f64,
    /// Part of the cold of expansion that has gone again.
    warmed: f64,
    pressures_pa: [f64; 2],
}

impl Supposed {
    /// Oil in it, at the atmosphere, m³.
    fn oil_m3(&self, p_pa: f64) -> f64 {
        let room = self.chamber_m3 * (1.0 + p_pa / self.wall_pa)
            + self.hose_m3 * (1.0 + p_pa / self.hose_pa);
        room * self.law.log_density(p_pa).exp()
    }

    /// Oil that comes out, m³.
    fn let_off_m3(&self) -> f64 {
        let [from_pa, to_pa] = self.pressures_pa;
        let warmer_k = self.warmed * PRESSING_HEAT_K_PER_PA * (from_pa - to_pa);
        let left = self.oil_m3(to_pa) * (-self.expansion_per_k * warmer_k).exp();
        self.oil_m3(from_pa) - left
    }

    /// Room that a pascal more makes before it is let off, m³/Pa.
    fn softness(&self) -> f64 {
        const STEP_PA: f64 = 1e4;
        let [from_pa, _] = self.pressures_pa;
        (self.oil_m3(from_pa) - self.oil_m3(from_pa - STEP_PA)) / STEP_PA
    }

    /// The same with one thing changed by an amount.
    fn with(mut self, unknown: Unknown, by: f64) -> Self {
        match unknown {
            Unknown::LnStiffness => self.law.stiffness_pa *= by.exp(),
            Unknown::Stiffening => self.law.stiffening += by,
            Unknown::LnWall => self.wall_pa *= by.exp(),
            Unknown::LnHose => self.hose_pa *= by.exp(),
            Unknown::Air => self.law.air += by,
            Unknown::Room => self.chamber_m3 += by,
            Unknown::Warmed => self.warmed += by,
            Unknown::Span => self.pressures_pa = self.pressures_pa.map(|pa| pa * (1.0 + by)),
            Unknown::ZeroFrom => self.pressures_pa[0] += by,
        }
        self
    }
}

/// Oil that ought to come out in m³ at the atmosphere, with its standard uncertainty: what the
/// pressure sets free, less what leaked meanwhile. None for what is no cylinder filled with oil.
pub fn let_off(subject: &Subject, course: &LetOff) -> Option<Measured> {
    let (Some(cylinder), Fluid::Oil(oil)) = (subject.piece.cylinder(), &subject.fluid) else {
        return None;
    };
    let (oil_k, unknown_k) = course.oil_k.map_or(UNREAD_K, |k| (k, 0.0));
    let (wall_pa, wall_sigma) = cylinder
        .wall_stiffness()
        .map_or(BARE_WALL, |wall| (wall.value, LN_WALL_SIGMA));
    let x = Length::new::<meter>(course.x_m);
    let size = cylinder.size();
    let dead = match course.chamber {
        Chamber::Cap => size.cap_dead_volume,
        Chamber::Rod => size.rod_dead_volume,
    };
    // The cold of expansion goes as the heat of pressing does, from when it came or a little later.
    let gone = 1.0 - (-course.took_s / relaxation_s(cylinder)).exp();
    let expected = Supposed {
        law: AeratedOil {
            stiffness_pa: oil.stiffness_at(Temperature::new::<kelvin>(oil_k)).value,
            stiffening: STIFFENING.0,
            air: AIR.0,
            air_exponent: AIR_IN_A_HOLD,
        },
        wall_pa,
        hose_m3: subject.circuit.hose(course.chamber).value,
        hose_pa: HOSE_STIFFNESS_PA,
        chamber_m3: cylinder.volume(course.chamber, x).value,
        expansion_per_k: oil.expansion().per_kelvin(),
        warmed: 0.5 * gone,
        pressures_pa: [course.from_pa, course.to_pa],
    };
    let area_m2 = cylinder.area(course.chamber).value;
    let sigma = |unknown: Unknown| match unknown {
        Unknown::LnStiffness => ln_stiffness_sigma(oil_k, unknown_k),
        Unknown::Stiffening => STIFFENING.1,
        Unknown::LnWall => wall_sigma,
        Unknown::LnHose => LN_HOSE_SIGMA,
        Unknown::Air => AIR.1,
        Unknown::Room => (DEAD_PART * dead.value).hypot(area_m2 * course.x_standard_m),
        Unknown::Warmed => 0.5 * gone,
        Unknown::Span => course.pressure.span_relative,
        Unknown::ZeroFrom => course.pressure.zero_si,
    };
    let plain_m3 = expected.let_off_m3();
    let by_each = UNKNOWN.map(|unknown| {
        let with = |times: f64| expected.with(unknown, times * sigma(unknown)).let_off_m3();
        match unknown {
            // There is no less than no air.
            Unknown::Air => with(1.0) - plain_m3,
            _ => 0.5 * (with(1.0) - with(-1.0)),
        }
    });
    let leaked_m3 =
        expected.softness() * course.falls_pa_per_s.max(0.0) * course.took_s * course.mean_part;
    let all = by_each.iter().map(|m3| m3 * m3).sum::<f64>().sqrt();
    Some(Measured {
        value_si: plain_m3 - leaked_m3,
        standard_si: all.hypot(LEAK_PART * leaked_m3),
    })
}

#[cfg(test)]
mod tests;
