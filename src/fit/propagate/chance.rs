//! The Monte Carlo method of JCGM 101: draw the inputs, look at the outputs.
//!
//! Draws come from a ChaCha generator that is made from a seed.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::RngCore;
use rand_chacha::rand_core::SeedableRng;

/// Draws of one trial after the other.
pub struct Draws {
    generator: ChaCha8Rng,
    /// The second of a pair of normal draws.
    spare: Option<f64>,
}

impl Draws {
    /// From a seed.
    pub fn new(seed: u64) -> Self {
        Self {
            generator: ChaCha8Rng::seed_from_u64(seed),
            spare: None,
        }
    }

    /// Uniform between `low` and `high`.
    pub fn rectangular(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Normal with `mean` and standard deviation `standard` (Box and Muller 1958).
    pub fn normal(&mut self, mean: f64, standard: f64) -> f64 {
        let unit = self.spare.take().unwrap_or_else(|| {
            let (length, angle) = (self.unit(), self.unit());
            let radius = (-2.0 * (1.0 - length).ln()).sqrt();
            let (sine, cosine) = (std::f64::consts::TAU * angle).sin_cos();
            self.spare = Some(radius * sine);
            radius * cosine
        });
        mean + standard * unit
    }

    /// 0 to below 1, in steps of 2⁻⁵³.
    fn unit(&mut self) -> f64 {
        (self.generator.next_u64() >> 11) as f64 * 2f64.powi(-53)
    }
}

/// Outputs of all trials, in order of size.
#[derive(Debug, Clone, PartialEq)]
pub struct Sampled {
    /// Mean of the outputs: the estimate.
    pub mean: f64,
    /// Their standard deviation: its standard uncertainty.
    pub standard: f64,
    outputs: Vec<f64>,
}

/// Draws `n_trials` (two at least) outputs of `formula` from `seed`.
///
/// The formula draws its inputs itself: `|draws| draws.normal(0.0, 1.0).powi(2)`;
/// correlated ones are made from independent ones. Outputs that are not numbers do not
/// count; with fewer than two left the mean is not a number either.
pub fn monte_carlo(n_trials: usize, seed: u64, formula: &dyn Fn(&mut Draws) -> f64) -> Sampled {
    let mut draws = Draws::new(seed);
    let mut outputs: Vec<f64> = (0..n_trials).map(|_| formula(&mut draws)).collect();
    outputs.retain(|output| !output.is_nan());
    outputs.sort_unstable_by(f64::total_cmp);
    let n = outputs.len() as f64;
    let middle = outputs.get(outputs.len() / 2).copied().unwrap_or(f64::NAN);
    let from_middle = outputs.iter().map(|y| y - middle).sum::<f64>() / n;
    let mean = middle + from_middle;
    let squares: f64 = outputs.iter().map(|y| (y - mean).powi(2)).sum();
    Sampled {
        mean,
        standard: (squares / (n - 1.0)).sqrt(),
        outputs,
    }
}

impl Sampled {
    /// Interval that holds the part `probability` (0 to 1) of the outputs, with as many
    /// below as above (JCGM 101 7.7.2).
    pub fn symmetric(&self, probability: f64) -> (f64, f64) {
        self.from(self.outside(probability) / 2, probability)
    }

    /// The shortest such interval (JCGM 101 7.7.4); of several the middle one.
    pub fn shortest(&self, probability: f64) -> (f64, f64) {
        let starts = 0..=self.outside(probability);
        let width = |start: usize| {
            let (low, high) = self.from(start, probability);
            high - low
        };
        let least = starts.clone().map(width).fold(f64::INFINITY, f64::min);
        let mut alike = starts.filter(|start| width(*start) <= least);
        let first = alike.next().unwrap_or(0);
        let last = alike.next_back().unwrap_or(first);
        self.from(first + (last - first) / 2, probability)
    }

    /// How many outputs lie outside an interval.
    fn outside(&self, probability: f64) -> usize {
        let n = self.outputs.len();
        n.saturating_sub(1 + self.inside(probability))
    }

    fn inside(&self, probability: f64) -> usize {
        let n = self.outputs.len();
        ((probability.clamp(0.0, 1.0) * n as f64).round() as usize).min(n.saturating_sub(1))
    }

    fn from(&self, start: usize, probability: f64) -> (f64, f64) {
        let at = |index: usize| self.outputs.get(index).copied().unwrap_or(f64::NAN);
        (at(start), at(start + self.inside(probability)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_draws() {
        let draw = |seed| monte_carlo(10, seed, &|draws| draws.normal(0.0, 1.0));
        assert_eq!(draw(7), draw(7));
        assert_ne!(draw(7), draw(8));
    }

    /// A falling exponential: its shortest interval begins at zero (closed form).
    #[test]
    fn the_shortest_interval_of_a_skewed_output_is_not_the_symmetric_one() {
        let sampled = monte_carlo(200_000, 1, &|draws| -draws.rectangular(0.0, 1.0).ln());
        let (low, high) = sampled.shortest(0.95);
        assert!(
            low < 0.01 && (high - 20f64.ln()).abs() < 0.05,
            "{low} {high}"
        );
        let (low, high) = sampled.symmetric(0.95);
        assert!((low + 0.975f64.ln()).abs() < 0.002, "{low}");
        assert!((high - 40f64.ln()).abs() < 0.06, "{high}");
    }

    #[test]
    fn outputs_that_are_no_numbers_do_not_count() {
        let sampled = monte_carlo(1000, 3, &|draws| draws.rectangular(-1.0, 1.0).sqrt());
        assert!(sampled.mean > 0.0 && sampled.symmetric(0.9).1 <= 1.0);
        assert!(monte_carlo(5, 3, &|_| f64::NAN).mean.is_nan());
    }
}
