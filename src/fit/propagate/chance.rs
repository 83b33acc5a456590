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

    /// The factor √(ν/χ²) that makes normal draws draws of Student's t with `freedom` degrees
    /// of freedom (above zero); one for infinitely many. Draws that share their factor are
    /// as uncertain in size together (JCGM 101 6.4.9).
    pub fn student_factor(&mut self, freedom: f64) -> f64 {
        match freedom.is_finite() {
            true => (0.5 * freedom / self.gamma(0.5 * freedom)).sqrt(),
            false => 1.0,
        }
    }

    /// From the gamma distribution of `shape` (above zero) and unit scale (Marsaglia and
    /// Tsang 2000).
    fn gamma(&mut self, shape: f64) -> f64 {
        if shape < 1.0 {
            let root = (1.0 - self.unit()).powf(1.0 / shape);
            return root * self.gamma(shape + 1.0);
        }
        let d = shape - 1.0 / 3.0;
        let c = 1.0 / (9.0 * d).sqrt();
        loop {
            let z = self.normal(0.0, 1.0);
            let v = (1.0 + c * z).powi(3);
            // Nine in ten and more are taken at once; the loop ends with probability one.
            if v > 0.0 && (1.0 - self.unit()).ln() < 0.5 * z * z + d * (1.0 - v + v.ln()) {
                return d * v;
            }
        }
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
    let [sampled] = monte_carlo_of(n_trials, seed, &|draws| [formula(draws)]);
    sampled
}

/// The same for several outputs of the same draws.
pub fn monte_carlo_of<const N: usize>(
    n_trials: usize,
    seed: u64,
    formula: &dyn Fn(&mut Draws) -> [f64; N],
) -> [Sampled; N] {
    let mut draws = Draws::new(seed);
    let mut outputs = [(); N].map(|()| Vec::with_capacity(n_trials));
    for _ in 0..n_trials {
        for (all, output) in outputs.iter_mut().zip(formula(&mut draws)) {
            all.push(output);
        }
    }
    outputs.map(sampled)
}

fn sampled(mut outputs: Vec<f64>) -> Sampled {
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

    /// Standard errors of the ends of that interval by the number of trials: half the distance
    /// of the outputs one standard deviation of their rank away on both sides.
    pub fn symmetric_errors(&self, probability: f64) -> (f64, f64) {
        let n = self.outputs.len();
        let below = self.outside(probability) / 2;
        let rank_error = (0.25 * (1.0 - probability * probability) * n as f64).sqrt();
        let step = (rank_error.ceil() as usize).max(1);
        let error = |rank: usize| {
            let (from, until) = (rank.saturating_sub(step), (rank + step).min(n.max(1) - 1));
            let at = |index: usize| self.outputs.get(index).copied().unwrap_or(f64::NAN);
            (at(until) - at(from)) / (until - from) as f64 * rank_error
        };
        (error(below), error(below + self.inside(probability)))
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

    /// Tables of Student's t: 95 % lie within 2.776 for 4, within 2.228 for 10 degrees of
    /// freedom; the standard deviation is √(ν/(ν−2)) (JCGM 101 6.4.9.4).
    #[test]
    fn normal_draws_become_those_of_student() {
        for (freedom, within) in [(4.0, 2.776), (10.0, 2.228), (f64::INFINITY, 1.960)] {
            let sampled = monte_carlo(400_000, 5, &|draws| {
                draws.student_factor(freedom) * draws.normal(0.0, 1.0)
            });
            let ((low, high), errors) = (sampled.symmetric(0.95), sampled.symmetric_errors(0.95));
            assert!((low + within).abs() < 4.0 * errors.0, "{freedom}: {low}");
            assert!((high - within).abs() < 4.0 * errors.1, "{freedom}: {high}");
            if freedom == 10.0 {
                assert!((sampled.standard - 1.25f64.sqrt()).abs() < 0.01);
            }
        }
        // Half a degree of freedom takes the other branch: nine in ten within its quantile.
        let sampled = monte_carlo(100_000, 5, &|draws| draws.gamma(0.25));
        assert!((sampled.mean - 0.25).abs() < 0.01, "{}", sampled.mean);
    }

    /// A quantile's standard error is √(p(1−p)/n) by the density there: 0.0267·√(10⁴/n) for
    /// the ends of 95 % of a normal distribution.
    #[test]
    fn the_ends_of_an_interval_scatter_by_the_number_of_trials() {
        let sampled = monte_carlo(200_000, 9, &|draws| draws.normal(0.0, 1.0));
        let (low, high) = sampled.symmetric_errors(0.95);
        for error in [low, high] {
            assert!((error / 0.005_97 - 1.0).abs() < 0.15, "{error}");
        }
    }

    #[test]
    fn several_outputs_come_from_the_same_draws() {
        let [whole, half] = monte_carlo_of(1000, 4, &|draws| {
            let z = draws.normal(0.0, 1.0);
            [z, 0.5 * z]
        });
        let alone = monte_carlo(1000, 4, &|draws| draws.normal(0.0, 1.0));
        assert_eq!(whole, alone);
        assert!((half.standard / whole.standard - 0.5).abs() < 1e-12);
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
