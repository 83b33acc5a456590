//! How a free rod moves when its oil only warms or cools.

use super::balance::Balance;
use super::balance::Copy;
use super::figure::Measured;
use super::solution::Solution;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::fit::Vector;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::unit::meter;

/// How a free rod would have moved if the oil that carries it had only warmed or cooled.
pub(super) fn movement_by_heat(solution: &Solution<'_>) -> Option<Measured> {
    let moved = |theta: &Vector| by_heat(&solution.balance, theta);
    moved(&solution.posterior.theta)?;
    let (measured, _) = solution.derive(&|theta| moved(theta).unwrap_or(0.0));
    Some(measured)
}

fn by_heat(balance: &Balance<'_>, theta: &Vector) -> Option<f64> {
    // What another cylinder's oil does to the load is not known.
    if balance.circuit.beside.is_some() {
        return None;
    }
    let (holding, area) = match balance.circuit.rod {
        RodHold::PushedIn { .. } => (Chamber::Cap, balance.cylinder.cap_area().value),
        RodHold::PulledOut { .. } => (Chamber::Rod, -balance.cylinder.annulus_area().value),
        RodHold::Locked | RodHold::Bottomed => return None,
    };
    let swollen = |chamber| Some(-balance.seeming(theta, chamber).1.last()?);
    let mut moved = swollen(holding)? / area;
    if balance.layout.cap_live && balance.layout.rod_live {
        moved = against_shut_rod_side(
            balance,
            theta,
            swollen(Chamber::Cap)?,
            swollen(Chamber::Rod)?,
        );
    }
    Some(moved / balance.series.length_s)
}

/// How far oil that swells on both sides moves a rod that is free between them, m: each side
/// gives way by its own softness, and the forces on the piston stay in balance.
fn against_shut_rod_side(balance: &Balance<'_>, theta: &Vector, cap_m3: f64, rod_m3: f64) -> f64 {
    let state = balance.state(theta, Copy::Smooth);
    let soft = |chamber: Chamber, pressures: &[f64]| {
        let x = Length::new::<meter>(state.x[0]);
        let volume = balance.cylinder.volume(chamber, x).value;
        let law = balance.aerated(theta, chamber);
        let oil = 1.0
            / law
                .tangent(GaugePressure::from_pa(pressures[0].max(0.0)))
                .value;
        balance.softness(theta, chamber, volume, oil)
    };
    let softer = soft(Chamber::Cap, &state.p_cap) / soft(Chamber::Rod, &state.p_rod);
    let (cap, annulus) = (
        balance.cylinder.cap_area().value,
        balance.cylinder.annulus_area().value,
    );
    let resists = softer * annulus / cap;
    (cap_m3 - resists * rod_m3) / (cap + resists * annulus)
}
