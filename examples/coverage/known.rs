//! The stated uncertainty against the bound that perfect knowledge of everything but the
//! readings would lead to.

use super::play::play;
use super::see::see;
use super::statistics::point;
use std::fmt::Write;
use stillrod::account::FigureName;
use stillrod::account::least_uncertainties;

/// Uncertainties of the mean flow in one hold, mL/min at 95 %.
struct Pair {
    figure: FigureName,
    plumbing: &'static str,
    stated: f64,
    least: f64,
}

/// Holds 0 to `n` of a campaign, by figure and plumbing.
pub fn table(seed: u64, n: u64) -> String {
    let pairs: Vec<Pair> = (0..n).flat_map(|index| pairs(seed, index)).collect();
    let mut out = format!(
        "# seed {seed}, {n} holds: ± of the mean flow (95 %), stated and with all nuisances known\n\n\
         | figure | plumbing | n | stated, median mL/min | bound, median mL/min | bound by stated, median | 10 % | 90 % |\n\
         |---|---|---|---|---|---|---|---|\n"
    );
    for figure in [FigureName::CapLoss, FigureName::RodGain] {
        let mut plumbings: Vec<&str> = pairs.iter().map(|p| p.plumbing).collect();
        plumbings.sort_unstable();
        plumbings.dedup();
        plumbings.insert(0, "all");
        for plumbing in plumbings {
            let of =
                |p: &&Pair| p.figure == figure && (plumbing == "all" || p.plumbing == plumbing);
            let own: Vec<&Pair> = pairs.iter().filter(of).collect();
            if own.is_empty() {
                continue;
            }
            let at = |part: f64, value: fn(&Pair) -> f64| {
                let values: Vec<f64> = own.iter().map(|p| value(p)).collect();
                point(&values, part).unwrap_or(f64::NAN)
            };
            let ratio = |part| at(part, |p| p.least / p.stated);
            let _ = writeln!(
                out,
                "| {} | {plumbing} | {} | {:.4} | {:.4} | {:.2} | {:.2} | {:.2} |",
                figure.word(),
                own.len(),
                at(0.5, |p| p.stated),
                at(0.5, |p| p.least),
                ratio(0.5),
                ratio(0.1),
                ratio(0.9)
            );
        }
    }
    out
}

fn pairs(seed: u64, index: u64) -> Vec<Pair> {
    let played = play(seed, index);
    let Ok(evaluation) = see(&played, None).evaluation else {
        return Vec::new();
    };
    let least = least_uncertainties(&played.recording, &played.setup.subject, &evaluation);
    let pair = |(name, least_si): (FigureName, f64)| {
        let figure = evaluation.figure(name)?;
        let unit_si = name.si_per_metric_unit() / 1.96;
        Some(Pair {
            figure: name,
            plumbing: played.hold.plumbing.word(),
            stated: figure.mean_over_hold?.standard_si / unit_si,
            least: least_si / unit_si,
        })
    };
    least
        .unwrap_or_default()
        .into_iter()
        .filter_map(pair)
        .collect()
}
