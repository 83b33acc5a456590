//! Windows of random recordings against the rows themselves.

use crate::archive::Opened;
use crate::archive::SignedBlock;
use crate::archive::check;
use crate::archive::layout;
use crate::archive::overview::FACTOR;
use crate::archive::overview::LEAST_ROWS;
use crate::archive::overview::LevelFields;
use crate::archive::tests::random_recording;
use crate::archive::window;
use crate::archive::write;
use crate::archive::write_signed;
use crate::channel::Role;
use crate::recording::Recording;
use crate::recording::Window;
use crate::signature::BLOCK_BYTES;
use crate::signature::SigningKey;
use crate::signature::Standing;
use rand::Rng;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::path::Path;
use std::path::PathBuf;
use tempfile::TempDir;

/// A recording of so many rows in a file of its own.
fn written(n_rows: usize, seed: u64) -> (TempDir, PathBuf, Recording) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let recording = random_recording(n_rows, &mut random);
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("run.h5");
    write(&recording, &path).expect("written");
    (folder, path, recording)
}

/// Each column against the rows within its two times.
fn check_columns(recording: &Recording, window: &Window, n_columns: usize) {
    let inside = recording.rows_within(window.from_s, window.until_s);
    assert_eq!(window.n_rows, inside.len());
    assert!(window.columns.len() <= n_columns);
    // All rows of the window are in its columns, and no others but those of a block at its ends.
    let n_all: usize = window.columns.iter().map(|c| c.n_rows).sum();
    let n_spare = n_all - inside.len();
    assert!(
        n_spare <= 2 * (window.n_rows_each - 1),
        "{n_spare} rows too many"
    );
    let mut before = None;
    for (index, column) in window.columns.iter().enumerate() {
        let rows = recording.rows_within(column.from_s, column.until_s);
        assert_eq!(rows.len(), column.n_rows);
        assert!(
            before.is_none_or(|end| end == rows.start),
            "a row is in no column"
        );
        before = Some(rows.end);
        for lane in &window.lanes {
            let track = recording.track(lane.channel.role).expect("recorded");
            let values: Vec<f64> = rows.clone().filter_map(|row| track.value(row)).collect();
            let Some(band) = lane.bands[index] else {
                assert!(values.is_empty());
                continue;
            };
            assert_eq!(band.n_values, values.len());
            let min = values.iter().copied().fold(f64::INFINITY, f64::min);
            let max = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            // Blocks are kept with 24 bits in the units of the plots; rows are exact.
            let near = match window.n_rows_each {
                1 => 0.0,
                _ => 3e-7 * (max.abs() + 1e-3),
            };
            assert!((band.min_si - min).abs() <= near, "{} {min}", band.min_si);
            assert!((band.max_si - max).abs() <= near, "{} {max}", band.max_si);
            assert!((band.mean_si - mean).abs() <= near + 1e-9 * mean.abs());
        }
    }
}

/// A window at a random place and zoom.
fn asked(recording: &Recording, random: &mut ChaCha8Rng) -> (f64, f64, usize) {
    let (first_s, last_s) = (-5.0, recording.time_s().last().expect("rows") + 5.0);
    let zoom: f64 = random.random();
    let long_s = 0.01 * ((last_s - first_s) / 0.01).powf(zoom);
    let from_s = first_s + random.random::<f64>() * (last_s - first_s - long_s);
    (from_s, from_s + long_s, random.random_range(1..500))
}

#[test]
fn every_column_is_what_its_rows_say() {
    for (n_rows, seed) in [(1, 1), (3_000, 2), (40_000, 3), (LEAST_ROWS + 12_345, 4)] {
        let (_folder, path, recording) = written(n_rows, seed);
        let opened = Opened::open(&path).expect("opens");
        assert_eq!(opened.has_overview(), n_rows >= LEAST_ROWS);
        assert_eq!(opened.outline(), &recording.outline());
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let mut sizes = Vec::new();
        for _ in 0..120 {
            let (from_s, until_s, n_columns) = asked(&recording, &mut random);
            let window = opened
                .window(from_s, until_s, n_columns, &Role::ALL)
                .expect("readable");
            check_columns(&recording, &window, n_columns);
            sizes.push(window.n_rows_each);
        }
        // Otherwise this looked at nothing but rows.
        let most = sizes.iter().max().expect("looks");
        assert_eq!(*most > FACTOR, n_rows >= LEAST_ROWS);
        assert!(sizes.contains(&1));
    }
}

#[test]
fn a_window_at_full_zoom_is_the_rows_themselves() {
    let (_folder, path, recording) = written(LEAST_ROWS + 77, 5);
    let from = 123_456;
    let time_s = &recording.time_s()[from..from + 300];
    let seen = window(&path, time_s[0], time_s[299], 300, &Role::ALL).expect("readable");
    assert!(seen.is_rows() && seen.columns.len() == 300 && seen.n_rows_each == 1);
    assert_eq!(seen.lanes.len(), recording.tracks().len());
    for (index, column) in seen.columns.iter().enumerate() {
        assert_eq!(
            (column.from_s, column.until_s),
            (time_s[index], time_s[index])
        );
        for (lane, track) in seen.lanes.iter().zip(recording.tracks()) {
            assert_eq!(lane.channel, track.channel);
            let found = lane.bands[index].map(|band| band.mean_si.to_bits());
            assert_eq!(found, track.value(from + index).map(f64::to_bits));
        }
    }
}

#[test]
fn gaps_phases_and_entries_come_with_the_window() {
    let (_folder, path, recording) = written(20_000, 6);
    let gap = recording.gaps()[1];
    let (from_s, until_s) = (gap.from_s - 1.0, gap.until_s + 1.0);
    let seen = window(&path, from_s, until_s, 4_000, &[Role::Position]).expect("readable");
    assert!(seen.gaps.contains(&gap) && seen.n_gaps >= 1);
    let behind = seen.columns.iter().find(|c| c.from_s >= gap.until_s);
    assert!(behind.is_some_and(|column| column.has_gap));
    assert_eq!(seen.lanes.len(), 1);
    let all = window(&path, -1.0, 1e9, 10, &[]).expect("readable");
    assert_eq!(all.phases, recording.phases());
    assert_eq!(all.entries, recording.entries());
    assert_eq!(all.n_gaps, recording.gaps().len());
    assert!(all.lanes.is_empty() && all.columns.iter().any(|c| c.has_gap));
}

#[test]
fn a_window_without_rows_is_empty() {
    let (_folder, path, _) = written(500, 7);
    for (from_s, until_s) in [(-9.0, -8.0), (1e6, 2e6), (5.0, 1.0), (f64::NAN, 1.0)] {
        let seen = window(&path, from_s, until_s, 100, &Role::ALL).expect("readable");
        assert!(
            seen.columns.is_empty() && seen.n_rows == 0,
            "{from_s} {until_s}"
        );
    }
}

/// As a program wrote it that knew nothing of overviews.
#[test]
fn a_long_recording_without_an_overview_is_seen_as_well() {
    let (_folder, path, recording) = written(LEAST_ROWS + 4_321, 8);
    hdf5::File::open_rw(&path)
        .and_then(|file| file.unlink(layout::OVERVIEW))
        .expect("it has one");
    let opened = Opened::open(&path).expect("opens");
    assert!(!opened.has_overview());
    let mut random = ChaCha8Rng::seed_from_u64(8);
    let mut sizes = Vec::new();
    for _ in 0..60 {
        let (from_s, until_s, n_columns) = asked(&recording, &mut random);
        let seen = opened
            .window(from_s, until_s, n_columns, &Role::ALL)
            .expect("readable");
        check_columns(&recording, &seen, n_columns);
        sizes.push(seen.n_rows_each);
    }
    assert!(sizes.iter().any(|size| *size > 1) && sizes.contains(&1));
    assert_eq!(crate::archive::read(&path).expect("whole"), recording);
}

/// Where the first chunk of a list lies in the file.
fn chunk_at(path: &Path, field: &str) -> u64 {
    let file = hdf5::File::open(path).expect("opens");
    let dataset = file.dataset(field).expect("a list");
    dataset.chunk_info(0).expect("a chunk").addr
}

#[test]
fn one_turned_bit_in_a_level_is_found_and_named() {
    let mut random = ChaCha8Rng::seed_from_u64(9);
    let recording = random_recording(LEAST_ROWS, &mut random);
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("run.h5");
    let key = SigningKey::from_random(&[5; 32]);
    write_signed(&recording, &path, &key).expect("written");
    assert_eq!(check(&path).expect("readable").standing, Standing::Whole);
    let opened = Opened::open(&path).expect("opens");
    assert_eq!(opened.block(), &SignedBlock::Genuine);
    let whole = std::fs::read(&path).expect("readable");
    let fields = LevelFields::new(FACTOR * FACTOR);
    let [mean, _, max] = fields.values(Role::RodPressure);
    for (field, named) in [
        (mean, "the overview of channel p_rod (cannot be read)"),
        (max, "the overview of channel p_rod (cannot be read)"),
        (
            fields.has_gap(),
            "the times of its overview (cannot be read)",
        ),
    ] {
        let mut bytes = whole.clone();
        let at = usize::try_from(chunk_at(&path, &field)).expect("small") + BLOCK_BYTES;
        bytes[at + 20] ^= 4;
        let damaged = folder.path().join("damaged.h5");
        std::fs::write(&damaged, &bytes).expect("writable");
        let standing = check(&damaged).expect("readable").standing;
        assert_eq!(standing, Standing::Changed(vec![named.into()]), "{field}");
        // Nor is it shown as if it were right; the rows are as they were.
        assert!(window(&damaged, -1.0, 1e9, 100, &Role::ALL).is_err());
        assert_eq!(crate::archive::read(&damaged).expect("whole"), recording);
    }
}

#[test]
fn a_level_that_was_written_anew_is_found_and_named() {
    let mut random = ChaCha8Rng::seed_from_u64(10);
    let recording = random_recording(LEAST_ROWS, &mut random);
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("run.h5");
    let key = SigningKey::from_random(&[5; 32]);
    write_signed(&recording, &path, &key).expect("written");
    {
        let file = hdf5::File::open_rw(&path).expect("opens");
        let [_, min, _] = LevelFields::new(FACTOR).values(Role::CapPressure);
        let lowest = file.dataset(&min).expect("a list");
        lowest
            .write_slice(&[-1_f32], 4_000..4_001)
            .expect("writable");
    }
    let standing = check(&path).expect("readable").standing;
    let named = vec!["the overview of channel p_cap".to_owned()];
    assert_eq!(standing, Standing::Changed(named));
}
