//! What goes wrong with one sensor, its wire or the converter behind it: done to raw codes.
//!
//! A fault strikes codes that a healthy sensor has sent; the cylinder knows nothing of it.
//!
//! Invariant: one seed, one sequence of codes; codes stay within the converter.

use crate::rehearsal::sensors::Loop;
use crate::rehearsal::sensors::N_CHANNELS;
use crate::rehearsal::sensors::POSITION;
use crate::rehearsal::sensors::Senses;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::RngCore;
use rand_chacha::rand_core::SeedableRng;

/// Random numbers of faults; sensors and line use lower streams.
const FAULT_STREAM: u64 = 200;

/// What goes wrong with a sensor. Channels are counted as on the board; sizes are in the SI
/// unit of the channel (Pa, m, K), times in seconds after the start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SensorFault {
    /// The loop carries a fixed current for a while: 0 mA for a broken wire, 24 mA for a short.
    Current {
        /// Channel.
        channel: usize,
        /// Current, mA.
        milliampere: f64,
        /// From.
        from_s: f64,
        /// For how long.
        length_s: f64,
    },
    /// Single samples without current, by a loose contact.
    Flickers {
        /// Channel.
        channel: usize,
        /// Share of the samples, 0 to 1.
        share: f64,
    },
    /// Single samples are off by a random size, as when a brush leaves its track.
    Spikes {
        /// Channel.
        channel: usize,
        /// Share of the samples, 0 to 1.
        share: f64,
        /// Largest size.
        size_si: f64,
    },
    /// The code stands still.
    Stuck {
        /// Channel.
        channel: usize,
        /// From.
        from_s: f64,
    },
    /// The loop cannot carry more: a low supply, or a converter at its end.
    Clipped {
        /// Channel.
        channel: usize,
        /// Most it carries, mA.
        milliampere: f64,
    },
    /// The loop cannot carry more than a little less than it does at a time: a low supply.
    Sags {
        /// Channel.
        channel: usize,
        /// When.
        at_s: f64,
        /// How much less.
        below_si: f64,
    },
    /// A sine on the signal, sampled with everything else.
    Hum {
        /// Channel.
        channel: usize,
        /// Amplitude.
        size_si: f64,
        /// Frequency, Hz.
        hertz: f64,
    },
    /// The zero moves steadily from a time to the end of the run, or to the end of the hold of one
    /// that was recorded already, and stands still after it.
    Drifts {
        /// Channel.
        channel: usize,
        /// By how much at the end.
        by_si: f64,
        /// From.
        from_s: f64,
    },
    /// The reading is off by a fixed size from a time on.
    Slips {
        /// Channel.
        channel: usize,
        /// By how much.
        by_si: f64,
        /// From.
        at_s: f64,
    },
    /// The reading is a multiple of what it should be, counted from the low end of the range.
    Scaled {
        /// Channel.
        channel: usize,
        /// Factor.
        factor: f64,
    },
    /// A channel is wired to the sensor of another.
    Follows {
        /// Channel.
        channel: usize,
        /// Whose signal it shows.
        of: usize,
    },
    /// Two sensors have changed places.
    Swapped {
        /// One channel.
        one: usize,
        /// The other.
        other: usize,
    },
    /// All channels move together by a part of their range: the reference of the converter.
    AllShift {
        /// Part of the range.
        share: f64,
        /// From.
        at_s: f64,
        /// Over how long; zero for a jump.
        over_s: f64,
    },
    /// The position is lost while the rod passes a place.
    WornSpot {
        /// When it stands in the middle of it.
        at_s: f64,
        /// How wide it is, m.
        wide_m: f64,
    },
}

impl Loop {
    /// Codes for a change of the value, SI.
    fn codes_by_si(&self) -> f64 {
        let span = f64::from(self.code_at(20.0) - self.code_at(4.0));
        span / (self.range.1 - self.range.0)
    }

    /// Value of a code, SI.
    pub(in crate::rehearsal) fn value(&self, code: i32) -> f64 {
        self.range.0 + f64::from(code - self.code_at(4.0)) / self.codes_by_si()
    }

    /// The code of a value that is off by so much, SI.
    pub(in crate::rehearsal) fn shifted(&self, code: i32, by_si: f64) -> i32 {
        self.moved(code, by_si * self.codes_by_si())
    }

    fn moved(&self, code: i32, by_codes: f64) -> i32 {
        let highest = f64::from(self.code_at(25.0));
        (f64::from(code) + by_codes).round().clamp(0.0, highest) as i32
    }
}

impl SensorFault {
    /// Does it to the codes of a run; `seed` is the run's. What moves steadily has moved by its
    /// whole size at `end_s`.
    pub(in crate::rehearsal) fn mark(
        &self,
        (times_s, end_s): (&[f64], f64),
        senses: &Senses,
        seed: u64,
        codes: &mut [[i32; N_CHANNELS]],
    ) {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        random.set_stream(FAULT_STREAM);
        let mut even = || f64::from(random.next_u32()) / f64::from(u32::MAX);
        let held_s = match *self {
            Self::WornSpot { at_s, .. } | Self::Sags { at_s, .. } => at_s,
            _ => 0.0,
        };
        let held_row = times_s.partition_point(|t| *t < held_s);
        let mut held = codes.get(held_row).copied().unwrap_or_default();
        for (time_s, codes) in times_s.iter().zip(codes) {
            self.mark_one(*time_s, end_s, senses, &mut even, &mut held, codes);
        }
    }

    fn mark_one(
        &self,
        time_s: f64,
        end_s: f64,
        senses: &Senses,
        even: &mut impl FnMut() -> f64,
        held: &mut [i32; N_CHANNELS],
        codes: &mut [i32; N_CHANNELS],
    ) {
        let own = |channel: usize| &senses.loops[channel];
        let mut add = |channel: usize, by_si: f64| {
            codes[channel] = own(channel).shifted(codes[channel], by_si);
        };
        if let Some((channel, by_si)) = self.added(time_s, end_s, even) {
            add(channel, by_si);
            return;
        }
        match *self {
            Self::Current {
                channel,
                milliampere,
                from_s,
                length_s,
            } if (from_s..from_s + length_s).contains(&time_s) => {
                codes[channel] = own(channel).code_at(milliampere);
            }
            Self::Flickers { channel, share } if even() < share => {
                codes[channel] = own(channel).code_at(0.0);
            }
            Self::Stuck { channel, from_s } => {
                if time_s < from_s {
                    held[channel] = codes[channel];
                }
                codes[channel] = held[channel];
            }
            Self::Clipped {
                channel,
                milliampere,
            } => codes[channel] = codes[channel].min(own(channel).code_at(milliampere)),
            Self::Sags {
                channel, below_si, ..
            } => {
                let highest = own(channel).shifted(held[channel], -below_si);
                codes[channel] = codes[channel].min(highest);
            }
            Self::Scaled { channel, factor } => {
                let low = own(channel).code_at(4.0);
                let above = f64::from(codes[channel] - low);
                codes[channel] = own(channel).moved(codes[channel], (factor - 1.0) * above);
            }
            Self::Follows { channel, of } => codes[channel] = codes[of],
            Self::Swapped { one, other } => codes.swap(one, other),
            Self::AllShift {
                share,
                at_s,
                over_s,
            } => {
                let part = match over_s > 0.0 {
                    true => ((time_s - at_s) / over_s).clamp(0.0, 1.0),
                    false => f64::from(u8::from(time_s >= at_s)),
                };
                for channel in 0..N_CHANNELS {
                    let (low, high) = own(channel).range;
                    add(channel, part * share * (high - low));
                }
            }
            Self::WornSpot { wide_m, .. } => {
                let off = f64::from(codes[POSITION] - held[POSITION]).abs();
                if off < 0.5 * wide_m * own(POSITION).codes_by_si() {
                    codes[POSITION] = own(POSITION).code_at(0.0);
                }
            }
            Self::Current { .. }
            | Self::Flickers { .. }
            | Self::Spikes { .. }
            | Self::Hum { .. }
            | Self::Drifts { .. }
            | Self::Slips { .. } => {}
        }
    }

    /// What is added to a channel at this time, in its SI unit, by a fault that adds.
    fn added(
        &self,
        time_s: f64,
        end_s: f64,
        even: &mut impl FnMut() -> f64,
    ) -> Option<(usize, f64)> {
        let since = |from_s: f64| ((time_s - from_s) / (end_s - from_s)).clamp(0.0, 1.0);
        match *self {
            Self::Spikes {
                channel,
                share,
                size_si,
            } if even() < share => Some((channel, size_si * (2.0 * even() - 1.0))),
            Self::Hum {
                channel,
                size_si,
                hertz,
            } => {
                let phase = std::f64::consts::TAU * hertz * time_s;
                Some((channel, size_si * phase.sin()))
            }
            Self::Drifts {
                channel,
                by_si,
                from_s,
            } => Some((channel, by_si * since(from_s))),
            Self::Slips {
                channel,
                by_si,
                at_s,
            } if time_s >= at_s => Some((channel, by_si)),
            _ => None,
        }
    }
}
