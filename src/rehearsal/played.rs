//! A scenario on a board: played ahead, sent when the host asks.
//!
//! Each `Start` of a stopped board plays the scenario from its beginning.

use std::path::PathBuf;

use firmware_protocol::Hello;

use crate::rehearsal::board::BoardError;
use crate::rehearsal::board::Pace;
use crate::rehearsal::board::Plugged;
use crate::rehearsal::board::Source;
use crate::rehearsal::broadcast::Deed;
use crate::rehearsal::broadcast::Origin;
use crate::rehearsal::broadcast::broadcast;
use crate::rehearsal::broadcast::hello;
use crate::rehearsal::scenario::Rehearsal;
use crate::rehearsal::scenario::Scenario;

/// A board on a pseudo-terminal. Dropping it pulls its adapter and ends its thread.
#[derive(Debug)]
pub struct VirtualBoard(Plugged);

impl VirtualBoard {
    /// Plays the physics of a scenario and puts the board on a port. It sends nothing
    /// but a hello and its status until it is asked.
    ///
    /// # Errors
    /// If the physics or the pseudo-terminal fails.
    pub fn start(scenario: &Scenario, pace: Pace) -> Result<Self, BoardError> {
        let rehearsal = scenario.rehearse().map_err(|source| BoardError::Physics {
            scenario: scenario.name,
            source,
        })?;
        let played = Played {
            scenario: scenario.clone(),
            rehearsal,
            deeds: Vec::new().into_iter().peekable(),
        };
        Plugged::new(played, pace).map(Self)
    }

    /// The port a host opens. It stays the same when the adapter is pulled and comes
    /// back; in between there is nothing behind it.
    pub fn port_path(&self) -> PathBuf {
        self.0.port_path()
    }

    /// Whether the board still lives; it does not after a pull without return.
    pub fn is_alive(&self) -> bool {
        self.0.is_alive()
    }
}

/// A scenario that was played ahead.
struct Played {
    scenario: Scenario,
    rehearsal: Rehearsal,
    deeds: std::iter::Peekable<std::vec::IntoIter<Deed>>,
}

impl Source for Played {
    fn hello(&self) -> Hello {
        hello(&self.scenario.senses, self.scenario.samples_per_s)
    }

    fn start(&mut self, standing: Origin) {
        let deeds = broadcast(&self.scenario, &self.rehearsal, standing);
        self.deeds = deeds.into_iter().peekable();
    }

    fn stop(&mut self) {
        self.deeds = Vec::new().into_iter().peekable();
    }

    fn is_running(&self) -> bool {
        self.deeds.len() > 0
    }

    fn next_us(&mut self) -> Option<u64> {
        self.deeds.peek().map(|deed| deed.at_us)
    }

    fn take(&mut self) -> Option<Deed> {
        self.deeds.next()
    }
}
