//! The board of a rig: blocks of samples made as the host goes along.
//!
//! A stopped rig stands still: bench time goes on with the next start, where it was.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::thread::sleep;

use firmware_protocol::Hello;

use crate::rehearsal::board::BoardError;
use crate::rehearsal::board::Pace;
use crate::rehearsal::board::Plugged;
use crate::rehearsal::board::REST;
use crate::rehearsal::board::Source;
use crate::rehearsal::broadcast::BLOCK_SAMPLES;
use crate::rehearsal::broadcast::Deed;
use crate::rehearsal::broadcast::Origin;
use crate::rehearsal::broadcast::Sender;
use crate::rehearsal::broadcast::hello;
use crate::rehearsal::physics::Instant;
use crate::rehearsal::rig::hands::Hands;
use crate::rehearsal::rig::unit::RigUnit;
use crate::rehearsal::rig::world::World;
use crate::rehearsal::sensors::N_CHANNELS;
use crate::rehearsal::sensors::Reading;
use crate::rehearsal::sensors::Senses;
use crate::rehearsal::stiff::StiffError;

/// A rig's board on a pseudo-terminal. Dropping it pulls its adapter and ends its thread.
#[derive(Debug)]
pub struct RigBoard(Plugged);

impl RigBoard {
    /// Puts the board of a rig on a port, and gives the hands to work it. It sends nothing but
    /// a hello and its status until it is asked, and then no further than the host has seen and
    /// [`LEAD_S`](crate::rehearsal::rig::LEAD_S).
    ///
    /// # Errors
    /// If the pseudo-terminal fails.
    pub fn start(unit: &RigUnit, pace: Pace) -> Result<(Self, Hands), BoardError> {
        let hands = Hands::default();
        let plugged = Plugged::new(Feed::new(unit, hands.clone()), pace)?;
        Ok((Self(plugged), hands))
    }

    /// The port a host opens.
    pub fn port_path(&self) -> PathBuf {
        self.0.port_path()
    }

    /// Whether the board still lives; it does not when its physics failed.
    pub fn is_alive(&self) -> bool {
        self.0.is_alive()
    }
}

/// Makes the samples of a rig.
pub(super) struct Feed {
    hands: Hands,
    world: World,
    reading: Reading,
    senses: Senses,
    samples_per_s: u32,
    /// The next sample.
    index: u64,
    sender: Option<Sender>,
    ready: VecDeque<Deed>,
    is_broken: bool,
}

impl Feed {
    pub(super) fn new(unit: &RigUnit, hands: Hands) -> Self {
        let interval_s = 1.0 / f64::from(unit.samples_per_s);
        Self {
            hands,
            world: World::new(unit),
            reading: unit.senses.reading(interval_s, unit.seed),
            senses: unit.senses,
            samples_per_s: unit.samples_per_s,
            index: 0,
            sender: None,
            ready: VecDeque::new(),
            is_broken: false,
        }
    }

    /// Samples in a block: what a page moves by, and never more than a second of them.
    fn n_block(&self) -> u64 {
        u64::from(self.samples_per_s).clamp(1, BLOCK_SAMPLES as u64)
    }

    fn time_s(&self, index: u64) -> f64 {
        index as f64 / f64::from(self.samples_per_s)
    }

    /// Time of the last sample of the next block, s.
    fn block_until_s(&self) -> f64 {
        self.time_s(self.index + self.n_block() - 1)
    }

    /// Makes the next block if it may be streamed.
    fn make(&mut self) {
        let until_s = self.block_until_s();
        if self.sender.is_none() || self.is_broken || !self.hands.allows(until_s) {
            return;
        }
        match self.block() {
            Ok(codes) => {
                if let Some(sender) = &mut self.sender {
                    sender.block(&codes);
                    self.ready.extend(sender.take());
                }
            }
            Err(error) => {
                self.is_broken = true;
                self.hands.fail(error);
            }
        }
    }

    /// Codes of the next block.
    pub(super) fn block(&mut self) -> Result<Vec<[i32; N_CHANNELS]>, StiffError> {
        let mut coming = self.hands.take(self.block_until_s());
        let mut codes = Vec::new();
        let mut kept: Vec<Instant> = Vec::new();
        let mut latest = None;
        for _ in 0..self.n_block() {
            let time_s = self.time_s(self.index);
            let now = self.world.at(time_s, &mut coming, &mut kept)?;
            if self.index.is_multiple_of(u64::from(self.samples_per_s)) {
                kept.push(now);
            }
            codes.push(self.reading.next(&now));
            latest = Some(now);
            self.index += 1;
        }
        if let Some(latest) = latest {
            self.hands.add(&kept, latest);
            self.hands.glass_shows(self.world.let_off_m3());
        }
        Ok(codes)
    }
}

impl Source for Feed {
    fn hello(&self) -> Hello {
        hello(&self.senses, self.samples_per_s)
    }

    fn start(&mut self, standing: Origin) {
        let mut origin = standing;
        if self.index > 0 {
            // The board stands at the tick of its last sample.
            origin.tick_us += u64::from(1_000_000 / self.samples_per_s);
        }
        self.sender = Some(Sender::new(&self.senses, self.samples_per_s, origin));
    }

    fn stop(&mut self) {
        self.sender = None;
        self.ready.clear();
    }

    fn is_running(&self) -> bool {
        self.sender.is_some()
    }

    fn next_us(&mut self) -> Option<u64> {
        if self.ready.is_empty() {
            self.make();
        }
        self.ready.front().map(|deed| deed.at_us)
    }

    fn take(&mut self) -> Option<Deed> {
        self.next_us()?;
        self.ready.pop_front()
    }

    fn waits(&self) -> bool {
        self.ready.is_empty() && !self.hands.allows(self.block_until_s())
    }

    fn is_broken(&self) -> bool {
        self.is_broken
    }

    fn rest(&self) {
        match self.sender.is_some() && self.waits() {
            true => self.hands.wait(self.block_until_s(), REST),
            false => sleep(REST),
        }
    }
}
