//! What a procedure came to, as text: step by step, then all together.

use super::Part;
use super::Proof;
use super::Shown;
use super::SqueezedEnd;
use super::Stroked;
use super::zeros::SensorZero;
use crate::account::StrokeSummary;
use crate::certificate::ALONG_THE_WAY;
use crate::certificate::stroke_lines;
use crate::certificate::unstated_words;
use crate::channel::Role;
use crate::health::Weight;
use crate::procedure::Understood;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;
use crate::verdict::Judged;
use crate::verdict::Outcome;
use std::fmt::Write;

/// The result of a procedure as text.
pub fn proof_text(proof: &Proof) -> String {
    let units = proof.shop.as_ref().map_or(UnitSystem::Metric, |s| s.units);
    let mut out = format!("{}\n", proof.test.title);
    // Writing to a String cannot fail.
    for (planned, part) in proof.test.steps.iter().zip(&proof.parts) {
        let outcome = part.outcome.map_or("", |o| o.plain());
        let _ = writeln!(out, "\n{:<44} {outcome}", planned.step.title);
        for line in lines(part, units) {
            let _ = writeln!(out, "  {line}");
        }
    }
    let remarks: Vec<&str> = proof
        .flags
        .iter()
        .filter(|flag| flag.weight == Weight::Remark)
        .map(|flag| flag.evidence.as_str())
        .collect();
    if !remarks.is_empty() {
        let _ = writeln!(
            out,
            "\nRemarks on the measurement\n  {}",
            remarks.join("\n  ")
        );
    }
    let _ = writeln!(out, "\n{}", proof.outcome.plain().to_uppercase());
    let deciding = match proof.outcome {
        Outcome::Pass => Vec::new(),
        outcome => proof.titles_with(outcome),
    };
    for title in deciding {
        let _ = writeln!(out, "  {}: {title}", proof.outcome.plain());
    }
    for reason in &proof.reasons {
        let _ = writeln!(out, "  {reason}");
    }
    let limited: Vec<_> = proof
        .holds()
        .flat_map(|(_, held)| held.judgement.verdict.limited())
        .collect();
    if !limited.is_empty() {
        let _ = writeln!(out, "  {}", proof.rule.sentence(&limited));
    }
    out
}

/// What a step showed, line by line.
fn lines(part: &Part, units: UnitSystem) -> Vec<String> {
    let mut lines = match &part.shown {
        Shown::NotDone => vec!["not done".into()],
        Shown::Done { .. } => vec!["done".into()],
        Shown::Vented(zeros) => zeros.iter().map(|zero| zero_line(zero, units)).collect(),
        Shown::Strokes(stroked) => stroked_lines(stroked, units),
        Shown::Squeezed(end) => squeezed_lines(end),
        Shown::Kept {
            chamber,
            asked_pa,
            between_pa: (low, high),
            length_s,
        } => {
            let (factor, unit) = shown("bar", units);
            let bar = |pa: f64| number(pa * factor, 1e5 * factor);
            vec![format!(
                "{} end at {} to {} {unit} for {length_s:.0} s; asked for {}",
                chamber.word(),
                bar(*low),
                bar(*high),
                bar(*asked_pa)
            )]
        }
        Shown::Held(held) => {
            let verdict = &held.judgement.verdict;
            let judged = verdict.judged.iter().map(judged_line);
            verdict.reasons.iter().cloned().chain(judged).collect()
        }
        // A class is said with its reason.
        Shown::Read(read) if matches!(read.understood, Understood::Class(_)) => Vec::new(),
        Shown::Read(read) => vec![format!("{} ({})", read.said(), read.typed)],
    };
    // Strokes say each limit by itself.
    let is_said = matches!(part.shown, Shown::Strokes(_) | Shown::Squeezed(_));
    if !part.reason.is_empty() && !is_said {
        lines.push(part.reason.clone());
    }
    lines
}

fn judged_line(judged: &Judged) -> String {
    let plain = judged.limit.figure.plain();
    format!("{plain}: {}. {}", judged.reason, judged.outcome.plain())
}

fn zero_line(zero: &SensorZero, units: UnitSystem) -> String {
    let (own, place) = match zero.role {
        Role::Position => ("mm", "at its known place"),
        _ => ("bar", "with its side open"),
    };
    let (factor, unit) = shown(own, units);
    let (mean, two_sigma) = (zero.look.mean_si, 2.0 * zero.look.standard_si);
    format!(
        "{} reads {} ± {} {unit} {place}",
        zero.role.plain(),
        number(mean * factor, two_sigma * factor),
        number(two_sigma * factor, two_sigma * factor)
    )
}

/// The count, what the strokes told in a line or two, and each limit.
fn stroked_lines(stroked: &Stroked, units: UnitSystem) -> Vec<String> {
    let (factor, unit) = shown("mm", units);
    let mm = |m: f64| number(m * factor, 1e-3 * factor);
    let count = stroked.count;
    let mut lines = vec![match stroked.seen_m {
        Some(seen) => format!(
            "{count} full strokes; stroke {} {unit}, by the drawing {}",
            mm(seen),
            mm(stroked.nominal_m)
        ),
        None => format!("{count} full strokes"),
    }];
    lines.extend(told_lines(&stroked.summary, stroked.nominal_m, units));
    lines.extend(stroked.judged.iter().map(judged_line));
    lines
}

/// What strokes told, out and in beside each other.
pub(in crate::daemon) fn told_lines(
    summary: &StrokeSummary,
    nominal_m: f64,
    units: UnitSystem,
) -> Vec<String> {
    let lines = stroke_lines(summary, nominal_m, units);
    // How it lies along the way is for the paper.
    let lines = lines.into_iter().filter(|line| line.name != ALONG_THE_WAY);
    let said = lines.map(|line| match line.back.is_empty() {
        true => format!("{} {}", line.name, line.out),
        false => format!("{} {} out, {} in", line.name, line.out, line.back),
    });
    let said: Vec<String> = said.collect();
    let told = (!said.is_empty()).then(|| said.join("; "));
    told.into_iter().chain(unstated_words(summary)).collect()
}

fn squeezed_lines(end: &SqueezedEnd) -> Vec<String> {
    let found = match &end.air {
        Ok(figure) => match figure.measured {
            Some(air) => {
                let expanded = 100.0 * figure.coverage_factor * air.standard_si;
                format!(
                    "apparent free air in the rod end: at most {} ± {} % by volume at the atmosphere",
                    number(100.0 * air.value_si, expanded),
                    number(expanded, expanded)
                )
            }
            None => "apparent free air: not stated".into(),
        },
        Err(why) => format!("apparent free air: not stated, {why}"),
    };
    std::iter::once(found)
        .chain(end.judged.iter().map(judged_line))
        .collect()
}
