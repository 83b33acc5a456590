//! The operator's hands at the valve: strokes that begin gently, and a rod end that is squeezed.
//!
//! A person opens the valve a little until the rod gives way, then opens it further; at an end
//! the pump is shut off and both sides are let to the tank before the way back.

use crate::rehearsal::physics::Moved;
use crate::rehearsal::physics::Valve;

/// Time of one way, from valve shut to valve shut, s: time enough to press a rod end full of air
/// first. Not a whole number of sample times, so no two ways are read at the same places.
pub(super) const WAY_S: f64 = 66.037;

/// Time that the rod rests before it is pushed, s.
const REST_S: f64 = 1.5;

/// Oil that a valve lets through which is hardly open, m³/s.
const EASED_M3_PER_S: f64 = 2e-6;

/// A rod that has gone this far has given way, m.
const GAVE_WAY_M: f64 = 0.5e-3;

/// Time in which the valve is opened further, s.
const OPENS_S: f64 = 2.0;

/// Speeds that hands aim at, out and in, m/s: not quite the same.
const SPEEDS_M_PER_S: [f64; 2] = [0.012, 0.011];

/// Time the pump pushes on once the rod has come to its end, s.
const PUSHES_ON_S: f64 = 0.2;

/// Time of a squeeze, and when in it the cap end is let off, s.
pub(super) const SQUEEZE_S: f64 = 60.0;
const LET_OFF_S: f64 = 50.0;

/// Oil for a squeeze, m³/s: some two bar a second into a hose of a litre.
const SQUEEZES_M3_PER_S: f64 = 2e-6;

/// Strokes, or a way to a place, in the hands of an operator.
#[derive(Debug, Clone)]
pub(super) struct Hands {
    /// Full strokes; a last way to a place follows.
    pub count: u32,
    /// Where the rod shall stand at last, m.
    pub x_m: f64,
    /// Setting of the relief valve, Pa gauge.
    pub relief_pa: f64,
    /// Full stroke, m.
    pub stroke_m: f64,
    /// Areas of cap and rod end, m².
    pub areas_m2: [f64; 2],
    way: Way,
}

/// What was seen of the way that is going on.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Way {
    index: u32,
    from_m: Option<f64>,
    gave_way_s: Option<f64>,
    came_s: Option<f64>,
}

impl Hands {
    pub(super) fn new(
        (count, x_m): (u32, f64),
        relief_pa: f64,
        stroke_m: f64,
        areas_m2: [f64; 2],
    ) -> Self {
        Self {
            count,
            x_m,
            relief_pa,
            stroke_m,
            areas_m2,
            way: Way::default(),
        }
    }

    /// Takes the body to a time since it was begun, s.
    pub(super) fn take(&mut self, body: &mut Moved, since_s: f64) {
        body.goes_on(since_s, |at_s, x_m| self.valve(at_s, x_m));
    }

    fn valve(&mut self, at_s: f64, x_m: f64) -> Valve {
        let index = ((at_s / WAY_S) as u32).min(2 * self.count);
        if self.way.index != index {
            self.way = Way {
                index,
                ..Way::default()
            };
        }
        let in_way_s = at_s - f64::from(index) * WAY_S;
        let shut = Valve {
            flow_m3_per_s: [0.0; 2],
            is_open: [true; 2],
            relief_pa: self.relief_pa,
        };
        let from_m = *self.way.from_m.get_or_insert(x_m);
        let to_m = match index {
            last if last == 2 * self.count => self.x_m,
            even if even % 2 == 0 => self.stroke_m,
            _ => 0.0,
        };
        let side = usize::from(to_m < from_m);
        let has_come = if side == 0 { x_m >= to_m } else { x_m <= to_m };
        if has_come {
            self.way.came_s.get_or_insert(in_way_s);
        }
        // At a place in mid-stroke nothing pushes on.
        let pushes_on_s = if index == 2 * self.count {
            0.0
        } else {
            PUSHES_ON_S
        };
        let is_over = self
            .way
            .came_s
            .is_some_and(|came_s| in_way_s >= came_s + pushes_on_s);
        if in_way_s < REST_S || is_over {
            return shut;
        }
        if (x_m - from_m).abs() > GAVE_WAY_M {
            self.way.gave_way_s.get_or_insert(in_way_s);
        }
        let full = SPEEDS_M_PER_S[side] * self.areas_m2[side];
        let opened = self
            .way
            .gave_way_s
            .map_or(0.0, |s| (in_way_s - s) / OPENS_S);
        let mut valve = shut;
        valve.is_open[side] = false;
        valve.flow_m3_per_s[side] = EASED_M3_PER_S + opened.min(1.0) * (full - EASED_M3_PER_S);
        valve
    }
}

/// The valve during a squeeze: the rod port shut all the time but at its very end.
pub(super) fn squeezing(at_s: f64, to_pa: f64) -> Valve {
    let is_off = at_s >= LET_OFF_S;
    Valve {
        flow_m3_per_s: [
            if is_off || at_s < REST_S {
                0.0
            } else {
                SQUEEZES_M3_PER_S
            },
            0.0,
        ],
        is_open: [is_off, is_off],
        relief_pa: to_pa,
    }
}
