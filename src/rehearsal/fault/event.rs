//! What somebody does to the cylinder while it is held, beside its leaks.
//!
//! Reckoned at rest and at once: both chambers as springs of oil and tube, the rod free
//! between them. Heat and friction are left out; leaks go on as they were.

use crate::cylinder::Chamber;
use crate::quantity::Length;
use crate::quantity::unit::meter;
use crate::rehearsal::physics::Instant;
use crate::rehearsal::physics::Specimen;

/// What happens to a free rod between two shut chambers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Event {
    /// The load changes and stays so.
    Load {
        /// By how much, N; positive pushes the rod in.
        by_n: f64,
        /// When, s after the start.
        at_s: f64,
    },
    /// Somebody leans on the rod for a while.
    Touch {
        /// How hard, N.
        by_n: f64,
        /// When, s after the start.
        at_s: f64,
        /// For how long, s.
        length_s: f64,
    },
    /// Somebody pumps oil into the cap end.
    Pumped {
        /// How much, m³.
        by_m3: f64,
        /// When, s after the start.
        at_s: f64,
    },
}

impl Event {
    /// Moves pressures and rod of each instant from the event on.
    pub(in crate::rehearsal) fn happen(&self, specimen: &Specimen, instants: &mut [Instant]) {
        for now in instants {
            let (by_n, by_m3) = match *self {
                Self::Load { by_n, at_s } if now.time_s >= at_s => (by_n, 0.0),
                Self::Touch {
                    by_n,
                    at_s,
                    length_s,
                } if (at_s..at_s + length_s).contains(&now.time_s) => (by_n, 0.0),
                Self::Pumped { by_m3, at_s } if now.time_s >= at_s => (0.0, by_m3),
                _ => continue,
            };
            push(specimen, now, by_n, by_m3);
        }
    }
}

/// Balance of forces and oil after a push of `by_n` and oil of `by_m3` into the cap end:
/// A₁·dp₁ − A₂·dp₂ = dF, C₁·dp₁ = dV − A₁·dx, C₂·dp₂ = A₂·dx.
fn push(specimen: &Specimen, now: &mut Instant, by_n: f64, by_m3: f64) {
    let cylinder = &specimen.cylinder;
    let (cap_m2, rod_m2) = (cylinder.cap_area().value, cylinder.annulus_area().value);
    let gives = |side: Chamber, p_pa: f64| {
        let volume_m3 = cylinder.volume(side, Length::new::<meter>(now.x_m)).value;
        let oil_pa = specimen.oil.isentropic_pa + specimen.oil.stiffening * p_pa;
        volume_m3 * (1.0 / oil_pa + 1.0 / specimen.wall_pa)
    };
    let cap = gives(Chamber::Cap, now.p_cap_pa);
    let rod = gives(Chamber::Rod, now.p_rod_pa);
    let way_m = (cap_m2 * by_m3 / cap - by_n) / (cap_m2.powi(2) / cap + rod_m2.powi(2) / rod);
    now.x_m += way_m;
    now.p_cap_pa += (by_m3 - cap_m2 * way_m) / cap;
    now.p_rod_pa += rod_m2 * way_m / rod;
}
