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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::physics::RodNature;
    use crate::rehearsal::sensors::POSITION;
    use crate::rehearsal::stock::plough_lift;

    const HOLD_S: (f64, f64) = (100.0, 200.0);

    /// What a fault made of a reading of every channel that stands at half its range, SI changes at
    /// each second up to 300 s.
    fn changes(fault: Fault, channel: usize) -> Vec<f64> {
        let stock = plough_lift();
        let times_s: Vec<f64> = (0..300).map(f64::from).collect();
        let specimen = Specimen {
            motion: RodNature::Held,
            ..stock.specimen
        };
        let run = Recorded {
            times_s: &times_s,
            hold_s: HOLD_S,
            specimen: &specimen,
            senses: &stock.senses,
            seed: 1,
        };
        let row = stock.senses.loops.map(|own| own.code_at(12.0));
        // Every other row differs, so that one that stands still shows.
        let mut codes: Vec<_> = (0..300).map(|at| row.map(|code| code + at % 2)).collect();
        let before = codes.clone();
        run.strike(&fault, &mut codes);
        let own = &stock.senses.loops[channel];
        let pairs = codes.iter().zip(&before);
        pairs
            .map(|(now, then)| own.value(now[channel]) - own.value(then[channel]))
            .collect()
    }

    #[test]
    fn a_drift_is_whole_when_the_hold_ends_and_stands_still_after_it() {
        let drift = SensorFault::Drifts {
            channel: POSITION,
            by_si: 1e-3,
            from_s: HOLD_S.0,
        };
        let by = changes(Fault::Sensor(drift), POSITION);
        for (at, expected) in [
            (50, 0.0),
            (100, 0.0),
            (150, 0.5e-3),
            (200, 1e-3),
            (299, 1e-3),
        ] {
            assert!((by[at] - expected).abs() < 1e-5, "{at} s: {}", by[at]);
        }
    }

    #[test]
    fn a_reading_that_stands_still_in_the_hold_lives_again_after_it() {
        let stuck = SensorFault::Stuck {
            channel: POSITION,
            from_s: 150.0,
        };
        let by = changes(Fault::Sensor(stuck), POSITION);
        let n_stuck = by[150..=200].iter().filter(|by| by.abs() > 0.0).count();
        assert!(n_stuck >= 25, "{n_stuck}");
        assert!(by[..150].iter().chain(&by[201..]).all(|by| *by == 0.0));
    }

    /// A locked rod takes a push itself; oil that is pumped in raises the pressure by its volume
    /// over what chamber and tube give: 5 mL in 0.8 L at 1.6 GPa are about 100 bar.
    #[test]
    fn a_locked_rod_takes_a_push_and_pumped_oil_raises_the_pressure_until_the_hold_ends() {
        let push = Event::Load {
            by_n: 1500.0,
            at_s: 150.0,
        };
        assert!(changes(Fault::Event(push), 0).iter().all(|by| *by == 0.0));
        let pumped = Event::Pumped {
            by_m3: 5e-6,
            at_s: 150.0,
        };
        let by = changes(Fault::Event(pumped), 0);
        assert!((50e5..200e5).contains(&by[150]), "{}", by[150]);
        assert!((by[149], by[201]) == (0.0, 0.0) && by[200] == by[150]);
    }
}
