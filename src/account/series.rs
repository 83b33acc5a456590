//! The counted hold as equal bins: what the evaluation works on.
//!
//! Each channel becomes means over fine bins, a smoothed copy for derivatives
//! only, and an estimate of its own noise. A few missing readings are bridged;
//! a channel that misses more than one in twenty has no signal here.
//!
//! Invariant: all signals have one value for each bin.

use super::balance::Copy;
use super::term::Term;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::fit::Matrix;
use crate::fit::NoiseModel;
use crate::fit::noise_model;
use crate::recording::Recording;
use crate::recording::Track;

const N_BLOCKS_MAX: usize = 40;
const N_BLOCKS_MIN: usize = 8;
const BINS_PER_BLOCK_MAX: usize = 25;
const MISSING_MAX: f64 = 0.05;

/// One channel over the hold.
#[derive(Debug, Clone)]
pub(super) struct Signal {
    /// Means over the fine bins, SI.
    pub raw: Vec<f64>,
    /// The same, smoothed by local parabolas over four blocks.
    pub smooth: Vec<f64>,
    broad: Vec<f64>,
    /// Stated errors of the sensor.
    pub errors: SensorErrors,
    noise: NoiseModel,
    /// Standard deviation of one code step spread evenly; zero where noise dithers it.
    quantum_sd: f64,
    resolution: f64,
}

/// The counted hold.
#[derive(Debug, Clone)]
pub(super) struct HoldSeries {
    /// Length, s.
    pub length_s: f64,
    /// Middle of each fine bin since the start, s.
    pub t: Vec<f64>,
    /// Fine bins in each block.
    pub bins_per_block: usize,
    /// Blocks in the hold.
    pub n_blocks: usize,
    signals: Vec<(Role, Signal)>,
}

impl Signal {
    /// One of its copies.
    pub fn copy(&self, copy: Copy) -> &[f64] {
        match copy {
            Copy::Raw => &self.raw,
            Copy::Smooth => &self.smooth,
            Copy::Broad => &self.broad,
        }
    }
}

impl HoldSeries {
    /// Cuts the hold out of a recording. None if it has fewer than 32 rows.
    pub fn cut(recording: &Recording, start_s: f64, until_s: f64) -> Option<Self> {
        let times = recording.time_s();
        let first = times.partition_point(|t| *t < start_s);
        let last = times.partition_point(|t| *t <= until_s);
        let n_rows = last.saturating_sub(first);
        if n_rows < 4 * N_BLOCKS_MIN {
            return None;
        }
        let n_blocks = (n_rows / 4).clamp(N_BLOCKS_MIN, N_BLOCKS_MAX);
        let bins_per_block = (n_rows / n_blocks).clamp(1, BINS_PER_BLOCK_MAX);
        let n_bins = n_blocks * bins_per_block;
        let length_s = until_s - start_s;
        let width = length_s / n_bins as f64;
        let mut series = Self {
            length_s,
            t: (0..n_bins).map(|i| (i as f64 + 0.5) * width).collect(),
            bins_per_block,
            n_blocks,
            signals: Vec::new(),
        };
        for track in recording.tracks() {
            let mut sums = vec![(0.0, 0.0, 0usize); n_bins];
            let mut n_missing = 0;
            for (row, time) in times.iter().enumerate().take(last).skip(first) {
                let bin = (((time - start_s) / width) as usize).min(n_bins - 1);
                match track.value(row) {
                    Some(value) => {
                        sums[bin].0 += value;
                        sums[bin].1 += time - start_s;
                        sums[bin].2 += 1;
                    }
                    None => n_missing += 1,
                }
            }
            if n_missing as f64 > MISSING_MAX * n_rows as f64 {
                continue;
            }
            if let Some(raw) = bridged(&sums, &series.t) {
                let signal = signal(raw, &series, track, n_rows);
                series.signals.push((track.channel.role, signal));
            }
        }
        Some(series)
    }

    /// The signal of a role, if it was recorded well enough.
    pub fn signal(&self, role: Role) -> Option<&Signal> {
        self.signals
            .iter()
            .find(|(r, _)| *r == role)
            .map(|(_, s)| s)
    }

    /// Means over blocks of a fine series.
    pub fn block_means(&self, fine: &[f64]) -> Vec<f64> {
        fine.chunks_exact(self.bins_per_block)
            .map(|block| block.iter().sum::<f64>() / block.len() as f64)
            .collect()
    }

    /// Middles of the blocks since the start, s.
    pub fn block_times(&self) -> Vec<f64> {
        self.block_means(&self.t)
    }

    /// Covariance of the block means of a signal by its noise and resolution.
    pub fn noise_covariance(&self, signal: &Signal, without: Option<Term>) -> Matrix {
        let white = NoiseModel {
            white: signal.noise.white,
            slow: Vec::new(),
        };
        let noise = match without {
            Some(Term::SlowNoise) => &white,
            _ => &signal.noise,
        };
        let quantum_sd = match without {
            Some(Term::Steps) => 0.0,
            _ => signal.quantum_sd,
        };
        let by_distance: Vec<f64> = (0..self.n_blocks)
            .map(|apart| noise.block_covariance(self.bins_per_block, apart))
            .collect();
        let (t, v) = (self.block_times(), self.block_means(&signal.raw));
        Matrix::from_fn(self.n_blocks, self.n_blocks, |i, j| {
            // Rounding errors of one code step stay the same while the value does.
            let alike = (v[i] - v[j]).abs() / (0.3 * signal.resolution).max(f64::MIN_POSITIVE)
                + 2.0 * (t[i] - t[j]).abs() / self.length_s;
            by_distance[i.abs_diff(j)] + quantum_sd.powi(2) * (-alike).exp()
        })
    }
}

/// Bin means at the bin middles; empty bins are bridged by straight lines, and a mean
/// taken off the middle is moved there along the line to its neighbours.
fn bridged(sums: &[(f64, f64, usize)], middles: &[f64]) -> Option<Vec<f64>> {
    let known: Vec<(f64, f64)> = sums
        .iter()
        .filter(|(_, _, n)| *n > 0)
        .map(|(value, time, n)| (time / *n as f64, value / *n as f64))
        .collect();
    if known.len() < 4 {
        return None;
    }
    let at = |t: f64| {
        let right = known
            .partition_point(|(time, _)| *time < t)
            .clamp(1, known.len() - 1);
        let ((t0, v0), (t1, v1)) = (known[right - 1], known[right]);
        v0 + (v1 - v0) * (t - t0) / (t1 - t0)
    };
    Some(middles.iter().map(|t| at(*t)).collect())
}

fn signal(raw: Vec<f64>, series: &HoldSeries, track: &Track, n_rows: usize) -> Signal {
    let smooth = local_parabolas(&raw, 2 * series.bins_per_block);
    let broad = local_parabolas(&raw, 5 * series.bins_per_block);
    let noise = noise_model(&raw, series.bins_per_block);
    let resolution = track.channel.resolution_si();
    // Noise of single samples, from the white part of the bin means.
    let per_bin = n_rows as f64 / raw.len() as f64;
    let sample_sd = (noise.white * per_bin).sqrt();
    // Well dithered from 0.58 steps on; below that the code may hide a movement.
    let quantum_sd = if sample_sd >= 0.58 * resolution {
        0.0
    } else {
        resolution / 12f64.sqrt()
    };
    Signal {
        raw,
        smooth,
        broad,
        errors: track.channel.errors,
        noise,
        quantum_sd,
        resolution,
    }
}

/// Each value replaced by that of a least-squares parabola over `half` neighbours on
/// both sides (fewer at the ends).
fn local_parabolas(values: &[f64], half: usize) -> Vec<f64> {
    let half = half.clamp(2, values.len() / 2);
    let offset = values.first().copied().unwrap_or(0.0);
    (0..values.len())
        .map(|centre| {
            let from = centre.saturating_sub(half);
            let until = (centre + half + 1).min(values.len());
            let (mut s, mut r) = ([0.0; 5], [0.0; 3]);
            for (index, value) in values.iter().enumerate().take(until).skip(from) {
                let u = (index as f64 - centre as f64) / half as f64;
                let mut power = 1.0;
                for (k, sum) in s.iter_mut().enumerate() {
                    *sum += power;
                    if k < 3 {
                        r[k] += power * (value - offset);
                    }
                    power *= u;
                }
            }
            offset + parabola_at_zero(s, r)
        })
        .collect()
}

/// Constant term of the parabola with normal equations of moments `s` and `r` (Cramer).
fn parabola_at_zero(s: [f64; 5], r: [f64; 3]) -> f64 {
    let det = |a: [f64; 9]| {
        a[0] * (a[4] * a[8] - a[5] * a[7]) - a[1] * (a[3] * a[8] - a[5] * a[6])
            + a[2] * (a[3] * a[7] - a[4] * a[6])
    };
    let whole = det([s[0], s[1], s[2], s[1], s[2], s[3], s[2], s[3], s[4]]);
    det([r[0], s[1], s[2], r[1], s[2], s[3], r[2], s[3], s[4]]) / whole
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_is_smoothed_into_itself_up_to_its_ends() {
        let values: Vec<f64> = (0..60)
            .map(|i| 5.0 + 0.1 * f64::from(i) - 0.01 * f64::from(i * i))
            .collect();
        for (smooth, value) in local_parabolas(&values, 8).iter().zip(&values) {
            assert!((smooth - value).abs() < 1e-9);
        }
    }
}
