//! The table `[hold]` of a setup: how long, and how the piece is meant to stand.

use super::SettingsError;
use super::Source;
use super::text::Text;
use crate::cylinder::Piece;
use crate::procedure::HoldPlan;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Share;
use crate::quantity::Time;
use crate::quantity::parse;
use serde::Deserialize;
use toml::Spanned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct HoldTable {
    settle: Text<Time>,
    length: Text<Time>,
    /// Whether it ends as soon as it is decided.
    #[serde(default)]
    pub until_decided: bool,
    /// What flows are stated at where the limits name no pressure.
    pressure: Option<Spanned<Text<GaugePressure>>>,
    /// What the end that does not hold is charged to.
    other_pressure: Option<Spanned<Text<GaugePressure>>>,
    /// Where the rod stands: a length, or a part of the stroke.
    at: Option<Spanned<String>>,
}

/// How a piece is meant to stand when its hold begins; None for what is not written. Only a plan
/// goes by place and charge: what is judged is what was measured.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Meant {
    /// Pressure of the end that holds, above zero.
    pub pressure: Option<GaugePressure>,
    /// Pressure of the other end, zero or above.
    pub other: Option<GaugePressure>,
    /// Extension of the rod, within the stroke.
    pub at: Option<Length>,
}

/// How long it settles and counts.
pub(super) fn plan(
    source: &Source<'_>,
    hold: &Spanned<HoldTable>,
) -> Result<HoldPlan, SettingsError> {
    let t = hold.get_ref();
    let plan = HoldPlan::new(t.settle.get(), t.length.get())
        .map_err(|e| source.error(hold, e.to_string()))?;
    Ok(match t.until_decided {
        true => plan.ending_as_decided(),
        false => plan,
    })
}

/// How the piece is meant to stand.
pub(super) fn meant(
    source: &Source<'_>,
    hold: &HoldTable,
    piece: &Piece,
) -> Result<Meant, SettingsError> {
    let pressure = hold.pressure.as_ref().map(|p| (p, p.get_ref().get()));
    if let Some((place, _)) = pressure.filter(|(_, asked)| asked.pa() <= 0.0) {
        return Err(source.error(place, "`pressure` of a hold must be above 0 bar"));
    }
    let other = hold.other_pressure.as_ref().map(|p| (p, p.get_ref().get()));
    if let Some((place, _)) = other.filter(|(_, asked)| asked.pa() < 0.0) {
        let message =
            "`other_pressure` of a hold is what the other end is charged to, 0 bar or more";
        return Err(source.error(place, message));
    }
    let at = hold.at.as_ref().map(|text| at(source, text, piece));
    Ok(Meant {
        pressure: pressure.map(|(_, asked)| asked),
        other: other.map(|(_, asked)| asked),
        at: at.transpose()?,
    })
}

/// "50 %" of the stroke, or "20 mm" out.
fn at(source: &Source<'_>, text: &Spanned<String>, piece: &Piece) -> Result<Length, SettingsError> {
    let typed = text.get_ref();
    let Some(cylinder) = piece.cylinder() else {
        return Err(source.error(text, "`at` is a place of the rod, and this piece has none"));
    };
    let stroke = cylinder.size().stroke;
    let found = match parse::<Share>(typed) {
        Ok(part) => Ok(stroke * part.quantity.part()),
        Err(_not_a_share) => parse::<Length>(typed).map(|length| length.quantity),
    };
    let found = found.map_err(|e| {
        source.error(
            text,
            format!("`at`: {e}; or a part of the stroke, as \"50 %\""),
        )
    })?;
    match (Length::default()..=stroke).contains(&found) {
        true => Ok(found),
        false => Err(source.error(text, "`at` of a hold lies outside the stroke")),
    }
}
