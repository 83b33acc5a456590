//! The operator of the practice rig.

use crate::bench::Ask;
use crate::bench::Event;

/// Somebody who does at the practice rig what a procedure asks.
#[derive(Debug)]
pub struct RigOperator {}

impl RigOperator {
    /// Hears what is asked, at a bench time in seconds.
    pub fn asked(&mut self, _ask: &Ask, _at_s: f64) {}

    /// What is done by a bench time in seconds.
    pub fn due(&mut self, _at_s: f64) -> Option<Event> {
        None
    }
}
