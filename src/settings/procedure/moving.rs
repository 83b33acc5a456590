//! Steps in which the rod moves: full strokes, and a rod end that is squeezed by it.

use super::file::SqueezeTable;
use super::file::StepTable;
use super::file::StrokesTable;
use super::merge::Wanted;
use super::merge::limits_for;
use super::merge::merged;
use super::plan::PlannedStep;
use super::planning::Planning;
use super::planning::text_of;
use super::planning::told;
use crate::account::FigureName;
use crate::cylinder::Chamber;
use crate::procedure::Act;
use crate::procedure::Reach;
use crate::quantity::Length;
use crate::settings::SettingsError;
use crate::settings::Setup;
use toml::Spanned;

/// A squeeze goes from the atmosphere to one of these, Pa gauge: below, sensors see too little;
/// above, the oil gives way and not its air.
const SQUEEZED_TO_PA: std::ops::RangeInclusive<f64> = 10e5..=100e5;

impl Planning<'_> {
    /// Full strokes, and what they are held against.
    pub(super) fn strokes(
        &self,
        t: &StepTable,
        table: &Spanned<StrokesTable>,
    ) -> Result<PlannedStep, SettingsError> {
        let (id, count) = (t.id.get_ref(), table.get_ref().count);
        if !(1..=1000).contains(&count) {
            let message = "`count` is 1 to 1000 full strokes";
            return Err(self.source.error(table, message));
        }
        self.position_for(table)?;
        let figures = self.of_strokes(&table.get_ref().figures, false)?;
        let limits = limits_for(&self.setup, self.shop, &figures, None);
        let whole = merged(&self.setup, &Wanted::standing(limits));
        let setup = self.checked(id, table, &whole)?;
        let stroke = self.stroke(&setup, table)?;
        Ok(PlannedStep {
            step: told(t, id, Act::Strokes { count, stroke }),
            setup: Some((text_of(&whole), setup)),
            ratings: None,
            repeat: None,
            figure: None,
        })
    }

    /// A rod end that is shut and squeezed by the rod.
    pub(super) fn squeeze(
        &self,
        t: &StepTable,
        table: &Spanned<SqueezeTable>,
    ) -> Result<PlannedStep, SettingsError> {
        let (id, s) = (t.id.get_ref(), table.get_ref());
        self.position_for(table)?;
        let figures = self.of_strokes(&s.figures, true)?;
        let pressure = s.pressure.get_ref().get();
        if !SQUEEZED_TO_PA.contains(&pressure.pa()) {
            let message = "a squeeze goes to 10 bar to 100 bar at the cap end: less shows too little, and more shows the oil \
                           and not its air";
            return Err(self.source.error(&s.pressure, message));
        }
        let wanted = Wanted {
            rod_port: Some("blocked"),
            rod: "pushed_in",
            length_s: 60.0,
            ..Wanted::standing(limits_for(&self.setup, self.shop, &figures, None))
        };
        let whole = merged(&self.setup, &wanted);
        let setup = self.checked(id, table, &whole)?;
        let piece = &setup.subject.piece;
        let has_rod_end = piece
            .cylinder()
            .is_some_and(|c| c.kind().chambers().contains(&Chamber::Rod));
        if !has_rod_end {
            let message = "this kind of cylinder has no rod end that holds pressure, so nothing can be squeezed";
            return Err(self.source.error(table, message));
        }
        for chamber in [Chamber::Cap, Chamber::Rod] {
            self.can_be_read(&setup, table, chamber, true)?;
        }
        let reach = Reach {
            chamber: Chamber::Cap,
            pressure,
            other: None,
            at: None,
        };
        Ok(PlannedStep {
            step: told(t, id, Act::Squeeze { reach }),
            setup: Some((text_of(&whole), setup)),
            ratings: None,
            repeat: None,
            figure: None,
        })
    }

    /// Figures that strokes, or a squeeze, can show.
    fn of_strokes(
        &self,
        words: &[Spanned<String>],
        is_squeeze: bool,
    ) -> Result<Vec<FigureName>, SettingsError> {
        let mut names = Vec::new();
        for word in words {
            let name = self.figure_of(word)?;
            if !name.is_of_strokes() || is_squeeze != (name == FigureName::FreeAir) {
                let what = if is_squeeze { "a squeeze" } else { "strokes" };
                let can = FigureName::ALL
                    .into_iter()
                    .filter(|n| n.is_of_strokes() && is_squeeze == (*n == FigureName::FreeAir));
                let can: Vec<&str> = can.map(FigureName::word).collect();
                let message = format!(
                    "`{}` is nothing that {what} can show; write {}",
                    name.word(),
                    can.join(", ")
                );
                return Err(self.source.error(word, message));
            }
            names.push(name);
        }
        Ok(names)
    }

    fn position_for<T>(&self, place: &Spanned<T>) -> Result<(), SettingsError> {
        match self.has_position() || self.is_by_eye() {
            true => Ok(()),
            false => Err(self.source.error(
                place,
                "strokes are counted by the position, and the setup has no `sensors.x`",
            )),
        }
    }

    fn stroke<T>(&self, setup: &Setup, place: &Spanned<T>) -> Result<Length, SettingsError> {
        let cylinder = setup.subject.piece.cylinder();
        cylinder
            .map(|cylinder| cylinder.size().stroke)
            .ok_or_else(|| self.source.error(place, "a procedure is for a [cylinder]"))
    }
}
