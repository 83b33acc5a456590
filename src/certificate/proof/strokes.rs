//! What strokes told, in lines of two columns: out and in. For the paper and for the terminal.

use crate::account::Figure;
use crate::account::FigureName;
use crate::account::StrokeSummary;
use crate::account::Travel;
use crate::certificate::proof::facts::ProofFacts;
use crate::certificate::proof::facts::StepShown;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;

/// One line of what strokes told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StrokeLine {
    /// What it is.
    pub name: String,
    /// Outwards, or of both ways.
    pub out: String,
    /// Inwards; empty for what is of both ways.
    pub back: String,
}

/// The small table of what strokes told, and what is to be read with it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct StrokeTable {
    /// Its lines.
    pub lines: Vec<StrokeLine>,
    /// What is not in it and why, and what it does not tell apart.
    pub notes: Vec<String>,
}

/// What is said with a friction.
const FRICTION_IS: &str = "Friction is half the difference of the net forces out and in: a weight cancels; seals of piston \
     and gland and the guide are in it together, and it holds at that speed alone.";
/// What is said with free air.
const AIR_IS: &str = "Air is counted at the atmosphere, and at most that much: what else gives way in the rod end looks like air.";

/// "2.9 ± 0.2 bar".
pub(super) fn value_words(figure: &Figure, units: UnitSystem) -> String {
    let metric = figure.name.metric_unit();
    let (factor, unit) = shown(metric, units);
    match figure.measured {
        Some(measured) => {
            let expanded = figure.coverage_factor * measured.standard_si * factor;
            let value = measured.value_si * factor;
            format!(
                "{} ± {} {unit}",
                number(value, expanded),
                number(expanded, expanded)
            )
        }
        None => format!(
            "{} to {} {unit}",
            number(figure.lower_si * factor, 0.0),
            number(figure.upper_si * factor, 0.0)
        ),
    }
}

fn line(name: impl Into<String>, out: String, back: String) -> StrokeLine {
    StrokeLine {
        name: name.into(),
        out,
        back,
    }
}

/// What strokes told, line by line; what cannot be stated has no line.
pub fn stroke_lines(summary: &StrokeSummary, nominal_m: f64, units: UnitSystem) -> Vec<StrokeLine> {
    let find = |name: FigureName, travel: Option<Travel>| {
        let mut all = summary.figures.iter();
        all.find(|f| f.figure.name == name && f.travel == travel)
            .map(|found| &found.figure)
    };
    let both = |name: FigureName| Travel::BOTH.map(|travel| find(name, Some(travel)));
    let said = |figure: Option<&Figure>| figure.map_or("–".into(), |f| value_words(f, units));
    let mut lines = Vec::new();
    let speeds = summary.sides.map(|side| side.speed_m_per_s);
    let (mm, mm_unit) = shown("mm", units);
    let speed = |v: f64| format!("{} {mm_unit}/s", number(v * mm, 1e-3 * mm));
    if speeds.iter().any(Option::is_some) {
        let [out, back] = speeds.map(|v| v.map_or("–".into(), speed));
        lines.push(line("Mean speed, middle half", out, back));
    }
    for name in [
        FigureName::Breakaway,
        FigureName::RunningPressure,
        FigureName::StickSlip,
    ] {
        let found = both(name);
        if found.iter().any(Option::is_some) {
            lines.push(line(name.plain(), said(found[0]), said(found[1])));
            if name == FigureName::RunningPressure {
                lines.push(along_the_way(summary, units));
            }
        }
    }
    if let Some(friction) = find(FigureName::Friction, None) {
        let mean = speeds.iter().flatten().sum::<f64>() / 2.0;
        let name = format!("Friction at {}", speed(mean));
        lines.push(line(name, value_words(friction, units), String::new()));
    }
    if let (Some(off), Some(long_m)) = (find(FigureName::StrokeLength, None), summary.length_m) {
        let expanded = off.coverage_factor * off.measured.map_or(0.0, |m| m.standard_si) * mm;
        let text = format!(
            "{} ± {} {mm_unit}; nominal {}",
            number(long_m * mm, expanded),
            number(expanded, expanded),
            number(nominal_m * mm, 1e-3 * mm)
        );
        lines.push(line("Stroke", text, String::new()));
    }
    lines
}

/// What a line says that is for the paper alone.
pub const ALONG_THE_WAY: &str = "Running, along the way";

/// How the running pressure lies along the way.
fn along_the_way(summary: &StrokeSummary, units: UnitSystem) -> StrokeLine {
    let (factor, unit) = shown("bar", units);
    let said = |pa: f64| format!("± {} {unit}", number(pa * factor, pa * factor));
    let [out, back] = summary
        .sides
        .map(|side| side.spread_pa.map_or("–".into(), said));
    line(ALONG_THE_WAY, out, back)
}

/// Why figures are not stated, each reason once with what it is the reason for.
pub fn unstated_words(summary: &StrokeSummary) -> Vec<String> {
    let mut reasons: Vec<(&str, Vec<String>)> = Vec::new();
    // Air is another step's.
    let own = summary
        .unstated
        .iter()
        .filter(|(name, _)| *name != FigureName::FreeAir);
    for (name, why) in own {
        let plain = name.plain().to_lowercase();
        match reasons.iter_mut().find(|(known, _)| known == why) {
            Some((_, names)) => names.push(plain),
            None => reasons.push((why, vec![plain])),
        }
    }
    reasons
        .into_iter()
        .map(|(why, names)| format!("Not stated: {}. {}", names.join(", "), capital(why)))
        .collect()
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().into_iter().flat_map(char::to_uppercase);
    let text: String = first.chain(chars).collect();
    match text.ends_with('.') {
        true => text,
        false => text + ".",
    }
}

/// The table of all strokes and squeezes of a procedure.
pub(super) fn stroke_table(facts: &ProofFacts<'_>) -> StrokeTable {
    let mut table = StrokeTable::default();
    let told = facts
        .steps
        .iter()
        .filter(|step| matches!(step.shown, StepShown::Strokes { told: Some(_), .. }));
    let n_told = told.count();
    for (index, step) in facts.steps.iter().enumerate() {
        match &step.shown {
            StepShown::Strokes {
                told: Some(told),
                nominal_m,
                ..
            } => {
                let lines = stroke_lines(told.summary, *nominal_m, facts.units);
                if lines.iter().any(|line| line.name.starts_with("Friction")) {
                    table.notes.push(FRICTION_IS.into());
                }
                let of = match n_told {
                    1 => String::new(),
                    _ => format!(", step {}", index + 1),
                };
                table.lines.extend(lines.into_iter().map(|line| StrokeLine {
                    name: line.name + &of,
                    ..line
                }));
                table.notes.extend(unstated_words(told.summary));
            }
            StepShown::Squeezed { air, .. } => match air {
                Ok(figure) => {
                    let text = format!("at most {}", value_words(figure, facts.units));
                    table
                        .lines
                        .push(line("Free air in the rod end", text, String::new()));
                    table.notes.push(AIR_IS.into());
                }
                Err(why) => table
                    .notes
                    .push(format!("Not stated: free air. {}", capital(why))),
            },
            _ => {}
        }
    }
    let mut seen: Vec<String> = Vec::new();
    table.notes.retain(|note| {
        let is_new = !seen.contains(note);
        seen.push(note.clone());
        is_new
    });
    table
}
