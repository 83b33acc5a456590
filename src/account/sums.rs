//! Sums of readings in equal bins of time: all that the account keeps of a channel.
//!
//! A reading that stands out from its six neighbours is left out before it is summed.
//! Where the length of a hold is not known beforehand, bins are joined in pairs whenever
//! they run out, so that memory and cost stay the same however long it takes.
//!
//! Invariant: readings come in the order of time.

use std::collections::VecDeque;

/// Neighbours on each side that a reading is compared with.
const NEIGHBOURS: usize = 3;

/// A reading further from the median of its neighbours than this many standard deviations
/// is an outlier: Hampel's rule with a wide gate. Their scatter is the median absolute
/// deviation of the window or what it is usually, whichever is more: seven readings alone
/// can lie close together by chance.
const OUTLYING: f64 = 12.0;

/// Windows that must have been seen before a reading is judged by them.
const LEARNED: f64 = 25.0;

/// Deviations up to this many of the smallest distance that occurs are steps of a converter.
const STEPS: f64 = 12.0;

/// Readings of one channel, summed in equal bins.
#[derive(Debug, Clone)]
pub(super) struct Sums {
    width_s: f64,
    /// Value, time and number of the readings of each bin.
    bins: Vec<[f64; 3]>,
    /// Readings that are not yet compared with all their neighbours.
    waiting: VecDeque<(f64, f64)>,
    n_compared: usize,
    /// Smallest distance of two neighbouring readings, above zero.
    step: f64,
    /// Sum of the scatters of all windows, and their number.
    scatter: (f64, f64),
    n_missing: usize,
    n_readings: usize,
    n_outliers: usize,
}

impl Sums {
    /// Empty bins over `length_s`.
    pub fn new(n_bins: usize, length_s: f64) -> Self {
        Self {
            width_s: length_s / n_bins as f64,
            bins: vec![[0.0; 3]; n_bins],
            waiting: VecDeque::new(),
            n_compared: 0,
            step: f64::INFINITY,
            scatter: (0.0, 0.0),
            n_missing: 0,
            n_readings: 0,
            n_outliers: 0,
        }
    }

    /// Adds a reading `t_s` after the start of the hold; None if it is missing.
    pub fn add(&mut self, t_s: f64, reading: Option<f64>) {
        let Some(value) = reading else {
            self.n_missing += 1;
            return;
        };
        self.n_readings += 1;
        if let Some((_, before)) = self.waiting.back() {
            let apart = (value - before).abs();
            if apart > 0.0 {
                self.step = self.step.min(apart);
            }
        }
        self.waiting.push_back((t_s, value));
        if self.waiting.len() > 2 * NEIGHBOURS {
            // The first readings of all are compared with the first full window.
            while self.n_compared <= NEIGHBOURS {
                self.compare(self.n_compared);
            }
            self.waiting.pop_front();
            self.n_compared = NEIGHBOURS;
        }
    }

    /// The sums with the last readings taken in.
    pub fn finished(mut self) -> Self {
        while self.n_compared < self.waiting.len() {
            self.compare(self.n_compared);
        }
        self
    }

    /// Takes the waiting reading `index` into its bin, unless it stands out.
    fn compare(&mut self, index: usize) {
        self.n_compared = index + 1;
        let (t_s, value) = self.waiting[index];
        // Of each reading that ever comes: on the stack, and without a sort.
        let mut window = [0.0; 2 * NEIGHBOURS + 1];
        let n_waiting = self.waiting.len().min(window.len());
        let window = &mut window[..n_waiting];
        for (place, (_, value)) in window.iter_mut().zip(&self.waiting) {
            *place = *value;
        }
        let middle = median(window);
        window.iter_mut().for_each(|v| *v = (*v - middle).abs());
        let sigma = 1.4826 * median(window);
        self.scatter.0 += sigma;
        self.scatter.1 += 1.0;
        let usual = self.scatter.0 / self.scatter.1;
        let gate = (OUTLYING * sigma.max(usual)).max(STEPS * self.step);
        let is_judged = self.scatter.1 >= LEARNED && self.waiting.len() > 2 * NEIGHBOURS;
        if is_judged && (value - middle).abs() > gate {
            self.n_outliers += 1;
            return;
        }
        while t_s >= self.width_s * self.bins.len() as f64 * (1.0 + 1e-9) {
            self.join_pairs();
        }
        let bin = ((t_s / self.width_s) as usize).min(self.bins.len() - 1);
        let [sum, times, n] = &mut self.bins[bin];
        *sum += value;
        *times += t_s;
        *n += 1.0;
    }

    /// Joins neighbouring bins: twice the time in the same memory.
    fn join_pairs(&mut self) {
        let n = self.bins.len();
        for index in 0..n {
            let pair = |i: usize| self.bins.get(i).copied().unwrap_or_default();
            let (a, b) = (pair(2 * index), pair(2 * index + 1));
            self.bins[index] = [a[0] + b[0], a[1] + b[1], a[2] + b[2]];
        }
        self.width_s *= 2.0;
    }

    /// The same readings in other, wider bins over the first `length_s`; a bin goes as a
    /// whole where the mean time of its readings lies.
    pub fn rebinned(&self, n_bins: usize, length_s: f64) -> Self {
        let mut new = Self {
            width_s: length_s / n_bins as f64,
            bins: vec![[0.0; 3]; n_bins],
            ..self.clone()
        };
        for [sum, times, n] in self.bins.iter().filter(|[.., n]| *n > 0.0) {
            let bin = ((times / n / new.width_s) as usize).min(n_bins - 1);
            let [new_sum, new_times, new_n] = &mut new.bins[bin];
            *new_sum += sum;
            *new_times += times;
            *new_n += n;
        }
        new
    }

    /// Readings, missing or not.
    pub fn n_rows(&self) -> usize {
        self.n_readings + self.n_missing
    }

    /// Readings that stood out and were left out.
    pub fn n_outliers(&self) -> usize {
        self.n_outliers
    }

    /// Share of readings that are missing or were left out, 0 to 1.
    pub fn share_missing(&self) -> f64 {
        (self.n_missing + self.n_outliers) as f64 / self.n_rows().max(1) as f64
    }

    /// Mean number of readings in a bin.
    pub fn readings_per_bin(&self) -> f64 {
        self.n_readings as f64 / self.bins.len() as f64
    }

    /// Means at the bin middles; empty bins are bridged by straight lines, and a mean taken
    /// off the middle is moved there along the line to its neighbours. None with fewer than
    /// four bins filled.
    pub fn bridged(&self) -> Option<Vec<f64>> {
        let known: Vec<(f64, f64)> = self
            .bins
            .iter()
            .filter(|[.., n]| *n > 0.0)
            .map(|[sum, times, n]| (times / n, sum / n))
            .collect();
        if known.len() < 4 {
            return None;
        }
        let mut right = 1;
        let at = (0..self.bins.len()).map(|bin| {
            let t = (bin as f64 + 0.5) * self.width_s;
            while right + 1 < known.len() && known[right].0 < t {
                right += 1;
            }
            let ((t0, v0), (t1, v1)) = (known[right - 1], known[right]);
            v0 + (v1 - v0) * (t - t0) / (t1 - t0)
        });
        Some(at.collect())
    }
}

/// The middle one of some values, which come out in another order.
fn median(values: &mut [f64]) -> f64 {
    if let Ok(seven) = <&mut [f64; 7]>::try_from(&mut *values) {
        return median_of_seven(seven);
    }
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Pairs to put in order, one after the other, until the middle one of seven is in its place
/// (from memory; a test tries all orders).
const TO_THE_MIDDLE: [(usize, usize); 13] = [
    (0, 5),
    (0, 3),
    (1, 6),
    (2, 4),
    (0, 1),
    (3, 5),
    (2, 6),
    (2, 3),
    (3, 6),
    (4, 5),
    (1, 4),
    (1, 3),
    (3, 4),
];

fn median_of_seven(values: &mut [f64; 7]) -> f64 {
    for (low, high) in TO_THE_MIDDLE {
        let (a, b) = (values[low], values[high]);
        values[low] = a.min(b);
        values[high] = a.max(b);
    }
    values[3]
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::rand_core::SeedableRng;

    fn filled(n: usize, value: impl Fn(f64) -> Option<f64>) -> Sums {
        let mut sums = Sums::new(20, 1000.0);
        for i in 0..n {
            let t = (i as f64 + 0.5) * 1000.0 / n as f64;
            sums.add(t, value(t));
        }
        sums.finished()
    }

    /// Whatever puts the middle of all zeros and ones in its place does so for any values
    /// (the zero-one principle, Knuth 1973).
    #[test]
    fn the_middle_of_seven_is_found_in_any_order() {
        for pattern in 0..128u32 {
            let mut values: [f64; 7] = std::array::from_fn(|i| f64::from(pattern >> i & 1));
            let expected = f64::from(u8::from(pattern.count_ones() >= 4));
            assert_eq!(median_of_seven(&mut values), expected, "{pattern:07b}");
        }
        assert_eq!(median(&mut [3.0, -1.0, 7.0, 2.0, 2.0, 9.0, -5.0]), 2.0);
        assert_eq!(median(&mut [3.0, -1.0, 7.0]), 3.0);
    }

    #[test]
    fn a_spike_leaves_no_trace_and_a_step_stays() {
        let ragged = |t: f64| t * 1e-3 + 1e-3 * (t * 7.0).sin();
        let clean = filled(2000, |t| {
            Some(ragged(t) + if t > 500.0 { 3.0 } else { 0.0 })
        });
        let spiked = filled(2000, |t| {
            let step = if t > 500.0 { 3.0 } else { 0.0 };
            Some(if (200.0..200.4).contains(&t) {
                40.0
            } else {
                ragged(t) + step
            })
        });
        assert_eq!(clean.n_outliers(), 0);
        assert_eq!(spiked.n_outliers(), 1);
        let apart = clean.bridged().expect("filled").into_iter();
        for (a, b) in apart.zip(spiked.bridged().expect("filled")) {
            assert!((a - b).abs() < 1e-4, "{a} {b}");
        }
    }

    /// Gaussian noise of a seeded generator: none of 20 000 good readings may go.
    #[test]
    fn good_noise_has_no_outliers() {
        use rand_distr::Distribution;
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        let mut sums = Sums::new(20, 1000.0);
        for i in 0..20_000 {
            let noise: f64 = rand_distr::StandardNormal.sample(&mut random);
            sums.add(f64::from(i) * 0.05, Some(1e7 + 900.0 * noise));
        }
        assert_eq!(sums.finished().n_outliers(), 0);
    }

    #[test]
    fn steps_of_a_converter_are_no_outliers() {
        let coarse = filled(2000, |t| Some((t * 0.02).floor()));
        assert_eq!(coarse.n_outliers(), 0);
    }

    #[test]
    fn a_hold_of_any_length_is_kept_in_the_same_memory() {
        let mut growing = Sums::new(256, 10.0);
        for i in 0..100_000 {
            let t = f64::from(i) * 0.1;
            growing.add(t, Some(3.0 + 1e-3 * t));
        }
        let growing = growing.finished();
        assert_eq!(growing.bins.len(), 256);
        let line = growing.rebinned(50, 9999.9).bridged().expect("filled");
        for (bin, value) in line.iter().enumerate() {
            let t = (bin as f64 + 0.5) * 9999.9 / 50.0;
            assert!((value - 3.0 - 1e-3 * t).abs() < 1e-6, "{t}: {value}");
        }
    }
}
