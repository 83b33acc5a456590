//! Which phase to hold next: the one whose sums would tell what is open.
//!
//! A phase is tried on paper: for the least and for the most that an open way can be, and for
//! what explains the sums best, its sums are what those flows would make them, as sure as
//! those of the holds that are there. It tells if the way is open in no case, though the sums
//! of the phase should err as they do in one of twenty. The least work that tells most is
//! advised.

use super::attribution::Standing;
use super::attribution::best;
use super::attribution::named_factor;
use super::attribution::range;
use super::attribution::standing;
use super::source::Source;
use super::sums::EXPONENT;
use super::sums::SEEN_M3;
use super::sums::Sums;
use super::sums::translated;
use super::way::Way;
use super::way::chambers;
use super::way::has_piston;
use crate::account::Drive;
use crate::circuit::Circuit;
use crate::circuit::HoldingValve;
use crate::circuit::Look;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::circuit::Seen;
use crate::cylinder::Chamber;
use crate::fit::Matrix;
use crate::fit::SharesError;
use crate::fit::normal_quantile;

/// Pressure that the rod side is charged with, so that its oil can be accounted for, Pa.
const CHARGE_PA: f64 = 15e5;

/// Reading of a vessel, one sigma, m³ (0.1 mL, common practice, no source).
const READING_M3: f64 = 0.1e-6;

/// Sums of a locked rod are less sure: the oil's stiffness counts in full.
const LOCKED: f64 = 1.5;

/// How far the sums of a phase that nobody has held yet may err against what is hoped for:
/// further in one of twenty.
const HOPED: f64 = 0.95;

/// Stiffness of oil in steel, Pa, as near as it matters here; and the part of their pressure
/// that joined sides may lose and still count as joined.
const STIFF_PA: f64 = 1.4e9;
const FALLS_PART: f64 = 0.3;

/// What to do in the next phase.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Wipe gland and plugs dry, hold again, and look.
    Look,
    /// The same plumbing, so many times as long.
    HoldLonger {
        /// 2, 3 or 6.
        times: u32,
    },
    /// Open the port of the side that does not carry to a vessel, and read it.
    OpenToVessel(Chamber),
    /// Plug both ports at the cylinder, the unloaded side charged.
    PlugBoth,
    /// Swap the load-holding valve for a known good one.
    SwapValve(Chamber),
    /// Join both ports, pump up, shut both; the rod locked.
    JoinPorts,
}

/// A phase that would tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Next {
    /// What to do.
    pub step: Step,
    /// Which open ways it would tell of.
    pub tells: Vec<Way>,
    /// How long to hold, s.
    pub hold_s: f64,
}

impl Step {
    /// What to do, as a sentence for the bench.
    pub fn instruction(self) -> String {
        match self {
            Self::Look => {
                "Wipe gland, ports and plugs dry, hold again as in the phase with the highest pressure, and look which of them \
                 gets wet."
                    .into()
            }
            Self::HoldLonger { times } => {
                format!("Hold again as in the phase with the load, {times} times as long.")
            }
            Self::OpenToVessel(chamber) => format!(
                "Support the load, relieve the pressure, open the {side} port to a vessel with its hose full and its end \
                 under oil, load again, and read the vessel over the hold.",
                side = chamber.word()
            ),
            Self::PlugBoth => "Support the load, relieve the pressure, plug both ports at the cylinder, charge the \
                               unloaded side to about 15 bar, and load again."
                .into(),
            Self::SwapValve(chamber) => format!(
                "Support the load, relieve the pressure, swap the load-holding valve on the {side} port for a known good \
                 one, and hold again.",
                side = chamber.word()
            ),
            Self::JoinPorts => "Lock the rod against extension, join both ports, pump up to the test pressure, shut both \
                                ports, and hold."
                .into(),
        }
    }

    /// Why it tells, as a sentence.
    pub fn reason(self) -> String {
        match self {
            Self::Look => "What leaks outwards shows as oil; no pressure tells a gland from a plug on the same side.".into(),
            Self::HoldLonger { .. } => {
                "The leak is too small for what these holds could see; it shows with time.".into()
            }
            Self::OpenToVessel(chamber) => format!(
                "Oil that comes out of the {side} port has passed the piston seal; what else is lost has not.",
                side = chamber.word()
            ),
            Self::PlugBoth => "A plug does not leak like a valve: what is left is the cylinder's own.".into(),
            Self::SwapValve(_) => "If the fault goes away with the valve, it was the valve.".into(),
            Self::JoinPorts => "With one pressure on both sides nothing is driven past the piston: what is lost goes out at \
                                a plug or the gland."
                .into(),
        }
    }

    /// What it can do to people, as a sentence; the general cautions stand beside it.
    pub fn caution(self) -> &'static str {
        match self {
            Self::Look => {
                "Search for leaks with card or wood, never with the hand: a jet goes through gloves and skin."
            }
            Self::HoldLonger { .. } => {
                "A load that hangs on oil must not have anybody under it, however long it holds."
            }
            Self::OpenToVessel(_) => {
                "Never open a port on the side that carries the load. Block the load mechanically before any fitting is loosened."
            }
            Self::PlugBoth => {
                "Block the load mechanically before any fitting is loosened. With a worn seal both sides can climb to load by \
                 rod area: plugs, hoses and sensors must be rated for that."
            }
            Self::SwapValve(_) => {
                "Block the load mechanically and relieve the pressure: without its valve nothing holds the load."
            }
            Self::JoinPorts => {
                "One pressure on two different areas pushes the rod out with pressure times rod area: the lock must stand that."
            }
        }
    }
}

/// The next phase that would tell most of what is open, the least work first; None if
/// nothing is open, or nothing that is known here would tell.
pub(super) fn next(
    sources: &[Source<'_>],
    sums: &Sums,
    open: &[Way],
) -> Result<Option<Next>, SharesError> {
    let cylinders = sources.iter().filter(|source| source.kind.is_some());
    let cylinders: Vec<&Source<'_>> = cylinders.collect();
    // Which side carries a load is known only from a phase that had one.
    let loaded = cylinders
        .iter()
        .copied()
        .filter(|source| is_loaded(&source.circuit));
    let loaded = highest(loaded);
    let Some(again) = highest(cylinders.into_iter()) else {
        return Ok(None);
    };
    let base = loaded.unwrap_or_else(|| again.clone());
    let mut found: Option<Next> = None;
    if open.is_empty() {
        return Ok(None);
    }
    for (step, source) in candidates(&again, &base, sources) {
        let mut tells = Vec::new();
        for way in open {
            if tells_of(*way, step, &source, sources, sums)? {
                tells.push(*way);
            }
        }
        if tells.len() > found.as_ref().map_or(0, |next| next.tells.len()) {
            let hold_s = source.drive.length_s;
            found = Some(Next {
                step,
                tells,
                hold_s,
            });
        }
    }
    Ok(found)
}

/// The phase with the highest pressure.
fn highest<'s, 'a: 's>(sources: impl Iterator<Item = &'s Source<'a>>) -> Option<Source<'a>> {
    sources
        .max_by(|a, b| level(a).total_cmp(&level(b)))
        .cloned()
}

/// Whether a load or a pressure holds the rod, so that it is known which side carries.
fn is_loaded(circuit: &Circuit) -> bool {
    matches!(
        circuit.rod,
        RodHold::PushedIn { .. } | RodHold::PulledOut { .. }
    )
}

/// Highest pressure of a phase, Pa.
fn level(source: &Source<'_>) -> f64 {
    let mean = |p: &Vec<f64>| p.iter().sum::<f64>() / p.len().max(1) as f64;
    let rod = source.drive.p_rod_pa.as_ref().map_or(0.0, mean);
    mean(&source.drive.p_cap_pa).max(rod)
}

/// Whether a phase would tell of a way, be it the least or the most that it can be.
fn tells_of(
    way: Way,
    step: Step,
    source: &Source<'_>,
    sources: &[Source<'_>],
    sums: &Sums,
) -> Result<bool, SharesError> {
    let Some(index) = sums.ways.iter().position(|w| *w == way) else {
        return Ok(false);
    };
    let (now, _) = best(sums)?;
    let range = range(sums, &now, index, named_factor())?;
    let [Some(least), Some(most)] = range.at else {
        return Ok(false);
    };
    for flows in [least, now, most] {
        if !tells_if(way, step, source, sources, (sums, &flows))? {
            return Ok(false);
        }
    }
    Ok(true)
}

/// Whether a phase would tell of a way if these flows were so.
fn tells_if(
    way: Way,
    step: Step,
    source: &Source<'_>,
    sources: &[Source<'_>],
    (sums, flows): (&Sums, &[f64]),
) -> Result<bool, SharesError> {
    let mut supposed = sources.to_vec();
    supposed.push(source.clone());
    let trial = Sums::of(&supposed);
    let flows = translated(sums, flows, &trial);
    if step == Step::Look {
        let added = supposed.last_mut().expect("one was added");
        added.seen = seen(added, &trial, &flows);
    }
    if step == Step::JoinPorts && !stays_joined(source, &trial, &flows) {
        return Ok(false);
    }
    let mut trial = Sums::of(&supposed);
    trial.suppose(supposed.len() - 1, &flows);
    let (found, _) = best(&trial)?;
    let Some(index) = trial.ways.iter().position(|w| *w == way) else {
        return Ok(false);
    };
    let factor = named_factor() + normal_quantile(HOPED);
    let standing = standing(&trial, &found, index, factor)?;
    Ok(!matches!(standing, Standing::Open { .. }))
}

/// Whether two sides that were joined stay near one pressure over the hold: a large leak
/// lets its own side fall, and then oil passes the piston again.
pub(super) fn stays_joined(source: &Source<'_>, sums: &Sums, flows: &[f64]) -> bool {
    let level = level(source);
    [Chamber::Cap, Chamber::Rod].into_iter().all(|chamber| {
        let ways = sums.ways.iter().zip(flows).zip(&sums.at_pa);
        let out = ways.filter(|((way, _), _)| match way {
            Way::Gland => chamber == Chamber::Rod,
            Way::Plug(at) => *at == chamber,
            _ => false,
        });
        let flow: f64 = out
            .map(|((_, flow), at_pa)| flow * (level / at_pa.max(1.0)).powf(EXPONENT))
            .sum();
        let volume = source.volume_m3[usize::from(chamber == Chamber::Rod)];
        let falls_pa = flow * source.drive.length_s * STIFF_PA / volume.max(f64::MIN_POSITIVE);
        falls_pa < FALLS_PART * level
    })
}

/// What eyes would see of these flows.
fn seen(source: &Source<'_>, sums: &Sums, flows: &[f64]) -> Seen {
    let look = |way: Way| {
        let index = sums.ways.iter().position(|w| *w == way)?;
        let flow = flows[index] * source.carried(way, sums.at_pa[index], None, EXPONENT);
        Some(if flow * source.drive.length_s < SEEN_M3 {
            Look::Dry
        } else {
            Look::Wet
        })
    };
    Seen {
        gland: look(Way::Gland),
        cap_port: look(Way::Plug(Chamber::Cap)),
        rod_port: look(Way::Plug(Chamber::Rod)),
        collected: None,
    }
}

/// Phases that could be held, the least work first: one of them again, and others after that
/// which had a load.
fn candidates<'a>(
    again: &Source<'a>,
    base: &Source<'a>,
    sources: &[Source<'a>],
) -> Vec<(Step, Source<'a>)> {
    let mut found = vec![(Step::Look, again.clone())];
    for times in [2u32, 3, 6] {
        // Heat of a locked rod does not average out as that of a free one does.
        let mut longer = base.clone();
        longer.drive.length_s *= f64::from(times);
        // Heat and surroundings change anew all the time: errors fall as those of independent
        // minutes do, not with the time itself.
        longer.covariance /= f64::from(times);
        found.push((Step::HoldLonger { times }, longer));
    }
    let holding = base.circuit.holding_chamber();
    let valve = base.circuit.holding_valve(holding);
    if base.circuit.port(holding) == Port::OnValve && valve == HoldingValve::InPlace {
        let mut swapped = base.clone();
        match holding {
            Chamber::Cap => swapped.circuit.cap_holding_valve = HoldingValve::Swapped,
            Chamber::Rod => swapped.circuit.rod_holding_valve = HoldingValve::Swapped,
        }
        found.push((Step::SwapValve(holding), swapped));
    }
    if chambers(base.kind).len() < 2 {
        found.extend(plugged(base));
        return found;
    }
    if is_loaded(&base.circuit) {
        found.push((Step::OpenToVessel(holding.other()), opened(base, holding)));
    }
    found.extend(plugged(base));
    let was_joined = sources.iter().any(|s| s.circuit.joined);
    if has_piston(base.kind) && !was_joined {
        found.push((Step::JoinPorts, joined(base)));
    }
    found
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
fn plugged<'a>(base: &Source<'a>) -> Option<(Step, Source<'a>)> {
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
    let source = Source {
        circuit: Circuit {
            cap_holding_valve: HoldingValve::Absent,
            rod_holding_valve: HoldingValve::Absent,
            ..Circuit::plain(Port::Blocked, rod_port, base.circuit.rod)
        },
        drive: steady(base, cap_pa, rod_pa),
        covariance: independent(&shown, |chamber| standard(base, chamber)),
        chambers: shown,
        measured: vec![0.0; n],
        past_piston: None,
        seen: Seen::default(),
        ..base.clone()
    };
    Some((Step::PlugBoth, source))
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
