//! Faults done afterwards to a run that was recorded: to the codes that its sensors sent.
//!
//! What a fault of a list says of settling and hold is taken from the hold of the recording. What
//! moves steadily has moved by its whole size when the hold ends, and stands still from then on: so
//! a look after the hold sees as little of it as it can. A reading that stands still within the
//! hold lives again after it, for the same reason.
//!
//! Faults of the line, the clock and the setup are none of codes and change nothing here.

use crate::rehearsal::fault::Event;
use crate::rehearsal::fault::SensorFault;
use crate::rehearsal::physics::Specimen;
use crate::rehearsal::scenario::Fault;
use crate::rehearsal::sensors::N_CHANNELS;
use crate::rehearsal::sensors::Senses;

/// A run that was recorded, with a hold in it.
#[derive(Debug, Clone, Copy)]
pub struct Recorded<'a> {
    /// Times of its rows, s, rising.
    pub times_s: &'a [f64],
    /// Start and end of its hold, s.
    pub hold_s: (f64, f64),
    /// The cylinder as it was held.
    pub specimen: &'a Specimen,
    /// Its sensors.
    pub senses: &'a Senses,
    /// Seed of what is random in the faults.
    pub seed: u64,
}

impl Recorded<'_> {
    /// Does a fault to its codes, one array for each row.
    pub fn strike(&self, fault: &Fault, codes: &mut [[i32; N_CHANNELS]]) {
        match fault {
            Fault::Event(event) => self.happens(event, codes),
            Fault::Sensor(SensorFault::Stuck { from_s, .. }) if *from_s >= self.hold_s.0 => {
                let n_held = self.times_s.partition_point(|t| *t <= self.hold_s.1);
                self.mark(fault, n_held, codes);
            }
            _ => self.mark(fault, codes.len(), codes),
        }
    }

    fn mark(&self, fault: &Fault, n_rows: usize, codes: &mut [[i32; N_CHANNELS]]) {
        let span = (&self.times_s[..n_rows], self.hold_s.1);
        fault.mark(span, self.senses, self.seed, &mut codes[..n_rows]);
    }

    /// What somebody does while it is held lasts until the hold ends: then all pressure is let off.
    fn happens(&self, event: &Event, codes: &mut [[i32; N_CHANNELS]]) {
        for (time_s, codes) in self.times_s.iter().zip(codes) {
            if !(self.hold_s.0..=self.hold_s.1).contains(time_s) {
                continue;
            }
            // Cap-end pressure, rod-end pressure and extension are the first three channels.
            let own = |channel: usize| &self.senses.loops[channel];
            let stands = std::array::from_fn(|channel| own(channel).value(codes[channel]));
            let by = event.moves(self.specimen, *time_s, stands);
            for (channel, by_si) in by.into_iter().enumerate() {
                codes[channel] = own(channel).shifted(codes[channel], by_si);
            }
        }
    }
}
