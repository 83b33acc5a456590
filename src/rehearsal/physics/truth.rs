//! The figures a perfect evaluation would find.
//!
//! Flows are oil that went, as a volume *in the state of the load-holding chamber
//! at the start of the counted hold* (its pressure and temperature then): mass by
//! that one density. The same for all paths, so that they add up.

use crate::cylinder::Chamber as Side;
use crate::cylinder::Kind;
use crate::rehearsal::physics::instant::Passed;
use crate::rehearsal::physics::run::Run;

/// Flows in m³/s in the state named above, positive in the direction of leaking.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathFlows {
    /// Lost by the cap end, piston and port.
    pub cap_loss: f64,
    /// Gained by the rod end, piston less gland and port.
    pub rod_gain: f64,
    /// Past the piston, cap to rod.
    pub bypass: f64,
    /// Out at the gland.
    pub gland: f64,
    /// At the plug or fitting of the cap port.
    pub cap_plug: f64,
    /// Through the valve of the cap port, or into its vessel.
    pub cap_valve: f64,
    /// At the plug or fitting of the rod port.
    pub rod_plug: f64,
    /// Through the valve of the rod port, or into its vessel.
    pub rod_valve: f64,
}

/// What is true of one counted hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truth {
    /// At the start of the hold.
    pub start: PathFlows,
    /// Mean over the hold.
    pub mean: PathFlows,
    /// Way of the rod by time over the hold, m/s, positive when it extends.
    pub drift_m_per_s: f64,
    /// Fall of the load-holding chamber's pressure by time over the hold, Pa/s.
    pub leak_down_pa_per_s: f64,
    /// Pressure of the load-holding chamber at the start of the hold, Pa gauge.
    pub pressure_pa: f64,
    /// Temperature of its oil there, K.
    pub oil_k: f64,
}

impl Run {
    /// What is true between two times in seconds; None if the run has not got them.
    pub fn truth(&self, from_s: f64, until_s: f64) -> Option<Truth> {
        let at = |time_s: f64| self.instants.iter().find(|i| i.time_s >= time_s - 1e-9);
        let (first, last) = (at(from_s)?, at(until_s)?);
        let length_s = last.time_s - first.time_s;
        if length_s <= 0.0 {
            return None;
        }
        let holding = |cap: f64, rod: f64| match self.loaded {
            Side::Cap => cap,
            Side::Rod => rod,
        };
        let density = holding(first.density_cap, first.density_rod);
        let fell_pa = holding(
            first.p_cap_pa - last.p_cap_pa,
            first.p_rod_pa - last.p_rod_pa,
        );
        let went = last.passed_kg.since(&first.passed_kg);
        Some(Truth {
            start: PathFlows::of(&first.going_kg_per_s, density, self.kind),
            mean: PathFlows::of(&went, density * length_s, self.kind),
            drift_m_per_s: (last.x_m - first.x_m) / length_s,
            leak_down_pa_per_s: fell_pa / length_s,
            pressure_pa: holding(first.p_cap_pa, first.p_rod_pa),
            oil_k: holding(first.oil_cap_k, first.oil_rod_k),
        })
    }
}

impl PathFlows {
    fn of(mass: &Passed, by: f64, kind: Kind) -> Self {
        Self {
            cap_loss: mass.out_of_cap(kind) / by,
            rod_gain: -mass.out_of_rod(kind) / by,
            bypass: mass.piston / by,
            gland: mass.gland / by,
            cap_plug: mass.cap_plug / by,
            cap_valve: mass.cap_valve / by,
            rod_plug: mass.rod_plug / by,
            rod_valve: mass.rod_valve / by,
        }
    }
}
