//! What somebody does to the cylinder while it is held, beside its leaks.
//!
//! Reckoned at rest and at once: both chambers as springs of oil and tube, the rod free
//! between them or held. Heat and friction are left out; leaks go on as they were.

use crate::cylinder::Chamber;
use crate::quantity::Length;
use crate::quantity::unit::meter;
use crate::rehearsal::physics::Instant;
use crate::rehearsal::physics::RodNature;
use crate::rehearsal::physics::Specimen;

/// What happens to a rod between its two chambers.
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
            let by = self.moves(specimen, now.time_s, [now.p_cap_pa, now.p_rod_pa, now.x_m]);
            now.p_cap_pa += by[0];
            now.p_rod_pa += by[1];
            now.x_m += by[2];
        }
    }

    /// By how much cap-end pressure, rod-end pressure (Pa) and extension (m) that stand so
    /// without it are moved at a time, s.
    pub(in crate::rehearsal) fn moves(
        &self,
        specimen: &Specimen,
        time_s: f64,
        stands: [f64; 3],
    ) -> [f64; 3] {
        match *self {
            Self::Load { by_n, at_s } if time_s >= at_s => push(specimen, stands, by_n, 0.0),
            Self::Touch {
                by_n,
                at_s,
                length_s,
            } if (at_s..at_s + length_s).contains(&time_s) => push(specimen, stands, by_n, 0.0),
            Self::Pumped { by_m3, at_s } if time_s >= at_s => push(specimen, stands, 0.0, by_m3),
            _ => [0.0; 3],
        }
    }
}

/// Balance of forces and oil after a push of `by_n` and oil of `by_m3` into the cap end:
/// A₁·dp₁ − A₂·dp₂ = dF, C₁·dp₁ = dV − A₁·dx, C₂·dp₂ = A₂·dx. A rod that is held carries all force
/// that is put on it: dx = 0.
fn push(
    specimen: &Specimen,
    [p_cap_pa, p_rod_pa, x_m]: [f64; 3],
    by_n: f64,
    by_m3: f64,
) -> [f64; 3] {
    let cylinder = &specimen.cylinder;
    let (cap_m2, rod_m2) = (cylinder.cap_area().value, cylinder.annulus_area().value);
    let gives = |side: Chamber, p_pa: f64| {
        let volume_m3 = cylinder.volume(side, Length::new::<meter>(x_m)).value;
        let oil_pa = specimen.oil.isentropic_pa + specimen.oil.stiffening * p_pa;
        volume_m3 * (1.0 / oil_pa + 1.0 / specimen.wall_pa)
    };
    let cap = gives(Chamber::Cap, p_cap_pa);
    let rod = gives(Chamber::Rod, p_rod_pa);
    let way_m = match specimen.motion {
        RodNature::Held => 0.0,
        RodNature::Free { .. } => {
            (cap_m2 * by_m3 / cap - by_n) / (cap_m2.powi(2) / cap + rod_m2.powi(2) / rod)
        }
    };
    let cap_pa = (by_m3 - cap_m2 * way_m) / cap;
    [cap_pa, rod_m2 * way_m / rod, way_m]
}
