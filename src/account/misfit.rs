//! What does not fit, in words: a fit that does not describe its data gives no number.

use super::layout::term;
use super::solution::Solution;
use super::step::step;
use super::term::Term;

/// A fit describes its data if chi-square by degree of freedom stays below this …
const CHI2_MAX: f64 = 1.6;
/// … and that of each series by block below this …
const SERIES_CHI2_MAX: f64 = 2.5;
/// … and no nuisance goes further from its prior than this many sigma.
const NUISANCE_SIGMA_MAX: f64 = 3.5;

/// The first thing that does not fit; None if the model describes the data.
pub(super) fn misfit(solution: &Solution<'_>) -> Option<String> {
    of_all(solution)
        .or_else(|| of_series(solution))
        .or_else(|| of_stiffness(solution))
        .or_else(|| of_nuisances(solution))
}

fn of_all(solution: &Solution<'_>) -> Option<String> {
    let priors = solution.balance.layout.priors();
    let n_flat = priors.iter().filter(|p| p.sigma.is_infinite()).count();
    let n_data = solution.posterior.residuals.len();
    let freedom = n_data.saturating_sub(n_flat).max(1) as f64;
    let reduced = solution.posterior.chi2 / freedom;
    (reduced > CHI2_MAX).then(|| {
        format!(
            "the account does not describe the data (misfit {:.1} times the scatter it should have)",
            reduced.sqrt()
        )
    })
}

/// Each series by itself, whatever noise it shares with the others.
fn of_series(solution: &Solution<'_>) -> Option<String> {
    let (layout, series) = (&solution.balance.layout, solution.balance.series);
    let n = series.n_blocks;
    let chambers = [("cap side", layout.cap_live), ("rod side", layout.rod_live)];
    let chambers = chambers
        .into_iter()
        .filter_map(|(name, live)| live.then_some((name, true)));
    let probe = layout.probe.is_some().then_some(("oil temperature", false));
    let mut present = chambers.chain(probe).enumerate();
    present.find_map(|(place, (name, is_chamber))| {
        let residuals = solution
            .posterior
            .residuals
            .rows(place * n, n)
            .into_owned();
        let own = solution
            .scatter()
            .view((place * n, place * n), (n, n))
            .into_owned();
        if let Some(block) = step(residuals.as_slice(), &own).filter(|_| is_chamber) {
            return Some(format!(
                "the account of the {name} jumps about {:.0} s into the hold: did the position sensor slip, or a \
                 valve open?",
                series.length_s * block as f64 / n as f64
            ));
        }
        let chi2 = own
            .cholesky()
            .map_or(f64::INFINITY, |own| residuals.dot(&own.solve(&residuals)));
        (chi2 / n as f64 > SERIES_CHI2_MAX)
            .then(|| format!("the {name} does not follow its account during the hold"))
    })
}

fn of_stiffness(solution: &Solution<'_>) -> Option<String> {
    solution.balance.measured_stiffness()?;
    let last = solution.posterior.residuals.len() - 1;
    let sigmas = solution.posterior.residuals[last] / solution.scatter()[(last, last)].sqrt();
    (sigmas.abs() > NUISANCE_SIGMA_MAX).then(|| {
        "the stiffness that was measured before does not agree with the hold; measure it again, or leave it out of \
         the setup"
            .into()
    })
}

fn of_nuisances(solution: &Solution<'_>) -> Option<String> {
    let layout = &solution.balance.layout;
    let priors = layout.priors();
    let theta = solution.posterior.theta.iter();
    let far = layout.parameters().zip(&priors).zip(theta);
    far.map(|((parameter, prior), value)| (parameter, (value - prior.mean) / prior.sigma))
        .find(|(_, sigmas)| sigmas.abs() > NUISANCE_SIGMA_MAX)
        .map(|(parameter, _)| {
            format!(
                "the data can only be explained by something far out of the usual: {}",
                term(parameter).map_or("a flow", Term::source)
            )
        })
}
