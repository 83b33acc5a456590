//! Random numbers of one hold: a stream of its own, so that hold number i is the same
//! whatever was drawn before it.

use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::Distribution;
use rand_distr::StandardNormal;

/// The random numbers of one hold.
pub struct Chance(ChaCha8Rng);

impl Chance {
    /// Those of hold `index` of a campaign.
    pub fn of(seed: u64, index: u64) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        random.set_stream(index);
        Self(random)
    }

    /// Anything, as seed of something else.
    pub fn seed(&mut self) -> u64 {
        self.0.random()
    }

    /// Evenly between two numbers.
    pub fn even(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// Evenly in the logarithm between two numbers above zero.
    pub fn even_in_log(&mut self, low: f64, high: f64) -> f64 {
        self.even(low.ln(), high.ln()).exp()
    }

    /// Gaussian about zero.
    pub fn normal(&mut self, sigma: f64) -> f64 {
        let standard: f64 = StandardNormal.sample(&mut self.0);
        sigma * standard
    }

    /// True with a probability.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.0.random::<f64>() < probability
    }

    /// One of several, each as likely.
    pub fn one_of<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.0.random_range(0..from.len())]
    }
}
