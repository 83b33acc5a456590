//! Steps in which a person lets the pressure of a hold off into a glass: which end, and whether the
//! oil that comes out can be reckoned.

use super::file::ReadingTable;
use super::plan::PlannedStep;
use super::plan::held_last;
use super::planning::Planning;
use crate::account::Fluid;
use crate::circuit::HoldingValve;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::settings::SettingsError;
use toml::Spanned;

impl Planning<'_> {
    /// The end whose pressure a reading lets off, by the hold before it.
    ///
    /// # Errors
    /// At its own line, if no hold stands, if its rod may move, or if its end is not blocked at the
    /// port: oil that comes out would then be other oil than that which was pressed together.
    pub(super) fn let_off_from(
        &self,
        table: &Spanned<ReadingTable>,
        before: &[PlannedStep],
    ) -> Result<Chamber, SettingsError> {
        let wrong = |message: &str| Err(self.source.error(table, message));
        if table.get_ref().drop.is_some() {
            return wrong("what is let off is read in a glass: leave `drop` away");
        }
        let Some(setup) = held_last(before).and_then(PlannedStep::own_setup) else {
            return wrong(
                "`let_off` reads the oil of a hold that still stands: put it straight after a [step.hold], with no other \
                 step than readings between",
            );
        };
        if setup.subject.fluid == Fluid::Gas {
            return wrong("`let_off` is for a cylinder that is filled with oil");
        }
        let circuit = &setup.subject.circuit;
        let chamber = circuit.holding_chamber();
        if !matches!(circuit.rod, RodHold::Locked | RodHold::Bottomed) {
            return wrong(
                "`let_off` needs a rod that stays where it is: the hold before it must have `rod = \"locked\"` or \
                 `rod = \"bottomed\"`",
            );
        }
        let is_blocked = circuit.port(chamber) == Port::Blocked
            && circuit.holding_valve(chamber) == HoldingValve::Absent
            && !circuit.joined;
        match is_blocked {
            true => Ok(chamber),
            false => wrong(
                "`let_off` needs an end that is blocked at its port, alone and without a valve between: what lies behind \
                 would come out too",
            ),
        }
    }
}
