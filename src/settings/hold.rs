//! The table `[hold]` of a setup: how long, at what pressure, where in the stroke.

use super::SettingsError;
use super::Source;
use super::text::Text;
use crate::procedure::HoldPlan;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Time;
use serde::Deserialize;
use toml::Spanned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct HoldTable {
    pub settle: Text<Time>,
    pub length: Text<Time>,
    /// Whether it ends as soon as it is decided.
    #[serde(default)]
    pub until_decided: bool,
    /// What flows are stated at where the limits name no pressure.
    pub pressure: Option<Spanned<Text<GaugePressure>>>,
    /// How far the rod stands out when the hold begins, where it is read by eye.
    pub rod_out: Option<Spanned<Text<Length>>>,
}

/// Settling and holding.
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

/// The pressure that a hold is for, if it is written.
pub(super) fn asked_pressure(
    source: &Source<'_>,
    hold: &HoldTable,
) -> Result<Option<GaugePressure>, SettingsError> {
    let Some(pressure) = &hold.pressure else {
        return Ok(None);
    };
    let asked = pressure.get_ref().get();
    match asked.pa() > 0.0 {
        true => Ok(Some(asked)),
        false => Err(source.error(pressure, "`pressure` of a hold must be above 0 bar")),
    }
}
