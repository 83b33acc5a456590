//! What an operator does at the rig, and how pressures and rod go while it is vented or pressed.
//!
//! Those are smooth curves, nothing of physics: they begin where the cylinder stands and end
//! where the handling says. Strokes and squeezes are played by the physics of a moving rod.

use crate::circuit::Circuit;
use crate::cylinder::Chamber;
use crate::rehearsal::rig::valve::SQUEEZE_S;
use crate::rehearsal::rig::valve::WAY_S;

/// Time of a vent until the rig is left alone, s.
const VENT_S: f64 = 10.0;

/// Time in which the pressures of a vent fall, s.
const FALL_S: f64 = 5.0;

/// Time to let a pressure off into a glass, slowly, s.
const LET_OFF_S: f64 = 15.0;

/// Time to run the rod to where it shall be pressed, s.
const RUN_S: f64 = 5.0;

/// Time to pump up, s.
const PUMP_S: f64 = 10.0;

/// What an operator does at the rig.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Handling {
    /// Both ports opened to the tank, no load: pressures fall to the atmosphere; the rod stays
    /// where it is.
    Vent,
    /// Full strokes out and in, slowly: after it the rod stands at `x_m` or a little beyond, both
    /// ports open to the tank. None at all is a way to that place.
    Strokes {
        /// How many.
        count: u32,
        /// Setting of the relief valve, Pa gauge.
        low_pa: f64,
        /// Extension after it, m.
        x_m: f64,
    },
    /// The rod port shut, the cap end raised slowly and let off again: the rod squeezes what is
    /// in the rod end.
    Squeeze {
        /// What the cap end is raised to, Pa gauge.
        to_pa: f64,
    },
    /// The end that holds a pressure let off slowly into a glass, down to a part of that pressure,
    /// and shut again; the rod stays where it is.
    LetOff {
        /// Which end.
        chamber: Chamber,
        /// Part of its pressure that is left, 0 to 1.
        part: f64,
    },
    /// Rod run to `x_m`, plumbed and held as in `circuit`, pumped up, shut off, left alone.
    Press {
        /// The plumbing, and how the rod is held; its hoses too.
        circuit: Circuit,
        /// Extension, m.
        x_m: f64,
        /// Pressure that the holding chamber is pumped to, Pa gauge.
        holding_pa: f64,
        /// Pressure of the other chamber, Pa gauge; 0 where it is open.
        other_pa: f64,
    },
}

/// How pressures and rod stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pose {
    /// Pressures, cap and rod, Pa gauge.
    pub pressures_pa: [f64; 2],
    /// Extension, m.
    pub x_m: f64,
}

impl Handling {
    /// Time it takes until the rig is left alone, s.
    pub fn takes_s(&self) -> f64 {
        match self {
            Self::Vent => VENT_S,
            Self::Strokes { count, .. } => f64::from(2 * *count + 1) * WAY_S,
            Self::Squeeze { .. } => SQUEEZE_S,
            Self::LetOff { .. } => LET_OFF_S,
            Self::Press { .. } => RUN_S + PUMP_S,
        }
    }

    /// How the cylinder stands after a vent or a press, from where it stood; what moves the rod
    /// ends where its physics ends.
    pub(super) fn end(&self, from: &Pose) -> Pose {
        match *self {
            Self::Vent => Pose {
                pressures_pa: [0.0; 2],
                x_m: from.x_m,
            },
            Self::Strokes { .. } | Self::Squeeze { .. } => *from,
            Self::LetOff { chamber, part } => {
                let mut end = *from;
                end.pressures_pa[usize::from(chamber == Chamber::Rod)] *= part;
                end
            }
            Self::Press {
                circuit,
                x_m,
                holding_pa,
                other_pa,
            } => Pose {
                pressures_pa: match circuit.holding_chamber() {
                    Chamber::Cap => [holding_pa, other_pa],
                    Chamber::Rod => [other_pa, holding_pa],
                },
                x_m,
            },
        }
    }

    /// How the cylinder stands so long after a vent or a press was begun, s, from where it stood.
    pub(super) fn pose(&self, from: &Pose, since_s: f64) -> Pose {
        let end = self.end(from);
        if since_s >= self.takes_s() {
            return end;
        }
        match *self {
            Self::Vent => Pose {
                pressures_pa: faded(from.pressures_pa, since_s, FALL_S),
                x_m: from.x_m,
            },
            Self::Strokes { .. } | Self::Squeeze { .. } => *from,
            Self::LetOff { .. } => {
                let gone = smooth(since_s / LET_OFF_S);
                Pose {
                    pressures_pa: [0, 1].map(|i| {
                        from.pressures_pa[i] + gone * (end.pressures_pa[i] - from.pressures_pa[i])
                    }),
                    x_m: from.x_m,
                }
            }
            Self::Press { .. } => {
                let left_pa = faded(from.pressures_pa, since_s, RUN_S);
                let pumped = smooth((since_s - RUN_S) / PUMP_S);
                Pose {
                    pressures_pa: [0, 1].map(|i| left_pa[i] + pumped * end.pressures_pa[i]),
                    x_m: from.x_m + smooth(since_s / RUN_S) * (end.x_m - from.x_m),
                }
            }
        }
    }

    /// Part of the oil that has come fresh from the tank so long after it was begun, s: all of
    /// it with a stroke, as much as the rod's way moves when it is run.
    pub(super) fn filled(&self, from: &Pose, since_s: f64, stroke_m: f64) -> f64 {
        match *self {
            Self::Vent
            | Self::Squeeze { .. }
            | Self::LetOff { .. }
            | Self::Strokes { count: 0, .. } => 0.0,
            Self::Strokes { .. } => smooth(since_s / (2.0 * WAY_S)),
            Self::Press { x_m, .. } => {
                smooth(since_s / RUN_S) * ((x_m - from.x_m) / stroke_m).abs().min(1.0)
            }
        }
    }
}

/// Pressures on their way to the atmosphere.
fn faded(pressures_pa: [f64; 2], since_s: f64, within_s: f64) -> [f64; 2] {
    pressures_pa.map(|pa| pa * (1.0 - smooth(since_s / within_s)))
}

/// From 0 to 1 between 0 and 1, without a corner.
fn smooth(part: f64) -> f64 {
    let part = part.clamp(0.0, 1.0);
    part * part * (3.0 - 2.0 * part)
}

#[cfg(test)]
mod tests {
    use super::*;

    const FROM: Pose = Pose {
        pressures_pa: [40e5, 5e5],
        x_m: 0.12,
    };

    /// A hundredth of a second is a thousandth of a pumping: nothing may go further than a few
    /// of these in it.
    #[test]
    fn nothing_jumps_while_the_rig_is_worked() {
        let circuit = Circuit::plain(
            crate::circuit::Port::OpenToVessel,
            crate::circuit::Port::Blocked,
            crate::circuit::RodHold::Locked,
        );
        let press = Handling::Press {
            circuit,
            x_m: 0.3,
            holding_pa: 100e5,
            other_pa: 0.0,
        };
        let let_off = Handling::LetOff {
            chamber: Chamber::Cap,
            part: 0.1,
        };
        for handling in [Handling::Vent, press, let_off] {
            let mut before = FROM;
            for step in 0..=(100.0 * handling.takes_s()) as u32 + 1 {
                let now = handling.pose(&FROM, 0.01 * f64::from(step));
                for side in 0..2 {
                    let by_pa = (now.pressures_pa[side] - before.pressures_pa[side]).abs();
                    assert!(by_pa < 1.5e5, "{handling:?} step {step}: {by_pa} Pa");
                }
                let by_m = (now.x_m - before.x_m).abs();
                assert!(by_m < 2e-3, "{handling:?} step {step}: {by_m} m");
                before = now;
            }
            assert_eq!(before, handling.end(&FROM));
        }
        assert_eq!(press.end(&FROM).pressures_pa, [0.0, 100e5]);
        assert_eq!(let_off.end(&FROM).pressures_pa, [4e5, 5e5]);
        assert_eq!(let_off.end(&FROM).x_m, FROM.x_m);
    }
}
