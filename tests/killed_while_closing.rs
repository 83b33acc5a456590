//! The closing of a recording, killed at any moment, leaves the journal and no half file; and it
//! takes no more memory for a longer one.
//!
//! The process that closes is this test program again, started with a folder in its
//! environment (SIGKILL on Unix).

use std::io::BufRead;
use std::io::BufReader;
use std::path::Path;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use stillrod::archive;
use stillrod::archive::Doing;
use stillrod::channel::Calibration;
use stillrod::channel::Channel;
use stillrod::channel::Role;
use stillrod::channel::SensorErrors;
use stillrod::channel::SensorPapers;
use stillrod::daemon::journal_file::JournalFile;
use stillrod::daemon::journal_file::recover;
use stillrod::recording::Codes;
use stillrod::recording::Ending;
use stillrod::recording::Heading;
use stillrod::recording::JournalWriter;
use stillrod::recording::Row;
use stillrod::signature::SigningKey;
use stillrod::signature::Standing;

const FOLDER: &str = "STILLROD_TEST_FOLDER";
const ROWS: &str = "STILLROD_TEST_ROWS";
/// What is told where the process that closes waits to be killed; nothing if it is left alone.
const STOP: &str = "STILLROD_TEST_STOP";
const RUN: &str = "tv-0312-3";
/// Long enough for an overview.
const N_ROWS: i32 = 400_000;

fn key() -> SigningKey {
    SigningKey::from_random(&[3; 32])
}

fn channel(role: Role) -> Channel {
    Channel {
        role,
        label: String::new(),
        calibration: Calibration {
            si_at_zero_code: 0.0,
            si_per_code: 1.0,
            si_per_code_squared: 0.0,
        },
        good_codes: (0, i32::MAX),
        range_si: (0.0, 1.0),
        errors: SensorErrors {
            zero_si: 0.0,
            span_relative: 0.0,
            zero_si_per_k: 0.0,
        },
        papers: SensorPapers::default(),
        against_supply: None,
    }
}

/// A journal whole to its ending, not closed yet.
fn journal(folder: &Path, n_rows: i32) -> JournalFile {
    let heading = Heading {
        run_id: RUN.into(),
        started_utc_ms: 0,
        time_zone: String::new(),
        software: String::new(),
        source: String::new(),
        setup_toml: String::new(),
        shop_toml: String::new(),
        practice: String::new(),
    };
    let channels = [channel(Role::CapPressure), channel(Role::Position)];
    let (mut writer, start) = JournalWriter::begin(&heading, &channels).expect("a heading");
    let mut file = JournalFile::create(folder, RUN, &start, 0.0).expect("a journal");
    for first in (0..n_rows).step_by(1_000) {
        let row = |i: i32| Row {
            time_s: f64::from(i) * 1e-3,
            // The squares look like noise to the compressor.
            codes: vec![i, i.wrapping_mul(i) & 0xffff],
        };
        let rows: Vec<Row> = (first..first + 1_000).map(row).collect();
        file.append(&writer.rows(&rows).expect("rising"))
            .expect("room");
    }
    file.append(&writer.ending(&Ending::Complete))
        .expect("room");
    file
}

#[test]
#[ignore = "closes until it is killed; started by the other tests"]
fn closes_until_it_is_killed() {
    let folder = std::env::var(FOLDER).expect("started by the other test");
    let n_rows = std::env::var(ROWS).expect("started by the other test");
    let stop = std::env::var(STOP).expect("started by the other test");
    let file = journal(Path::new(&folder), n_rows.parse().expect("a number"));
    let stored = file.finish_telling(Some(&key()), &mut |progress| {
        if !stop.is_empty() && progress.to_string().starts_with(&stop) {
            println!("told {progress}");
            // Ends by itself should the other test be gone.
            std::thread::sleep(Duration::from_secs(60));
        }
    });
    let rows = stored.expect("stored").outline.n_rows;
    println!("peak {}", peak_kb());
    println!("closed {rows}");
}

/// Most memory this process had, kB (Linux, proc(5)).
fn peak_kb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let number = line.and_then(|rest| rest.split_whitespace().next());
    number.and_then(|word| word.parse().ok()).unwrap_or(0)
}

fn started(folder: &Path, n_rows: i32, stop: &str) -> Child {
    Command::new(std::env::current_exe().expect("this program"))
        .args([
            "closes_until_it_is_killed",
            "--exact",
            "--ignored",
            "--nocapture",
        ])
        .env(FOLDER, folder)
        .env(ROWS, n_rows.to_string())
        .env(STOP, stop)
        .stdout(Stdio::piped())
        .spawn()
        .expect("this program can be started")
}

#[test]
fn a_killed_closing_leaves_the_journal_and_no_half_file() {
    for stop in [
        "writing the recording: 0 %",
        "writing the recording: 4",
        "writing the recording: 9",
        "signing the recording: ",
        "reading the recording back: 0 %",
        "reading the recording back: 6",
    ] {
        let folder = tempfile::tempdir().expect("a folder");
        let journal = folder.path().join(format!("{RUN}.journal"));
        let path = folder.path().join(format!("{RUN}.h5"));
        let mut child = started(folder.path(), N_ROWS, stop);
        let out = BufReader::new(child.stdout.take().expect("piped"));
        let mut lines = out.lines().map_while(Result::ok);
        let is_there = lines.any(|line| line.contains("told "));
        assert!(is_there, "nobody was told `{stop}`");
        child.kill().expect("it runs");
        child.wait().expect("it was killed");
        assert!(journal.exists(), "{stop}: the journal is gone");
        // A file has its name only when it is whole.
        let is_read_back = stop.starts_with("reading");
        assert_eq!(path.exists(), is_read_back, "{stop}");
        if is_read_back {
            let checked = archive::check(&path).expect("readable");
            assert_eq!(checked.standing, Standing::Whole, "{stop}");
        }

        let recovered = recover(folder.path(), Some(&key())).expect("a folder");
        let stored = recovered.into_iter().next().expect("a journal").outcome;
        let recording = stored.expect("stored").recording().expect("whole");
        assert_eq!(recording.ending(), &Ending::Complete);
        let Codes::Raw(codes) = &recording.tracks()[0].codes else {
            panic!("codes were recorded")
        };
        assert!(codes.iter().copied().eq(0..N_ROWS), "{stop}");
        assert_eq!(
            archive::check(&path).expect("readable").standing,
            Standing::Whole
        );
        let names: Vec<_> = std::fs::read_dir(folder.path())
            .expect("a folder")
            .map(|entry| entry.expect("an entry").file_name())
            .collect();
        assert_eq!(names, [path.file_name().expect("a name")], "{stop}");
    }
}

/// What it takes over the length of a recording, kB: pieces, not rows.
#[test]
fn closing_a_longer_recording_takes_no_more_memory() {
    let peak_kb = |n_rows: i32| {
        let folder = tempfile::tempdir().expect("a folder");
        let child = started(folder.path(), n_rows, "");
        let output = child.wait_with_output().expect("it ends by itself");
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(text.contains(&format!("closed {n_rows}")), "{text}");
        // The harness begins the first line with the name of the test.
        let (_, kb) = text.rsplit_once("peak ")?;
        kb.split_whitespace().next()?.parse::<u64>().ok()
    };
    let (short, long) = (peak_kb(N_ROWS), peak_kb(6 * N_ROWS));
    let (short, long) = short.zip(long).expect("Linux tells");
    // The rows alone would be 32 MB more.
    assert!(long < short + 8_000, "{short} kB became {long} kB");
}

#[test]
fn what_is_told_goes_forward_to_the_end_of_each_step() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = journal(folder.path(), 300_000);
    let mut told = Vec::new();
    file.finish_telling(Some(&key()), &mut |progress| told.push(progress))
        .expect("stored");
    for doing in [Doing::Writing, Doing::Signing, Doing::ReadingBack] {
        let shares: Vec<f64> = told
            .iter()
            .filter(|p| p.doing == doing)
            .map(|p| p.share)
            .collect();
        assert!(shares.len() > 2, "{doing:?}: {shares:?}");
        assert!(shares.is_sorted(), "{doing:?}: {shares:?}");
        assert_eq!(shares.last(), Some(&1.0), "{doing:?}");
    }
    let words: Vec<String> = told.iter().map(ToString::to_string).collect();
    assert!(words[0].starts_with("writing the recording: 0 %"));
    assert!(words.contains(&"reading the recording back: 100 %".to_owned()));
}
