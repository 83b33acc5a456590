//! What the sensors of the practice bench make of the truth: raw codes.
//!
//! Four current loops on one converter. Each sensor has a zero, a span and an ambient
//! error drawn once from what its papers state, white noise and noise with a memory;
//! the probe sees part of the oil, late. Codes are whole numbers as on a real board.
//!
//! Invariant: one seed, one sequence of codes; channels do not share random numbers.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::Distribution;
use rand_distr::StandardNormal;

use crate::cylinder::Chamber;
use crate::rehearsal::physics::Instant;

/// Channels of the practice board: cap pressure, rod pressure, position, oil temperature.
pub const N_CHANNELS: usize = 4;

/// Index of the position channel.
pub const POSITION: usize = 2;

/// 0 °C in kelvin: the temperature loop is scaled in degrees Celsius.
const ZERO_CELSIUS_K: f64 = 273.15;

/// Converter: current from 0 to this is the whole code range, mA.
const CONVERTER_MA: f64 = 25.0;

/// Errors as the papers of a sensor state them, one sigma, in its SI unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stated {
    /// Of the zero.
    pub zero: f64,
    /// Of the span, relative.
    pub span_relative: f64,
    /// Of the zero for each kelvin of the surroundings.
    pub zero_per_k: f64,
}

/// Noise of a sensor, standard deviations in its SI unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// New in each sample.
    pub white: f64,
    /// With a memory (autoregressive, first order).
    pub slow: f64,
    /// That memory, s.
    pub memory_s: f64,
}

/// One loop of 4 to 20 mA.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loop {
    /// Value at 4 mA and at 20 mA: Pa gauge, m, or °C.
    pub range: (f64, f64),
    /// Bits of the converter, 8 to 24.
    pub bits: u8,
    /// What its papers state.
    pub stated: Stated,
    /// What its signal really has besides.
    pub noise: Noise,
}

/// The temperature probe in the oil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Probe {
    /// Chamber whose port it sits in.
    pub chamber: Chamber,
    /// Share of the oil in what it feels; the rest is wall. 0 to 1.
    pub immersion: f64,
    /// Time constant, s.
    pub lag_s: f64,
    /// What it felt before the start, above the wall, K.
    pub starts_k: f64,
}

/// All sensors of the bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Senses {
    /// In the order of the channels.
    pub loops: [Loop; N_CHANNELS],
    /// The probe behind the fourth.
    pub probe: Probe,
}

impl Loop {
    /// Code at a current in mA.
    pub fn code_at(&self, milliampere: f64) -> i32 {
        let codes = f64::from(1_u32 << self.bits.min(24)) - 1.0;
        (milliampere / CONVERTER_MA * codes)
            .round()
            .clamp(0.0, codes) as i32
    }

    /// Code of a value; stops at the ends of the converter.
    fn code(&self, value: f64) -> i32 {
        let (low, high) = self.range;
        self.code_at(4.0 + 16.0 * (value - low) / (high - low))
    }
}

impl Senses {
    /// Codes of all channels at each instant of a run; instants `interval_s` apart.
    pub fn read(&self, instants: &[Instant], interval_s: f64, seed: u64) -> Vec<[i32; N_CHANNELS]> {
        let mut reading = self.reading(interval_s, seed);
        instants.iter().map(|now| reading.next(now)).collect()
    }

    /// What a thermometer in the oil's port feels at each instant of a run, K; instants
    /// `interval_s` apart.
    pub fn felt_k(&self, instants: &[Instant], interval_s: f64) -> Vec<f64> {
        let mut felt = None;
        instants
            .iter()
            .map(|now| *felt.insert(self.probe.feels(felt, now, interval_s)))
            .collect()
    }

    /// The same piece by piece, for a run whose end is open.
    pub fn reading(&self, interval_s: f64, seed: u64) -> Reading {
        let signal =
            |channel: usize| Signal::new(&self.loops[channel], interval_s, seed, channel as u64);
        Reading {
            senses: *self,
            interval_s,
            signals: std::array::from_fn(signal),
            felt_k: None,
            first_k: None,
        }
    }
}

/// All sensors with the errors they happen to have, and what they felt so far.
pub struct Reading {
    senses: Senses,
    interval_s: f64,
    signals: [Signal; N_CHANNELS],
    /// What the probe felt last, K; nothing before the first instant.
    felt_k: Option<f64>,
    /// Surroundings at the first instant, K.
    first_k: Option<f64>,
}

impl Reading {
    /// Codes of all channels at the next instant.
    pub fn next(&mut self, now: &Instant) -> [i32; N_CHANNELS] {
        let felt_k = self.senses.probe.feels(self.felt_k, now, self.interval_s);
        self.felt_k = Some(felt_k);
        let ambient_k = now.surroundings_k - *self.first_k.get_or_insert(now.surroundings_k);
        let values = [now.p_cap_pa, now.p_rod_pa, now.x_m, felt_k - ZERO_CELSIUS_K];
        std::array::from_fn(|channel| {
            let read = self.signals[channel].next(values[channel], ambient_k);
            self.senses.loops[channel].code(read)
        })
    }
}

impl Probe {
    /// What the probe feels, K, after what it felt an interval before: a first-order lag,
    /// exact for a straight line between samples up to the interval. It starts with the oil
    /// as it was before pressing.
    pub(super) fn feels(&self, before_k: Option<f64>, now: &Instant, interval_s: f64) -> f64 {
        let (oil_k, wall_k) = match self.chamber {
            Chamber::Cap => (now.oil_cap_k, now.wall_cap_k),
            Chamber::Rod => (now.oil_rod_k, now.wall_rod_k),
        };
        let around_k = self.immersion * oil_k + (1.0 - self.immersion) * wall_k;
        let follow = -(-interval_s / self.lag_s).exp_m1();
        let felt_k = before_k.unwrap_or(wall_k + self.starts_k);
        felt_k + follow * (around_k - felt_k)
    }
}

/// One sensor with the errors it happens to have.
struct Signal {
    random: ChaCha8Rng,
    zero: f64,
    span: f64,
    zero_per_k: f64,
    noise: Noise,
    remember: f64,
    slow: f64,
    low: f64,
}

impl Signal {
    fn new(own: &Loop, interval_s: f64, seed: u64, channel: u64) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        random.set_stream(channel);
        let mut normal = || -> f64 { StandardNormal.sample(&mut random) };
        let (zero, span, zero_per_k, slow) = (
            own.stated.zero * normal(),
            own.stated.span_relative * normal(),
            own.stated.zero_per_k * normal(),
            own.noise.slow * normal(),
        );
        Self {
            random,
            zero,
            span,
            zero_per_k,
            noise: own.noise,
            remember: (-interval_s / own.noise.memory_s).exp(),
            slow,
            low: own.range.0,
        }
    }

    fn next(&mut self, value: f64, ambient_k: f64) -> f64 {
        let mut normal = || -> f64 { StandardNormal.sample(&mut self.random) };
        let (white, fresh) = (self.noise.white * normal(), self.noise.slow * normal());
        self.slow = self.remember * self.slow + (1.0 - self.remember.powi(2)).sqrt() * fresh;
        let read = value + self.zero + self.zero_per_k * ambient_k + white + self.slow;
        read + self.span * (value - self.low)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::physics::Passed;

    fn still(n: usize) -> Vec<Instant> {
        let now = Instant {
            time_s: 0.0,
            p_cap_pa: 100e5,
            p_rod_pa: 15e5,
            x_m: 0.3,
            oil_cap_k: 320.0,
            oil_rod_k: 319.0,
            wall_cap_k: 318.0,
            wall_rod_k: 318.0,
            surroundings_k: 318.0,
            density_cap: 870.0,
            density_rod: 870.0,
            passed_kg: Passed::default(),
            going_kg_per_s: Passed::default(),
        };
        vec![now; n]
    }

    fn senses(white: f64, slow: f64) -> Senses {
        let own = |range, unit: f64| Loop {
            range,
            bits: 24,
            stated: Stated {
                zero: 0.0,
                span_relative: 0.0,
                zero_per_k: 0.0,
            },
            noise: Noise {
                white: white * unit,
                slow: slow * unit,
                memory_s: 5.0,
            },
        };
        Senses {
            loops: [
                own((0.0, 400e5), 1e5),
                own((0.0, 400e5), 1e5),
                own((0.0, 0.5), 1e-3),
                own((0.0, 100.0), 1.0),
            ],
            probe: Probe {
                chamber: Chamber::Cap,
                immersion: 0.8,
                lag_s: 10.0,
                starts_k: 0.0,
            },
        }
    }

    /// 100 bar of 0 to 400 bar is 8 mA of 4 to 20 mA (straight line).
    #[test]
    fn a_quarter_of_the_range_is_eight_milliampere() {
        let quiet = senses(0.0, 0.0);
        let codes = quiet.read(&still(1), 0.02, 7);
        assert_eq!(codes[0][0], quiet.loops[0].code_at(8.0));
    }

    #[test]
    fn noise_has_the_size_that_was_asked_for() {
        let noisy = senses(0.02, 0.01);
        let codes = noisy.read(&still(100_000), 0.02, 7);
        let values: Vec<f64> = codes.iter().map(|c| f64::from(c[0])).collect();
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / values.len() as f64;
        // 400 bar on 16 of 25 mA of 24 bit.
        let bar = variance.sqrt() * 400.0 / (0.64 * f64::from(1 << 24));
        let expected = 0.02f64.hypot(0.01);
        assert!((bar / expected - 1.0).abs() < 0.05, "{bar}");
    }

    #[test]
    fn the_probe_ends_between_oil_and_wall() {
        let (probe, now) = (senses(0.0, 0.0).probe, still(1)[0]);
        let mut felt_k = probe.feels(None, &now, 0.02);
        assert!((felt_k - 318.0).abs() < 0.01);
        for _ in 1..10_000 {
            felt_k = probe.feels(Some(felt_k), &now, 0.02);
        }
        assert!((felt_k - 319.6).abs() < 1e-6);
    }

    #[test]
    fn two_channels_do_not_share_their_noise() {
        let noisy = senses(0.02, 0.0);
        let mut same = still(50);
        same.iter_mut().for_each(|now| now.p_rod_pa = now.p_cap_pa);
        let codes = noisy.read(&same, 0.02, 7);
        assert!(codes.iter().filter(|c| c[0] == c[1]).count() < 5);
    }
}
