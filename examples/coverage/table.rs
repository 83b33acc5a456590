//! The report of a campaign.
//!
//! Coverage is counted over figures that are stated in holds that are not void; what is
//! not stated, does not fit or is void is counted beside it.

use super::risk::FACTORS;
use super::rows::Row;
use super::statistics::point;
use super::statistics::rms;
use super::statistics::share_limits;
use super::statistics::upper_limit;
use super::strata::STRATA;
use std::collections::BTreeMap;
use std::fmt::Write;

/// Strata with fewer than this are not listed among the lowest.
const FEWEST: usize = 50;
/// How many of the lowest strata and of the worst holds are listed.
const N_LISTED: usize = 12;

/// One question asked of the rows of a figure.
struct Question {
    name: &'static str,
    figure: &'static str,
    holds: fn(&Row) -> Option<bool>,
    z: fn(&Row) -> Option<f64>,
    expanded: fn(&Row) -> Option<f64>,
    /// Whether it is what the program claims, or beside it, to find faults.
    claimed: bool,
}

const VALUES: [Question; 7] = [
    value("drift", "drift"),
    as_read("drift, between blocks", "drift"),
    value("leak_down", "leak_down"),
    value("cap_loss", "cap_loss"),
    mean("cap_loss, mean", "cap_loss"),
    value("rod_gain", "rod_gain"),
    mean("rod_gain, mean", "rod_gain"),
];

const BOUNDS: [&str; 6] = [
    "piston_bypass",
    "gland_leakage",
    "cap_port_leakage",
    "rod_port_leakage",
    "cap_valve_leakage",
    "rod_valve_leakage",
];

const fn value(name: &'static str, figure: &'static str) -> Question {
    Question {
        name,
        figure,
        holds: Row::holds_truth,
        z: Row::z,
        expanded: Row::expanded,
        claimed: true,
    }
}

const fn as_read(name: &'static str, figure: &'static str) -> Question {
    Question {
        name,
        figure,
        holds: |r| Some(r.z_as_read()?.abs() <= r.factor?),
        z: Row::z_as_read,
        expanded: Row::expanded,
        claimed: false,
    }
}

const fn mean(name: &'static str, figure: &'static str) -> Question {
    Question {
        name,
        figure,
        holds: Row::holds_mean,
        z: Row::z_mean,
        expanded: |r| Some(r.factor? * r.mean_standard?),
        claimed: true,
    }
}

/// How many stated values of a figure hold the truth at the start of the hold, of how many.
pub fn covered(rows: &[Row], figure: &str) -> (usize, usize) {
    let of_figure = VALUES.iter().find(|q| q.name == figure);
    of_figure
        .and_then(|question| coverage(&stated(rows, question), question.holds))
        .map_or((0, 0), |(hits, n, _)| (hits, n))
}

/// The whole report, as Markdown.
pub fn table(first_line: &str, rows: &[Row]) -> String {
    let n_holds = rows.iter().filter(|r| r.row == 1).count();
    let mut out =
        format!("{first_line}\n\n{n_holds} holds; the stated interval holds the truth in\n\n");
    for figure in ["drift", "leak_down", "cap_loss", "rod_gain"] {
        let (n_hits, n) = covered(rows, figure);
        let _ = writeln!(out, "- {figure}: {n_hits} of {n}");
    }
    lowest(&mut out, rows);
    overall(&mut out, rows);
    bounds(&mut out, rows);
    risk(&mut out, rows);
    unstated(&mut out, rows);
    strata(&mut out, rows);
    worst(&mut out, rows);
    out
}

fn is_void(row: &&Row) -> bool {
    !row.voided.is_empty()
}

fn stated<'r>(rows: &'r [Row], question: &Question) -> Vec<&'r Row> {
    rows.iter()
        .filter(|r| r.figure == question.figure && r.state == "value" && r.voided.is_empty())
        .collect()
}

/// How many of how many hold the truth, and the share; None of nothing.
fn coverage(rows: &[&Row], holds: fn(&Row) -> Option<bool>) -> Option<(usize, usize, f64)> {
    let answers: Vec<bool> = rows.iter().filter_map(|r| holds(r)).collect();
    let n_hits = answers.iter().filter(|held| **held).count();
    let n = answers.len();
    (n > 0).then(|| (n_hits, n, n_hits as f64 / n as f64))
}

fn limits(n_hits: usize, n: usize) -> String {
    let (low, high) = share_limits(n_hits, n);
    format!("{:.3} [{low:.3}, {high:.3}]", n_hits as f64 / n as f64)
}

/// Rows by level of a stratum.
fn levels<'r>(rows: &[&'r Row], level: fn(&Row) -> String) -> BTreeMap<String, Vec<&'r Row>> {
    let mut found: BTreeMap<String, Vec<&Row>> = BTreeMap::new();
    for row in rows {
        found.entry(level(row)).or_default().push(row);
    }
    found
}

fn lowest(out: &mut String, rows: &[Row]) {
    let mut all = Vec::new();
    for question in VALUES.iter().filter(|q| q.claimed) {
        let stated = stated(rows, question);
        for (name, level) in STRATA {
            for (word, part) in levels(&stated, level) {
                if let Some((hits, n, share)) =
                    coverage(&part, question.holds).filter(|(_, n, _)| *n >= FEWEST)
                {
                    all.push((share, question.name, name, word, hits, n));
                }
            }
        }
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let _ = writeln!(out, "\n## Lowest strata with at least {FEWEST} figures\n");
    let _ = writeln!(
        out,
        "| figure | stratum | n | coverage [95 %] |\n|---|---|---|---|"
    );
    for (_, figure, stratum, level, hits, n) in all.iter().take(N_LISTED) {
        let _ = writeln!(
            out,
            "| {figure} | {stratum} {level} | {n} | {} |",
            limits(*hits, *n)
        );
    }
}

fn number(value: Option<f64>) -> String {
    value.map_or("-".into(), |v| match v.abs() {
        a if a >= 100.0 => format!("{v:.0}"),
        a if a >= 1.0 => format!("{v:.2}"),
        a if a >= 0.01 => format!("{v:.4}"),
        _ => format!("{v:.2e}"),
    })
}

fn overall(out: &mut String, rows: &[Row]) {
    let _ = writeln!(out, "\n## Values\n");
    let _ = writeln!(
        out,
        "| figure | n | coverage [95 %] | U median | U 90 % | U/flow median | U/flow 90 % | rms z | 95 % of \\|z\\| | no fit | none | void |\n\
         |---|---|---|---|---|---|---|---|---|---|---|---|"
    );
    for question in &VALUES {
        let all: Vec<&Row> = rows
            .iter()
            .filter(|r| r.figure == question.figure)
            .collect();
        let stated = stated(rows, question);
        let Some((hits, n, _)) = coverage(&stated, question.holds) else {
            continue;
        };
        let sizes: Vec<f64> = stated
            .iter()
            .filter_map(|r| (question.expanded)(r))
            .collect();
        let relative: Vec<f64> = stated
            .iter()
            .filter(|r| r.unit == "mL/min" && r.truth.abs() > 0.1)
            .filter_map(|r| Some((question.expanded)(r)? / r.truth.abs()))
            .collect();
        let z: Vec<f64> = stated.iter().filter_map(|r| (question.z)(r)).collect();
        let sizes_z: Vec<f64> = z.iter().map(|z| z.abs()).collect();
        let share = |state: &str| {
            let n = all.iter().filter(|r| r.state == state).count();
            format!("{:.1} %", 100.0 * n as f64 / all.len() as f64)
        };
        let n_void = all.iter().copied().filter(is_void).count();
        let _ = writeln!(
            out,
            "| {} | {n} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {:.1} % |",
            question.name,
            limits(hits, n),
            number(point(&sizes, 0.5)),
            number(point(&sizes, 0.9)),
            number(point(&relative, 0.5)),
            number(point(&relative, 0.9)),
            number(rms(&z)),
            number(point(&sizes_z, 0.95)),
            share("no_fit"),
            share("none"),
            100.0 * n_void as f64 / all.len() as f64,
        );
    }
}

fn bounds(out: &mut String, rows: &[Row]) {
    let _ = writeln!(out, "\n## Bounds of single paths\n");
    let _ = writeln!(
        out,
        "| path | n | truth inside [95 %] | half width median | 90 % |\n|---|---|---|---|---|"
    );
    for figure in BOUNDS {
        let bounded: Vec<&Row> = rows
            .iter()
            .filter(|r| r.figure == figure && r.state == "bounds" && r.voided.is_empty())
            .collect();
        let Some((hits, n, _)) = coverage(&bounded, Row::holds_truth) else {
            continue;
        };
        let widths: Vec<f64> = bounded.iter().filter_map(|r| r.expanded()).collect();
        let _ = writeln!(
            out,
            "| {figure} | {n} | {} | {} | {} |",
            limits(hits, n),
            number(point(&widths, 0.5)),
            number(point(&widths, 0.9))
        );
    }
}

fn risk(out: &mut String, rows: &[Row]) {
    let _ = writeln!(
        out,
        "\n## Decisions, guarded with probability 0.975, limit = true size / factor\n\n\
         A pass at a factor of 1 or more is false, a fail below 1 too. Holds without that figure in their\n\
         plumbing do not count, nor those whose pressures have met, where another rule decides.\n"
    );
    let _ = writeln!(
        out,
        "| figure | factor | n | pass | fail | undecided | not valid | false | below (one-sided 95 %) |\n\
         |---|---|---|---|---|---|---|---|---|"
    );
    for figure in ["cap_loss", "rod_gain", "drift", "leak_down"] {
        let judged: Vec<&Row> = rows
            .iter()
            .filter(|r| {
                r.figure == figure && !r.decisions.is_empty() && r.state != "none" && !r.met
            })
            .collect();
        if judged.is_empty() {
            continue;
        }
        for (index, factor) in FACTORS.iter().enumerate() {
            let count = |letter| {
                let said = judged
                    .iter()
                    .filter(|r| r.decisions.chars().nth(index) == Some(letter));
                said.count()
            };
            let n = judged.len();
            let share = |letter| 100.0 * count(letter) as f64 / n as f64;
            let n_false = count(if *factor < 1.0 { 'f' } else { 'p' });
            let _ = writeln!(
                out,
                "| {figure} | {factor} | {n} | {:.1} % | {:.1} % | {:.1} % | {:.1} % | {n_false} ({:.2} %) | {:.2} % |",
                share('p'),
                share('f'),
                share('u'),
                share('n'),
                100.0 * n_false as f64 / n as f64,
                100.0 * upper_limit(n_false, n, 0.05)
            );
        }
    }
}

/// Reasons without their numbers, so that like ones stand together.
fn unstated(out: &mut String, rows: &[Row]) {
    let mut reasons: BTreeMap<(String, &str, String), usize> = BTreeMap::new();
    let plain = |text: &str| {
        let text: String = text.chars().filter(|c| !c.is_ascii_digit()).collect();
        text.replace(" .", " ")
    };
    for row in rows
        .iter()
        .filter(|r| r.figure == "cap_loss" || r.figure == "rod_gain")
    {
        if matches!(row.state.as_str(), "none" | "no_fit") {
            let key = (
                row.figure.clone(),
                row.plumbing.as_str(),
                plain(&row.reason),
            );
            *reasons.entry(key).or_default() += 1;
        }
    }
    for row in rows.iter().filter(|r| r.row == 1).filter(is_void) {
        let key = (
            "hold void".into(),
            row.plumbing.as_str(),
            plain(&row.voided),
        );
        *reasons.entry(key).or_default() += 1;
    }
    let _ = writeln!(
        out,
        "\n## Not stated, and why\n\n| what | plumbing | n | why |\n|---|---|---|---|"
    );
    for ((figure, plumbing, why), n) in reasons {
        let _ = writeln!(out, "| {figure} | {plumbing} | {n} | {why} |");
    }
}

fn strata(out: &mut String, rows: &[Row]) {
    for question in VALUES.iter().filter(|q| q.claimed) {
        let stated = stated(rows, question);
        let _ = writeln!(
            out,
            "\n## {} by stratum\n\n| stratum | n | coverage [95 %] | U median | rms z |\n|---|---|---|---|---|",
            question.name
        );
        for (name, level) in STRATA {
            for (word, part) in levels(&stated, level) {
                let Some((hits, n, _)) = coverage(&part, question.holds) else {
                    continue;
                };
                let sizes: Vec<f64> = part.iter().filter_map(|r| (question.expanded)(r)).collect();
                let z: Vec<f64> = part.iter().filter_map(|r| (question.z)(r)).collect();
                let _ = writeln!(
                    out,
                    "| {name} {word} | {n} | {} | {} | {} |",
                    limits(hits, n),
                    number(point(&sizes, 0.5)),
                    number(rms(&z))
                );
            }
        }
    }
}

fn worst(out: &mut String, rows: &[Row]) {
    let _ = writeln!(
        out,
        "\n## Worst\n\n| figure | hold | z | value | u | truth | plumbing |\n|---|---|---|---|---|---|---|"
    );
    for question in VALUES.iter().filter(|q| q.name == q.figure) {
        let mut all: Vec<(f64, &Row)> = stated(rows, question)
            .into_iter()
            .filter_map(|r| Some(((question.z)(r)?, r)))
            .collect();
        all.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
        for (z, row) in all.iter().take(N_LISTED) {
            let _ = writeln!(
                out,
                "| {} | {} | {z:.2} | {} | {} | {} | {}, {} mm, {:.0} s, {}, {:.0}/{:.0} bar |",
                row.figure,
                row.hold,
                number(row.value),
                number(row.standard),
                number(Some(row.truth)),
                row.plumbing,
                row.bore_mm,
                row.hold_s,
                row.sensors,
                row.pressure_bar,
                row.other_bar
            );
        }
    }
}
