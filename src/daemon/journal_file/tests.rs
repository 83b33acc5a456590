//! Journals that ended well, were left behind, or are still being written.

use super::*;
use crate::channel::Calibration;
use crate::channel::Channel;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::channel::SensorPapers;
use crate::recording::Ending;
use crate::recording::Heading;
use crate::recording::JournalWriter;
use crate::recording::Row;

const RUN: &str = "tv-0312-4";

fn heading() -> Heading {
    Heading {
        run_id: RUN.into(),
        started_utc_ms: 0,
        time_zone: String::new(),
        software: "0.1.0".into(),
        source: String::new(),
        setup_toml: String::new(),
        shop_toml: String::new(),
        practice: String::new(),
    }
}

fn channel() -> Channel {
    Channel {
        role: Role::CapPressure,
        label: "AI0".into(),
        calibration: Calibration::through((0, 0.0), (1, 1e3)).expect("two codes"),
        good_codes: (0, 100_000),
        range_si: (0.0, 1e8),
        errors: SensorErrors {
            zero_si: 0.0,
            span_relative: 0.0,
            zero_si_per_k: 0.0,
        },
        papers: SensorPapers::default(),
        against_supply: None,
    }
}

fn begun(folder: &Path) -> (JournalFile, JournalWriter) {
    let (writer, start) = JournalWriter::begin(&heading(), &[channel()]).expect("a heading");
    let file = JournalFile::create(folder, RUN, &start, 0.0).expect("a new journal");
    (file, writer)
}

fn append_rows(file: &mut JournalFile, writer: &mut JournalWriter, rows: std::ops::Range<i32>) {
    let rows: Vec<Row> = rows
        .map(|i| Row {
            time_s: f64::from(i),
            codes: vec![i],
        })
        .collect();
    let block = writer.rows(&rows).expect("rising");
    file.append(&block).expect("room on the disk");
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> = entries
        .map(|entry| {
            let name = entry.expect("an entry").file_name();
            name.into_string().expect("our own names")
        })
        .collect();
    names.sort();
    names
}

fn only(mut recovered: Vec<Recovered>) -> Recovered {
    assert_eq!(recovered.len(), 1);
    recovered.remove(0)
}

#[test]
fn a_recording_that_ended_is_one_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut file, mut writer) = begun(folder.path());
    append_rows(&mut file, &mut writer, 0..5);
    file.append(&writer.ending(&Ending::Complete))
        .expect("room");
    let stored = file.finish(None).expect("stored");
    assert_eq!(stored.outline.ending, Ending::Complete);
    assert_eq!(stored.recording().expect("whole").time_s().len(), 5);
    assert_eq!(names(folder.path()), ["tv-0312-4.h5"]);
    assert!(recover(folder.path(), None).expect("a folder").is_empty());
}

#[test]
fn a_journal_left_behind_becomes_an_interrupted_recording() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut file, mut writer) = begun(folder.path());
    append_rows(&mut file, &mut writer, 0..5);
    drop(file);
    let stored = only(recover(folder.path(), None).expect("a folder")).outcome;
    let stored = stored.expect("stored");
    assert!(matches!(stored.outline.ending, Ending::Interrupted(_)));
    assert_eq!(stored.recording().expect("whole").time_s().len(), 5);
    assert_eq!(names(folder.path()), ["tv-0312-4.h5"]);
}

#[test]
fn a_torn_tail_is_kept_beside_the_recording() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut file, mut writer) = begun(folder.path());
    append_rows(&mut file, &mut writer, 0..5);
    file.append(&[1, 2, 3]).expect("room");
    drop(file);
    let recovered = only(recover(folder.path(), None).expect("a folder"));
    let tail = recovered.outcome.expect("stored").tail;
    assert_eq!(tail.n_bytes_cut, 3);
    assert_eq!(
        names(folder.path()),
        ["tv-0312-4.h5", "tv-0312-4.journal.done"]
    );
    assert!(recover(folder.path(), None).expect("a folder").is_empty());
}

#[test]
fn a_journal_in_use_is_left_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut file, mut writer) = begun(folder.path());
    let outcome = only(recover(folder.path(), None).expect("a folder")).outcome;
    assert!(matches!(outcome, Err(JournalFileError::InUse { .. })));
    append_rows(&mut file, &mut writer, 0..2);
    assert_eq!(names(folder.path()), ["tv-0312-4.journal"]);
    let (_, start) = JournalWriter::begin(&heading(), &[]).expect("a heading");
    let again = JournalFile::create(folder.path(), RUN, &start, 0.0);
    assert!(matches!(again, Err(JournalFileError::Exists { .. })));
}

#[test]
fn a_power_cut_between_file_and_journal_is_mended() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut file, mut writer) = begun(folder.path());
    append_rows(&mut file, &mut writer, 0..5);
    file.append(&writer.ending(&Ending::Complete))
        .expect("room");
    let journal = std::fs::read(file.path()).expect("readable");
    let path = file.path().to_owned();
    file.finish(None).expect("stored");
    std::fs::write(&path, journal).expect("writable");
    let outcome = only(recover(folder.path(), None).expect("a folder")).outcome;
    assert_eq!(outcome.expect("the same").outline.n_rows, 5);
    assert_eq!(names(folder.path()), ["tv-0312-4.h5"]);
}

#[test]
fn a_journal_that_differs_from_the_file_of_its_name_replaces_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut file, mut writer) = begun(folder.path());
    append_rows(&mut file, &mut writer, 0..5);
    let path = file.path().to_owned();
    drop(file);
    let journal = std::fs::read(&path).expect("readable");
    recover(folder.path(), None).expect("a folder");
    std::fs::write(&path, &journal[..journal.len() - 1]).expect("writable");
    let outcome = only(recover(folder.path(), None).expect("a folder")).outcome;
    assert!(matches!(outcome, Err(JournalFileError::Differs { .. })));
    assert_eq!(names(folder.path()), ["tv-0312-4.h5", "tv-0312-4.journal"]);
}

#[test]
fn a_file_that_is_no_journal_is_reported_and_kept() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("notes.journal");
    std::fs::write(&path, "do not lose me").expect("writable");
    let outcome = only(recover(folder.path(), None).expect("a folder")).outcome;
    assert!(matches!(outcome, Err(JournalFileError::Journal { .. })));
    assert_eq!(names(folder.path()), ["notes.journal"]);
}

#[test]
fn a_run_is_named_in_letters_digits_and_dashes() {
    let folder = tempfile::tempdir().expect("a folder");
    for run_id in ["", "../x", "a b", "ä", "a.b", "a/b"] {
        let refused = JournalFile::create(folder.path(), run_id, &[], 0.0);
        assert!(matches!(refused, Err(JournalFileError::RunId { .. })));
    }
}

#[test]
fn the_disk_is_asked_once_a_second_and_only_for_something_new() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut file, mut writer) = begun(folder.path());
    assert!(!file.sync_if_due(5.0).expect("nothing to do"));
    append_rows(&mut file, &mut writer, 0..2);
    assert!(file.sync_if_due(5.0).expect("synced"));
    append_rows(&mut file, &mut writer, 2..4);
    assert!(!file.sync_if_due(5.9).expect("too early"));
    assert!(file.sync_if_due(6.0).expect("synced"));
}

/// `/dev/full` answers each write with "no space left on device" (Linux, full(4)).
#[test]
fn a_full_disk_is_said_to_be_full() {
    let mut file = JournalFile {
        file: OpenOptions::new()
            .append(true)
            .open("/dev/full")
            .expect("Linux has it"),
        path: "/dev/full".into(),
        n_bytes: 0,
        last_sync_s: 0.0,
        is_synced: true,
    };
    let error = file.append(&[1]).expect_err("full");
    let JournalFileError::Disk { cause, .. } = &error else {
        panic!("{error}")
    };
    assert_eq!(cause.kind(), io::ErrorKind::StorageFull);
}
