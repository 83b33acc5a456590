//! The tables `[[limit]]` and `[[limit_table]]` of a shop file or a file it names.

use super::Level;
use super::LimitSet;
use super::row::Heading;
use super::row::RowTable;
use super::row::SetRow;
use super::row::row;
use super::value::value;
use crate::account::FigureName;
use crate::quantity::GaugePressure;
use crate::quantity::Temperature;
use crate::quantity::Volume;
use crate::settings::SettingsError;
use crate::settings::Source;
use crate::settings::text::Text;
use serde::Deserialize;
use toml::Spanned;

/// Where a movement is compared.
#[derive(Deserialize, Clone, Copy, PartialEq, Eq, Default)]
#[serde(rename_all = "snake_case")]
enum MeasuredAt {
    #[default]
    Rod,
    Load,
}

/// A single limit.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::settings) struct LimitTable {
    id: String,
    figure: String,
    value: Spanned<String>,
    at_pressure: Option<Text<GaugePressure>>,
    at_temperature: Option<Text<Temperature>>,
    #[serde(default)]
    measured_at: MeasuredAt,
    drop: Option<Text<Volume>>,
    source: String,
}

/// A table of limits under one id.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::settings) struct TableTable {
    id: String,
    figure: String,
    level: Option<Level>,
    #[serde(default)]
    measured_at: MeasuredAt,
    drop: Option<Text<Volume>>,
    source: Option<String>,
    rows: Vec<Spanned<RowTable>>,
}

/// Reads a single limit.
pub(in crate::settings) fn single(
    source: &Source<'_>,
    table: &Spanned<LimitTable>,
) -> Result<LimitSet, SettingsError> {
    let t = table.get_ref();
    let id = &t.id;
    let wrong = |message: String| source.error(table, format!("limit `{id}`{message}"));
    let figure = figure(&t.figure).map_err(|message| wrong(format!(": {message}")))?;
    if t.source.trim().is_empty() {
        return Err(wrong(
            " needs a source: who set it, where it is written".into(),
        ));
    }
    let is_at_load = at_load(t.measured_at, figure).map_err(|m| wrong(format!(": {m}")))?;
    if figure.is_of_strokes() && t.at_pressure.is_some() {
        return Err(wrong(format!(
            ": {} is of strokes, which take the pressure that they take; leave `at_pressure` away",
            figure.word()
        )));
    }
    let value = value(figure, t.value.get_ref(), t.drop.as_ref().map(Text::get))
        .map_err(|message| source.error(&t.value, format!("limit `{id}`: {message}")))?;
    Ok(LimitSet {
        id: id.clone(),
        figure,
        is_table: false,
        is_at_load,
        at_pressure: t.at_pressure.as_ref().map(Text::get),
        at_temperature: t.at_temperature.as_ref().map(Text::get),
        rows: vec![SetRow {
            place: 1,
            level: None,
            bore: None,
            seal: None,
            kind: None,
            oil: None,
            pressure: None,
            value,
            source: t.source.clone(),
        }],
    })
}

/// Reads a table of limits.
pub(in crate::settings) fn table(
    source: &Source<'_>,
    table: &Spanned<TableTable>,
) -> Result<LimitSet, SettingsError> {
    let t = table.get_ref();
    let id = &t.id;
    let wrong = |message: String| source.error(table, format!("limit table `{id}`: {message}"));
    let figure = figure(&t.figure).map_err(wrong)?;
    let is_at_load = at_load(t.measured_at, figure).map_err(wrong)?;
    let heading = Heading {
        id,
        figure,
        level: t.level,
        source: t.source.as_deref(),
        drop: t.drop.as_ref().map(Text::get),
    };
    let mut rows: Vec<SetRow> = Vec::new();
    for (index, written) in t.rows.iter().enumerate() {
        let found = row(source, &heading, index + 1, written)?;
        if let Some(first) = rows.first() {
            let of_first = first.conditions();
            let odd = found
                .conditions()
                .into_iter()
                .zip(of_first)
                .find(|(a, b)| a != b);
            if let Some(((key, is_stated), _)) = odd {
                let (has, other) = if is_stated {
                    ("has", "has not")
                } else {
                    ("has no", "has")
                };
                let message = format!(
                    "limit table `{id}`: row {} {has} `{key}`, row 1 {other}; every row of a table states the same conditions",
                    found.place
                );
                return Err(source.error(written, message));
            }
        }
        if let Some(other) = rows.iter().find(|other| other.overlaps(&found)) {
            let message = format!(
                "limit table `{id}`: {} and {} could both be for one unit; a band goes up to its second value and does \
                 not include it",
                other.words(),
                found.words()
            );
            return Err(source.error(written, message));
        }
        rows.push(found);
    }
    if rows.is_empty() {
        return Err(wrong("it has no rows".into()));
    }
    Ok(LimitSet {
        id: id.clone(),
        figure,
        is_table: true,
        is_at_load,
        at_pressure: None,
        at_temperature: None,
        rows,
    })
}

fn figure(word: &str) -> Result<FigureName, String> {
    FigureName::from_word(word).ok_or_else(|| {
        let known: Vec<&str> = FigureName::ALL.iter().map(|n| n.word()).collect();
        format!("`{word}` is no figure; write one of {}", known.join(", "))
    })
}

fn at_load(measured_at: MeasuredAt, figure: FigureName) -> Result<bool, String> {
    match (measured_at, figure) {
        (MeasuredAt::Rod, _) => Ok(false),
        (MeasuredAt::Load, FigureName::Drift) => Ok(true),
        (MeasuredAt::Load, _) => Err(format!(
            "only a drift can be measured at the load; {} is not a movement",
            figure.word()
        )),
    }
}
