//! What a step is to be brought to: a pressure as a multiple of the rated one or by itself, and a
//! place as a part of the stroke or by itself.

use super::file::HoldStepTable;
use super::planning::Planning;
use crate::cylinder::Chamber;
use crate::procedure::Reach;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Share;
use crate::quantity::parse;
use crate::settings::SettingsError;
use crate::settings::Setup;
use toml::Spanned;

impl Planning<'_> {
    /// What a hold is to be brought to, if it says so.
    pub(super) fn reach(
        &self,
        h: &HoldStepTable,
        setup: &Setup,
    ) -> Result<Option<Reach>, SettingsError> {
        let Some(text) = &h.pressure else {
            return Ok(None);
        };
        let (chamber, pressure) = self.pressure(setup, text)?;
        Ok(Some(Reach {
            chamber,
            pressure,
            other: h.other_pressure.as_ref().map(|p| p.get()),
            at: self.place(setup, h.at.as_ref())?,
        }))
    }

    /// What the cylinder itself is rated for.
    pub(super) fn rated(&self, chamber: Chamber) -> Option<GaugePressure> {
        let cylinder = self.setup.get("cylinder")?;
        let text = cylinder
            .get(format!("{}_rating", chamber.word()))?
            .as_str()?;
        parse::<GaugePressure>(text)
            .ok()
            .map(|typed| typed.quantity)
    }

    /// "1.5 x rated" or "5 bar", for the end that holds.
    pub(super) fn pressure(
        &self,
        setup: &Setup,
        text: &Spanned<String>,
    ) -> Result<(Chamber, GaugePressure), SettingsError> {
        let chamber = setup.subject.circuit.holding_chamber();
        let typed = text.get_ref();
        let wrong = |message: String| self.source.error(text, message);
        let Some(times) = typed.trim().strip_suffix("rated").map(str::trim_end) else {
            let found = parse::<GaugePressure>(typed).map_err(|e| {
                wrong(format!(
                    "{e}; or a multiple of the rated pressure, as \"1.5 x rated\""
                ))
            })?;
            return match found.quantity.pa() > 0.0 {
                true => Ok((chamber, found.quantity)),
                false => Err(wrong("`pressure` must be above 0 bar".into())),
            };
        };
        let times = times.strip_suffix(['x', '×']).map(str::trim_end);
        let factor = times.and_then(|n| n.replace(',', ".").parse::<f64>().ok());
        let factor = factor.filter(|f| (0.01..=4.0).contains(f)).ok_or_else(|| {
            wrong(format!(
                "`{typed}`: write a multiple of the rated pressure as \"1.5 x rated\""
            ))
        })?;
        let rated = self.rated(chamber).ok_or_else(|| {
            wrong(format!(
                "this step goes by the rated pressure of the {} end; write `{}_rating` in [cylinder] of the setup",
                chamber.word(),
                chamber.word()
            ))
        })?;
        Ok((chamber, GaugePressure::from_pa(factor * rated.pa())))
    }

    /// "50 %" of the stroke, or "20 mm" out.
    pub(super) fn place(
        &self,
        setup: &Setup,
        text: Option<&Spanned<String>>,
    ) -> Result<Option<Length>, SettingsError> {
        let Some(text) = text else {
            return Ok(None);
        };
        let Some(cylinder) = setup.subject.piece.cylinder() else {
            return Ok(None);
        };
        let stroke = cylinder.size().stroke;
        let typed = text.get_ref();
        let at = match parse::<Share>(typed) {
            Ok(part) => Ok(stroke * part.quantity.part()),
            Err(_not_a_share) => parse::<Length>(typed).map(|length| length.quantity),
        };
        let at = at.map_err(|e| {
            self.source
                .error(text, format!("{e}; or a part of the stroke, as \"50 %\""))
        })?;
        match (Length::default()..=stroke).contains(&at) {
            true => Ok(Some(at)),
            false => Err(self.source.error(text, "`at` lies outside the stroke")),
        }
    }
}
