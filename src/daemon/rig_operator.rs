//! The operator of the practice rig: does what a procedure asks, as a person would.
//!
//! It hears what any person would be told, takes a few seconds, works the rig, and says that it
//! is done. All by the time of the test, so that the same test gives the same bytes at any pace.

use crate::bench::Answer;
use crate::bench::Ask;
use crate::bench::Event;
use crate::procedure::Act;
use crate::procedure::Asked;
use crate::procedure::Reach;
use crate::quantity::Quantity;
use crate::rehearsal::rig::Handling;
use crate::rehearsal::rig::Hands;
use crate::rehearsal::rig::Passed;
use crate::settings::Test;

/// Time to read what is asked, s; longer than the board may be ahead.
const READS_S: f64 = 4.0;

/// Time between the end of a handling and the word that it is done, s.
const SAYS_S: f64 = 1.0;

/// Time between shutting off what was let off and the word how much it was, s: the glass stands
/// level first.
const READS_GLASS_S: f64 = 5.0;

/// Part of a pressure that is left when it was let off into a glass.
const LET_OFF_TO: f64 = 0.1;

/// Setting of the relief valve while strokes are run, Pa gauge.
const STROKE_PA: f64 = 30e5;

/// What is pumped up once and has to stand for a while is pumped a little over.
const OVER: f64 = 1.06;

/// Oil that makes a drop on a wiped gland, m³: a twentieth of a millilitre.
const DROP_M3: f64 = 0.05e-6;

/// Density that a cup is read with, kg/m³.
const CUP_KG_PER_M3: f64 = 860.0;

/// Somebody who does at the practice rig what a procedure asks.
#[derive(Debug)]
pub struct RigOperator {
    hands: Hands,
    test: Test,
    coming: Option<(f64, Coming)>,
    /// When the last hold or dwell was asked for, s.
    pressed_s: f64,
}

/// What is said when its time has come.
#[derive(Debug)]
enum Coming {
    /// What is known already.
    Said(Event),
    /// What the glass shows then.
    Glass,
}

impl RigOperator {
    /// An operator of a rig, for a test.
    pub fn new(hands: Hands, test: Test) -> Self {
        Self {
            hands,
            test,
            coming: None,
            pressed_s: 0.0,
        }
    }

    /// Hears what is asked, at a bench time in seconds.
    pub fn asked(&mut self, ask: &Ask, at_s: f64) {
        let Some(planned) = self.test.steps.iter().find(|p| p.step.id == ask.step) else {
            return;
        };
        let begins_s = at_s + READS_S;
        let stroke_m = self.stroke_m();
        let (handling, event) = match (ask.answer, &planned.step.act) {
            (Answer::Done, Act::Confirm) => (None, Some(Event::Done)),
            // Nothing is opened or moved under pressure. Strokes are counted, so the word comes
            // before them.
            (Answer::Done, Act::Squeeze { .. }) => {
                let to_the_middle = Handling::Strokes {
                    count: 0,
                    low_pa: STROKE_PA,
                    x_m: 0.5 * stroke_m,
                };
                (Some(to_the_middle), Some(Event::Done))
            }
            (Answer::Done, _) => (Some(Handling::Vent), Some(Event::Done)),
            // The rod end was shut before the word; now the cap end is raised.
            (Answer::Reach(reach), Act::Squeeze { .. }) => {
                let to_pa = reach.pressure.pa();
                (Some(Handling::Squeeze { to_pa }), None)
            }
            (Answer::Reach(reach), _) => {
                self.pressed_s = begins_s;
                (self.press(&ask.step, &reach), None)
            }
            (Answer::Typed(Asked::LetOff { chamber, .. }), _) => {
                let let_off = Handling::LetOff {
                    chamber,
                    part: LET_OFF_TO,
                };
                self.hands.act(begins_s, let_off);
                let said_s = begins_s + let_off.takes_s() + READS_GLASS_S;
                self.coming = Some((said_s, Coming::Glass));
                return;
            }
            (Answer::Typed(asked), _) => (None, Some(Event::Typed(self.reads(asked, at_s)))),
        };
        if let Some(handling) = handling {
            self.hands.act(begins_s, handling);
        }
        let mut said_s = begins_s + handling.map_or(0.0, |h| h.takes_s() + SAYS_S);
        if let Act::Vented {
            place_within: Some(_),
            ..
        } = planned.step.act
        {
            let to_stop = Handling::Strokes {
                count: 0,
                low_pa: STROKE_PA,
                x_m: stroke_m,
            };
            self.hands.act(said_s, to_stop);
            said_s += to_stop.takes_s() + SAYS_S;
        }
        self.coming = event.map(|event| (said_s, Coming::Said(event)));
        if let (Answer::Done, Act::Strokes { count, .. }) = (ask.answer, &planned.step.act) {
            let strokes = Handling::Strokes {
                count: count + 1,
                low_pa: STROKE_PA,
                x_m: 0.5 * stroke_m,
            };
            self.hands.act(said_s + READS_S, strokes);
        }
    }

    /// What is done by a bench time in seconds.
    pub fn due(&mut self, at_s: f64) -> Option<Event> {
        self.hands.seen(at_s);
        let (_, coming) = self.coming.take_if(|(due_s, _)| *due_s <= at_s)?;
        Some(match coming {
            Coming::Said(event) => event,
            Coming::Glass => {
                let m3 = self.hands.let_off_m3().unwrap_or(0.0);
                Event::Typed(format!("{:.1} mL", m3 * 1e6))
            }
        })
    }

    fn stroke_m(&self) -> f64 {
        let piece = &self.test.first_setup().subject.piece;
        piece.cylinder().map_or(0.0, |c| c.size().stroke.value)
    }

    fn press(&self, step: &str, reach: &Reach) -> Option<Handling> {
        let planned = self.test.steps.iter().find(|p| p.step.id == step)?;
        let circuit = planned.own_setup()?.subject.circuit;
        let out_m = match reach.chamber {
            crate::cylinder::Chamber::Cap => self.stroke_m(),
            crate::cylinder::Chamber::Rod => 0.0,
        };
        Some(Handling::Press {
            circuit,
            // A place nobody asks for is where a rod goes that is pushed against its end.
            x_m: reach.at.map_or(out_m, |at| at.value),
            holding_pa: match planned.step.act {
                Act::Dwell { .. } => OVER * reach.pressure.pa(),
                _ => reach.pressure.pa(),
            },
            other_pa: reach.other.map_or(0.0, |other| other.pa()),
        })
    }

    /// What is seen since the pressure was there.
    fn reads(&self, asked: Asked, at_s: f64) -> String {
        let passed = self.hands.passed(self.pressed_s, at_s);
        seen_as_typed(asked, &passed, at_s - self.pressed_s)
    }
}

/// What somebody sees who caught or watched for `since_s` what went, as it is typed.
pub(super) fn seen_as_typed(asked: Asked, passed: &Passed, since_s: f64) -> String {
    let since_s = since_s.max(1.0);
    match asked {
        Asked::OutsideClass => {
            let outside = passed.gland + passed.cap_plug + passed.rod_plug;
            outside_class(outside / CUP_KG_PER_M3).to_string()
        }
        Asked::Collected { .. } => {
            let ml = (passed.cap_valve + passed.rod_valve) / CUP_KG_PER_M3 * 1e6;
            format!("{ml:.1} mL in {since_s:.0} s")
        }
        Asked::Drops { drop, .. } => {
            let m3 = (passed.cap_valve + passed.rod_valve) / CUP_KG_PER_M3;
            format!("{:.0} drops in {since_s:.0} s", m3 / drop.si())
        }
        // What is let off is read in the glass, and nobody without a board is asked for it.
        Asked::LetOff { .. } => String::new(),
        Asked::Note => "nothing to add".into(),
    }
}

/// The class of what came out since the surface was wiped.
fn outside_class(m3: f64) -> u8 {
    match m3 / DROP_M3 {
        drops if drops < 0.02 => 0,
        drops if drops < 0.3 => 2,
        drops if drops < 1.0 => 3,
        drops if drops < 40.0 => 4,
        _ => 5,
    }
}
