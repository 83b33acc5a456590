//! A measuring glass that somebody reads.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::Distribution;
use rand_distr::StandardNormal;

/// Random numbers of whoever reads it; sensors, eyes and the reader of scales use lower ones.
const GLASS_STREAM: u64 = 301;

/// How well it is read, with the drops that stay in the hose, m³, one sigma (common practice, no
/// source).
const READS_M3: f64 = 0.3e-6;

/// What is read of it is rounded to this, m³.
const STEP_M3: f64 = 0.1e-6;

/// A glass with whoever reads it.
#[derive(Debug)]
pub(super) struct Glass(ChaCha8Rng);

impl Glass {
    /// Read by somebody.
    pub(super) fn new(seed: u64) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        random.set_stream(GLASS_STREAM);
        Self(random)
    }

    /// What is read where so much oil is in it, m³.
    pub(super) fn reads_m3(&mut self, true_m3: f64) -> f64 {
        let off: f64 = StandardNormal.sample(&mut self.0);
        let seen = (true_m3 + READS_M3 * off).max(0.0);
        (seen / STEP_M3).round() * STEP_M3
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A thousand readings of 8.43 mL: their mean within a hundredth, their scatter 0.3 mL.
    #[test]
    fn it_is_read_to_a_tenth_of_a_millilitre_and_a_little_off() {
        let mut glass = Glass::new(7);
        let all: Vec<f64> = (0..1000).map(|_| glass.reads_m3(8.43e-6) * 1e6).collect();
        let mean = all.iter().sum::<f64>() / 1e3;
        let scatter = (all.iter().map(|ml| (ml - mean).powi(2)).sum::<f64>() / 999.0).sqrt();
        assert!((mean - 8.43).abs() < 0.04, "{mean}");
        assert!((scatter - 0.3).abs() < 0.03, "{scatter}");
        assert!(
            all.iter()
                .all(|ml| (ml * 10.0 - (ml * 10.0).round()).abs() < 1e-6)
        );
        assert_eq!(Glass::new(7).reads_m3(8.43e-6) * 1e6, all[0]);
    }
}
