//! How well a mean flow could be known if everything but the readings were.
//!
//! The bound that better knowledge of oil, heat, volumes and sensors leads to: the flows and
//! what must always be free are fitted, every nuisance stands still. What is left is noise and
//! what the model leaves out. More readings do not lead below it, a longer hold does.

use super::Evaluation;
use super::Fluid;
use super::Subject;
use super::evaluate::EvaluationError;
use super::evaluate::balance;
use super::evaluate::held;
use super::figure::FigureName;
use super::layout::P;
use super::solution::Solution;
use crate::recording::Recording;

/// Standard uncertainty of each mean flow of `evaluation`, which was made of the same
/// recording, with all nuisances known, m³/s.
///
/// # Errors
/// As [`evaluate`](super::evaluate).
pub fn least_uncertainties(
    recording: &Recording,
    subject: &Subject,
    evaluation: &Evaluation,
) -> Result<Vec<(FigureName, f64)>, EvaluationError> {
    let (series, _) = held(recording, subject)?;
    let (Some(cylinder), Fluid::Oil(oil)) = (subject.piece.cylinder(), &subject.fluid) else {
        return Ok(Vec::new());
    };
    let solution = balance(None, &series, subject, cylinder, oil)
        .ok()
        .and_then(|balance| Solution::fit(balance).ok());
    let Some(solution) = solution else {
        return Ok(Vec::new());
    };
    let totals = [
        (FigureName::CapLoss, P::CapLoss),
        (FigureName::RodGain, P::RodGain),
    ];
    let stated = totals
        .into_iter()
        .filter(|(name, _)| evaluation.figure(*name).is_some());
    Ok(stated
        .filter_map(|(name, side)| {
            let least = solution.least(&|theta| solution.mean_flow(theta, side))?;
            Some((name, least))
        })
        .collect())
}
