//! The tables `[by_eye.…]` of a setup: instruments that a person reads, where there is no
//! board.

use super::SettingsError;
use super::Source;
use super::hold::HoldTable;
use super::sensor::SensorSetup;
use super::text::Text;
use crate::channel::ByEye;
use crate::channel::CountsUp;
use crate::channel::EyeInstrument;
use crate::channel::EyeUnit;
use crate::channel::Role;
use crate::channel::SensorPapers;
use crate::channel::instrument_of;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Quantity;
use crate::quantity::QuantityError;
use crate::quantity::Temperature;
use crate::quantity::TemperatureInterval;
use crate::quantity::Voltage;
use crate::quantity::parse;
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

/// Fewest divisions of a scale that is one.
const LEAST_DIVISIONS: f64 = 10.0;

/// Classes of pressure gauges that are anything: 0.05 to 10 % of the span.
const CLASSES: std::ops::RangeInclusive<f64> = 0.05..=10.0;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct EyeTable {
    range: [String; 2],
    division: String,
    class: Option<f64>,
    error: Option<String>,
    counts_up: Option<CountsUpWord>,
    #[serde(default)]
    name: String,
    #[serde(default)]
    certificate: String,
    #[serde(default)]
    due: String,
    pub rating: Option<Text<GaugePressure>>,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum CountsUpWord {
    RodIn,
    RodOut,
}

/// All instruments of a setup, and how far out the rod stands; None where a board reads.
pub(super) fn by_eye(
    source: &Source<'_>,
    tables: &BTreeMap<String, Spanned<EyeTable>>,
    has_sensors: bool,
    (hold, rod_out): (&Spanned<HoldTable>, Option<Length>),
) -> Result<Option<ByEye>, SettingsError> {
    let Some((word, first)) = tables.iter().next() else {
        return match has_sensors {
            false => Err(source.whole(
                "a setup needs [sensors.p_cap] and others, on a board, or [by_eye.p_cap] and others, that a person reads",
            )),
            true => Ok(None),
        };
    };
    if has_sensors {
        let message = format!(
            "[by_eye.{word}] and [sensors] stand in one setup: for now all is read by a board, or all by eye; leave one \
             of them away"
        );
        return Err(source.error(first, message));
    }
    if hold.get_ref().until_decided {
        let message =
            "`until_decided` needs a board: looks of a person are too few to end a hold by";
        return Err(source.error(hold, message));
    }
    let instruments = tables
        .iter()
        .map(|(word, table)| instrument(source, word, table));
    Ok(Some(ByEye {
        instruments: instruments.collect::<Result<_, _>>()?,
        rod_out_m: rod_out.map(|length| length.value),
    }))
}

/// The instruments as sensors without a board.
pub(super) fn as_sensors(by_eye: &ByEye) -> Vec<SensorSetup> {
    let sensors = by_eye.instruments.iter().map(|own| SensorSetup {
        role: own.role,
        board_channel: None,
        errors: own.errors(),
        papers: own.papers.clone(),
        resolution_si: Some(own.division_si),
        motion_ratio: 1.0,
        signal: None,
        is_against_supply: false,
        calibration: None,
    });
    sensors.collect()
}

fn instrument(
    source: &Source<'_>,
    word: &str,
    table: &Spanned<EyeTable>,
) -> Result<EyeInstrument, SettingsError> {
    let wrong = |message: String| source.error(table, format!("by_eye.{word}: {message}"));
    let role = role(word).map_err(&wrong)?;
    let t = table.get_ref();
    let is_pressure = matches!(role, Role::CapPressure | Role::RodPressure);
    let (low, unit) = end(role, &t.range[0]).map_err(|e| wrong(e.to_string()))?;
    let (high, _) = end(role, &t.range[1]).map_err(|e| wrong(e.to_string()))?;
    let size = |text: &str| size(role, text).map_err(|e| wrong(e.to_string()));
    let division_si = size(&t.division)?;
    let span = high - low;
    if span.is_nan() || span <= 0.0 {
        return Err(wrong("`range` goes from low to high".into()));
    }
    if !(f64::MIN_POSITIVE..=span / LEAST_DIVISIONS).contains(&division_si) {
        return Err(wrong(
            "`division` is one division of the scale, above zero and not above a tenth of the range"
                .into(),
        ));
    }
    let error_si = match (t.class, t.error.as_deref()) {
        (Some(class), None) if is_pressure && CLASSES.contains(&class) => class / 100.0 * span,
        (Some(_), None) if is_pressure => {
            return Err(wrong(
                "`class` is the number on the dial of the gauge: 0.25, 0.6, 1, 1.6, 2.5 or 4 (EN 837-1), percent of its \
                 range"
                    .into(),
            ));
        }
        (None, Some(text)) => size(text)?,
        _ if is_pressure => {
            return Err(wrong(
                "needs either `class`, the number on its dial, or `error`, what it may be off by"
                    .into(),
            ));
        }
        _ => return Err(wrong("needs `error`, what it may be off by".into())),
    };
    if !(f64::MIN_POSITIVE..=0.2 * span).contains(&error_si) {
        return Err(wrong(
            "what it may be off by is above zero and not above a fifth of its range".into(),
        ));
    }
    if t.rating.is_some() && !is_pressure {
        return Err(wrong("`rating` is a pressure, for gauges only".into()));
    }
    Ok(EyeInstrument {
        role,
        unit,
        range_si: (low, high),
        division_si,
        error_si,
        class: t.class,
        counts_up: counts_up(role, t.counts_up).map_err(&wrong)?,
        papers: papers(t).map_err(&wrong)?,
    })
}

fn role(word: &str) -> Result<Role, String> {
    let all = [
        Role::CapPressure,
        Role::RodPressure,
        Role::Position,
        Role::OilTemperature,
    ];
    all.into_iter().find(|r| r.word() == word).ok_or_else(|| {
        let known: Vec<String> = all
            .iter()
            .map(|r| format!("{} ({})", r.word(), instrument_of(*r)))
            .collect();
        format!(
            "is nothing that is read by eye; write one of {}",
            known.join(", ")
        )
    })
}

fn counts_up(role: Role, word: Option<CountsUpWord>) -> Result<Option<CountsUp>, String> {
    match (role, word) {
        (Role::Position, Some(CountsUpWord::RodIn)) => Ok(Some(CountsUp::RodIn)),
        (Role::Position, Some(CountsUpWord::RodOut)) => Ok(Some(CountsUp::RodOut)),
        (Role::Position, None) => Err(
            "needs `counts_up`: \"rod_in\" if the dial counts up while the rod goes in, else \"rod_out\"".into(),
        ),
        (_, None) => Ok(None),
        (_, Some(_)) => Err("`counts_up` is for a dial indicator only".into()),
    }
}

fn papers(t: &EyeTable) -> Result<SensorPapers, String> {
    if !t.due.is_empty() && t.due.parse::<jiff::civil::Date>().is_err() {
        return Err(format!(
            "due `{}` is no date; write it as 2027-03-31",
            t.due
        ));
    }
    Ok(SensorPapers {
        serial: t.name.clone(),
        certificate: t.certificate.clone(),
        due: t.due.clone(),
        by: None,
    })
}

/// An end of a scale in SI, and the unit it is written in.
fn end(role: Role, text: &str) -> Result<(f64, EyeUnit), QuantityError> {
    fn of<Q: Quantity>(text: &str) -> Result<(f64, EyeUnit), QuantityError> {
        let typed = parse::<Q>(text)?;
        let si = typed.quantity.si();
        let unit = EyeUnit {
            name: typed.unit,
            si_per_unit: typed.si_per_unit,
            si_at_zero: si - typed.number * typed.si_per_unit,
        };
        Ok((si, unit))
    }
    match role {
        Role::CapPressure | Role::RodPressure => of::<GaugePressure>(text),
        Role::Position => of::<Length>(text),
        Role::OilTemperature | Role::WallTemperature => of::<Temperature>(text),
        Role::Supply => of::<Voltage>(text),
    }
}

/// A difference on a scale in SI; of a thermometer in K, or in the degrees that stand on it.
fn size(role: Role, text: &str) -> Result<f64, QuantityError> {
    match role {
        Role::CapPressure | Role::RodPressure => {
            parse::<GaugePressure>(text).map(|typed| typed.quantity.si())
        }
        Role::Position => parse::<Length>(text).map(|typed| typed.quantity.si()),
        Role::OilTemperature | Role::WallTemperature => parse::<TemperatureInterval>(text)
            .map(|typed| typed.quantity.si())
            .or_else(|_not_in_kelvin| {
                parse::<Temperature>(text).map(|typed| typed.number * typed.si_per_unit)
            }),
        Role::Supply => parse::<Voltage>(text).map(|typed| typed.quantity.si()),
    }
}

#[cfg(test)]
mod tests;
