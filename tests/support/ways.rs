//! Truths of the practice bench in the words of an investigation: what went along a way,
//! what drove it.

use stillrod::account::Drive;
use stillrod::account::investigation::Way;
use stillrod::cylinder::Chamber;
use stillrod::cylinder::Kind;
use stillrod::rehearsal::physics::PathFlows;

/// Mean pressure before a way over a hold, Pa; negative where it is driven backwards.
pub fn driven_pa(kind: Kind, drive: &Drive, way: Way) -> f64 {
    let mean = |p: &[f64]| p.iter().sum::<f64>() / p.len() as f64;
    let cap = mean(&drive.p_cap_pa);
    let rod = match kind.chambers().contains(&Chamber::Rod) {
        true => drive.p_rod_pa.as_deref().map_or(0.0, mean),
        false => 0.0,
    };
    match way {
        Way::Piston(Chamber::Cap) => cap - rod,
        Way::Piston(Chamber::Rod) => rod - cap,
        Way::Gland if !kind.has_piston_seal() => cap,
        _ if way.port() == Some(Chamber::Cap) => cap,
        _ => rod,
    }
}

/// What really went along a way, mean over the hold, m³/s.
pub fn along(mean: &PathFlows, way: Way) -> f64 {
    match way {
        Way::Piston(Chamber::Cap) => mean.bypass.max(0.0),
        Way::Piston(Chamber::Rod) => (-mean.bypass).max(0.0),
        Way::Gland => mean.gland,
        Way::Plug(Chamber::Cap) => mean.cap_plug,
        Way::Plug(Chamber::Rod) => mean.rod_plug,
        Way::Valve(Chamber::Cap, _) | Way::Opened(Chamber::Cap) => mean.cap_plug + mean.cap_valve,
        Way::Valve(Chamber::Rod, _) | Way::Opened(Chamber::Rod) => mean.rod_plug + mean.rod_valve,
        Way::Rig(_) => 0.0,
    }
}
