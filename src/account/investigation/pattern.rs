//! What the pattern of pressures and movement says that no sum of flows says.
//!
//! Each is an answer of its own, in plain words, tied to its evidence. Where the same
//! plumbing leaked in one phase and not in another, the difference is looked for in what
//! differed: pressure, or place in the stroke. Intervals that overlap are no difference.

mod settles;

use super::phase::Phase;
use crate::account::Figure;
use crate::account::FigureName;
use crate::account::Measured;
use crate::circuit::Circuit;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::quantity::number;

/// What kind of answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pattern {
    /// Both pressures met: oil passes the piston.
    Equalised,
    /// The rod moved, or the pressure fell, with the oil's temperature alone.
    Thermal,
    /// The valve that holds the load stands at its setting and opens as it should.
    AtSetting,
    /// The rod stands by friction while oil leaves.
    FrictionLock,
    /// Air in the oil.
    Air,
    /// Leaks at low pressure and not at high.
    OnlyLow,
    /// Leaks at high pressure and not at low.
    OnlyHigh,
    /// Leaks at one place of the stroke.
    OnePlace,
    /// The rod creeps out by itself.
    CreepsOut,
    /// The unloaded side is drawn empty.
    DrawnEmpty,
    /// Oil was seen where nothing that was found explains it.
    OilSeen,
    /// Oil was seen at a port that was on its valve.
    FittingWet,
    /// A vessel that shows only a part of what passes the piston, because the rod moves.
    VesselShowsPart,
    /// It settled: what fell at first was no leak.
    Settling,
    /// Oil is lost at first and then none: at a pressure, or with time.
    LossStops,
    /// None is lost at first and then some: at a pressure, or with time.
    LossStarts,
    /// Leaks above a pressure and not below.
    StopsAtPressure,
    /// Leaks below a pressure and not above.
    StartsAtPressure,
}

impl Pattern {
    /// Its word in data files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Equalised => "pressures_equalised",
            Self::Thermal => "thermal",
            Self::AtSetting => "valve_at_its_setting",
            Self::FrictionLock => "held_by_friction",
            Self::Air => "air_in_the_oil",
            Self::OnlyLow => "only_at_low_pressure",
            Self::OnlyHigh => "only_at_high_pressure",
            Self::OnePlace => "only_at_one_place",
            Self::CreepsOut => "creeps_out",
            Self::DrawnEmpty => "drawn_empty",
            Self::VesselShowsPart => "vessel_shows_a_part",
            Self::OilSeen => "oil_seen",
            Self::FittingWet => "fitting_wet",
            Self::Settling => "settling",
            Self::LossStops => "loss_stops",
            Self::LossStarts => "loss_starts",
            Self::StopsAtPressure => "stops_at_a_pressure",
            Self::StartsAtPressure => "starts_at_a_pressure",
        }
    }
}

impl Pattern {
    /// The answer in a few words, if it explains why one leak is not the same in all phases.
    pub fn as_answer(self) -> Option<&'static str> {
        match self {
            Self::OnlyLow => Some("Leaks at low pressure"),
            Self::OnlyHigh => Some("Leaks at high pressure"),
            Self::OnePlace => Some("Leaks at one place"),
            Self::StopsAtPressure => Some("Leaks above a pressure"),
            Self::StartsAtPressure => Some("Leaks below a pressure"),
            _ => None,
        }
    }
}

/// A pattern with its evidence.
#[derive(Debug, Clone, PartialEq)]
pub struct Noticed {
    /// Which.
    pub pattern: Pattern,
    /// The evidence, as a sentence.
    pub sentence: String,
}

/// More air than this, by volume, is told of; bleeding leaves less (common practice, no
/// source).
const MUCH_AIR: f64 = 0.01;

/// Heat that does less than this part of a movement is not worth words.
const HEAT_PART: f64 = 0.3;

/// A valve within this part of its setting is at it.
const NEAR_SETTING: f64 = 0.07;

/// A rod side that draws in more than this part of what its vessel got is worth words.
const SHOWN_PART: f64 = 0.1;

/// Below this gauge pressure a side counts as drawn empty, Pa.
const EMPTY_PA: f64 = -0.3e5;

/// Both sides above this gauge pressure push a rod out, Pa.
const PRESSED_PA: f64 = 2e5;

/// Pressures by which one phase counts as low against another, and as alike.
const LOW_BY: f64 = 2.0;
const ALIKE_BY: f64 = 1.5;

/// Places of the stroke nearer than this are one place, m.
const ONE_PLACE_M: f64 = 0.01;

/// All patterns of an investigation, phase by phase, then those of several phases.
pub(super) fn noticed(phases: &[Phase<'_>]) -> Vec<Noticed> {
    let mut found = Vec::new();
    for phase in phases {
        found.extend(equalised(phase));
        found.extend(thermal(phase));
        found.extend(at_setting(phase));
        found.extend(friction_lock(phase));
        found.extend(creeps_out(phase));
        found.extend(drawn_empty(phase));
        found.extend(vessel_shows_part(phase));
        found.extend(air(phase));
    }
    found.extend(differing(phases));
    found.extend(settles::noticed(phases));
    found
}

fn note(pattern: Pattern, sentence: String) -> Option<Noticed> {
    Some(Noticed { pattern, sentence })
}

fn figure<'a>(phase: &Phase<'a>, name: FigureName) -> Option<&'a Figure> {
    phase.evaluation.figure(name)
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// Mean pressure of the side that holds, Pa.
fn holding_pa(phase: &Phase<'_>) -> Option<f64> {
    let drive = &phase.evaluation.counted.as_ref()?.drive;
    match phase.circuit().holding_chamber() {
        Chamber::Cap => Some(mean(&drive.p_cap_pa)),
        Chamber::Rod => drive.p_rod_pa.as_deref().map(mean),
    }
}

/// "−0.21 ± 0.01 mm/min" of a figure in its own unit.
fn text(figure: &Figure) -> String {
    let (unit, by) = (figure.name.metric_unit(), figure.name.si_per_metric_unit());
    match figure.measured {
        Some(Measured {
            value_si,
            standard_si,
        }) => {
            let expanded = figure.coverage_factor * standard_si / by;
            format!(
                "{} ± {} {unit}",
                number(value_si / by, expanded),
                number(expanded, expanded)
            )
        }
        None => String::new(),
    }
}

fn equalised(phase: &Phase<'_>) -> Option<Noticed> {
    let met = phase.evaluation.met?;
    let seen = met.seen?;
    note(
        Pattern::Equalised,
        format!(
            "Phase {}: both pressures met at {:.0} bar after the rod sank {:.1} mm: oil passes the piston. That the rod \
             then stands says nothing for its seal.",
            phase.label,
            met.pressure_pa / 1e5,
            seen.sink_m * 1e3
        ),
    )
}

/// The sum of the side that holds, if its interval contains zero.
fn nothing_lost(phase: &Phase<'_>) -> bool {
    let counted = phase.evaluation.counted.as_ref();
    let sum = counted.and_then(|c| c.sum(phase.circuit().holding_chamber()));
    sum.is_some_and(|(mean, standard)| mean.abs() < 1.96 * standard)
}

fn thermal(phase: &Phase<'_>) -> Option<Noticed> {
    // What the other one of two cylinders does to movement and pressure is not known.
    let is_alone = phase.circuit().beside.is_none();
    if !is_alone || !nothing_lost(phase) || settles::has_settled(phase) {
        return None;
    }
    if let (Some(by_heat), Some(drift)) = (
        phase.evaluation.by_heat_m_per_s,
        figure(phase, FigureName::Drift),
    ) {
        let moved = drift.measured?;
        let is_seen = drift.lower_si * drift.upper_si > 0.0;
        let is_part = by_heat.value_si / moved.value_si > HEAT_PART;
        let is_sure = by_heat.value_si.abs() > 1.96 * by_heat.standard_si;
        let expanded = 1.96 * by_heat.standard_si * 6e4;
        return (is_seen && is_part && is_sure).then(|| Noticed {
            pattern: Pattern::Thermal,
            sentence: format!(
                "Phase {}: the rod moved ({}); the change of the oil's temperature alone does {} ± {} mm/min of \
                 that, and in what is left no leak is shown.",
                phase.label,
                text(drift),
                number(by_heat.value_si * 6e4, expanded),
                number(expanded, expanded)
            ),
        });
    }
    let loss = figure(phase, FigureName::LeakDown).filter(|l| l.lower_si > 0.0)?;
    note(
        Pattern::Thermal,
        format!(
            "Phase {}: the pressure fell ({}), and cooling oil alone can explain it: no loss of oil is shown.",
            phase.label,
            text(loss)
        ),
    )
}

/// Whether the valve that holds stood at its setting.
pub(super) fn is_at_setting(phase: &Phase<'_>) -> bool {
    at_setting(phase).is_some()
}

fn at_setting(phase: &Phase<'_>) -> Option<Noticed> {
    let setting = phase.circuit().opens_at?;
    let stood = holding_pa(phase)?;
    if stood < (1.0 - NEAR_SETTING) * setting.pa() {
        return None;
    }
    note(
        Pattern::AtSetting,
        format!(
            "Phase {}: the pressure stood at {:.0} bar, the setting of the valve is {:.0} bar: what passes it there says \
             nothing against the valve. Ask what drives the pressure up: the load, or oil past the piston.",
            phase.label,
            stood / 1e5,
            setting.bar()
        ),
    )
}

fn friction_lock(phase: &Phase<'_>) -> Option<Noticed> {
    // The other one of two cylinders may carry what this one lets go.
    if phase.circuit().beside.is_some() {
        return None;
    }
    let RodHold::PushedIn { .. } = phase.circuit().rod else {
        return None;
    };
    let area = phase.cylinder()?.cap_area().value;
    let (lost, standard) = phase.evaluation.counted.as_ref()?.sum(Chamber::Cap)?;
    let drift = figure(phase, FigureName::Drift)?;
    let furthest = drift.lower_si.abs().max(drift.upper_si.abs());
    let stands = lost > 2.8 * standard && furthest * area < 0.3 * lost;
    let met = phase.evaluation.met.is_some();
    (stands && !met).then(|| Noticed {
        pattern: Pattern::FrictionLock,
        sentence: format!(
            "Phase {}: the rod stands ({}) although oil leaves the cap side: friction carries part of the load while the \
             pressure falls. It will let go.",
            phase.label,
            text(drift)
        ),
    })
}

fn creeps_out(phase: &Phase<'_>) -> Option<Noticed> {
    let drift = figure(phase, FigureName::Drift).filter(|d| d.lower_si > 0.0)?;
    // A load that pulls needs no other cause, nor does one that another cylinder takes over.
    let is_pulled = matches!(phase.circuit().rod, RodHold::PulledOut { load: Some(_) });
    if is_pulled || phase.circuit().beside.is_some() {
        return None;
    }
    // Oil that only springs back, because the other side lets go, is no oil that came in.
    let counted = phase.evaluation.counted.as_ref();
    let of_cap = counted.and_then(|counted| counted.sum(Chamber::Cap));
    if of_cap.is_some_and(|(lost, standard)| lost + 1.96 * standard > 0.0) {
        return None;
    }
    let at = drift.at;
    let by_heat = phase
        .evaluation
        .by_heat_m_per_s
        .map_or(0.0, |m| m.value_si + 2.0 * m.standard_si);
    let beyond = drift.measured?.value_si > 2.0 * by_heat.max(0.0);
    let (cap, rod) = (at.p_cap_pa?, at.p_rod_pa?);
    if cap.min(rod) < PRESSED_PA {
        return None;
    }
    beyond.then(|| Noticed {
        pattern: Pattern::CreepsOut,
        sentence: format!(
            "Phase {}: the rod creeps out ({}) with {:.0} bar on the cap side and {:.0} bar on the rod side: pressure on \
             both sides pushes it by the area of the rod. Oil passes the piston, or a supply reaches both sides past the \
             spool.",
            phase.label,
            text(drift),
            cap / 1e5,
            rod / 1e5
        ),
    })
}

fn drawn_empty(phase: &Phase<'_>) -> Option<Noticed> {
    let drive = &phase.evaluation.counted.as_ref()?.drive;
    let holding = phase.circuit().holding_chamber();
    let zero_pa = drive.zero_pa[usize::from(holding == Chamber::Cap)];
    let last = |p: &[f64]| p.last().is_some_and(|p| *p < EMPTY_PA - 3.0 * zero_pa);
    let other = match holding.other() {
        Chamber::Cap => &drive.p_cap_pa,
        Chamber::Rod => drive.p_rod_pa.as_ref()?,
    };
    if !last(other) || !phase.circuit().is_shut_in(holding.other()) {
        return None;
    }
    let side = holding.other().word();
    let says = match holding {
        Chamber::Cap => {
            let cylinder = phase.cylinder()?;
            let by_port = 1.0 - cylinder.annulus_area().value / cylinder.cap_area().value;
            format!(
                "no more can pass the piston than that side grows by, so at least {:.0} % of what the cap side loses leaves \
                 by its port (plug, fitting, valve or hose)",
                (by_port * 100.0).floor()
            )
        }
        Chamber::Rod => {
            "a hanging load draws it empty, so nothing stops the rod: the piston seal alone can let it sink to the end".into()
        }
    };
    note(
        Pattern::DrawnEmpty,
        format!(
            "Phase {}: the {side} side is at vacuum: {says}.",
            phase.label
        ),
    )
}

fn vessel_shows_part(phase: &Phase<'_>) -> Option<Noticed> {
    let collected = phase.seen.collected?;
    let (cylinder, chamber) = (phase.cylinder()?, collected.chamber);
    if !cylinder.kind().chambers().contains(&chamber) {
        return None;
    }
    let (from, until) = phase.evaluation.hold_s;
    let moved = figure(phase, FigureName::Drift)?.measured?.value_si;
    let drawn = match chamber {
        Chamber::Cap => cylinder.cap_area().value * moved,
        Chamber::Rod => -cylinder.annulus_area().value * moved,
    };
    let got = collected.volume_m3 / (until - from);
    let of_got = 1.96 * collected.standard_m3 / (until - from);
    let flow = |v: f64| number(v * 60e6, of_got.max(0.02 * v.abs()) * 60e6);
    (drawn > SHOWN_PART * got.abs() && drawn > of_got).then(|| Noticed {
        pattern: Pattern::VesselShowsPart,
        sentence: format!(
            "Phase {}: the vessel got {} mL/min, and the {} side drew in {} mL/min as the rod moved: {} mL/min passed the \
             piston. The vessel alone does not show that.",
            phase.label,
            flow(got),
            chamber.word(),
            flow(drawn),
            flow(got + drawn)
        ),
    })
}

fn air(phase: &Phase<'_>) -> Option<Noticed> {
    let air = phase.evaluation.counted.as_ref()?.air;
    (air.value_si - 2.0 * air.standard_si > MUCH_AIR).then(|| Noticed {
        pattern: Pattern::Air,
        sentence: format!(
            "Phase {}: about {:.1} % of air in the oil. It springs, makes pressure fall slower for the same leak, and comes \
             out again after bleeding: cycle and bleed before the next phase.",
            phase.label,
            air.value_si * 100.0
        ),
    })
}

/// Whether two phases differ in nothing but pressure and place.
pub(super) fn same_plumbing(one: &Circuit, other: &Circuit) -> bool {
    let plumbing = |c: &Circuit| {
        (
            [c.cap_port, c.rod_port],
            [c.cap_holding_valve, c.rod_holding_valve],
            c.joined,
            c.holding_chamber(),
            matches!(c.rod, RodHold::Locked | RodHold::Bottomed),
        )
    };
    plumbing(one) == plumbing(other)
}

/// Leaks of the same plumbing that one phase shows and another does not.
fn differing(phases: &[Phase<'_>]) -> Vec<Noticed> {
    let mut found: Vec<Noticed> = Vec::new();
    for (index, one) in phases.iter().enumerate() {
        for other in &phases[index + 1..] {
            found.extend(pair(one, other).filter(|p| !found.contains(p)));
        }
    }
    found
}

fn pair(one: &Phase<'_>, other: &Phase<'_>) -> Option<Noticed> {
    if !same_plumbing(one.circuit(), other.circuit()) {
        return None;
    }
    let chamber = one.circuit().holding_chamber();
    let sum = |phase: &Phase<'_>| phase.evaluation.counted.as_ref()?.sum(chamber);
    let (a, b) = (sum(one)?, sum(other)?);
    let apart = (a.0 - b.0).abs() > 2.8 * a.1.hypot(b.1);
    let (more, less) = if a.0.abs() > b.0.abs() {
        (one, other)
    } else {
        (other, one)
    };
    let (high, low) = (a.0.abs().max(b.0.abs()), a.0.abs().min(b.0.abs()));
    if !apart || low > 0.5 * high {
        return None;
    }
    let (p_more, p_less) = (holding_pa(more)?, holding_pa(less)?);
    let x = |phase: &Phase<'_>| phase.evaluation.counted.as_ref().map(|c| c.drive.x_m);
    let places = (x(more)?, x(less)?);
    let flow = |v: f64| number(v * 60e6, 0.05 * high * 60e6);
    let head = format!("Phase {}: {} mL/min", more.label, flow(high));
    let tail = format!("phase {}: {} mL/min", less.label, flow(low));
    let at = |p: f64| format!("{:.0} bar", p / 1e5);
    if p_less > LOW_BY * p_more {
        return note(
            Pattern::OnlyLow,
            format!(
                "{head} at {}, {tail} at {}, with the same plumbing: it leaks at low pressure: a seal or seat that its \
                 pressure does not yet press shut, such as a lip seal.",
                at(p_more),
                at(p_less)
            ),
        );
    }
    // What falls with the pressure as any leak does is no pattern.
    if p_more > LOW_BY * p_less && low < 0.3 * high * (p_less / p_more) {
        return note(
            Pattern::OnlyHigh,
            format!(
                "{head} at {}, {tail} at {}, with the same plumbing: it leaks only when the pressure opens a gap or a \
                 valve.",
                at(p_more),
                at(p_less)
            ),
        );
    }
    let alike = p_more.max(p_less) < ALIKE_BY * p_more.min(p_less);
    (alike && (places.0 - places.1).abs() > ONE_PLACE_M).then(|| Noticed {
        pattern: Pattern::OnePlace,
        sentence: format!(
            "{head} with the rod out {:.0} mm, {tail} with it out {:.0} mm, with the same plumbing and pressure: as when \
             the tube is worn, scored or wide at that place.",
            places.0 * 1e3,
            places.1 * 1e3
        ),
    })
}
