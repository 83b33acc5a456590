//! Phases that could be held next, the least work first.

use super::Step;
use crate::account::Drive;
use crate::account::investigation::pattern::same_plumbing;
use crate::account::investigation::source::Source;
use crate::account::investigation::way::chambers;
use crate::account::investigation::way::has_piston;
use crate::circuit::Beside;
use crate::circuit::Circuit;
use crate::circuit::HoldingValve;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::circuit::Seen;
use crate::cylinder::Chamber;
use crate::fit::Matrix;

/// Pressure that the unloaded side is charged with, so that its oil can be accounted for even
/// when it cools and loses some, Pa.
const CHARGE_PA: f64 = 30e5;

/// Reading of a vessel, one sigma, m³ (0.1 mL, common practice, no source).
const READING_M3: f64 = 0.1e-6;

/// Sums of a locked rod are less sure: the oil's stiffness counts in full.
const LOCKED: f64 = 1.5;

/// A phase that could be held.
pub(super) struct Candidate<'a> {
    pub step: Step,
    pub source: Source<'a>,
    /// The side that is charged before, if one is.
    pub charged: Option<Chamber>,
}

/// Phases that could be held: those with each plumbing again, and others after that which had
/// a load.
pub(super) fn candidates<'a>(sources: &[Source<'a>]) -> Vec<Candidate<'a>> {
    let again = each_plumbing(sources);
    let Some((_, most)) = again.first() else {
        return Vec::new();
    };
    // Which side carries a load is known only from a phase that had one.
    let mut loaded = again.iter().map(|(_, source)| *source);
    let base = loaded
        .find(|source| is_loaded(&source.circuit))
        .unwrap_or(most);
    let mut found = Vec::new();
    for (phase, source) in &again {
        found.push((Step::Look { phase: *phase }, recharged(source)));
    }
    for times in [2u32, 3, 6] {
        // Heat of a locked rod does not average out as that of a free one does.
        let free = again.iter().filter(|(_, s)| is_loaded(&s.circuit));
        for (phase, source) in free {
            let step = Step::HoldLonger {
                phase: *phase,
                times,
            };
            found.push((step, longer(&recharged(source), times)));
        }
    }
    let holding = base.circuit.holding_chamber();
    let valve = base.circuit.holding_valve(holding);
    if base.circuit.port(holding) == Port::OnValve && valve == HoldingValve::InPlace {
        found.push((Step::SwapValve(holding), swapped(base, holding)));
    }
    let is_double = chambers(base.kind).len() == 2;
    // A supply on either side drives what no vessel may catch.
    let ports = [base.circuit.cap_port, base.circuit.rod_port];
    let is_supplied = ports.contains(&Port::Supplied);
    if is_double && is_loaded(&base.circuit) && !is_supplied {
        found.push((Step::OpenToVessel(holding.other()), opened(base, holding)));
    }
    found.extend(plugged(base).map(|source| (Step::PlugBoth, source)));
    let was_joined = sources.iter().any(|s| s.circuit.joined);
    // One of two cylinders on a load cannot be locked against the other.
    let is_alone = base.circuit.beside.is_none();
    if is_double && has_piston(base.kind) && !was_joined && is_alone {
        found.push((Step::JoinPorts, joined(base)));
    }
    let found = found.into_iter();
    found
        .map(|(step, source)| Candidate {
            charged: charged(&source),
            step,
            source,
        })
        .collect()
}

/// The side of a phase that is charged, if one is: shut, unloaded and with a sum of its own.
fn charged(source: &Source<'_>) -> Option<Chamber> {
    let unloaded = source.circuit.holding_chamber().other();
    let is_charged = source.circuit.port(unloaded) == Port::Blocked
        && source.chambers.contains(&unloaded)
        && is_loaded(&source.circuit);
    is_charged.then_some(unloaded)
}

/// Of the phases with each plumbing the one with most pressure, by its number; that with most
/// of all first.
fn each_plumbing<'s, 'a>(sources: &'s [Source<'a>]) -> Vec<(usize, &'s Source<'a>)> {
    let numbered = sources.iter().enumerate();
    let mut cylinders: Vec<_> = numbered.filter(|(_, s)| s.kind.is_some()).collect();
    cylinders.sort_by(|(_, a), (_, b)| pressed(b).total_cmp(&pressed(a)));
    let mut found: Vec<(usize, &Source<'a>)> = Vec::new();
    for (phase, source) in cylinders {
        let is_known =
            |(_, known): &(usize, &Source<'a>)| same_plumbing(&known.circuit, &source.circuit);
        if !found.iter().any(is_known) {
            found.push((phase, source));
        }
    }
    found
}

/// Whether a load or a pressure holds the rod, so that it is known which side carries.
fn is_loaded(circuit: &Circuit) -> bool {
    matches!(
        circuit.rod,
        RodHold::PushedIn { .. } | RodHold::PulledOut { .. }
    )
}

/// Mean pressures of a phase, Pa, cap before rod.
fn means(source: &Source<'_>) -> [f64; 2] {
    let mean = |p: &Vec<f64>| p.iter().sum::<f64>() / p.len().max(1) as f64;
    let rod = source.drive.p_rod_pa.as_ref().map_or(0.0, mean);
    [mean(&source.drive.p_cap_pa), rod]
}

/// Highest pressure of a phase, Pa.
fn level(source: &Source<'_>) -> f64 {
    let [cap, rod] = means(source);
    cap.max(rod)
}

/// Pressure on both sides of a phase together, Pa: what drives oil out anywhere.
fn pressed(source: &Source<'_>) -> f64 {
    means(source).iter().sum()
}

/// Pressures that stay as they are, on as many blocks as before.
fn steady(base: &Source<'_>, cap_pa: f64, rod_pa: f64) -> Drive {
    let n = base.drive.p_cap_pa.len();
    Drive {
        p_cap_pa: vec![cap_pa; n],
        p_rod_pa: Some(vec![rod_pa; n]),
        ..base.drive.clone()
    }
}

/// Standard uncertainty that the sum of a chamber would have, m³/s: as it had, or as the best
/// there is and the heat that is not known of its oil.
fn standard(base: &Source<'_>, chamber: Chamber) -> f64 {
    let own = base.chambers.iter().position(|c| *c == chamber);
    if let Some(index) = own {
        return base.covariance[(index, index)].sqrt();
    }
    let of_sums = base
        .covariance
        .diagonal()
        .iter()
        .map(|v| v.sqrt())
        .fold(f64::INFINITY, f64::min);
    let best = if of_sums.is_finite() { of_sums } else { 0.0 };
    best.hypot(by_heat(base, chamber))
}

/// What heat that is not known makes of the sum of a chamber, m³/s.
fn by_heat(base: &Source<'_>, chamber: Chamber) -> f64 {
    base.swells_m3[usize::from(chamber == Chamber::Rod)] / base.drive.length_s
}

/// Covariance of sums of some chambers with these standard uncertainties.
fn independent(chambers: &[Chamber], standard: impl Fn(Chamber) -> f64) -> Matrix {
    let n = chambers.len();
    let variance = |i: usize| standard(chambers[i]).powi(2);
    Matrix::from_fn(n, n, |i, j| if i == j { variance(i) } else { 0.0 })
}

/// The same plumbing with its unloaded side, if it was shut and charged, charged again.
fn recharged<'a>(base: &Source<'a>) -> Source<'a> {
    let Some(unloaded) = charged(base) else {
        return base.clone();
    };
    let n = base.drive.p_cap_pa.len();
    let mut drive = base.drive.clone();
    match unloaded {
        Chamber::Cap => drive.p_cap_pa = vec![CHARGE_PA; n],
        Chamber::Rod => drive.p_rod_pa = Some(vec![CHARGE_PA; n]),
    }
    Source {
        drive,
        ..base.clone()
    }
}

fn longer<'a>(base: &Source<'a>, times: u32) -> Source<'a> {
    let mut longer = base.clone();
    longer.drive.length_s *= f64::from(times);
    // Heat and surroundings change anew all the time: errors fall as those of independent
    // minutes do, not with the time itself.
    longer.covariance /= f64::from(times);
    longer
}

fn swapped<'a>(base: &Source<'a>, holding: Chamber) -> Source<'a> {
    let mut swapped = recharged(base);
    match holding {
        Chamber::Cap => swapped.circuit.cap_holding_valve = HoldingValve::Swapped,
        Chamber::Rod => swapped.circuit.rod_holding_valve = HoldingValve::Swapped,
    }
    swapped
}

fn opened<'a>(base: &Source<'a>, holding: Chamber) -> Source<'a> {
    let (level, other) = (level(base), holding.other());
    let (cap_port, rod_port, cap_pa, rod_pa) = match holding {
        Chamber::Cap => (base.circuit.cap_port, Port::OpenToVessel, level, 0.0),
        Chamber::Rod => (Port::OpenToVessel, base.circuit.rod_port, 0.0, level),
    };
    let reading = READING_M3 / base.drive.length_s;
    let of_glass = reading.hypot(by_heat(base, other));
    Source {
        circuit: Circuit {
            cap_port,
            rod_port,
            joined: false,
            ..base.circuit
        },
        drive: steady(base, cap_pa, rod_pa),
        chambers: vec![holding],
        measured: vec![0.0],
        covariance: independent(&[holding], |chamber| standard(base, chamber)),
        past_piston: Some((other, 0.0, of_glass)),
        seen: Seen::default(),
        ..base.clone()
    }
}

/// Both ports plugged at the cylinder; None if they are already.
fn plugged<'a>(base: &Source<'a>) -> Option<Source<'a>> {
    let is_plugged = |chamber: &Chamber| {
        base.circuit.port(*chamber) == Port::Blocked
            && base.circuit.holding_valve(*chamber) == HoldingValve::Absent
    };
    let chambers = chambers(base.kind);
    let is_rod_readable = base.chambers.len() == chambers.len();
    if chambers.iter().all(is_plugged) && is_rod_readable && !base.circuit.joined {
        return None;
    }
    let (level, holding) = (level(base), base.circuit.holding_chamber());
    let (cap_pa, rod_pa, shown) = match holding {
        Chamber::Cap => (level, CHARGE_PA, chambers.to_vec()),
        // A load that hangs draws the cap side empty: one sum only.
        Chamber::Rod => (-0.9e5, level, vec![Chamber::Rod]),
    };
    let rod_port = match chambers.contains(&Chamber::Rod) {
        true => Port::Blocked,
        false => Port::OpenToVessel,
    };
    let n = shown.len();
    Some(Source {
        circuit: Circuit {
            cap_holding_valve: HoldingValve::Absent,
            rod_holding_valve: HoldingValve::Absent,
            beside: base.circuit.beside.map(|_| Beside::Apart),
            ..Circuit::plain(Port::Blocked, rod_port, base.circuit.rod)
        },
        drive: steady(base, cap_pa, rod_pa),
        covariance: independent(&shown, |chamber| standard(base, chamber)),
        chambers: shown,
        measured: vec![0.0; n],
        past_piston: None,
        seen: Seen::default(),
        ..base.clone()
    })
}

fn joined<'a>(base: &Source<'a>) -> Source<'a> {
    let level = level(base);
    let both = [Chamber::Cap, Chamber::Rod];
    let covariance = independent(&both, |chamber| {
        (LOCKED * standard(base, chamber)).max(by_heat(base, chamber))
    });
    Source {
        circuit: Circuit {
            joined: true,
            ..Circuit::plain(Port::Blocked, Port::Blocked, RodHold::Locked)
        },
        drive: steady(base, level, level),
        chambers: both.to_vec(),
        measured: vec![0.0; 2],
        covariance,
        past_piston: None,
        seen: Seen::default(),
        ..base.clone()
    }
}
