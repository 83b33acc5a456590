//! Steps in which a person reads something: what is asked, and which limits it is held against.

use super::file::ReadingTable;
use super::file::ReadingWord;
use super::file::StepTable;
use super::merge::Wanted;
use super::merge::limits_for;
use super::merge::merged;
use super::plan::PlannedStep;
use super::planning::Planning;
use super::planning::text_of;
use crate::account::FigureName;
use crate::procedure::Asked;
use crate::quantity::Quantity;
use crate::settings::SettingsError;
use crate::settings::Setup;
use toml::Spanned;

impl Planning<'_> {
    /// What is asked; `before` are the steps before it.
    pub(super) fn reading(
        &self,
        table: &Spanned<ReadingTable>,
        before: &[PlannedStep],
    ) -> Result<Asked, SettingsError> {
        let t = table.get_ref();
        let needs = |key: &str| {
            let message = format!("this reading needs `{key}`, one sigma, as \"0.1 mL\"");
            self.source.error(table, message)
        };
        let sizes = [&t.uncertainty, &t.drop];
        if sizes
            .into_iter()
            .flatten()
            .any(|size| size.get().si() <= 0.0)
        {
            let message = "`uncertainty` and `drop` must be above zero";
            return Err(self.source.error(table, message));
        }
        Ok(match t.what {
            ReadingWord::Collected => Asked::Collected {
                standard: t
                    .uncertainty
                    .as_ref()
                    .ok_or_else(|| needs("uncertainty"))?
                    .get(),
            },
            ReadingWord::Drops => Asked::Drops {
                drop: t.drop.as_ref().ok_or_else(|| needs("drop"))?.get(),
                standard: t
                    .uncertainty
                    .as_ref()
                    .ok_or_else(|| needs("uncertainty"))?
                    .get(),
            },
            ReadingWord::LetOff => Asked::LetOff {
                chamber: self.let_off_from(table, before)?,
                standard: t
                    .uncertainty
                    .as_ref()
                    .ok_or_else(|| needs("uncertainty"))?
                    .get(),
            },
            ReadingWord::OutsideClass => Asked::OutsideClass,
            ReadingWord::Note => Asked::Note,
        })
    }

    pub(super) fn figure(
        &self,
        table: Option<&Spanned<ReadingTable>>,
    ) -> Result<Option<FigureName>, SettingsError> {
        let Some((table, word)) = table.and_then(|t| Some((t, t.get_ref().figure.as_ref()?)))
        else {
            return Ok(None);
        };
        let figure = self.figure_of(word)?;
        let is_flow = matches!(
            table.get_ref().what,
            ReadingWord::Collected | ReadingWord::Drops
        ) && figure.is_flow();
        match is_flow {
            true => Ok(Some(figure)),
            false => Err(self.source.error(
                word,
                "only what was collected or dripped is held against a figure, and only against a flow",
            )),
        }
    }

    /// A setup whose limits are those that a reading is held against.
    pub(super) fn for_reading(
        &self,
        id: &str,
        place: &Spanned<StepTable>,
        figure: FigureName,
    ) -> Result<Option<(String, Setup)>, SettingsError> {
        let limits = limits_for(&self.setup, self.shop, &[figure], None);
        let whole = merged(&self.setup, &Wanted::standing(limits));
        Ok(Some((text_of(&whole), self.checked(id, place, &whole)?)))
    }
}
