//! Totals of the two sides as values, single paths as bounds, with what they are stated
//! for.
//!
//! The time shape of a flow never decides which path it took; only plumbing does.

use super::Doubt;
use super::Evaluation;
use super::Subject;
use super::bounds::Across;
use super::bounds::across;
use super::bounds::both_sides;
use super::bounds::impossible;
use super::bounds::one_side;
use super::conditions::At;
use super::conditions::stated;
use super::figure::Contribution;
use super::figure::Figure;
use super::figure::FigureName;
use super::figure::Measured;
use super::figure::coverage_factor;
use super::layout::P;
use super::solution::Solution;
use super::term::Term;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::quantity::Length;
use crate::quantity::unit::meter;

/// No account is known to better than this mean oil temperature over a hold, K (at
/// 95 %); found in simulation for long holds with good sensors.
const HEAT_FLOOR_K: f64 = 0.1;

/// What a flow at the start of a hold is not known by, beside its mean: a part of itself, a
/// part of its distance from the mean, and a part of its change within the first block
/// (common practice of ours, no source).
const FLOW_WANDER: f64 = 0.01;
const SHAPE_PART: f64 = 0.05;
const FIRST_PART: f64 = 0.5;

/// Totals as values, single paths as bounds; or why they cannot be.
pub(super) fn figures(
    solution: &Solution<'_>,
    subject: &Subject,
    evaluation: &mut Evaluation,
) -> Result<(), Doubt> {
    let layout = &solution.balance.layout;
    let stated = stated(solution, subject);
    let floor = heat_floor(solution);
    let cap = layout
        .cap_live
        .then(|| total(solution, P::CapLoss, FigureName::CapLoss, &stated, floor));
    let rod = layout
        .rod_live
        .then(|| total(solution, P::RodGain, FigureName::RodGain, &stated, floor));
    let across = across(solution.balance.series);
    if let Some(doubt) = impossible(across, cap.as_ref(), rod.as_ref()) {
        return Err(doubt);
    }
    let ends = |figure: &Figure| (figure.lower_si, figure.upper_si);
    let bounds = match (&cap, &rod) {
        (Some(cap), Some(rod)) => {
            let (out, _) = solution.derive(&|theta| {
                stated.carried(solution, theta, P::CapLoss)
                    - stated.carried(solution, theta, P::RodGain)
            });
            let half = cap.coverage_factor.max(rod.coverage_factor) * out.standard_si.max(floor);
            both_sides(
                subject,
                across,
                [
                    ends(cap),
                    ends(rod),
                    (out.value_si - half, out.value_si + half),
                ],
            )
        }
        (Some(cap), None) if across != Across::Reversing => {
            one_side(subject, Chamber::Cap, ends(cap))
        }
        (None, Some(rod)) if across != Across::Reversing => {
            one_side(subject, Chamber::Rod, (-rod.upper_si, -rod.lower_si))
        }
        _ => Vec::new(),
    };
    if across == Across::Reversing {
        evaluation.doubts.push(Doubt::Note {
            evidence: "the pressure across the piston reversed during the hold, so no single path is stated".into(),
        });
    }
    let widest = |a: f64, figure: &Figure| a.max(figure.coverage_factor);
    let factor = cap.iter().chain(&rod).fold(0.0, widest);
    for (name, lower, upper) in bounds {
        let figure = Figure::bounded(name, lower, upper, factor, stated.at);
        evaluation.figures.push(figure);
    }
    evaluation.figures.extend(cap.into_iter().chain(rod));
    Ok(())
}

/// A measured total at the stated conditions, with its mean over the hold and its budget.
fn total(solution: &Solution<'_>, side: P, name: FigureName, stated: &At, floor: f64) -> Figure {
    let (mean, _) = solution.derive(&|theta| solution.mean_flow(theta, side));
    let (mut start, mut budget) = solution.derive(&|theta| stated.carried(solution, theta, side));
    let [wander, unseen] = beside_the_fit(solution, side, start, mean.value_si, floor);
    let widening = [
        (
            "course of the flow",
            "hold at steadier pressure and temperature",
            wander,
        ),
        ("heat that nobody sees", "hold longer", unseen),
    ];
    start.standard_si = start.standard_si.hypot(wander).hypot(unseen);
    budget.extend(widening.map(|(source, remedy, standard_si)| Contribution {
        source,
        standard_si,
        degrees_of_freedom: Term::Discrepancy.degrees_of_freedom(),
        remedy,
    }));
    let mut figure = Figure::measured(name, start, budget, stated.at);
    figure.mean_over_hold = Some(Measured {
        standard_si: mean.standard_si.max(floor),
        ..mean
    });
    figure
}

/// Standard uncertainties of a total beside those of the fit: by the course of the flow, and
/// by heat that nobody sees.
fn beside_the_fit(
    solution: &Solution<'_>,
    side: P,
    start: Measured,
    mean_si: f64,
    floor: f64,
) -> [f64; 2] {
    let apart = (start.value_si - mean_si).abs();
    let wander = (FLOW_WANDER * start.value_si.abs())
        .hypot(SHAPE_PART * apart)
        .hypot(FIRST_PART * solution.first_change(side));
    let known = start.standard_si.hypot(wander);
    let unseen = (floor.powi(2) - known.powi(2)).max(0.0).sqrt();
    [wander, unseen]
}

/// The same of a total as it is stated.
pub(super) fn widening(solution: &Solution<'_>, stated: &At, side: P) -> [f64; 2] {
    let mean_si = solution.mean_flow(&solution.posterior.theta, side);
    let (start, _) = solution.derive(&|theta| stated.carried(solution, theta, side));
    beside_the_fit(solution, side, start, mean_si, heat_floor(solution))
}

pub(super) fn heat_floor(solution: &Solution<'_>) -> f64 {
    let balance = &solution.balance;
    let x = Length::new::<meter>(
        balance
            .series
            .signal(Role::Position)
            .and_then(|s| s.smooth.first())
            .copied()
            .unwrap_or(0.0),
    );
    let chamber = if balance.layout.cap_live {
        Chamber::Cap
    } else {
        Chamber::Rod
    };
    let volume = balance.cylinder.volume(chamber, x).value;
    volume * balance.oil.trapped_expansion_per_k() * HEAT_FLOOR_K
        / balance.series.length_s
        / coverage_factor(None)
}
