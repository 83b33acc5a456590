//! What does a recording of a day cost? Makes the journal of a long invented hold with the
//! recording room's own writer, paced by nothing, closes it as a real one is closed, and looks at
//! random stretches of it.
//!
//! `cargo run --release --example long_recording -- --hours 24` wants 7 GB of disk in `--folder` (by
//! default `target/long-recording`, which is removed at the end unless `--keep` is given). Memory is
//! what Linux says of this process (`VmHWM`), reset before each step; looks are timed once with the
//! file in memory and once after its pages were dropped. `--whole` also reads all of it into memory
//! as judging does. The figures are in DEVELOPERS.md.

#![allow(
    clippy::disallowed_methods,
    reason = "a benchmark reads the clock; the core still does not"
)]

mod made;
mod memory;

use clap::Parser;
use memory::Stopwatch;
use rand::Rng;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::path::Path;
use std::path::PathBuf;
use std::time::Instant;
use stillrod::archive;
use stillrod::archive::Doing;
use stillrod::archive::Opened;
use stillrod::archive::Progress;
use stillrod::channel::Role;
use stillrod::chart::RecordPicture;
use stillrod::chart::Size;
use stillrod::chart::window_chart;
use stillrod::daemon::journal_file::JournalFile;
use stillrod::quantity::UnitSystem;
use stillrod::recording::Window;
use stillrod::signature::SigningKey;

/// Closes a long invented recording and looks at it.
#[derive(Debug, Parser)]
struct Arguments {
    /// Length of the recording, h.
    #[arg(long, default_value_t = 1.0)]
    hours: f64,
    /// Where the files go; made if it is not there.
    #[arg(long, default_value = "target/long-recording")]
    folder: PathBuf,
    /// How many stretches are looked at.
    #[arg(long, default_value_t = 200)]
    looks: u32,
    /// Columns of each look.
    #[arg(long, default_value_t = 1_000)]
    columns: usize,
    /// Read all of it into memory as well.
    #[arg(long)]
    whole: bool,
    /// Keep the files.
    #[arg(long)]
    keep: bool,
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    std::fs::create_dir_all(&arguments.folder)?;
    let path = arguments.folder.join(format!("{}.h5", made::RUN));
    if !path.exists() {
        let watch = Stopwatch::start();
        let journal = made::journal(&arguments.folder, arguments.hours)?;
        println!(
            "journal: {:.2} GB, {}",
            journal.n_bytes() as f64 / 1e9,
            watch.read()
        );
        close(journal)?;
    }
    let bytes = std::fs::metadata(&path)?.len();
    println!("archive: {:.2} GB", bytes as f64 / 1e9);
    look(&arguments, &path)?;
    if arguments.whole {
        let watch = Stopwatch::start();
        let recording = archive::read(&path)?;
        println!(
            "all of it in memory: {} rows, {}",
            recording.time_s().len(),
            watch.read()
        );
    }
    if !arguments.keep {
        std::fs::remove_dir_all(&arguments.folder)?;
    }
    Ok(())
}

/// Closes the journal and says what each step took.
fn close(journal: JournalFile) -> anyhow::Result<()> {
    let key = SigningKey::from_random(&[7; 32]);
    let whole = Stopwatch::start();
    let mut step = (Doing::Writing, Instant::now());
    let mut tell = |progress: Progress| {
        if progress.doing != step.0 {
            println!("  {:?}: {:.1} s", step.0, step.1.elapsed().as_secs_f64());
            step = (progress.doing, Instant::now());
        }
    };
    journal.finish_telling(Some(&key), &mut tell)?;
    println!("  {:?}: {:.1} s", step.0, step.1.elapsed().as_secs_f64());
    println!("closing: {}", whole.read());
    Ok(())
}

/// Stretches at random places and zooms, from 0.2 s to all of it.
fn stretches(length_s: f64, n: u32) -> Vec<(f64, f64)> {
    let mut random = ChaCha8Rng::seed_from_u64(24);
    let stretch = |_| {
        let zoom: f64 = random.random();
        let long_s = 0.2 * (length_s / 0.2).powf(zoom);
        let from_s = random.random::<f64>() * (length_s - long_s);
        (from_s, from_s + long_s)
    };
    (0..n).map(stretch).collect()
}

fn look(arguments: &Arguments, path: &Path) -> anyhow::Result<()> {
    let watch = Stopwatch::start();
    let opened = Opened::open(path)?;
    println!("opening: {}, block {:?}", watch.read(), opened.block());
    let (_, last_s) = opened.span_s()?.unwrap_or_default();
    let watch = Stopwatch::start();
    let stretches = stretches(last_s, arguments.looks);
    for is_cold in [false, true] {
        // The first round brings into memory what the second finds there.
        let n_rounds = if is_cold { 1 } else { 2 };
        let mut took_ms = Vec::new();
        let mut drawn_ms = Vec::new();
        let read_before = memory::bytes_from_disk();
        for round in 0..n_rounds {
            for (from_s, until_s) in &stretches {
                if is_cold {
                    memory::drop_pages(path)?;
                }
                let start = Instant::now();
                let window =
                    archive::window(path, *from_s, *until_s, arguments.columns, &Role::ALL)?;
                let took = start.elapsed();
                let start = Instant::now();
                let svg = drawn(&window);
                assert!(svg.ends_with("</svg>\n") || svg.ends_with("</svg>"));
                if round + 1 == n_rounds {
                    took_ms.push(took.as_secs_f64() * 1e3);
                    drawn_ms.push(start.elapsed().as_secs_f64() * 1e3);
                }
            }
        }
        let of = if is_cold { "cold" } else { "warm" };
        println!(
            "{} looks, {of}: window {}; drawing it {}; {:.0} MB from the disk",
            stretches.len(),
            spread(took_ms),
            spread(drawn_ms),
            (memory::bytes_from_disk() - read_before) as f64 / 1e6
        );
    }
    println!("  all looks: {}", watch.read());
    Ok(())
}

fn drawn(window: &Window) -> String {
    let picture = RecordPicture {
        hold_s: None,
        units: UnitSystem::Metric,
        size: Size {
            width_pt: 540.0,
            height_pt: 300.0,
        },
    };
    window_chart(window, picture, &[])
}

fn spread(mut ms: Vec<f64>) -> String {
    ms.sort_by(f64::total_cmp);
    let at = |share: f64| ms[((ms.len() - 1) as f64 * share).round() as usize];
    format!(
        "p50 {:.1} p95 {:.1} max {:.1} ms",
        at(0.5),
        at(0.95),
        at(1.0)
    )
}
