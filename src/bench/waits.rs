//! What a step still waits for, said while nothing comes of itself.
//!
//! Pressures and places are brought about by a person, who may not know that the bench has
//! not seen them yet: a gauge that reads otherwise, a rod a hand's breadth off.

use super::Bench;
use super::Effect;
use super::Reading;
use super::Stage;
use crate::procedure::Act;
use crate::procedure::REACHED_FROM;
use crate::procedure::REACHED_TO;
use crate::procedure::Reach;

/// How long nothing is said, and again between two sentences, s (common practice, no source).
pub(super) const SAID_EACH_S: f64 = 180.0;

impl Bench {
    /// What it waits for, each time that long has passed with nothing come of it.
    pub(super) fn still_waits(&mut self, reading: &Reading) -> Option<Effect> {
        let due_s = self.waits_since_s + SAID_EACH_S;
        if self.is_by_eye || self.reached_s < due_s {
            return None;
        }
        self.waits_since_s = self.reached_s;
        let lacking = match (self.stage, &self.steps.get(self.at)?.act) {
            (Stage::Reaching | Stage::Squeezing, _) => {
                let reach = *self.steps.get(self.at)?.reach()?;
                match self.is_let_off || self.stage == Stage::Squeezing {
                    true => lacking(&reach, reading)?,
                    false => "the pressure of the step before was not let off: first below half of what is asked".into(),
                }
            }
            (Stage::Stroking, Act::Strokes { count, .. }) => format!(
                "{} of {count} full strokes so far; a full stroke goes from one stop to the other and back",
                self.strokes()?
            ),
            _ => return None,
        };
        Some(Effect::Say(format!("Still waiting: {lacking}.")))
    }
}

/// The first thing of a reach that is not there yet, with what is read and what is asked.
fn lacking(reach: &Reach, reading: &Reading) -> Option<String> {
    let own = reach.chamber;
    let asked_bar = reach.pressure.bar();
    let bar = |pa: f64| pa / 1e5;
    if !reach.is_at_place(reading.x_m) {
        let at_mm = reach.at?.value * 1e3;
        return Some(match reading.x_m {
            Some(x) => format!(
                "the rod stands at {:.0} mm and is asked to stand at {at_mm:.0} mm",
                x * 1e3
            ),
            None => format!(
                "the position cannot be read, and the rod is asked to stand at {at_mm:.0} mm"
            ),
        });
    }
    let from = REACHED_FROM * asked_bar;
    let until = REACHED_TO * asked_bar;
    match reading.of(own).map(bar) {
        None => {
            return Some(format!("the {}-end pressure cannot be read", own.word()));
        }
        Some(now) if !(from..=until).contains(&now) => {
            return Some(format!(
                "the {} end reads {now:.0} bar, asked are {asked_bar:.0} bar ({from:.0} to {until:.0})",
                own.word()
            ));
        }
        Some(_) => {}
    }
    let other = own.other();
    let asked_bar = reach.other?.bar();
    Some(match reading.of(other).map(bar) {
        Some(now) => format!(
            "the {} end reads {now:.0} bar and is asked to be charged to {asked_bar:.0} bar",
            other.word()
        ),
        None => format!("the {}-end pressure cannot be read", other.word()),
    })
}
