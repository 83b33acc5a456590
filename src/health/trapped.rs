//! Oil that came from nowhere: readings that contradict each other.
//!
//! Oil that is shut in may leave by a leak and may swell with heat. It does not become more,
//! whatever leaks: where volume and pressure say so by more than heat can do, one of the
//! readings deceives. Bounds are wide on purpose; the account sees finer.

use super::Flag;
use super::reading::Reading;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::quantity::Length;
use crate::quantity::unit::meter;

/// Oil for each kelvin (mineral oil, usual range 6.4e-4 to 7.5e-4).
const SWELLS_PER_K: f64 = 7.5e-4;

/// What oil may warm by more than its probe says, K; and without a probe.
const HEAT_K: f64 = 5.5;
const HEAT_WITHOUT_PROBE_K: f64 = 7.0;

/// Stiffest that oil in a steel tube is, and softest with some air in it, Pa. Below
/// `AIRY_PA` air makes it as soft as it likes.
const STIFFEST_PA: f64 = 2.1e9;
const SOFTEST_PA: f64 = 0.8e9;
const AIRY_PA: f64 = 10e5;

/// What a reading may be off in its span, as a part of its change.
const SPAN: f64 = 0.02;

/// Two pressures and a position.
pub(super) struct Trio<'a> {
    pub cap: Option<&'a Reading<'a>>,
    pub rod: Option<&'a Reading<'a>>,
    pub position: &'a Reading<'a>,
    pub oil: Option<&'a Reading<'a>>,
}

/// Oil that a shut chamber gained though nothing can have brought it.
pub(super) fn gained(trio: &Trio<'_>, cylinder: &Cylinder, circuit: &Circuit) -> Option<Flag> {
    let warmed_k = trio.oil.and_then(|oil| ends(oil)).map(|(a, b)| b - a);
    let heat_k = warmed_k.map_or(HEAT_WITHOUT_PROBE_K, |k| HEAT_K + k.max(0.0));
    let (from, to) = ends(trio.position)?;
    let mut whole = Some((0.0, 0.0));
    for (chamber, pressure, other) in [
        (Chamber::Cap, trio.cap, trio.rod),
        (Chamber::Rod, trio.rod, trio.cap),
    ] {
        if !cylinder.kind().chambers().contains(&chamber) {
            continue;
        }
        let own = pressure
            .filter(|_| circuit.port(chamber) == Port::Blocked)
            .and_then(|p| gain(cylinder, chamber, (from, to), p, heat_k));
        let Some((least_m3, volume_m3)) = own else {
            whole = None;
            continue;
        };
        whole = whole.map(|(gain, volume)| (gain + least_m3, volume + volume_m3));
        // Oil comes past the piston from where there is more pressure.
        let lowest = |r: &Reading<'_>| r.value_si.iter().copied().fold(f64::INFINITY, f64::min);
        let highest =
            |r: &Reading<'_>| r.value_si.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let from_other = !cylinder.kind().has_piston_seal()
            || other.is_none_or(|other| pressure.is_some_and(|p| highest(other) > lowest(p)));
        if least_m3 > 0.0 && (!from_other || !cylinder.kind().chambers().contains(&chamber.other()))
        {
            return Some(nowhere(&format!("the {} end", chamber.word()), least_m3));
        }
    }
    whole
        .filter(|(gain, _)| *gain > 0.0)
        .map(|(gain, _)| nowhere("both ends together", gain))
}

fn nowhere(what: &str, least_m3: f64) -> Flag {
    Flag::voids(format!(
        "by pressure and position {what} gained at least {:.1} mL of oil, which no leak brings and heat does not explain: \
         a pressure or the position deceives, or sensors are swapped; check the position sensor's bracket and the zero \
         of both pressures",
        least_m3 * 1e6
    ))
}

/// Least that a chamber gained, m³, and its volume.
fn gain(
    cylinder: &Cylinder,
    chamber: Chamber,
    (from, to): (f64, f64),
    pressure: &Reading<'_>,
    heat_k: f64,
) -> Option<(f64, f64)> {
    let (before, after) = ends(pressure)?;
    if before.min(after) < AIRY_PA {
        return None;
    }
    let volume = |x: f64| cylinder.volume(chamber, Length::new::<meter>(x)).value;
    let (small, large) = (volume(from), volume(to));
    let grew = large - small;
    let step = pressure.channel.resolution_si().abs();
    let rose = after - before;
    // The least oil that a rise takes, and the most that a fall gives.
    let squeezed = match rose > 0.0 {
        true => (rose - step).max(0.0) / STIFFEST_PA,
        false => (rose - step) / SOFTEST_PA,
    };
    let least = grew - SPAN * grew.abs() + large * squeezed - large * SWELLS_PER_K * heat_k;
    least.is_finite().then_some((least, large))
}

/// Means of the first and of the last fortieth.
fn ends(reading: &Reading<'_>) -> Option<(f64, f64)> {
    let blocks = reading.blocks(40)?;
    Some((blocks.first()?.1, blocks.last()?.1))
}
