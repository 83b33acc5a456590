//! The rig for somebody who reads it: no board, no samples, only where it stands when it is
//! looked at.
//!
//! Invariant: it is looked at in the order of time.

use std::collections::VecDeque;

use crate::rehearsal::physics::Instant;
use crate::rehearsal::rig::handling::Handling;
use crate::rehearsal::rig::unit::RigUnit;
use crate::rehearsal::rig::world::Timed;
use crate::rehearsal::rig::world::World;
use crate::rehearsal::sensors::Probe;
use crate::rehearsal::stiff::StiffError;

/// Longest step between two looks of the thermometer at its oil, s.
const STEP_S: f64 = 1.0;

/// What the dial shows when the rod has been brought to its place, m.
const DIAL_M: f64 = 5e-3;

/// A rig that is looked at.
pub struct EyeRig {
    world: World,
    coming: VecDeque<Timed>,
    probe: Probe,
    stroke_m: f64,
    reached_s: f64,
    felt_k: Option<f64>,
    /// When the rod stands at its place, s, and where that is, m.
    set_s: f64,
    set_m: Option<f64>,
}

impl std::fmt::Debug for EyeRig {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "EyeRig at {} s", self.reached_s)
    }
}

impl EyeRig {
    /// A unit as it is found at 0 s: vented.
    pub fn new(unit: &RigUnit) -> Self {
        Self {
            world: World::new(unit),
            coming: VecDeque::new(),
            probe: unit.senses.probe,
            stroke_m: unit.specimen.cylinder.size().stroke.value,
            reached_s: 0.0,
            felt_k: None,
            set_s: 0.0,
            set_m: None,
        }
    }

    /// Begins a handling at a time that was not looked at yet, s.
    pub fn act(&mut self, at_s: f64, handling: Handling) {
        self.coming.push_back((at_s.max(self.reached_s), handling));
        self.set_s = at_s + handling.takes_s();
        self.set_m = None;
    }

    /// The rig at a time, s; one that is past is the last that was looked at.
    ///
    /// # Errors
    /// If the physics cannot be integrated.
    pub fn at(&mut self, time_s: f64) -> Result<Instant, StiffError> {
        let until_s = time_s.max(self.reached_s);
        let mut borders = Vec::new();
        loop {
            let next_s = (self.reached_s + STEP_S).min(until_s);
            let now = self.world.at(next_s, &mut self.coming, &mut borders)?;
            let step_s = next_s - self.reached_s;
            self.felt_k = Some(self.probe.feels(self.felt_k, &now, step_s));
            self.reached_s = next_s;
            if next_s >= self.set_s {
                self.set_m.get_or_insert(now.x_m);
            }
            if next_s >= until_s {
                return Ok(now);
            }
        }
    }

    /// Time that was looked at last, s.
    pub fn reached_s(&self) -> f64 {
        self.reached_s
    }

    /// Stroke of its cylinder, m.
    pub fn stroke_m(&self) -> f64 {
        self.stroke_m
    }

    /// What a thermometer in the oil's port feels, K, when it was looked at last.
    pub fn felt_k(&self) -> f64 {
        self.felt_k.unwrap_or(293.15)
    }

    /// What a dial on the rod's end shows that counts up while the rod goes in, m.
    pub fn dial_m(&self, now: &Instant) -> f64 {
        DIAL_M - (now.x_m - self.set_m.unwrap_or(now.x_m))
    }
}
