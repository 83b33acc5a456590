//! The length that each limit needs, what it is made of, and what would shorten it.

use super::Intended;
use super::change::Change;
use super::change::changes;
use super::curve::Curve;
use super::curve::Spot;
use super::enough::Asked;
use super::enough::never;
use crate::account::Evaluation;
use crate::account::FigureName;
use crate::account::HEAT_COURSES;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::procedure::needed_hold;
use crate::verdict::Limit;

/// Longest hold that one may reasonably ask for, s: hours, as common practice holds a load; after
/// that the shop has another temperature.
pub const LONGEST_S: f64 = 15_360.0;

/// Shortest hold that is looked at, s.
pub const FIRST_S: f64 = 60.0;

/// How many are looked at, each twice as long as the one before.
const N_LENGTHS: u32 = 9;

/// How many of them are looked at below the length that a change shall shorten.
const N_SHORTER: usize = 4;

/// Part of tight units that pass, and of units at twice the limit that fail, after what is called
/// the likely length: over what heat may be, and over the errors of what is measured.
const LIKELY: f64 = 0.9;

/// Where more than this part is not told even with heat as expected, the likely length is longer.
const HOPELESS: f64 = 0.25;

/// Nine of ten units have a measured value that lies no further to the wrong side than so many
/// standard uncertainties.
const LUCK: f64 = 1.28;

/// How long a hold must be.
#[derive(Debug, Clone, PartialEq)]
pub enum Needs {
    /// From where a tight unit can pass to where most do, and most at twice the limit fail, s; None where that is longer than [`LONGEST_S`].
    From(f64, Option<f64>),
    /// No tight unit passes up to [`LONGEST_S`].
    TooLong,
    /// No length is enough, and why.
    Never(String),
}

impl Needs {
    /// What to plan, s: where most units are told.
    pub fn likely_s(&self) -> Option<f64> {
        match self {
            Self::From(_, likely) => *likely,
            Self::TooLong | Self::Never(_) => None,
        }
    }

    /// From where a tight unit can pass, s.
    pub fn earliest_s(&self) -> Option<f64> {
        match self {
            Self::From(earliest, _) => Some(*earliest),
            Self::TooLong | Self::Never(_) => None,
        }
    }
}

/// What the length is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Mostly {
    /// The largest contribution to the ±, with its part of the variance, 0 to 1.
    Source(&'static str, f64),
    /// Steps of a sensor: the role, one step in SI units, and the time that one takes at the
    /// limit, s.
    Steps(Role, f64, f64),
}

/// What is foreseen for one limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Foreseen {
    /// The limit; of a table the row that a hold as intended would be judged by.
    pub limit: Limit,
    /// How long.
    pub needs: Needs,
    /// What it is made of; None where nothing could be evaluated.
    pub mostly: Option<Mostly>,
    /// What stands in the way even of the longest hold, as a sentence that a judgement would say.
    pub in_the_way: Option<String>,
    /// What would shorten it, the most first.
    pub shorter: Vec<Change>,
}

/// How long the hold must be for each limit.
pub fn foresee(intended: &Intended) -> Vec<Foreseen> {
    let mut curve = Curve::new(intended, lengths_s());
    let questions = intended.questions();
    let mut all: Vec<Foreseen> = questions
        .iter()
        .map(|question| {
            let needs = needed(&mut curve, question);
            Foreseen {
                limit: row(&mut curve, question),
                mostly: mostly(&mut curve, question, &needs),
                in_the_way: in_the_way(&mut curve, question, &needs),
                shorter: Vec::new(),
                needs,
            }
        })
        .collect();
    changes(&mut curve, &questions, &mut all);
    all
}

/// How long the hold must be for each limit, without what would shorten it.
pub fn lengths_needed(intended: &Intended) -> Vec<Needs> {
    let mut curve = Curve::new(intended, lengths_s());
    let questions = intended.questions();
    questions.iter().map(|q| needed(&mut curve, q)).collect()
}

/// What a tight hold of this length, s, would show; None where it could not be evaluated.
pub fn tight_at(intended: &Intended, length_s: f64) -> Option<Evaluation> {
    Curve::new(intended, vec![length_s]).at(0).cloned()
}

/// The lengths that are looked at, s.
pub(super) fn lengths_s() -> Vec<f64> {
    (0..N_LENGTHS)
        .map(|n| FIRST_S * f64::from(1 << n))
        .collect()
}

/// A curve for a changed intention, up to the length that is looked for without the change; what
/// would be far shorter still is not told apart.
pub(super) fn curve_up_to(intended: &Intended, longest_s: f64) -> Curve<'_> {
    let mut lengths = lengths_s();
    let n_shorter = lengths.iter().take_while(|s| **s < longest_s).count();
    lengths.truncate(n_shorter + 1);
    lengths.drain(..n_shorter.saturating_sub(N_SHORTER));
    Curve::new(intended, lengths)
}

/// How long a hold must be for one question.
pub(super) fn needed(curve: &mut Curve<'_>, question: &[Limit]) -> Needs {
    match earliest(curve, question) {
        Needs::From(earliest_s, _) => {
            let least_s = least_s(curve.intended(), question);
            let likely_s = first_s(curve, &|curve, spot| is_told(curve, question, spot));
            Needs::From(earliest_s, likely_s.map(|s| s.max(least_s).max(earliest_s)))
        }
        none => none,
    }
}

/// What is asked of a tight hold, by course of heat or as expected; None where it cannot be evaluated.
fn ask<T>(
    curve: &mut Curve<'_>,
    question: &[Limit],
    (course, spot): (Option<usize>, Spot),
    what: impl Fn(&Asked<'_>) -> T,
) -> Option<T> {
    let (intended, length_s) = (curve.intended(), curve.length_s(spot));
    let evaluation = curve.hold(course, spot)?;
    Some(what(&Asked {
        intended,
        question,
        evaluation: &evaluation,
        length_s,
    }))
}

/// From where a tight unit can pass; most may need longer.
pub(super) fn earliest(curve: &mut Curve<'_>, question: &[Limit]) -> Needs {
    let least_s = least_s(curve.intended(), question);
    if let Some(why) = no_length(curve, question) {
        return Needs::Never(why);
    }
    if least_s > LONGEST_S {
        return Needs::TooLong;
    }
    let can_pass = |curve: &mut Curve<'_>, spot: Spot| {
        ask(curve, question, (None, spot), |asked| {
            asked.passes().is_ok()
        })
    };
    match first_s(curve, &|curve, spot| can_pass(curve, spot) == Some(true)) {
        Some(earliest_s) => Needs::From(earliest_s.max(least_s), None),
        None => Needs::TooLong,
    }
}

/// Where most are told if heat is as expected, s: a first look that costs little.
pub(super) fn at_first_look_s(curve: &mut Curve<'_>, question: &[Limit]) -> Option<f64> {
    let least_s = least_s(curve.intended(), question);
    let told = |curve: &mut Curve<'_>, spot: Spot| {
        ask(curve, question, (None, spot), |asked| {
            asked.tells(LUCK).is_ok()
        })
    };
    first_s(curve, &|curve, spot| told(curve, spot) == Some(true)).map(|s| s.max(least_s))
}

/// Hold in which a rate at the limit crosses enough steps, s; zero where no steps are in the way.
fn least_s(intended: &Intended, question: &[Limit]) -> f64 {
    step_time(intended, &question[0]).map_or(0.0, |(_, _, needed_s)| needed_s)
}

/// Whether nine of ten tight units pass and nine of ten at twice the limit fail, over what heat
/// may be.
fn is_told(curve: &mut Curve<'_>, question: &[Limit], spot: Spot) -> bool {
    let mut missed = |course: Option<usize>| {
        let parts = ask(curve, question, (course, spot), |asked| {
            [1.0 - asked.part_passing(), 1.0 - asked.part_failing()]
        });
        parts.unwrap_or([1.0; 2])
    };
    // A look at heat as expected spares one at all that it may be.
    if missed(None).into_iter().any(|part| part > HOPELESS) {
        return false;
    }
    let allowed = (1.0 - LIKELY) * HEAT_COURSES as f64;
    let mut all = [0.0; 2];
    (0..HEAT_COURSES).all(|course| {
        let own = missed(Some(course));
        all = [all[0] + own[0], all[1] + own[1]];
        all.into_iter().all(|part| part <= allowed)
    })
}

fn no_length(curve: &mut Curve<'_>, question: &[Limit]) -> Option<String> {
    let intended = curve.intended();
    let mut why = None;
    // The shortest hold may have no figure where a longer one has.
    for place in 0..curve.lengths_s().len().min(4) {
        let length_s = curve.lengths_s()[place];
        let Some(evaluation) = curve.at(place) else {
            continue;
        };
        match never(intended, question, evaluation, length_s) {
            None => return None,
            Some(reason) => why = Some(reason),
        }
    }
    Some(why.unwrap_or_else(|| "nothing of such a hold can be evaluated".into()))
}

/// The shortest length at which something is so of tight holds, s.
fn first_s(curve: &mut Curve<'_>, is_so: &dyn Fn(&mut Curve<'_>, Spot) -> bool) -> Option<f64> {
    let place = (0..curve.lengths_s().len()).find(|place| is_so(curve, Spot::At(*place)))?;
    let to_s = curve.lengths_s()[place];
    let Some(before) = place.checked_sub(1) else {
        return Some(to_s);
    };
    let (mut low, mut high) = (curve.lengths_s()[before], to_s);
    while high / low > 1.02 {
        let middle = (low * high).sqrt();
        match is_so(curve, Spot::Between(before, middle)) {
            true => high = middle,
            false => low = middle,
        }
    }
    Some(high)
}

/// What still stands in the way at the longest hold, as a sentence; None where it tells.
fn in_the_way(curve: &mut Curve<'_>, question: &[Limit], needs: &Needs) -> Option<String> {
    let spot = Spot::At(curve.lengths_s().len() - 1);
    if needs.likely_s().is_some() || matches!(needs, Needs::Never(_)) {
        return None;
    }
    let mut heat = std::iter::once(None).chain((0..HEAT_COURSES).map(Some));
    heat.find_map(|course| {
        let told = ask(curve, question, (course, spot), |asked| asked.tells(LUCK));
        told?.err().map(|judged| judged.reason)
    })
}

/// For movement and pressure loss: the role they are read by, its step in SI units, and the hold
/// in which a rate at the limit crosses enough steps, s.
fn step_time(intended: &Intended, limit: &Limit) -> Option<(Role, f64, f64)> {
    let role = match (limit.figure, intended.subject.circuit.holding_chamber()) {
        (FigureName::Drift, _) => Role::Position,
        (FigureName::LeakDown, Chamber::Cap) => Role::CapPressure,
        (FigureName::LeakDown, Chamber::Rod) => Role::RodPressure,
        _ => return None,
    };
    let sensor = intended.sensors.iter().find(|s| s.role == role)?;
    let limit_si = limit.number * limit.si_per_unit;
    let is_sound = sensor.step_si > 0.0 && limit_si > 0.0;
    is_sound.then(|| {
        let needed = needed_hold(sensor.step_si, limit_si).value;
        (role, sensor.step_si, needed)
    })
}

/// The row that a hold as intended would be judged by, or the first of them.
fn row(curve: &mut Curve<'_>, question: &[Limit]) -> Limit {
    let over_hold = (0..curve.lengths_s().len()).find_map(|p| Some(curve.at(p)?.over_hold));
    let holds = |limit: &&Limit| {
        let row = limit.basis.row.as_ref();
        over_hold.is_none_or(|found| {
            row.is_none_or(|row| {
                let is_in = |band: &Option<crate::verdict::Band>, si: Option<f64>| {
                    band.as_ref()
                        .is_none_or(|b| si.is_some_and(|si| b.holds(si)))
                };
                is_in(&row.oil, found.t_oil_k) && is_in(&row.pressure, found.p_holding_pa)
            })
        })
    };
    question.iter().find(holds).unwrap_or(&question[0]).clone()
}

/// What makes the most of a length.
pub(super) fn mostly(curve: &mut Curve<'_>, question: &[Limit], needs: &Needs) -> Option<Mostly> {
    let by_steps = step_time(curve.intended(), &question[0]);
    let length_s = match needs {
        Needs::From(earliest, likely) => Some(likely.unwrap_or(*earliest)),
        Needs::TooLong | Needs::Never(_) => None,
    };
    if let Some((role, step_si, needed_s)) = by_steps
        && length_s.is_none_or(|s| s <= needed_s)
    {
        let limit = &question[0];
        let one_s = step_si / (limit.number * limit.si_per_unit);
        return Some(Mostly::Steps(role, step_si, one_s));
    }
    let lengths = curve.lengths_s();
    let place = match length_s {
        Some(s) => lengths.iter().position(|own| *own >= s).unwrap_or(0),
        None => lengths.len() - 1,
    };
    largest(curve.at(place)?, question[0].figure)
}

fn largest(evaluation: &Evaluation, name: FigureName) -> Option<Mostly> {
    let figure = evaluation.figure(name)?;
    let whole = figure.measured?.standard_si;
    let most = figure.budget.first()?;
    Some(Mostly::Source(
        most.source,
        (most.standard_si / whole).powi(2).min(1.0),
    ))
}
