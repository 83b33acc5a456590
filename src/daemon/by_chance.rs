//! What the Monte Carlo check of a judged recording says, for the terminal.

pub use crate::account::Trials;

use crate::account::Agreement;
use crate::account::ByChance;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;

/// What stands for the usual number of trials on the command line.
pub const USUAL: &str = "usual";

/// A number of trials as it was typed.
///
/// # Errors
/// If it is no number, or too small or too large a one.
pub fn trials(text: &str) -> Result<Trials, String> {
    if text == USUAL {
        return Ok(Trials::usual());
    }
    let n = text.parse::<usize>().map_err(|_| {
        format!(
            "must be a number of trials, for example {}; name the files before it",
            Trials::USUAL
        )
    })?;
    Trials::new(n).map_err(|error| error.to_string())
}

/// Lines of text on each figure that was checked; none if none was.
pub(super) fn by_chance_text(evaluation: &Evaluation, units: UnitSystem) -> Vec<String> {
    let checked: Vec<(&Figure, ByChance)> = evaluation
        .figures
        .iter()
        .filter_map(|figure| Some((figure, figure.by_chance?)))
        .collect();
    let Some((_, first)) = checked.first() else {
        return Vec::new();
    };
    let heading = format!(
        "Checked by chance ({} trials, seed {}; JCGM 101)",
        first.n_trials, first.seed
    );
    let lines = checked.iter().map(|(figure, by)| line(figure, by, units));
    [heading].into_iter().chain(lines).collect()
}

fn line(figure: &Figure, by: &ByChance, units: UnitSystem) -> String {
    let (factor, unit) = shown(figure.name.metric_unit(), units);
    let standard_si = figure.measured.map_or(by.standard_si, |m| m.standard_si);
    let said = |si: f64| number(si * factor, standard_si * factor);
    let apart_si = by.lower_apart_si.max(by.upper_apart_si);
    let half_si = 0.5 * (figure.upper_si - figure.lower_si);
    let by_up_to = format!("by up to {:.1} % of its ±", 100.0 * apart_si / half_si);
    let compared = match by.agreement {
        Agreement::Agrees => "agrees".to_owned(),
        Agreement::TooFewTrials => {
            format!("agrees as far as so many trials tell (apart {by_up_to})")
        }
        Agreement::StatedWider => format!("is wider {by_up_to}"),
        Agreement::StatedNarrower => format!("is narrower {by_up_to}"),
        Agreement::StatedAside => format!("lies to one side {by_up_to}"),
    };
    format!(
        "  {}: {} {unit}, 95 % from {} to {}; the stated interval, {} to {}, {compared}",
        figure.name.plain(),
        said(by.mean_si),
        said(by.lower_si),
        said(by.upper_si),
        said(figure.lower_si),
        said(figure.upper_si),
    )
}
