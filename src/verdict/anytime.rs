//! An interval that may be looked at at any moment: for the picture of a hold that still runs.
//!
//! Whoever watches an interval of 95 % and stops when it looks well sees it miss the truth far more
//! often than in 5 of 100 holds. The mixture of Robbins (1970, "Statistical methods related to the
//! law of the iterated logarithm", in the form of Howard et al. 2021, "Time-uniform,
//! nonparametric, nonasymptotic confidence sequences", normal mixture) is wide enough for all
//! moments together:
//!
//! ```text
//! |θ̂ − θ| ≤ √((V + ρ)·ln((V + ρ)/(ρ·α²))) / V,    V = 1/u²
//! ```
//!
//! for estimates whose information V grows while the hold goes on. ρ is chosen before anything is
//! measured, from the limit: the interval is narrowest, for what it promises, where a limit is decided.
//!
//! Invariant: never narrower than the interval of a single look; nothing is decided by it.

/// What all moments together may miss.
const ALPHA: f64 = 0.05;

/// A limit is usually decided where the standard uncertainty is about this part of it.
const DECIDED_AT: f64 = 8.0;

/// Factor of a standard uncertainty for 95 % at all moments together. Both in the same unit; the
/// limit, or what is usual where there is none, is above zero and known before the hold.
pub fn anytime_factor(standard: f64, limit: f64) -> f64 {
    let by_prior = (DECIDED_AT * standard / limit).powi(2);
    ((1.0 + by_prior) * ((1.0 + 1.0 / by_prior) / ALPHA.powi(2)).ln()).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::Distribution;
    use rand_distr::StandardNormal;

    /// By hand: u = limit/8 makes both sums two, √(2·ln(2/0.0025)) = 3.656.
    #[test]
    fn where_a_limit_is_decided_the_factor_is_three_and_a_half() {
        assert!((anytime_factor(0.01, 0.08) - 3.656).abs() < 1e-3);
        // Long before and long after it is wider, and never as narrow as one look.
        assert!(anytime_factor(0.04, 0.08) > 9.0);
        for part in 1..200 {
            let standard = 0.08 * f64::from(part) / 100.0;
            assert!(anytime_factor(standard, 0.08) > 3.0, "{standard}");
        }
    }

    /// How many of `n` courses leave the interval at any of their moments; `factor` of the standard
    /// uncertainty.
    fn missed(n: u32, factor: impl Fn(f64) -> f64) -> u32 {
        let mut chance = ChaCha8Rng::seed_from_u64(11);
        let mut n_missed = 0;
        for _ in 0..n {
            let (mut sum, mut information) = (0.0, 0.0);
            let leaves = (0..600).any(|_| {
                let noise: f64 = StandardNormal.sample(&mut chance);
                // Each reading has a tenth of the uncertainty where it is decided.
                information += 100.0;
                sum += 10.0 * noise;
                let standard = 1.0 / f64::sqrt(information);
                (sum / information).abs() > factor(standard) * standard
            });
            n_missed += u32::from(leaves);
        }
        n_missed
    }

    #[test]
    fn the_truth_stays_within_it_at_all_moments_in_nineteen_of_twenty_courses() {
        let n = 4000;
        let always = missed(n, |standard| anytime_factor(standard, 0.08 * 10.0));
        let single = missed(n, |_| 1.96);
        assert!(always <= n / 20, "{always} of {n} left it");
        // The interval of one look, looked at all the time, does not hold what it says.
        assert!(
            single > n / 4,
            "{single} of {n} left the interval of one look"
        );
    }
}
