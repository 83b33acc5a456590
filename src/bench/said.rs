//! What people say: that something is done, a reading, and that a look decided a hold.

use super::Ask;
use super::Bench;
use super::Effect;
use super::LET_OFF_BELOW;
use super::Stage;
use super::Standing;
use crate::procedure::Act;
use crate::procedure::Asked;
use crate::procedure::HOLD;
use crate::procedure::SHORTEST_HOLD_S;
use crate::procedure::Step;
use crate::recording::Entry;
use crate::recording::EntryKind;

impl Bench {
    pub(super) fn done(&mut self) -> Vec<Effect> {
        if self.stage != Stage::Asking {
            return Vec::new();
        }
        let step = &self.steps[self.at];
        if let Some(standing) = self.standing(step) {
            let again = Ask::ready(step, self.title(), Some(standing));
            return vec![Effect::Warn(standing.warning()), Effect::Ask(again)];
        }
        let mut effects = vec![self.entry(EntryKind::Done, "")];
        effects.extend(self.begin(self.reached_s));
        effects
    }

    /// Ends a hold that may end as decided, at a time within it.
    pub(super) fn decided(&mut self, at_s: f64, why: String) -> Vec<Effect> {
        let may_end = match self.steps.get(self.at).map(|step| &step.act) {
            Some(Act::Hold(hold)) => hold.plan.ends_as_decided(),
            _ => false,
        };
        let is_within = at_s >= self.phase.0 + SHORTEST_HOLD_S && at_s < self.phase.1;
        if self.stage != Stage::Holding || !may_end || !is_within {
            return Vec::new();
        }
        let entry = Entry {
            at_s,
            step: self.steps[self.at].id.clone(),
            kind: EntryKind::Decided,
            text: why,
        };
        let mut effects = vec![Effect::Entry(entry)];
        effects.extend(self.end_phase(HOLD, at_s));
        effects
    }

    pub(super) fn typed(&mut self, text: &str) -> Vec<Effect> {
        let Some(Step {
            act: Act::Reading(asked),
            ..
        }) = self.steps.get(self.at)
        else {
            return Vec::new();
        };
        let understood = match self.still_shut(asked) {
            Some(standing) => Err(standing.still_shut()),
            None => asked.understood(text),
        };
        match understood {
            Err(why) => {
                let again = Ask::ready(&self.steps[self.at], self.title(), None);
                vec![Effect::Warn(why), Effect::Ask(again)]
            }
            Ok(understood) => {
                let mut effects = vec![
                    self.entry(EntryKind::Reading, text.trim()),
                    Effect::Say(format!("Understood: {}.", understood.said_back())),
                ];
                effects.extend(self.next());
                effects
            }
        }
    }

    /// The pressure that stands while a person says how much oil came out as it was let off.
    fn still_shut(&self, asked: &Asked) -> Option<Standing> {
        let Asked::LetOff { chamber, .. } = *asked else {
            return None;
        };
        let mut before = self.steps[..self.at].iter().rev();
        let reach = before.find_map(Step::reach)?;
        let pressure_pa = self.latest.of(chamber)?;
        (pressure_pa > LET_OFF_BELOW * reach.pressure.pa()).then_some(Standing {
            chamber,
            pressure_pa,
        })
    }
}
