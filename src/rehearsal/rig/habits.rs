//! How somebody reads scales, and what the instruments are off by.
//!
//! Each instrument has an error curve within what is stated of it, drawn once; each eye its
//! own parallax, a little other from look to look; what is read is rounded to half a
//! division. The oil and the rod know nothing of it.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::Distribution;
use rand_distr::StandardNormal;
use rand_distr::Uniform;

/// Random numbers of the reader; sensors and eyes use lower ones.
const READER_STREAM: u64 = 300;

/// Parts of its error that an instrument's zero, tilt and bow may take at most; together one.
const ERROR_PARTS: [f64; 3] = [0.5, 0.3, 0.2];

/// Parallax of a reader, and how it goes from look to look, divisions.
const PARALLAX: f64 = 0.15;
const SWAYS: f64 = 0.08;

/// Part of the looks that are late, and by how much, s.
const LATE_PART: f64 = 0.06;
const LATE_S: (f64, f64) = (15.0, 50.0);

/// Time between looking and the last key, s.
const TYPES_S: f64 = 2.0;

/// A scale: its ends, one division, and what the instrument may be off by, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// Its ends.
    pub range_si: (f64, f64),
    /// One division.
    pub division_si: f64,
    /// What it may be off by.
    pub error_si: f64,
}

/// A reader with instruments.
#[derive(Debug)]
pub struct Habits {
    random: ChaCha8Rng,
    instruments: Vec<(Scale, [f64; 3], f64)>,
}

impl Habits {
    /// Somebody with these instruments.
    pub fn new(scales: &[Scale], seed: u64) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        random.set_stream(READER_STREAM);
        let instruments = scales
            .iter()
            .map(|scale| {
                let parts =
                    ERROR_PARTS.map(|part| part * scale.error_si * even(&mut random, (-1.0, 1.0)));
                let parallax = PARALLAX * scale.division_si * even(&mut random, (-1.0, 1.0));
                (*scale, parts, parallax)
            })
            .collect();
        Self {
            random,
            instruments,
        }
    }

    /// What is read of the instrument at a place, SI, where it should show `true_si`.
    pub fn reads(&mut self, place: usize, true_si: f64) -> f64 {
        let sway: f64 = StandardNormal.sample(&mut self.random);
        let Some((scale, [zero, tilt, bow], parallax)) = self.instruments.get(place) else {
            return true_si;
        };
        let (low, high) = scale.range_si;
        let along = ((true_si - low) / (high - low)).clamp(0.0, 1.0);
        let off = zero + tilt * (2.0 * along - 1.0) + bow * (std::f64::consts::TAU * along).sin();
        let seen = true_si + off + parallax + SWAYS * scale.division_si * sway;
        // Scales begin at a line.
        let half = 0.5 * scale.division_si;
        low + ((seen - low) / half).round() * half
    }

    /// Time until an answer is typed, s.
    pub fn answers_after_s(&mut self) -> f64 {
        let dawdles: f64 = StandardNormal.sample(&mut self.random);
        let is_late = even(&mut self.random, (0.0, 1.0)) < LATE_PART;
        let late_s = match is_late {
            true => even(&mut self.random, LATE_S),
            false => 0.0,
        };
        TYPES_S + 2.0 + dawdles.abs() + late_s
    }

    /// Time between looking and the last key, s.
    pub fn types_for_s(&self) -> f64 {
        TYPES_S
    }
}

fn even(random: &mut ChaCha8Rng, (from, to): (f64, f64)) -> f64 {
    Uniform::new(from, to).map_or(from, |all| all.sample(random))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half a division, parallax and error are all that lies between truth and reading.
    #[test]
    fn what_is_read_is_a_half_division_near_the_truth() {
        let scale = Scale {
            range_si: (0.0, 250e5),
            division_si: 2e5,
            error_si: 2.5e5,
        };
        for seed in 0..50 {
            let mut habits = Habits::new(&[scale], seed);
            for step in 0..20 {
                let truth = 150e5 + 0.37e5 * f64::from(step);
                let read = habits.reads(0, truth);
                assert!(
                    (read - truth).abs() < 2.5e5 + 0.5 * 2e5 + 0.4 * 2e5,
                    "{read} {truth}"
                );
                assert!((read / 1e5 - (read / 1e5).round()).abs() < 1e-9, "{read}");
            }
        }
    }

    #[test]
    fn answers_come_within_seconds_and_now_and_then_late() {
        let mut habits = Habits::new(&[], 7);
        let all: Vec<f64> = (0..1000).map(|_| habits.answers_after_s()).collect();
        let late = all.iter().filter(|s| **s > 15.0).count();
        assert!((30..100).contains(&late), "{late}");
        assert!(all.iter().all(|s| (4.0..60.0).contains(s)));
    }
}
