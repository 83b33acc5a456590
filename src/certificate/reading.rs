//! Readings within sentences, in the units of a shop that reads inches.
//!
//! Reasons, findings and remarks come from rooms that know SI alone and say bar, millimetres and
//! millilitres. Here each figure with such a unit is said in the shop's; a limit stays as it was
//! typed, with the shop's unit behind it, and what a person typed stays as it is.
//!
//! Invariant: about as many digits are said as were given, and for a metric shop nothing changes.

use crate::quantity::UnitSystem;
use crate::quantity::shown;

/// How a unit of the sentence becomes one of the shop.
#[derive(Debug, Clone, Copy)]
struct Change {
    factor: f64,
    /// Added after the factor; only for a point of temperature.
    offset: f64,
    unit: &'static str,
}

fn change(unit: &str) -> Option<Change> {
    let of = |metric: &'static str| {
        let (si_to_inch, unit) = shown(metric, UnitSystem::Inch);
        let (si_to_metric, _) = shown(metric, UnitSystem::Metric);
        Change {
            factor: si_to_inch / si_to_metric,
            offset: 0.0,
            unit,
        }
    };
    Some(match unit {
        "bar" => of("bar"),
        "bar/min" => of("bar/min"),
        "mm" => of("mm"),
        "mm/min" => of("mm/min"),
        "mL" => of("mL"),
        "mL/min" => of("mL/min"),
        "N" => of("N"),
        "kN" => Change {
            factor: 1e3 * of("N").factor,
            ..of("N")
        },
        "K" => Change {
            factor: 1.8,
            offset: 0.0,
            unit: "°F",
        },
        "°C" => Change {
            factor: 1.8,
            offset: 32.0,
            unit: "°F",
        },
        _ => return None,
    })
}

/// A word without what stands around it: what opens it, the word, what closes it.
fn bare(word: &str) -> (&str, &str, &str) {
    let start = word.len() - word.trim_start_matches('(').len();
    let inner = &word[start..];
    let end = inner
        .trim_end_matches(['.', ',', ';', ':', ')', '?', '!'])
        .len();
    (&word[..start], &inner[..end], &inner[end..])
}

/// A number as it stands in a sentence, and its decimals.
fn number_of(text: &str) -> Option<(f64, usize)> {
    let plain = text.replace('−', "-").replace(',', ".");
    let digits = plain.trim_start_matches(['-', '+']);
    let is_number = digits.starts_with(|c: char| c.is_ascii_digit())
        && digits.chars().all(|c| c.is_ascii_digit() || c == '.');
    let value = plain.parse().ok().filter(|_| is_number)?;
    let decimals = plain.split_once('.').map_or(0, |(_, d)| d.len());
    Some((value, decimals))
}

fn said(value: f64, decimals: usize, change: Change, is_size: bool) -> String {
    let offset = if is_size { 0.0 } else { change.offset };
    let step = change.factor * 10_f64.powi(-(decimals as i32));
    let value = value * change.factor + offset;
    let exact = -step.log10();
    // Two digits are kept where as many can be told.
    let two = match value == 0.0 {
        true => 0.0,
        false => 1.0 - value.abs().log10().floor(),
    };
    let decimals = (exact - 0.3).ceil().max(two.min(exact.ceil()));
    let decimals = decimals.clamp(0.0, 6.0) as usize;
    let text = format!("{value:.decimals$}");
    match text.trim_start_matches('-') {
        digits if digits.chars().all(|c| "0.".contains(c)) => digits.into(),
        _ => text.replace('-', "−"),
    }
}

/// A sentence with its readings in the units of the shop; `limits` are the limits as typed.
pub(super) fn in_units(text: &str, units: UnitSystem, limits: &[String]) -> String {
    if units == UnitSystem::Metric {
        return text.into();
    }
    let mut out = String::new();
    let mut rest = text;
    // What was typed, by a person or in a limit, stands between the pieces that are changed.
    while !rest.is_empty() {
        let typed = limits
            .iter()
            .filter(|limit| !limit.is_empty())
            .filter_map(|limit| Some((rest.find(limit.as_str())?, limit.len(), true)));
        let quoted = rest.find('“').and_then(|from| {
            let length = rest[from..].find('”')? + '”'.len_utf8();
            Some((from, length, false))
        });
        let next = typed
            .chain(quoted)
            .min_by_key(|(from, length, _)| (*from, usize::MAX - length));
        let Some((from, length, is_limit)) = next else {
            out += &readings(rest);
            break;
        };
        out += &readings(&rest[..from]);
        let kept = &rest[from..from + length];
        out += kept;
        let own = readings(kept);
        // The letter of its source may stand behind it; its value in the shop's unit is enough once.
        let behind = rest[from + length..].strip_prefix(" (");
        let is_said = behind.is_some_and(|text| text.starts_with(|c: char| c.is_ascii_digit()));
        if is_limit && own != kept && !is_said {
            out += &format!(" ({own})");
        }
        rest = &rest[from + length..];
    }
    out
}

/// The same of each sentence.
pub(super) fn all_in_units(texts: &mut [String], units: UnitSystem, limits: &[String]) {
    for text in texts {
        *text = in_units(text, units, limits);
    }
}

/// Each number with a unit of ours, and those joined to it, in the shop's.
fn readings(text: &str) -> String {
    let mut words: Vec<String> = text.split(' ').map(str::to_owned).collect();
    for at in 1..words.len() {
        let (before, unit, after) = bare(&words[at]);
        let Some(change) = change(unit) else {
            continue;
        };
        let changed_unit = format!("{before}{}{after}", change.unit);
        let mut number_at = at - 1;
        let mut is_first = true;
        loop {
            let (open, number, close) = bare(&words[number_at]);
            let Some((value, decimals)) = number_of(number).filter(|_| close.is_empty()) else {
                break;
            };
            let joint = number_at.checked_sub(1).map(|i| words[i].clone());
            let is_size = joint.as_deref() == Some("±");
            let new = format!("{open}{}", said(value, decimals, change, is_size));
            words[number_at] = new;
            if is_first {
                words[at].clone_from(&changed_unit);
                is_first = false;
            }
            let joins = matches!(
                joint.as_deref(),
                Some("±" | "to" | "→" | "…" | "–" | "and" | "or" | "of")
            );
            // "cap 20 of 30 bar" joins; "step 2 of 19" has no unit and never comes here.
            match number_at.checked_sub(2) {
                Some(earlier) if joins => number_at = earlier,
                _ => break,
            }
        }
    }
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expected: &str) {
        let limits = ["0.12 mL/min".to_owned(), "20 mm/5min".to_owned()];
        assert_eq!(in_units(text, UnitSystem::Inch, &limits), expected);
        assert_eq!(in_units(text, UnitSystem::Metric, &limits), text);
    }

    /// By `units`: 160 bar 2320.6 psi, 0.06 mL/min 0.00366 in³/min, 46 °C 114.8 °F, 10 K 18 °F.
    #[test]
    fn readings_are_said_in_the_units_of_the_shop() {
        check("at 160 bar, 46 °C.", "at 2321 psi, 115 °F.");
        check(
            "lost 0.060 ± 0.020 mL/min (95 %)",
            "lost 0.0037 ± 0.0012 in³/min (95 %)",
        );
        check("rose by 10 K in 5 min", "rose by 18 °F in 5 min");
        check("46.0 ± 0.5 °C", "114.8 ± 0.9 °F");
        check("−0.5 to 1.0 mm; 12 s", "−0.020 to 0.039 in; 12 s");
        check("from 112 → 96 bar", "from 1624 → 1392 psi");
    }

    #[test]
    fn a_limit_stays_as_typed_with_the_units_of_the_shop_behind_it() {
        check(
            "0.06 mL/min is within the limit of 0.12 mL/min.",
            "0.0037 in³/min is within the limit of 0.12 mL/min (0.0073 in³/min).",
        );
        check("0.12 mL/min (B)", "0.12 mL/min (0.0073 in³/min) (B)");
        check(
            "0.12 mL/min (0.0073 in³/min)",
            "0.12 mL/min (0.0073 in³/min)",
        );
        check("the limit is 20 mm/5min", "the limit is 20 mm/5min");
        check("typed “12 bar” today", "typed “12 bar” today");
    }

    #[test]
    fn what_is_no_reading_stays() {
        for text in ["no bar here", "step 2 of 19", "N: 5 min", "", "12 %"] {
            check(text, text);
        }
    }
}
