//! Pressures that do not carry the load, and what mistake would make them.

use super::Flag;
use crate::circuit::Circuit;
use crate::circuit::RodHold;
use crate::cylinder::Cylinder;

/// Part of the load by which the pressures may miss it: friction and a rough figure. What a
/// second cylinder nobody spoke of carries is near half.
const LOAD_REMARK: f64 = 0.25;
const LOAD_VOIDS: f64 = 0.5;
const LOAD_LACKS_VOIDS: f64 = 0.4;

/// A mistake is named if it explains the pressures to this part.
const EXPLAINS: f64 = 0.15;

/// A pressure in the wrong unit of measure, and by how much the pressures are wrong then.
const MISTAKES: [(f64, &str); 4] = [
    (14.504, "readings in psi were taken for bar"),
    (1.0 / 14.504, "readings in bar were taken for psi"),
    (10.0, "readings in bar were taken for MPa"),
    (0.1, "readings in MPa were taken for bar"),
];

/// A rod that is pulled with less than this part of what presses on it is not told from one
/// that is pushed.
const CLEARLY: f64 = 0.2;

/// Pressures that do not carry the declared load, or carry against its direction. Means over
/// the hold in Pa gauge.
pub(super) fn not_carried(
    cylinder: &Cylinder,
    circuit: &Circuit,
    cap: Option<f64>,
    rod: Option<f64>,
) -> Option<Flag> {
    let (load, sign) = match circuit.rod {
        RodHold::PushedIn { load } => (load, 1.0),
        RodHold::PulledOut { load } => (load, -1.0),
        _ => return None,
    };
    let (cap_m2, rod_m2) = (cylinder.cap_area().value, cylinder.annulus_area().value);
    let force = |cap: Option<f64>, rod: Option<f64>| {
        sign * (cap.unwrap_or(0.0) * cap_m2 - rod.unwrap_or(0.0) * rod_m2)
    };
    let carried = force(cap, rod);
    let Some(load) = load.map(|load| load.value.abs()) else {
        let pressed = cap.unwrap_or(0.0).max(0.0) * cap_m2 + rod.unwrap_or(0.0).max(0.0) * rod_m2;
        let is_against = cap.is_some() && rod.is_some() && carried < -CLEARLY * pressed;
        return (is_against && circuit.beside.is_none()).then(|| against(carried, circuit));
    };
    let over = (carried - load) / load;
    if circuit.beside.is_some() && over <= 0.0 {
        // Any part of it may be carried by the other.
        return None;
    }
    let mistake = mistake(carried, force(rod, cap), load);
    let check = match (circuit.beside, mistake, over > 0.0) {
        (_, Some(mistake), _) => format!("it looks as if {mistake}; correct that and judge again"),
        (Some(_), None, _) => {
            "more than both cylinders have to carry: check the load, the bore, and range and unit of the pressures"
                .into()
        }
        (None, None, true) => {
            "check the load, the bore, range and unit of the pressures, and whether the sensors are swapped".into()
        }
        (None, None, false) => {
            "check the load, the bore, range and unit of the pressures, whether the sensors are swapped, and whether another cylinder \
             carries a part of it (`other_cylinder`)"
                .to_owned()
        }
    };
    let evidence = || {
        format!(
            "the pressures carry {:.1} kN, the setup says {:.1} kN: {check}",
            carried / 1e3,
            load / 1e3
        )
    };
    match over {
        over if !(-LOAD_LACKS_VOIDS..=LOAD_VOIDS).contains(&over) => Some(Flag::voids(evidence())),
        over if over.abs() > LOAD_REMARK => Some(Flag::remark(evidence())),
        _ => None,
    }
}

/// What would make the pressures carry the load after all; `swapped` is what they carry with
/// both sensors exchanged.
fn mistake(carried: f64, swapped: f64, load: f64) -> Option<&'static str> {
    let is_load = |force: f64| (force / load - 1.0).abs() < EXPLAINS;
    if is_load(swapped) {
        return Some("cap-end and rod-end sensor have changed places");
    }
    MISTAKES
        .iter()
        .find(|(times, _)| is_load(carried / times))
        .map(|(_, mistake)| *mistake)
}

fn against(carried: f64, circuit: &Circuit) -> Flag {
    let (said, seen) = match circuit.rod {
        RodHold::PulledOut { .. } => ("pulled out", "pushes it in"),
        _ => ("pushed in", "pulls it out"),
    };
    Flag::voids(format!(
        "the setup says that the rod is {said}, but the pressures hold {:.1} kN of a load that {seen}: the sensors are \
         swapped, or the setup names the wrong direction",
        carried.abs() / 1e3
    ))
}
