//! Everything of one hold, for finding faults: truth, setup, figures, doubts, budget.

use super::play::Played;
use super::play::play;
use super::rows::truth;
use super::see::see;
use std::fmt::Write;
use stillrod::account::Doubt;
use stillrod::account::Evaluation;
use stillrod::account::Figure;
use stillrod::account::Term;

/// One hold in words.
pub fn show(seed: u64, index: u64, without: Option<Term>) -> String {
    let played = play(seed, index);
    let seen = see(&played, without);
    let mut out = drawn(&played);
    for flag in &seen.flags {
        let _ = writeln!(out, "flag, {:?}: {}", flag.weight, flag.evidence);
    }
    match &seen.evaluation {
        Ok(evaluation) => said(&mut out, &played, evaluation),
        Err(error) => {
            let _ = writeln!(out, "no evaluation: {error}");
        }
    }
    out
}

fn drawn(played: &Played) -> String {
    let hold = &played.hold;
    let specimen = &hold.specimen;
    let mut out = format!(
        "hold {}: {}, {} sensors, settle {} s, hold {} s (ended by {}, drawn {} times), {} Hz\n\n",
        hold.index,
        hold.plumbing.word(),
        hold.quality.word(),
        hold.settle_s,
        hold.hold_s,
        hold.ended,
        hold.n_drawn,
        hold.samples_per_s
    );
    let _ = writeln!(out, "-- setup\n{}-- really", hold.setup_toml);
    let oil = &specimen.oil;
    let _ = writeln!(
        out,
        "oil K {:.4} GPa, dK/dp {:.2}, expansion {:.3e} 1/K, pressing {:.3} K/100 bar; wall {:.2} GPa",
        oil.isentropic_pa / 1e9,
        oil.stiffening,
        oil.expansion_per_k,
        oil.pressing_k_per_pa * 1e7,
        specimen.wall_pa / 1e9
    );
    let size = specimen.cylinder.size();
    for (word, own, dead) in [
        ("cap", &specimen.cap, size.cap_dead_volume),
        ("rod", &specimen.rod, size.rod_dead_volume),
    ] {
        let _ = writeln!(
            out,
            "{word}: dead {:.2} mL, air {:.3} %, fresh heat {:.3} K, hose {:.1} mL of {:.3} GPa",
            dead.value * 1e6,
            own.air * 100.0,
            own.fresh_heat_k,
            own.hose_m3 * 1e6,
            own.hose_pa / 1e9
        );
    }
    let _ = writeln!(out, "{:?}", specimen.heat);
    let _ = writeln!(
        out,
        "{:?}, friction {:.2} %",
        specimen.motion,
        hold.friction_share * 100.0
    );
    let _ = writeln!(out, "{:?}", specimen.ills);
    let _ = writeln!(out, "{:?}", hold.senses.probe);
    for own in &hold.senses.loops {
        let _ = writeln!(out, "{own:?}");
    }
    for (word, now) in ["start", "end"].iter().zip(&played.ends) {
        let _ = writeln!(
            out,
            "{word}: cap {:.4} bar, rod {:.4} bar, x {:.5} mm, cap oil {:+.4} K above its wall of {:.3} °C, rod oil {:+.4} K above {:.3} °C, air {:.3} °C",
            now.p_cap_pa / 1e5,
            now.p_rod_pa / 1e5,
            now.x_m * 1e3,
            now.oil_cap_k - now.wall_cap_k,
            now.wall_cap_k - 273.15,
            now.oil_rod_k - now.wall_rod_k,
            now.wall_rod_k - 273.15,
            now.surroundings_k - 273.15
        );
    }
    out
}

fn said(out: &mut String, played: &Played, evaluation: &Evaluation) {
    let _ = writeln!(out, "-- said");
    for doubt in &evaluation.doubts {
        let (word, evidence) = match doubt {
            Doubt::NoFit { evidence } => ("does not fit", evidence),
            Doubt::Note { evidence } => ("note", evidence),
        };
        let _ = writeln!(out, "{word}: {evidence}");
    }
    for sentence in &evaluation.findings {
        let _ = writeln!(out, "finding: {sentence}");
    }
    for figure in &evaluation.figures {
        one(out, played, figure);
    }
}

fn one(out: &mut String, played: &Played, figure: &Figure) {
    let unit_si = figure.name.si_per_metric_unit();
    let (start, mean, as_read) = truth(figure.name, played);
    let _ = write!(
        out,
        "{:18} truth {:.6}",
        figure.name.word(),
        start / unit_si
    );
    if let Some(as_read) = as_read {
        let _ = write!(out, " (as read {:.6})", as_read / unit_si);
    }
    match figure.measured {
        Some(m) => {
            let _ = writeln!(
                out,
                ", said {:.6} ± {:.6}, z {:.2}",
                m.value_si / unit_si,
                figure.coverage_factor * m.standard_si / unit_si,
                (m.value_si - start) / m.standard_si
            );
        }
        None => {
            let _ = writeln!(
                out,
                ", bounds {:.6} … {:.6}",
                figure.lower_si / unit_si,
                figure.upper_si / unit_si
            );
        }
    }
    if let Some(m) = figure.mean_over_hold {
        let _ = writeln!(
            out,
            "    mean: truth {:.6}, said {:.6} ± {:.6}, z {:.2}",
            mean / unit_si,
            m.value_si / unit_si,
            figure.coverage_factor * m.standard_si / unit_si,
            (m.value_si - mean) / m.standard_si
        );
    }
    for part in &figure.budget {
        let _ = writeln!(
            out,
            "    {:.6} by {}",
            part.standard_si / unit_si,
            part.source
        );
    }
}
