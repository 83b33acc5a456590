//! What an operator does at the rig, and how pressures and rod go while it is done.
//!
//! Smooth curves, nothing of physics: they begin where the cylinder stands and end where the
//! handling says.

use crate::circuit::Circuit;
use crate::cylinder::Chamber;

/// Time of a vent until the rig is left alone, s.
const VENT_S: f64 = 10.0;

/// Time in which the pressures of a vent fall, s.
const FALL_S: f64 = 5.0;

/// Time of one full stroke out and in, s.
const STROKE_S: f64 = 8.0;

/// Time to run the rod to where it shall stand, s: the half of a stroke that comes after the
/// last, and the first part of pressing.
const AFTER_STROKES_S: f64 = 4.0;
const RUN_S: f64 = 5.0;

/// Time to pump up, s.
const PUMP_S: f64 = 10.0;

/// How long the rod rests at an end of its stroke, s.
const REST_S: f64 = 0.5;

/// Time in which the low pressure of a stroke comes and goes, s.
const BUILDS_S: f64 = 0.5;

/// What an operator does at the rig.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Handling {
    /// Both ports opened to the tank, no load: pressures fall to the atmosphere; the rod stays
    /// where it is.
    Vent,
    /// Full strokes out and in at low pressure: after it the rod stands at `x_m`, both ports
    /// open to the tank.
    Strokes {
        /// How many.
        count: u32,
        /// Pressure of the side that pushes, Pa gauge.
        low_pa: f64,
        /// Extension after it, m.
        x_m: f64,
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
            Self::Strokes { count, .. } => f64::from(*count) * STROKE_S + AFTER_STROKES_S,
            Self::Press { .. } => RUN_S + PUMP_S,
        }
    }

    /// How the cylinder stands after it, from where it stood; the stroke decides nothing.
    pub(super) fn end(&self, from: &Pose) -> Pose {
        match *self {
            Self::Vent => Pose {
                pressures_pa: [0.0; 2],
                x_m: from.x_m,
            },
            Self::Strokes { x_m, .. } => Pose {
                pressures_pa: [0.0; 2],
                x_m,
            },
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

    /// How the cylinder stands so long after it was begun, s, from where it stood.
    pub(super) fn pose(&self, from: &Pose, since_s: f64, stroke_m: f64) -> Pose {
        let end = self.end(from);
        if since_s >= self.takes_s() {
            return end;
        }
        match *self {
            Self::Vent => Pose {
                pressures_pa: faded(from.pressures_pa, since_s, FALL_S),
                x_m: from.x_m,
            },
            Self::Strokes {
                count, low_pa, x_m, ..
            } => stroking(from, since_s, &Strokes { count, low_pa, x_m }, stroke_m),
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
            Self::Vent | Self::Strokes { count: 0, .. } => 0.0,
            Self::Strokes { .. } => smooth(since_s / STROKE_S),
            Self::Press { x_m, .. } => {
                smooth(since_s / RUN_S) * ((x_m - from.x_m) / stroke_m).abs().min(1.0)
            }
        }
    }
}

/// Strokes as they are asked for.
struct Strokes {
    count: u32,
    low_pa: f64,
    x_m: f64,
}

fn stroking(from: &Pose, since_s: f64, asked: &Strokes, stroke_m: f64) -> Pose {
    let half_s = 0.5 * STROKE_S;
    let half = (since_s / half_s).floor();
    let (index, in_half_s) = (half as u32, since_s - half * half_s);
    let last = 2 * asked.count;
    let turn_m = |index: u32| match index {
        0 => from.x_m,
        odd if odd % 2 == 1 => stroke_m,
        _ => 0.0,
    };
    let to_m = match index < last {
        true => turn_m(index + 1),
        false => asked.x_m,
    };
    let from_m = turn_m(index.min(last));
    let moved = smooth(in_half_s / (half_s - REST_S));
    let builds = smooth(in_half_s / BUILDS_S) * smooth((half_s - in_half_s) / BUILDS_S);
    let pushing = usize::from(to_m < from_m);
    let mut pressures_pa = faded(from.pressures_pa, since_s, BUILDS_S);
    pressures_pa[pushing] += builds * asked.low_pa;
    Pose {
        pressures_pa,
        x_m: from_m + moved * (to_m - from_m),
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

    const STROKES: Handling = Handling::Strokes {
        count: 3,
        low_pa: 10e5,
        x_m: 0.25,
    };

    #[test]
    fn full_strokes_reach_both_ends_and_end_where_they_shall() {
        let at = |since_s: f64| STROKES.pose(&FROM, since_s, 0.4);
        assert_eq!(STROKES.takes_s(), 28.0);
        for stroke in 0..3 {
            let begun_s = 8.0 * f64::from(stroke);
            assert_eq!(at(begun_s + 3.75).x_m, 0.4);
            assert_eq!(at(begun_s + 7.75).x_m, 0.0);
            assert_eq!(at(begun_s + 2.0).pressures_pa, [10e5, 0.0]);
            assert_eq!(at(begun_s + 6.0).pressures_pa, [0.0, 10e5]);
        }
        let end = at(STROKES.takes_s());
        assert_eq!((end.x_m, end.pressures_pa), (0.25, [0.0, 0.0]));
    }

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
        for handling in [Handling::Vent, STROKES, press] {
            let mut before = FROM;
            for step in 0..=(100.0 * handling.takes_s()) as u32 + 1 {
                let now = handling.pose(&FROM, 0.01 * f64::from(step), 0.4);
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
    }
}
