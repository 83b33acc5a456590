//! A recording process that is killed loses no row that it had appended.
//!
//! The process that records is this test program again, started with a folder in its
//! environment and killed in the middle of its work (SIGKILL on Unix).

use std::io::BufRead;
use std::io::BufReader;
use std::path::Path;
use std::process::Command;
use std::process::Stdio;
use stillrod::archive;
use stillrod::channel::Calibration;
use stillrod::channel::Channel;
use stillrod::channel::Role;
use stillrod::channel::SensorErrors;
use stillrod::channel::SensorPapers;
use stillrod::daemon::journal_file::JournalFile;
use stillrod::daemon::journal_file::JournalFileError;
use stillrod::daemon::journal_file::recover;
use stillrod::recording::Codes;
use stillrod::recording::Ending;
use stillrod::recording::Heading;
use stillrod::recording::JournalWriter;
use stillrod::recording::Row;

const FOLDER: &str = "STILLROD_TEST_FOLDER";
const RUN: &str = "tv-0312-2";

#[test]
#[ignore = "records until it is killed; started by the other test"]
fn records_until_it_is_killed() {
    let folder = std::env::var(FOLDER).expect("started by the other test");
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
    let channel = Channel {
        role: Role::CapPressure,
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
    };
    let (mut writer, start) = JournalWriter::begin(&heading, &[channel]).expect("a heading");
    let mut file = JournalFile::create(Path::new(&folder), RUN, &start, 0.0).expect("a journal");
    // Ends by itself should the other test be gone.
    for i in 0..200_000 {
        let row = Row {
            time_s: f64::from(i),
            codes: vec![i],
        };
        file.append(&writer.rows(&[row]).expect("rising"))
            .expect("room");
        println!("appended {i}");
    }
}

#[test]
fn a_killed_recording_keeps_every_row_that_was_appended() {
    for n_lines in [1, 100, 1_000, 5_000] {
        let folder = tempfile::tempdir().expect("a folder");
        let mut child = Command::new(std::env::current_exe().expect("this program"))
            .args([
                "records_until_it_is_killed",
                "--exact",
                "--ignored",
                "--nocapture",
            ])
            .env(FOLDER, folder.path())
            .stdout(Stdio::piped())
            .spawn()
            .expect("this program can be started");
        let mut lines = BufReader::new(child.stdout.take().expect("piped"))
            .lines()
            .map_while(Result::ok)
            // The harness begins the line of the first one with the name of the test.
            .filter_map(|line| line.rsplit_once("appended ")?.1.parse::<i32>().ok());
        let alive = lines.by_ref().nth(n_lines - 1).expect("it records");
        assert_eq!(usize::try_from(alive), Ok(n_lines - 1));
        let untouched = recover(folder.path(), None)
            .expect("a folder")
            .remove(0)
            .outcome;
        assert!(matches!(untouched, Err(JournalFileError::InUse { .. })));
        child.kill().expect("it runs");
        child.wait().expect("it was killed");
        let last = lines.last().unwrap_or(alive);

        let recovered = recover(folder.path(), None).expect("a folder").remove(0);
        let stored = recovered.outcome.expect("stored");
        let recording = archive::read(&stored.path).expect("readable");
        assert!(matches!(recording.ending(), Ending::Interrupted(_)));
        let Codes::Raw(codes) = &recording.tracks()[0].codes else {
            panic!("codes were recorded")
        };
        assert!(
            codes.len() as i32 > last,
            "{} rows, row {last} was appended",
            codes.len()
        );
        assert!(codes.iter().copied().eq(0..codes.len() as i32));
    }
}
