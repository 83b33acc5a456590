//! Blocks against what a count by hand finds in the same rows.

use super::*;
use crate::archive::shown::shown;
use crate::archive::tests::random_recording;
use crate::recording::Recording;
use crate::recording::RowSource;
use rand::Rng;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// All blocks of all levels, made from pieces of random lengths.
fn built(recording: &Recording, sizes: &[usize], random: &mut ChaCha8Rng) -> Vec<Blocks> {
    let mut rows = recording.rows();
    let mut builder = Builder::with_sizes(rows.outline(), sizes);
    let mut levels = vec![Blocks::default(); sizes.len()];
    loop {
        let Ok(piece) = rows.next_piece(random.random_range(1..900));
        if piece.is_empty() {
            return levels;
        }
        builder.take(&piece, &shown(&piece));
        let handed = builder.hand_out(|level, first, blocks| {
            assert_eq!(first, levels[level].len());
            levels[level].extend(blocks);
            Ok::<(), std::convert::Infallible>(())
        });
        let Ok(()) = handed;
    }
}

/// Whether a gap lies behind the row before `first` or before the last row of a block.
fn lost(recording: &Recording, first: usize, last: usize) -> bool {
    let time_s = recording.time_s();
    let before_s = match first {
        0 => f64::NEG_INFINITY,
        row => time_s[row - 1],
    };
    let last_s = match last + 1 == time_s.len() {
        true => f64::INFINITY,
        false => time_s[last],
    };
    recording.gaps().iter().any(|gap| {
        let is_over = gap.until_s > before_s && gap.from_s < last_s;
        let is_point = gap.until_s <= gap.from_s;
        is_over || (is_point && gap.from_s > before_s && gap.from_s <= last_s)
    })
}

fn check_level(recording: &Recording, size: usize, blocks: &Blocks) {
    let n_rows = recording.time_s().len();
    assert_eq!(blocks.len(), n_rows.div_ceil(size));
    for index in 0..blocks.len() {
        let (first, end) = (index * size, ((index + 1) * size).min(n_rows));
        let time_s = &recording.time_s()[first..end];
        assert_eq!(blocks.from_s[index], time_s[0]);
        assert_eq!(blocks.until_s[index], time_s[time_s.len() - 1]);
        let has_gap = lost(recording, first, end - 1);
        assert_eq!(
            blocks.has_gap[index] == 1,
            has_gap,
            "block {index} of {size}"
        );
        for (track, lane) in recording.tracks().iter().zip(&blocks.lanes) {
            let role = track.channel.role;
            let values: Vec<f64> = (first..end).filter_map(|row| track.value(row)).collect();
            let shown = |si: f64| layout_shown(role, si);
            assert_eq!(lane.n_values[index] as usize, values.len());
            if values.is_empty() {
                assert!(lane.min[index].is_nan() && lane.mean[index].is_nan());
                continue;
            }
            let min = values.iter().copied().fold(f64::INFINITY, f64::min);
            let max = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let mean = shown(values.iter().sum::<f64>() / values.len() as f64);
            assert_eq!(lane.min[index], shown(min));
            assert_eq!(lane.max[index], shown(max));
            // Sums in another order, and one rounding to 24 bits.
            let near = 1e-6 * mean.abs().max(1e-3);
            assert!((lane.mean[index] - mean).abs() <= near, "{mean}");
        }
    }
}

fn layout_shown(role: Role, si: f64) -> f32 {
    crate::archive::layout::plotted(role, si)
}

#[test]
fn blocks_are_what_a_count_by_hand_finds() {
    let mut random = ChaCha8Rng::seed_from_u64(11);
    for round in 0..60 {
        let n_rows = random.random_range(1..6_000);
        let recording = random_recording(n_rows, &mut random);
        let sizes = [4, 16, 64, 1_024];
        let levels = built(&recording, &sizes, &mut random);
        for (size, blocks) in sizes.iter().zip(&levels) {
            check_level(&recording, *size, blocks);
        }
        assert_eq!(levels.len(), 4, "round {round}");
    }
}

#[test]
fn chunks_are_handed_out_whole() {
    let mut random = ChaCha8Rng::seed_from_u64(12);
    let recording = random_recording(4 * CHUNK_BLOCKS + 9, &mut random);
    let levels = built(&recording, &[2], &mut random);
    check_level(&recording, 2, &levels[0]);
}

#[test]
fn only_long_recordings_have_levels_and_the_last_is_short() {
    assert!(block_sizes(0).is_empty() && block_sizes(LEAST_ROWS - 1).is_empty());
    assert_eq!(block_sizes(LEAST_ROWS), [16, 256]);
    // A day at 1 kHz.
    assert_eq!(block_sizes(86_400_000), [16, 256, 4_096, 65_536]);
    for n_rows in [LEAST_ROWS, 1_000_000, 86_400_000, 200_000_000] {
        let last = block_sizes(n_rows).pop().expect("long");
        assert!(n_rows.div_ceil(last) <= ENOUGH_BLOCKS);
    }
}
