//! The last steps of a fit, to where J'S⁻¹r + prior is zero.
//!
//! With a Jacobian from smoothed data that is near, and not at, the lowest cost, so cost is
//! no guide here. One Jacobian serves until its own zero is reached; a new one is made
//! there, until that moves nothing any more.
//!
//! Invariant: what is not reached is left at the lowest cost found, never in between.

use super::FitError;
use super::Vector;
use super::map::Fit;
use super::map::Walk;
use super::orthogonal::Reduced;

/// Jacobians before polishing is given up …
const N_JACOBIANS_MAX: usize = 30;
/// … and steps with each.
const N_STEPS_MAX: usize = 60;
/// A step below this, in standard uncertainties of the scatter that is there, is nothing.
const NOTHING: f64 = 1e-6;
/// A Jacobian made within so many times the accuracy is that of the solution.
const NEAR: f64 = 10.0;
/// Moves that do not get shorter are rounding if they are below this.
const ROUNDING: f64 = 1e-2;
/// A step longer than this part of the one before does not come nearer.
const LONGER: f64 = 0.9;
/// How much of a step is taken at least and at most …
const OF_A_STEP: (f64, f64) = (0.3, 1.5);
/// … and of a move to the zero of one Jacobian.
const OF_A_MOVE: (f64, f64) = (0.5, 3.0);

/// Steps from the lowest cost to the zero of the estimating equation, to within
/// `accuracy` standard uncertainties; whether it was reached. If not, the walk is where
/// it was.
pub(super) fn polish(fit: &mut Fit, walk: &mut Walk, accuracy: f64) -> Result<bool, FitError> {
    let lowest = walk.clone();
    let right = fit.right(&walk.theta, &walk.residuals);
    let scatter = (right.norm_squared() / right.len() as f64).min(1.0).sqrt();
    let mut relaxation = 1.0;
    let mut before: Option<Vector> = None;
    for _ in 0..N_JACOBIANS_MAX {
        let from = walk.theta.clone();
        let model = fit.linear_model(walk)?;
        if !towards_zero(fit, walk, &model, scatter) {
            break;
        }
        let moved = &walk.theta - &from;
        let distance = model.image(&moved).norm() / scatter;
        let last = before.as_ref().map(|b| model.image(b).norm() / scatter);
        // Each Jacobian brings the zero nearer by about the same part.
        let still_to_go = last.map_or(distance, |last| distance * (distance / last).min(1.0));
        let is_lost = last.is_some_and(|last| distance > LONGER * last);
        if still_to_go < accuracy
            || is_rounding(&walk.theta, &from)
            || (is_lost && distance < ROUNDING)
        {
            if distance < NEAR * accuracy {
                walk.keep_jacobian();
            }
            return Ok(true);
        }
        if is_lost {
            break;
        }
        if let Some(before) = &before {
            let (last, now) = (model.image(before), model.image(&moved));
            relaxation = secant(relaxation, &last, &now, OF_A_MOVE);
            let further = fit.clipped(&(&from + &moved * relaxation));
            // Where that has no value the zero of the Jacobian stays.
            fit.moved(walk, further);
        }
        before = Some(moved);
    }
    *walk = lowest;
    Ok(false)
}

/// Part of the next step by the secant of the last two (Irons and Tuck 1969).
fn secant(part: f64, last: &Vector, now: &Vector, limits: (f64, f64)) -> f64 {
    let change = now - last;
    let next = -part * last.dot(&change) / change.norm_squared();
    if next.is_finite() {
        next.clamp(limits.0, limits.1)
    } else {
        part
    }
}

/// Steps towards the zero of the estimating equation with the Jacobian of `model`, as
/// long as they get shorter; false if the model has no value on the way, or the data do not
/// determine all parameters here.
fn towards_zero(fit: &Fit, walk: &mut Walk, model: &Reduced, scatter: f64) -> bool {
    let undamped = Vector::zeros(walk.theta.len());
    let mut relaxation = 1.0;
    let mut before: Option<(Vector, Vector, Vector)> = None;
    for n_steps in 0..N_STEPS_MAX {
        let right = fit.right(&walk.theta, &walk.residuals);
        let projected = model.projected(&right);
        let Some(step) = fit.step(model, &projected, &walk.theta, &undamped, 0.0) else {
            return false;
        };
        let step = step.by;
        let wanted = model.image(&step);
        if let Some((last, theta, residuals)) = &before {
            if wanted.norm() > LONGER * last.norm() {
                // The Jacobian is worn out, or all is rounding. The first step stays: only a
                // new Jacobian can tell whether it was good.
                if n_steps > 1 {
                    walk.theta.copy_from(theta);
                    walk.residuals.copy_from(residuals);
                }
                return true;
            }
            relaxation = secant(relaxation, last, &wanted, OF_A_STEP);
        }
        let next = fit.clipped(&(&walk.theta + step * relaxation));
        let size = model.image(&(&next - &walk.theta)).norm() / scatter;
        let is_stuck = is_rounding(&next, &walk.theta);
        before = Some((wanted, walk.theta.clone(), walk.residuals.clone()));
        if !fit.moved(walk, next) {
            return false;
        }
        if size < NOTHING || is_stuck {
            return true;
        }
    }
    true
}

/// Whether two points differ by rounding only.
fn is_rounding(a: &Vector, b: &Vector) -> bool {
    a.iter()
        .zip(b.iter())
        .all(|(a, b)| (a - b).abs() <= 4.0 * f64::EPSILON * a.abs())
}
