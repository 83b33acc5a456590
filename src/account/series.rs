//! The counted hold as equal bins: what the evaluation works on.
//!
//! Each channel becomes means over bins, smoothed copies for derivatives only, and an
//! estimate of its own noise. A reading that stands out from its neighbours is left out,
//! a few missing ones are bridged; a channel that misses more than one in twenty has no
//! signal here.
//!
//! Invariant: all signals have one value for each bin.

use super::balance::Copy;
use super::looked::EyeReading;
use super::sums::Sums;
use super::term::Term;
use crate::channel::Channel;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::fit::Matrix;
use crate::fit::NoiseModel;
use crate::fit::noise_model;
use crate::recording::Recording;

/// Most blocks in a hold; each gives one residual by series.
const N_BLOCKS_MAX: usize = 40;
/// Least blocks in a hold.
const N_BLOCKS_MIN: usize = 8;
/// Most fine bins in a block; noise is estimated on them.
const FINE_PER_BLOCK_MAX: usize = 20;
/// Most bins in a block that the model is computed on.
const BINS_PER_BLOCK_MAX: usize = 10;
const MISSING_MAX: f64 = 0.05;

/// One channel over the hold.
#[derive(Debug, Clone)]
pub(super) struct Signal {
    /// Means over the bins, SI.
    pub raw: Vec<f64>,
    /// The same, smoothed by local parabolas over four blocks.
    pub smooth: Vec<f64>,
    broad: Vec<f64>,
    /// Stated errors of the sensor.
    pub errors: SensorErrors,
    /// Readings that stood out from their neighbours and were left out.
    pub n_outliers: usize,
    noise: NoiseModel,
    /// Fine bins in a block, which the noise is counted in.
    fine_per_block: usize,
    /// Standard deviation of one code step spread evenly; zero where noise dithers it.
    quantum_sd: f64,
    resolution: f64,
    /// Covariance of the block means by reading errors alone, where a person read it.
    by_eye: Option<Matrix>,
}

/// How a hold is cut: blocks of bins of fine bins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Grid {
    n_blocks: usize,
    bins_per_block: usize,
    fine_per_bin: usize,
}

impl Grid {
    /// The grid for a number of rows; None if they are fewer than 32.
    pub fn of(n_rows: usize) -> Option<Self> {
        if n_rows < 4 * N_BLOCKS_MIN {
            return None;
        }
        let n_blocks = (n_rows / 4).clamp(N_BLOCKS_MIN, N_BLOCKS_MAX);
        let fine_per_block = (n_rows / n_blocks).clamp(1, FINE_PER_BLOCK_MAX);
        Some(Self {
            n_blocks,
            bins_per_block: fine_per_block.min(BINS_PER_BLOCK_MAX),
            fine_per_bin: (fine_per_block / BINS_PER_BLOCK_MAX).max(1),
        })
    }

    /// Fine bins in the hold.
    pub fn n_fine(self) -> usize {
        self.n_blocks * self.bins_per_block * self.fine_per_bin
    }
}

/// The counted hold.
#[derive(Debug, Clone)]
pub(super) struct HoldSeries {
    /// Length, s.
    pub length_s: f64,
    /// Time since the start of the recording, s.
    pub settled_s: f64,
    /// Middle of each bin since the start, s.
    pub t: Vec<f64>,
    /// Bins in each block.
    pub bins_per_block: usize,
    /// Blocks in the hold.
    pub n_blocks: usize,
    signals: Vec<(Role, Signal)>,
    /// What a person read, where a person did.
    pub read: Vec<(Role, Vec<EyeReading>)>,
}

impl Signal {
    /// What a person read, brought to the bins: their values, and the covariance of the means of
    /// `n_blocks` blocks by reading errors.
    pub fn by_eye(raw: Vec<f64>, errors: SensorErrors, by_block: Matrix) -> Self {
        let per_block = raw.len() / by_block.nrows().max(1);
        let nothing = NoiseModel {
            white: 0.0,
            slow: Vec::new(),
        };
        Self {
            smooth: raw.clone(),
            broad: local_parabolas(&raw, 2 * per_block),
            raw,
            errors,
            n_outliers: 0,
            noise: nothing,
            fine_per_block: per_block,
            quantum_sd: 0.0,
            resolution: 0.0,
            by_eye: Some(by_block),
        }
    }

    /// Covariance of its block means by reading errors, where a person read it.
    pub fn of_reading(&self) -> Option<&Matrix> {
        self.by_eye.as_ref()
    }

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
        let grid = Grid::of(last.saturating_sub(first))?;
        let length_s = until_s - start_s;
        let settled_s = times.first().map_or(0.0, |t| start_s - t).max(0.0);
        let tracks = recording.tracks().iter().map(|track| {
            let mut sums = Sums::new(grid.n_fine(), length_s);
            for (row, time) in times.iter().enumerate().take(last).skip(first) {
                sums.add(time - start_s, track.value(row));
            }
            (&track.channel, sums.finished())
        });
        Some(Self::of(grid, settled_s, length_s, tracks))
    }

    /// From the sums of each channel over the fine bins of `grid`.
    pub fn of<'c>(
        grid: Grid,
        settled_s: f64,
        length_s: f64,
        channels: impl Iterator<Item = (&'c Channel, Sums)>,
    ) -> Self {
        let n_bins = grid.n_blocks * grid.bins_per_block;
        let width = length_s / n_bins as f64;
        let mut series = Self {
            length_s,
            settled_s,
            t: (0..n_bins).map(|i| (i as f64 + 0.5) * width).collect(),
            bins_per_block: grid.bins_per_block,
            n_blocks: grid.n_blocks,
            signals: Vec::new(),
            read: Vec::new(),
        };
        // The supply of the sensors tells nothing of the piece.
        for (channel, sums) in channels.filter(|(own, _)| own.role != Role::Supply) {
            if sums.share_missing() > MISSING_MAX {
                continue;
            }
            if let Some(fine) = sums.bridged() {
                let signal = signal(&fine, &sums, grid, channel);
                series.signals.push((channel.role, signal));
            }
        }
        series
    }

    /// From what a person read, brought to `n_blocks` blocks of `bins_per_block` bins.
    pub fn of_readings(
        (settled_s, length_s): (f64, f64),
        (n_blocks, bins_per_block): (usize, usize),
        signals: Vec<(Role, Signal)>,
        read: Vec<(Role, Vec<EyeReading>)>,
    ) -> Self {
        let n_bins = n_blocks * bins_per_block;
        let width = length_s / n_bins as f64;
        Self {
            length_s,
            settled_s,
            t: (0..n_bins).map(|i| (i as f64 + 0.5) * width).collect(),
            bins_per_block,
            n_blocks,
            signals,
            read,
        }
    }

    /// The signal of a role, if it was recorded well enough.
    pub fn signal(&self, role: Role) -> Option<&Signal> {
        self.signals
            .iter()
            .find(|(r, _)| *r == role)
            .map(|(_, s)| s)
    }

    /// Temperature of the oil at the start of the hold, K, and how well it is known (one sigma):
    /// without a probe that of a data sheet, give or take a workshop's summer and winter.
    pub fn oil_k(&self) -> (f64, f64) {
        let measured = self.signal(Role::OilTemperature);
        let first = measured.and_then(|s| s.smooth.first());
        first.map_or((313.15, 15.0), |k| (k.clamp(233.15, 393.15), 0.0))
    }

    /// Degrees of freedom of a signal's noise by blocks, as it was estimated.
    pub fn noise_freedom(&self, signal: &Signal) -> f64 {
        // Half a division is stated, not estimated.
        if signal.by_eye.is_some() {
            return f64::INFINITY;
        }
        // Third differences of n means of white noise have n / 2.3 of them.
        let n_fine = (self.n_blocks * signal.fine_per_block) as f64;
        let white = signal.noise.white / signal.fine_per_block as f64;
        let slow = signal.noise.block_covariance(signal.fine_per_block, 0) - white;
        let of_white = n_fine / 2.3;
        let of_slow = (n_fine / 25.0 / 2.3).max(2.0);
        let terms = white.powi(2) / of_white + slow.powi(2) / of_slow;
        if terms > 0.0 {
            (white + slow).powi(2) / terms
        } else {
            of_white
        }
    }

    /// All signals.
    pub fn signals(&self) -> impl Iterator<Item = &Signal> {
        self.signals.iter().map(|(_, signal)| signal)
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

    /// Covariance of neighbouring bins of a signal with these means, by its noise and
    /// resolution.
    pub fn bin_covariance(&self, signal: &Signal, bins: &[f64]) -> Matrix {
        let fine_per_bin = signal.fine_per_block / self.bins_per_block;
        let by_distance: Vec<f64> = (0..bins.len())
            .map(|apart| signal.noise.block_covariance(fine_per_bin, apart))
            .collect();
        Matrix::from_fn(bins.len(), bins.len(), |i, j| {
            // Rounding errors of one code step stay the same while the value does.
            let alike =
                (bins[i] - bins[j]).abs() / (0.3 * signal.resolution).max(f64::MIN_POSITIVE);
            by_distance[i.abs_diff(j)] + signal.quantum_sd.powi(2) * (-alike).exp()
        })
    }

    /// Covariance of the block means of a signal by its noise and resolution.
    pub fn noise_covariance(&self, signal: &Signal, without: Option<Term>) -> Matrix {
        if let Some(by_eye) = &signal.by_eye {
            return match without {
                Some(Term::Steps) => by_eye * 0.0,
                _ => by_eye.clone(),
            };
        }
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
            .map(|apart| noise.block_covariance(signal.fine_per_block, apart))
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

fn signal(fine: &[f64], sums: &Sums, grid: Grid, channel: &Channel) -> Signal {
    let fine_per_block = grid.bins_per_block * grid.fine_per_bin;
    let noise = noise_model(fine, fine_per_block);
    let raw: Vec<f64> = fine
        .chunks_exact(grid.fine_per_bin)
        .map(|bin| bin.iter().sum::<f64>() / bin.len() as f64)
        .collect();
    let smooth = local_parabolas(&raw, 2 * grid.bins_per_block);
    let broad = local_parabolas(&raw, 5 * grid.bins_per_block);
    let resolution = channel.resolution_si();
    // Noise of single samples, from the white part of the bin means.
    let sample_sd = (noise.white * sums.readings_per_bin()).sqrt();
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
        errors: channel.errors,
        n_outliers: sums.n_outliers(),
        noise,
        fine_per_block,
        quantum_sd,
        resolution,
        by_eye: None,
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
