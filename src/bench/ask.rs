//! What a person is asked for, in words that any screen can show.

use crate::cylinder::Chamber;
use crate::procedure::Act;
use crate::procedure::Asked;
use crate::procedure::CLASSES;
use crate::procedure::Reach;
use crate::procedure::Step;
use crate::quantity::unit::millimeter;

/// Something a person is to do.
#[derive(Debug, Clone, PartialEq)]
pub struct Ask {
    /// Name of the step in data.
    pub step: String,
    /// Its name for people, with its place among all steps.
    pub title: String,
    /// What to do, one imperative sentence each.
    pub tell: Vec<String>,
    /// How it is answered.
    pub answer: Answer,
}

/// How a person answers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Answer {
    /// By saying that it is done.
    Done,
    /// By bringing the readings to where they ought to be: nothing to press.
    Reach(Reach),
    /// By typing.
    Typed(Asked),
}

/// What is said before oil under pressure is let off into the open.
const INTO_A_GLASS: &str = "Oil under pressure goes through the skin: wear eye protection, keep hands and face away from the \
                            outlet. Let it off only through a valve made for that, with a hose whose end is held fast in the \
                            glass, and crack it open. Without such a valve end the test and take a procedure without this step.";

impl Ask {
    /// To get a step ready; what stands is let off before anything is opened or moved.
    pub(super) fn ready(step: &Step, title: String, standing: Option<Standing>) -> Self {
        let first = standing.map(|standing| standing.first());
        let mut tell: Vec<String> = first.into_iter().chain(step.tell.iter().cloned()).collect();
        match &step.act {
            Act::Reading(Asked::OutsideClass) => {
                let classes = CLASSES.iter().enumerate();
                tell.extend(classes.map(|(class, words)| format!("{class}  {words}")));
            }
            // Free air swells at low pressure: what it pushes out says nothing of the oil.
            Act::Reading(Asked::LetOff { chamber, .. }) => {
                tell.push(INTO_A_GLASS.into());
                tell.push(format!(
                    "Let the pressure of the {} end off slowly into a glass, down to about a tenth of it and not to \
                     nothing, and shut it again. How much came out?",
                    chamber.word()
                ));
            }
            _ => {}
        }
        Self {
            step: step.id.clone(),
            title,
            tell,
            answer: match &step.act {
                Act::Reading(asked) => Answer::Typed(*asked),
                _ => Answer::Done,
            },
        }
    }

    /// To reach a pressure and a place; what stands from before is let off first.
    pub(super) fn reach(step: &Step, title: String, reach: Reach, is_let_off: bool) -> Self {
        let mut tell = Vec::new();
        if !is_let_off {
            tell.push("Let the pressure off first.".into());
        }
        if let Some(at) = reach.at {
            tell.push(format!("Rod at {:.0} mm.", at.get::<millimeter>()));
        }
        if let Some(other) = reach.other.filter(|other| other.pa() > 0.0) {
            tell.push(format!(
                "{} end charged to {:.0} bar.",
                capital(reach.chamber.other().word()),
                other.bar()
            ));
        }
        let then = match step.act {
            Act::Dwell { .. } => "keep it there",
            Act::Squeeze { .. } => "let it off again",
            _ => "shut it off",
        };
        let slowly = match step.act {
            Act::Squeeze { .. } => "slowly, in ten seconds or more, ",
            _ => "",
        };
        tell.push(format!(
            "Bring the {} end {slowly}to {:.0} bar and {then}.",
            reach.chamber.word(),
            reach.pressure.bar()
        ));
        Self {
            step: step.id.clone(),
            title,
            tell,
            answer: Answer::Reach(reach),
        }
    }
}

/// A pressure that stands from the step before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Standing {
    pub chamber: Chamber,
    pub pressure_pa: f64,
}

impl Standing {
    /// What is to be done before all else.
    fn first(self) -> String {
        format!(
            "FIRST let the pressure off at both ends, by their valves: the {} end stands at {:.0} bar. Until it is off, open, \
             move and unlock nothing.",
            self.chamber.word(),
            self.pressure_pa / 1e5
        )
    }

    /// Why there is nothing in the glass yet that could be read.
    pub(super) fn still_shut(self) -> String {
        format!(
            "the {} end still stands at {:.0} bar: let it off into the glass first, down to about a tenth of what it held",
            self.chamber.word(),
            self.pressure_pa / 1e5
        )
    }

    /// Why it cannot be done yet.
    pub(super) fn warning(self) -> String {
        format!(
            "the {} end still stands at {:.0} bar: let it off first",
            self.chamber.word(),
            self.pressure_pa / 1e5
        )
    }
}

fn capital(word: &str) -> String {
    let mut chars = word.chars();
    let first = chars.next().into_iter().flat_map(char::to_uppercase);
    first.chain(chars).collect()
}
