//! What follows from time and readings: a pressure is reached, a side has settled, a phase ends.

use super::Bench;
use super::Effect;
use super::Reading;
use super::Stage;
use super::Standing;
use crate::cylinder::Chamber;
use crate::procedure::Act;
use crate::procedure::DWELL;
use crate::procedure::ENDS_BELOW;
use crate::procedure::HOLD;
use crate::procedure::REACHED_FROM;
use crate::procedure::SETTLE;
use crate::procedure::SHORTEST_HOLD_S;
use crate::procedure::SQUEEZE;
use crate::procedure::STROKES;
use crate::procedure::Step;
use crate::procedure::VENTED;
use crate::quantity::unit::second;

/// Above this nothing is opened, moved or unlocked, Pa gauge (common practice, no source).
pub(super) const SAFE_PA: f64 = 6e5;

/// A side that has lost this much of its pressure while it should settle leaks more than
/// settling could hide: it counts at once, while there is a pressure that drives the leak.
pub(super) const COUNTS_BELOW: f64 = 0.85;

impl Bench {
    /// What follows from time and readings, if anything does.
    pub(super) fn advance(&mut self, reading: &Reading) -> Option<Vec<Effect>> {
        let until_s = self.phase.1;
        let is_due = !self.is_by_eye && self.reached_s >= until_s;
        match self.stage {
            Stage::Reaching => {
                let reach = *self.steps[self.at].reach()?;
                let is_there = self.is_let_off && reading.meets(&reach);
                is_there.then(|| self.begin_kept(self.reached_s))
            }
            Stage::Settling if self.has_fallen(reading, COUNTS_BELOW) => {
                Some(self.count(self.reached_s))
            }
            Stage::Settling if is_due => self.settled(),
            Stage::Holding if is_due => Some(self.end_phase(HOLD, until_s)),
            Stage::Holding
                if self.reached_s >= self.phase.0 + SHORTEST_HOLD_S
                    && self.has_fallen(reading, ENDS_BELOW) =>
            {
                Some(self.end_phase(HOLD, self.reached_s))
            }
            Stage::Dwelling if is_due => Some(self.end_phase(DWELL, until_s)),
            Stage::Vented if is_due => Some(self.end_phase(VENTED, until_s)),
            Stage::Squeezing => {
                let reach = self.steps[self.at].reach()?;
                let own_pa = reading.of(reach.chamber)?;
                // The rod gives way, so the pressure may run over before it is stopped.
                (own_pa >= REACHED_FROM * reach.pressure.pa())
                    .then(|| self.end_phase(SQUEEZE, self.reached_s))
            }
            Stage::Stroking => {
                let Act::Strokes { count, .. } = self.steps[self.at].act else {
                    return None;
                };
                (self.strokes()? >= count).then(|| self.end_phase(STROKES, self.reached_s))
            }
            _ => None,
        }
    }

    /// The pressure that stands while something is to be opened, moved or unlocked; None if
    /// nothing is, or none stands.
    pub(super) fn standing(&self, step: &Step) -> Option<Standing> {
        let is_handled = match &step.act {
            Act::Confirm | Act::Reading(_) => false,
            // A load on the machine stands on its pressure.
            Act::Hold(_) => step.reach().is_some(),
            Act::Vented { .. } | Act::Strokes { .. } | Act::Squeeze { .. } | Act::Dwell { .. } => {
                true
            }
        };
        let pressures = [Chamber::Cap, Chamber::Rod]
            .map(|chamber| (chamber, self.latest.of(chamber).unwrap_or(0.0)));
        let [cap, rod] = pressures;
        let (chamber, pressure_pa) = if rod.1 > cap.1 { rod } else { cap };
        (is_handled && pressure_pa > SAFE_PA).then_some(Standing {
            chamber,
            pressure_pa,
        })
    }

    /// Whether the pressure that was asked for has fallen below a part of it.
    pub(super) fn has_fallen(&self, reading: &Reading, part: f64) -> bool {
        let reach = self.steps.get(self.at).and_then(Step::reach);
        reach.is_some_and(|reach| {
            reading
                .of(reach.chamber)
                .is_some_and(|pa| pa < part * reach.pressure.pa())
        })
    }

    /// The earliest end of settling is there.
    pub(super) fn settled(&mut self) -> Option<Vec<Effect>> {
        let waited_s = self.reached_s - self.phase.0;
        let is_steady = self
            .steady
            .as_ref()
            .is_none_or(|watch| watch.is_steady() || waited_s >= watch.at_most_s());
        if !is_steady {
            return None;
        }
        // What has its time alone to wait for begins at that time and not at the row after.
        let at_s = match self.steady {
            Some(_) => self.reached_s,
            None => self.phase.1,
        };
        Some(self.count(at_s))
    }

    /// From here on it counts.
    pub(super) fn count(&mut self, at_s: f64) -> Vec<Effect> {
        let Act::Hold(hold) = &self.steps[self.at].act else {
            return Vec::new();
        };
        let length_s = hold.plan.length().get::<second>();
        self.steady = None;
        self.stage = Stage::Holding;
        self.phase = (at_s, at_s + length_s);
        vec![
            Effect::PhaseEnds(self.name(SETTLE), at_s),
            Effect::PhaseBegins(self.name(HOLD), at_s),
        ]
    }

    pub(super) fn end_phase(&mut self, phase: &str, at_s: f64) -> Vec<Effect> {
        let mut effects = vec![Effect::PhaseEnds(self.name(phase), at_s)];
        effects.extend(self.next());
        effects
    }
}
