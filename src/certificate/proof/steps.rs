//! The table of steps: every step in order, each judged figure on a row of its own.

use crate::account::Figure;
use crate::certificate::facts::Facts;
use crate::certificate::proof::facts::ProofFacts;
use crate::certificate::proof::facts::StepFacts;
use crate::certificate::proof::facts::StepShown;
use crate::certificate::proof::facts::ZeroRead;
use crate::certificate::proof::seen::mark;
use crate::certificate::proof::seen::means;
use crate::certificate::proof::seen::place;
use crate::certificate::proof::seen::place_words;
use crate::certificate::proof::strokes::value_words;
use crate::certificate::rows;
use crate::certificate::rows::ResultRow;
use crate::certificate::sentence::Speech;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;
use crate::verdict::Judged;

/// One row of the table of steps.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StepRow {
    /// Number of the step, from 1.
    pub number: usize,
    /// Its name for people.
    pub title: String,
    /// Whether the step has a row above this one.
    pub is_further: bool,
    /// Whether it is a hold.
    pub is_hold: bool,
    /// At what pressure and temperature; "–" where nothing was measured.
    pub at: String,
    /// Where in the stroke, in length and in percent; "–" where it does not matter.
    pub place: String,
    /// What it showed.
    pub result: String,
    /// The limit, as typed and in the shop's unit, with the letter of its source if there are
    /// several; empty without one.
    pub limit: String,
    /// Where the limit comes from; empty without one.
    pub source: String,
    /// What came out; empty for a step that decides nothing.
    pub outcome: &'static str,
}

/// All rows.
pub(super) fn step_rows(facts: &ProofFacts<'_>) -> Vec<StepRow> {
    let steps = facts.steps.iter().enumerate();
    let mut rows: Vec<StepRow> = steps
        .flat_map(|(index, step)| rows_of(facts, index + 1, step))
        .collect();
    let sources = limit_sources(&rows);
    if sources.len() > 1 {
        for row in &mut rows {
            let of = sources.iter().position(|s| *s == row.source);
            if let Some(index) = of {
                row.limit += &format!(" ({})", letter(index));
            }
        }
    }
    rows
}

/// Where limits come from, each once, in the order of the rows.
pub(super) fn limit_sources(rows: &[StepRow]) -> Vec<String> {
    let mut sources: Vec<String> = Vec::new();
    for row in rows {
        if !row.source.is_empty() && !sources.contains(&row.source) {
            sources.push(row.source.clone());
        }
    }
    sources
}

/// A, B … Z, and numbers beyond.
pub(super) fn letter(index: usize) -> String {
    u8::try_from(index)
        .ok()
        .filter(|i| *i < 26)
        .map_or_else(|| (index + 1).to_string(), |i| char::from(b'A' + i).into())
}

fn rows_of(facts: &ProofFacts<'_>, number: usize, step: &StepFacts<'_>) -> Vec<StepRow> {
    let plain = StepRow {
        number,
        title: step.title.clone(),
        is_further: false,
        is_hold: false,
        at: "–".into(),
        place: "–".into(),
        result: String::new(),
        limit: String::new(),
        source: String::new(),
        outcome: step.outcome.map_or("", |o| o.plain()),
    };
    match &step.shown {
        StepShown::Held { facts: hold, .. } => hold_rows(facts, plain, hold),
        StepShown::Strokes { told, .. } => {
            let judged = told.map_or(&[][..], |told| told.judged);
            moved_rows(
                while_done(facts, number, step, plain),
                &step.shown,
                judged,
                facts.units,
            )
        }
        StepShown::Squeezed { judged, .. } => moved_rows(
            while_done(facts, number, step, plain),
            &step.shown,
            judged,
            facts.units,
        ),
        StepShown::Read { said_back, .. } => {
            vec![StepRow {
                result: result(&step.shown, facts.units),
                limit: beyond(&step.reason, said_back),
                ..plain
            }]
        }
        _ => vec![StepRow {
            result: result(&step.shown, facts.units),
            ..while_done(facts, number, step, plain)
        }],
    }
}

/// What was done, and a row for each limit that it was held against.
fn moved_rows(
    plain: StepRow,
    shown_by: &StepShown<'_>,
    judged: &[Judged],
    units: UnitSystem,
) -> Vec<StepRow> {
    let first = StepRow {
        result: result(shown_by, units),
        outcome: "",
        ..plain.clone()
    };
    let of_limit = |judged: &Judged| {
        let value = match (judged.number, judged.expanded) {
            (Some(value), Some(expanded)) => format!(
                "{} ± {} {}",
                number(value, expanded),
                number(expanded, expanded),
                judged.limit.unit
            ),
            _ => "not stated".into(),
        };
        let way = match judged.reason.split_once(": ") {
            Some((way @ ("out" | "in"), _)) => format!(" {way}"),
            _ => String::new(),
        };
        StepRow {
            is_further: true,
            result: format!("{}{way}: {value}", judged.limit.figure.plain()),
            limit: judged.limit.text.clone(),
            source: judged.limit.origin(),
            outcome: judged.outcome.plain(),
            ..plain.clone()
        }
    };
    std::iter::once(first)
        .chain(judged.iter().map(of_limit))
        .collect()
}

/// With pressures, temperature and place over the step's own stretch, as far as they matter.
fn while_done(
    facts: &ProofFacts<'_>,
    number: usize,
    step: &StepFacts<'_>,
    row: StepRow,
) -> StepRow {
    let Some(mark) = mark(facts, number, step) else {
        return row;
    };
    if step.shown == StepShown::NotDone {
        return row;
    }
    let mut seen = means(facts.recording, mark.from_s, mark.until_s);
    let speech = speech_of(facts);
    if !matches!(step.shown, StepShown::Kept { .. }) {
        // Pressures of an open or moving cylinder say nothing of where it was tested.
        (seen.p_cap_pa, seen.p_rod_pa, seen.x_m) = (None, None, None);
    }
    let is_seen = seen.p_cap_pa.or(seen.p_rod_pa).or(seen.t_oil_k).is_some();
    StepRow {
        at: match is_seen {
            true => speech.all_conditions(seen),
            false => row.at,
        },
        place: seen
            .x_m
            .map_or(row.place, |x| place_words(x, &facts.cylinder, speech)),
        ..row
    }
}

fn speech_of(facts: &ProofFacts<'_>) -> Speech {
    Speech {
        units: facts.units,
        holding: Chamber::Cap,
    }
}

/// One row for each judged figure; without limits one for each figure.
fn hold_rows(facts: &ProofFacts<'_>, plain: StepRow, hold: &Facts<'_>) -> Vec<StepRow> {
    let at = place(hold);
    let speech = Speech {
        units: facts.units,
        holding: at.chamber,
    };
    let words = match at.x_m {
        Some(x) => place_words(x, &facts.cylinder, speech),
        None if at.is_end => "end of the stroke".into(),
        None => "not measured".into(),
    };
    let (judged, free): (Vec<ResultRow>, Vec<ResultRow>) = rows::results(hold, speech)
        .into_iter()
        .partition(|row| !row.outcome.is_empty());
    let found = if judged.is_empty() { free } else { judged };
    let plain = StepRow {
        is_hold: true,
        place: words,
        ..plain
    };
    if found.is_empty() {
        let result = "no figure can be stated".into();
        return vec![StepRow { result, ..plain }];
    }
    found
        .into_iter()
        .enumerate()
        .map(|(index, row)| StepRow {
            is_further: index > 0,
            at: row.conditions,
            result: format!("{}: {}", row.figure, row.result),
            limit: row.limit,
            source: row.source,
            outcome: match row.outcome {
                "" => plain.outcome,
                outcome => outcome,
            },
            ..plain.clone()
        })
        .collect()
}

/// What a step without a figure of its own showed.
fn result(shown_by: &StepShown<'_>, units: UnitSystem) -> String {
    match shown_by {
        StepShown::NotDone => "not done".into(),
        StepShown::Done { .. } => "done".into(),
        StepShown::Vented(zeros) if zeros.is_empty() => "done; no pressure sensor to read".into(),
        StepShown::Vented(zeros) => {
            let said: Vec<String> = zeros.iter().map(|zero| zero_words(zero, units)).collect();
            said.join(" / ")
        }
        StepShown::Strokes {
            count,
            seen_m,
            nominal_m,
            ..
        } => {
            let (factor, unit) = shown("mm", units);
            let length = |m: f64| number(m * factor, 1e-3 * factor);
            let strokes = match count {
                1 => "1 full stroke".to_owned(),
                n => format!("{n} full strokes"),
            };
            match seen_m {
                Some(seen) => format!(
                    "{strokes}; {} {unit} of {}",
                    length(*seen),
                    speech_length(*nominal_m, units)
                ),
                None => format!("{strokes}; their length was not measured"),
            }
        }
        StepShown::Squeezed {
            asked_pa,
            highest_pa,
            air,
            ..
        } => squeezed_words(*asked_pa, *highest_pa, air, units),
        StepShown::Kept {
            chamber,
            asked_pa,
            between_pa: (low, high),
            length_s,
        } => {
            let (factor, unit) = shown("bar", units);
            let bar = |pa: f64| number(pa * factor, pressure_step(pa, units));
            let length = number(*length_s, 10.0);
            let kept = match low.is_finite() && high.is_finite() {
                true => format!("{} to {} {unit}", bar(*low), bar(*high)),
                false => "not measured".into(),
            };
            format!(
                "{} end {kept} for {length} s; asked for {}",
                chamber.word(),
                bar(*asked_pa)
            )
        }
        StepShown::Read { typed, said_back } => {
            format!("{said_back}; typed \u{201c}{typed}\u{201d}")
        }
        StepShown::Held { .. } => String::new(),
    }
}

/// The share of air, and how far the ends were raised.
fn squeezed_words(
    asked_pa: f64,
    highest_pa: Option<f64>,
    air: &Result<Figure, String>,
    units: UnitSystem,
) -> String {
    let (factor, unit) = shown("bar", units);
    let bar = |pa: f64| number(pa * factor, pressure_step(pa, units));
    let highest = highest_pa.map_or("not read".into(), |pa| format!("{} {unit}", bar(pa)));
    let found = match air {
        Ok(figure) => format!("free air at most {}", value_words(figure, units)),
        Err(_) => "free air not stated".into(),
    };
    format!(
        "{found}; cap end to {} {unit}, rod end {highest}",
        bar(asked_pa)
    )
}

fn speech_length(m: f64, units: UnitSystem) -> String {
    let (factor, _) = shown("mm", units);
    let digits = match units {
        UnitSystem::Metric => 10.0,
        UnitSystem::Inch => 0.1,
    };
    number(m * factor, digits)
}

/// What decides the digits of a pressure: tenths of a bar where it is low.
fn pressure_step(pa: f64, units: UnitSystem) -> f64 {
    match units == UnitSystem::Metric && pa.abs() < 20e5 {
        true => 1.0,
        false => 10.0,
    }
}

fn zero_words(zero: &ZeroRead, units: UnitSystem) -> String {
    let (which, own) = match zero.role {
        Role::CapPressure => ("cap ", "bar"),
        Role::RodPressure => ("rod ", "bar"),
        Role::Position => ("stop at ", "mm"),
        Role::OilTemperature | Role::WallTemperature => ("", "K"),
        Role::Supply => ("supply ", "V"),
    };
    let (factor, unit) = shown(own, units);
    let (mean, two_sigma) = (zero.mean_si * factor, 2.0 * zero.standard_si * factor);
    format!(
        "{which}{} ± {} {unit}",
        number(mean, two_sigma),
        number(two_sigma, two_sigma)
    )
}

/// What the reason for a reading says beyond the reading itself.
fn beyond(reason: &str, said_back: &str) -> String {
    let seen = said_back.replacen(": ", ", ", 1);
    match reason.strip_prefix(&seen) {
        Some(rest) => rest.trim_start_matches(": ").to_owned(),
        None => reason.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_is_not_said_twice() {
        let said = "class 4: a drop forms and falls";
        let reason = "class 4, a drop forms and falls: over class 1 (depot sheet 4)";
        assert_eq!(beyond(reason, said), "over class 1 (depot sheet 4)");
        assert_eq!(beyond("class 0, dry", "class 0: dry"), "");
        assert_eq!(beyond("too much", "0.6 mL/min"), "too much");
    }

    #[test]
    fn letters_go_on_as_numbers() {
        assert_eq!([0, 1, 25, 26].map(letter), ["A", "B", "Z", "27"]);
    }
}
