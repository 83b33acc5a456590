//! From sums to figures with their budgets.
//!
//! Formulas: pressure of one way = (p_push·A_push − p_other·A_other)/A_push, so outwards
//! p_cap − p_rod·A_rod/A_cap (common practice, no source; the static balance of the piston).
//! Friction = half the difference of the net forces p_cap·A_cap − p_rod·A_rod out and in
//! (common practice, no source): what pulls one way all the time, a weight, cancels, and so do
//! the zeros of both pressures. Seals of piston and gland and the guide are in it together.

use super::mean::Mean;
use super::summary::SideSums;
use super::summary::too_fast;
use super::summary::unread;
use super::watch::StrokeWatch;
use super::way::Travel;
use crate::account::Conditions;
use crate::account::Contribution;
use crate::account::Figure;
use crate::account::FigureName;
use crate::account::Measured;

/// Speeds out and in may differ by this part of their mean for one friction (common practice,
/// no source).
const SPEEDS_APART: f64 = 0.25;

/// A figure of strokes; the direction it is of, or None for one of both.
#[derive(Debug, Clone, PartialEq)]
pub struct StrokeFigure {
    /// Which way; None for one of both together.
    pub travel: Option<Travel>,
    /// The figure.
    pub figure: Figure,
}

type Unstated = (FigureName, String);

/// All figures, and those that cannot be stated with why.
pub(super) fn figures(watch: &StrokeWatch) -> (Vec<StrokeFigure>, Vec<Unstated>) {
    let mut found = Vec::new();
    let mut unstated = Vec::new();
    let pressures = [
        FigureName::Breakaway,
        FigureName::RunningPressure,
        FigureName::Friction,
    ];
    match unread(watch, false) {
        Some(why) => unstated.push((FigureName::StrokeLength, why)),
        None => match length(watch) {
            Some(figure) => found.push(both(figure)),
            None => unstated.push((
                FigureName::StrokeLength,
                "the rod did not come to rest at both ends: wait half a second there".into(),
            )),
        },
    }
    match unread(watch, true).or_else(|| against_movement(watch)) {
        Some(why) => unstated.extend(pressures.map(|name| (name, why.clone()))),
        None => pressed(watch, &mut found, &mut unstated),
    }
    match unread(watch, false).or_else(|| too_fast(watch)) {
        Some(why) => unstated.push((FigureName::StickSlip, why)),
        None => found.extend(
            Travel::BOTH
                .iter()
                .zip(&watch.sides)
                .filter_map(|(travel, side)| Some(one_way(*travel, stick_slip(side)?))),
        ),
    }
    (found, unstated)
}

fn both(figure: Figure) -> StrokeFigure {
    StrokeFigure {
        travel: None,
        figure,
    }
}

fn one_way(travel: Travel, figure: Figure) -> StrokeFigure {
    StrokeFigure {
        travel: Some(travel),
        figure,
    }
}

/// Breakaway, running pressure and friction.
fn pressed(watch: &StrokeWatch, found: &mut Vec<StrokeFigure>, unstated: &mut Vec<Unstated>) {
    let own = || Travel::BOTH.into_iter().zip(&watch.sides);
    // What only its load retracts has no pressure of its own inwards.
    let is_pushed = |travel: Travel| travel == Travel::Out || watch.plan.rod_m2.is_some();
    let starts: Vec<StrokeFigure> = own()
        .filter(|(travel, side)| is_pushed(*travel) && side.breakaway_pa.n() > 1)
        .filter_map(|(travel, side)| Some(one_way(travel, breakaway(watch, travel, side)?)))
        .collect();
    if starts.len() < own().filter(|(travel, _)| is_pushed(*travel)).count() {
        let why = "the rod did not stand still at an end before it was moved: wait there with the valve shut, then open it \
                   slowly";
        unstated.push((FigureName::Breakaway, why.into()));
    } else {
        found.extend(starts);
    }
    found.extend(
        own()
            .filter(|(travel, _)| is_pushed(*travel))
            .filter_map(|(travel, side)| {
                let running = with_zero(watch, travel, side.running_pa, side, Vec::new());
                Some(one_way(
                    travel,
                    figure(FigureName::RunningPressure, running?),
                ))
            }),
    );
    match friction(watch) {
        Ok(figure) => found.push(both(figure)),
        Err(why) => unstated.push((FigureName::Friction, why)),
    }
}

/// A value with its budget.
type Budgeted = (f64, Vec<Contribution>);

fn figure(name: FigureName, (value_si, budget): Budgeted) -> Figure {
    let squares = budget.iter().map(|part| part.standard_si.powi(2));
    let standard_si = squares.sum::<f64>().sqrt();
    let measured = Measured {
        value_si,
        standard_si,
    };
    Figure::measured(name, measured, budget, Conditions::default())
}

fn contribution(source: &'static str, standard_si: f64, remedy: &'static str) -> Contribution {
    Contribution {
        source,
        standard_si,
        degrees_of_freedom: None,
        remedy,
    }
}

fn scatter(mean: Mean, scale: f64) -> Option<Contribution> {
    Some(Contribution {
        source: "scatter from stroke to stroke",
        standard_si: mean.standard()? * scale,
        degrees_of_freedom: Some(f64::from(mean.n() - 1)),
        remedy: "run more strokes",
    })
}

/// A pressure of one way with what zeros and spans of both sensors do to it.
fn with_zero(
    watch: &StrokeWatch,
    travel: Travel,
    mean: Mean,
    side: &SideSums,
    more: Vec<Contribution>,
) -> Option<Budgeted> {
    let plan = &watch.plan;
    let push_m2 = plan.pushing_m2(travel);
    let rod_m2 = plan.rod_m2.unwrap_or(0.0);
    let [cap, rod, _] = plan.errors;
    let zero = (cap.zero_si * plan.cap_m2).hypot(rod.zero_si * rod_m2) / push_m2;
    let forces = (side.cap_n.value()?, side.rod_n.value()?);
    let span = (cap.span_relative * forces.0).hypot(rod.span_relative * forces.1) / push_m2;
    let [cap_step, rod_step, _] = plan.step_si;
    let step = (cap_step * plan.cap_m2).hypot(rod_step * rod_m2) / push_m2 / 12.0_f64.sqrt();
    let mut budget = more;
    budget.extend(scatter(mean, 1.0));
    budget.push(contribution(
        "zeros of the pressure sensors",
        zero,
        "calibrate the sensors",
    ));
    budget.push(contribution(
        "spans of the pressure sensors",
        span,
        "calibrate the sensors",
    ));
    budget.push(contribution(
        "steps of the pressure sensors",
        step,
        "a finer converter",
    ));
    Some((mean.value()?, budget))
}

fn breakaway(watch: &StrokeWatch, travel: Travel, side: &SideSums) -> Option<Figure> {
    // Readings that miss the very moment are independent from stroke to stroke.
    let unseen = (side.unseen_pa2.value()? / f64::from(side.unseen_pa2.n())).sqrt();
    let more = vec![contribution(
        "the moment between two readings",
        unseen,
        "raise the pressure more slowly, or read more often",
    )];
    let budgeted = with_zero(watch, travel, side.breakaway_pa, side, more)?;
    Some(figure(FigureName::Breakaway, budgeted))
}

/// Friction, or why there is none.
fn friction(watch: &StrokeWatch) -> Result<Figure, String> {
    let [out, back] = &watch.sides;
    let speeds = out.speed.value().zip(back.speed.value());
    let (fast, slow) = speeds
        .map(|(a, b)| (a.max(b), a.min(b)))
        .ok_or("the speed was not read")?;
    if fast - slow > SPEEDS_APART * 0.5 * (fast + slow) {
        return Err(format!(
            "the rod went at {:.0} mm/s one way and {:.0} mm/s the other: run both ways at about the same speed",
            slow * 1e3,
            fast * 1e3
        ));
    }
    let plan = &watch.plan;
    let value = half_difference(watch).ok_or("no running pressure was read")?;
    let [cap, rod, _] = plan.errors;
    let change = |of: fn(&SideSums) -> Mean| {
        let ends = [of(out).value(), of(back).value()].map(Option::unwrap_or_default);
        (ends[0] - ends[1]).abs()
    };
    let span = 0.5
        * (cap.span_relative * change(|s| s.cap_n)).hypot(rod.span_relative * change(|s| s.rod_n));
    let mut budget = vec![contribution(
        "spans of the pressure sensors",
        span,
        "calibrate the sensors",
    )];
    for (travel, side) in Travel::BOTH.into_iter().zip(&watch.sides) {
        budget.extend(scatter(side.running_pa, 0.5 * plan.pushing_m2(travel)));
    }
    Ok(figure(FigureName::Friction, (value, budget)))
}

/// Half the difference of the net forces, N.
fn half_difference(watch: &StrokeWatch) -> Option<f64> {
    let force = |travel: Travel, side: &SideSums| {
        Some(side.running_pa.value()? * watch.plan.pushing_m2(travel))
    };
    let [out, back] = &watch.sides;
    Some(0.5 * (force(Travel::Out, out)? + force(Travel::In, back)?))
}

/// Pressures that on the whole push against the movement are no pressures of this cylinder.
fn against_movement(watch: &StrokeWatch) -> Option<String> {
    let is_against = half_difference(watch).is_none_or(|force_n| force_n <= 0.0);
    is_against.then(|| {
        "the pressures read push against the movement, or not at all: see whether the sensors are at the right ends and alive"
            .to_owned()
    })
}

fn length(watch: &StrokeWatch) -> Option<Figure> {
    let mean = watch.lengths;
    let long_m = mean.value()?;
    let mut budget: Vec<Contribution> = scatter(mean, 1.0).into_iter().collect();
    let span = watch.plan.errors[2].span_relative * long_m;
    budget.push(contribution(
        "span of the position sensor",
        span,
        "calibrate the sensor",
    ));
    // Two ends, each read to a step.
    let step = watch.plan.step_si[2] / 6.0_f64.sqrt();
    budget.push(contribution(
        "steps of the position sensor",
        step,
        "a finer sensor",
    ));
    (mean.n() > 1).then(|| {
        figure(
            FigureName::StrokeLength,
            (long_m - watch.plan.stroke_m, budget),
        )
    })
}

fn stick_slip(side: &SideSums) -> Option<Figure> {
    let mut budget: Vec<Contribution> = scatter(side.slip, 1.0).into_iter().collect();
    let floor = (side.floor2.value()? / f64::from(side.floor2.n())).sqrt();
    budget.push(contribution(
        "noise of the position",
        floor,
        "a quieter sensor",
    ));
    (side.slip.n() > 1)
        .then(|| Some(figure(FigureName::StickSlip, (side.slip.value()?, budget))))?
}
