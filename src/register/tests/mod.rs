//! Tests of the register on real files in a temporary folder.
//!
//! Scenario: the Tarn Valley road depot. Two registers on one file stand for two
//! programs. What the file itself can be like is in `file_states`.

use std::collections::BTreeSet;
use std::path::PathBuf;

use sqlx::Connection as _;
use sqlx::SqliteConnection;
use tempfile::TempDir;

mod built;
mod file_states;
mod jobs;
mod judged_again;
mod many;
mod searched;
mod signed;

use super::*;
use crate::verdict::Outcome;

const AUGUST_2026: i64 = 1_785_571_200_000; // 2026-08-01 08:00 UTC

fn shop_test(run_id: &str) -> NewTest {
    NewTest {
        run_id: run_id.to_owned(),
        unit: Unit {
            tag: "TV-0312".to_owned(),
            description: "plough lift cylinder".to_owned(),
            machine: "winter carrier 7".to_owned(),
            serial: "0312-B".to_owned(),
            seal: "PTFE slide ring".to_owned(),
            build: Build::default(),
        },
        started_utc_ms: AUGUST_2026,
        time_zone: "Europe/Berlin".to_owned(),
        outcome: Outcome::Pass,
        headline: "piston bypass 0.08 mL/min".to_owned(),
        archive_file: format!("{run_id}.h5"),
        archive_sha256: "0123456789abcdef".repeat(4),
        software: "stillrod 0.1.0".to_owned(),
        method_version: 1,
        sensors: Vec::new(),
        bench: Bench::Shop,
        kind: PaperKind::Certificate,
        prefix: NumberPrefix::new("TV").unwrap(),
        issued_utc_ms: AUGUST_2026 + 600_000,
        issued_utc_offset_s: 7200,
    }
}

fn record(number: &str) -> String {
    format!("{{\"number\":\"{number}\"}}")
}

/// A register in a new folder; the folder goes with the guard.
async fn fresh() -> (TempDir, PathBuf, Register) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.db");
    let register = Register::open(&path).await.unwrap();
    (folder, path, register)
}

/// A connection past the register, as another program would make it.
async fn other_program(path: &Path) -> SqliteConnection {
    SqliteConnection::connect_with(&file::options(path, Duration::ZERO))
        .await
        .unwrap()
}

async fn run_sql(path: &Path, sql: &'static str) {
    let mut connection = other_program(path).await;
    sqlx::raw_sql(sql).execute(&mut connection).await.unwrap();
    connection.close().await.unwrap();
}

#[tokio::test]
async fn an_entered_test_is_read_back_as_it_was() {
    let (_folder, _path, register) = fresh().await;
    let test = NewTest {
        outcome: Outcome::NotValid,
        kind: PaperKind::Report,
        ..shop_test("run-1")
    };
    let entered = register.record_test(&test, record).await.unwrap();
    assert_eq!(entered.certificate_number, "TV-2026-0001");
    let entry = register.find_by_run("run-1").await.unwrap().unwrap();
    let expected = Entry {
        test_id: entered.test_id,
        certificate_number: "TV-2026-0001".to_owned(),
        run_id: test.run_id,
        unit: test.unit,
        started_utc_ms: test.started_utc_ms,
        time_zone: test.time_zone,
        outcome: test.outcome,
        headline: test.headline,
        archive_file: test.archive_file,
        archive_sha256: test.archive_sha256,
        software: test.software,
        method_version: test.method_version,
        bench: test.bench,
        kind: test.kind,
        issued_utc_ms: test.issued_utc_ms,
        job: None,
        withdrawn: None,
    };
    assert_eq!(entry, expected);
    let by_number = register.find_by_number("TV-2026-0001").await.unwrap();
    assert_eq!(by_number, Some(expected));
    assert_eq!(
        register.record_json("TV-2026-0001").await.unwrap(),
        Some(record("TV-2026-0001"))
    );
    assert_eq!(register.find_by_run("run-2").await.unwrap(), None);
    assert_eq!(register.record_json("TV-2026-0002").await.unwrap(), None);
}

#[tokio::test]
async fn every_outcome_and_kind_of_paper_survives_the_file() {
    let (_folder, path, register) = fresh().await;
    let outcomes = [
        Outcome::Pass,
        Outcome::Fail,
        Outcome::Undecided,
        Outcome::NotValid,
        Outcome::Measured,
    ];
    for (index, outcome) in outcomes.into_iter().enumerate() {
        let test = NewTest {
            outcome,
            ..shop_test(&format!("run-{index}"))
        };
        register.record_test(&test, record).await.unwrap();
    }
    register.close().await;
    let again = Register::open(&path).await.unwrap();
    let mut found: Vec<Outcome> = Vec::new();
    for entry in again.latest(10).await.unwrap() {
        found.insert(0, entry.outcome);
    }
    assert_eq!(found, outcomes);
}

#[tokio::test]
async fn entering_a_run_twice_makes_one_entry() {
    let (_folder, _path, register) = fresh().await;
    let first = register.record_test(&shop_test("run-1"), record).await;
    let first = first.unwrap();
    let again = register
        .record_test(&shop_test("run-1"), |_| {
            unreachable!("the record exists already")
        })
        .await;
    assert_eq!(again.unwrap(), first);
    assert_eq!(register.latest(10).await.unwrap().len(), 1);
}

#[tokio::test]
async fn the_same_run_with_another_archive_is_refused() {
    let (_folder, _path, register) = fresh().await;
    let test = shop_test("run-1");
    register.record_test(&test, record).await.unwrap();
    let other = NewTest {
        archive_sha256: "f".repeat(64),
        ..test
    };
    let error = register.record_test(&other, record).await.unwrap_err();
    assert!(
        matches!(&error, RegisterError::OtherArchive { number, .. } if number == "TV-2026-0001"),
        "{error}"
    );
    assert_eq!(register.latest(10).await.unwrap().len(), 1);
}

#[tokio::test]
async fn practice_runs_use_up_no_number_of_the_shop() {
    let (_folder, _path, register) = fresh().await;
    let mut numbers = Vec::new();
    for (run_id, bench) in [
        ("a", Bench::Shop),
        ("b", Bench::Practice),
        ("c", Bench::Practice),
        ("d", Bench::Shop),
    ] {
        let mut test = shop_test(run_id);
        test.bench = bench;
        test.unit.seal = run_id.to_owned();
        let entered = register.record_test(&test, record).await.unwrap();
        numbers.push(entered.certificate_number);
    }
    assert_eq!(
        numbers,
        [
            "TV-2026-0001",
            "PRACTICE-TV-2026-0001",
            "PRACTICE-TV-2026-0002",
            "TV-2026-0002"
        ]
    );
}

#[tokio::test]
async fn a_practice_run_does_not_redescribe_a_unit_of_the_shop() {
    let (_folder, _path, register) = fresh().await;
    for (run_id, bench) in [("shop", Bench::Shop), ("practice", Bench::Practice)] {
        let mut test = shop_test(run_id);
        test.bench = bench;
        test.unit.seal = format!("seal of {run_id}");
        register.record_test(&test, record).await.unwrap();
    }
    let entry = register.find_by_run("practice").await.unwrap().unwrap();
    assert_eq!(entry.bench, Bench::Practice);
    assert_eq!(entry.unit.seal, "seal of shop");
}

#[tokio::test]
async fn numbers_begin_again_with_the_year_on_the_shops_calendar() {
    let (_folder, _path, register) = fresh().await;
    let new_year_eve = 1_798_759_800_000; // 2026-12-31 23:30 UTC
    let mut numbers = Vec::new();
    for (run_id, offset_s) in [("west", -3600), ("utc", 0), ("east", 3600)] {
        let test = NewTest {
            issued_utc_ms: new_year_eve,
            issued_utc_offset_s: offset_s,
            ..shop_test(run_id)
        };
        let entered = register.record_test(&test, record).await.unwrap();
        numbers.push(entered.certificate_number);
    }
    assert_eq!(numbers, ["TV-2026-0001", "TV-2026-0002", "TV-2027-0001"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_thousand_tests_from_two_programs_get_a_thousand_consecutive_numbers() {
    const N: usize = 1_000;
    let (_folder, path, one) = fresh().await;
    let two = Register::open(&path).await.unwrap();
    let mut tasks = tokio::task::JoinSet::new();
    for index in 0..N {
        let register = if index % 2 == 0 {
            one.clone()
        } else {
            two.clone()
        };
        tasks.spawn(async move {
            let test = shop_test(&format!("run-{index}"));
            register.record_test(&test, record).await
        });
    }
    let mut numbers = BTreeSet::new();
    while let Some(entered) = tasks.join_next().await {
        numbers.insert(entered.unwrap().unwrap().certificate_number);
    }
    let expected: BTreeSet<String> = (1..=N).map(|i| format!("TV-2026-{i:04}")).collect();
    assert_eq!(numbers, expected);
    for (index, number) in [(0, "TV-2026-0001"), (N - 1, "TV-2026-1000")] {
        let stored = one.record_json(number).await.unwrap();
        assert_eq!(stored, Some(record(number)), "{index}");
    }
}

#[tokio::test]
async fn a_write_waits_for_another_program_and_then_succeeds() {
    let (_folder, path, register) = fresh().await;
    let mut other = other_program(&path).await;
    let held = other.begin_with("BEGIN IMMEDIATE").await.unwrap();
    let waiting = tokio::spawn(async move {
        let test = shop_test("run-1");
        register.record_test(&test, record).await
    });
    tokio::time::sleep(Duration::from_millis(300)).await;
    assert!(!waiting.is_finished(), "the lock was not waited for");
    held.rollback().await.unwrap();
    let entered = waiting.await.unwrap().unwrap();
    assert_eq!(entered.certificate_number, "TV-2026-0001");
}

#[tokio::test]
async fn a_write_that_waited_in_vain_says_that_another_program_holds_the_file() {
    let (_folder, path, register) = fresh().await;
    register.close().await;
    let impatient = Register::open_with(&path, Duration::from_millis(50), u64::MAX);
    let impatient = impatient.await.unwrap();
    let mut other = other_program(&path).await;
    let held = other.begin_with("BEGIN IMMEDIATE").await.unwrap();
    let error = impatient.record_test(&shop_test("run-1"), record).await;
    assert!(
        matches!(error, Err(RegisterError::Locked { .. })),
        "{error:?}"
    );
    // Readers go on meanwhile.
    assert_eq!(impatient.latest(10).await.unwrap(), []);
    held.rollback().await.unwrap();
    let entered = impatient.record_test(&shop_test("run-1"), record).await;
    assert_eq!(entered.unwrap().certificate_number, "TV-2026-0001");
}

#[tokio::test]
async fn a_connection_lost_in_the_middle_of_an_entry_leaves_nothing() {
    let (_folder, path, register) = fresh().await;
    let mut connection = other_program(&path).await;
    let mut half = connection.begin_with("BEGIN IMMEDIATE").await.unwrap();
    rows::insert_test(&mut half, &shop_test("run-1"))
        .await
        .unwrap();
    drop(half);
    drop(connection);
    assert_eq!(register.find_by_run("run-1").await.unwrap(), None);
    let entered = register.record_test(&shop_test("run-2"), record).await;
    assert_eq!(entered.unwrap().certificate_number, "TV-2026-0001");
}

#[tokio::test]
async fn what_lies_on_the_disk_in_the_middle_of_an_entry_opens_without_it() {
    let (_folder, path, register) = fresh().await;
    register
        .record_test(&shop_test("run-1"), record)
        .await
        .unwrap();
    let mut connection = other_program(&path).await;
    let mut half = connection.begin_with("BEGIN IMMEDIATE").await.unwrap();
    let id = rows::insert_test(&mut half, &shop_test("run-2"))
        .await
        .unwrap();
    let paper = Paper::next(&mut half, &shop_test("run-2")).await.unwrap();
    paper
        .insert(&mut half, &shop_test("run-2"), id, "{}")
        .await
        .unwrap();
    // The file and its log as a power cut would leave them.
    let after_cut = tempfile::tempdir().unwrap();
    let copy = after_cut.path().join("register.db");
    std::fs::copy(&path, &copy).unwrap();
    std::fs::copy(
        path.with_file_name("register.db-wal"),
        copy.with_file_name("register.db-wal"),
    )
    .unwrap();
    let opened = Register::open(&copy).await.unwrap();
    assert!(opened.find_by_run("run-1").await.unwrap().is_some());
    assert_eq!(opened.find_by_run("run-2").await.unwrap(), None);
    let entered = opened.record_test(&shop_test("run-3"), record).await;
    assert_eq!(entered.unwrap().certificate_number, "TV-2026-0002");
}

#[tokio::test]
async fn after_a_full_disk_a_test_is_entered_as_soon_as_there_is_room() {
    let (_folder, _path, register) = fresh().await;
    let mut writer = register.writer.acquire().await.unwrap();
    let n_pages: i64 = sqlx::query_scalar("PRAGMA page_count")
        .fetch_one(&mut *writer)
        .await
        .unwrap();
    let full = format!("PRAGMA max_page_count = {n_pages}");
    sqlx::query(sqlx::AssertSqlSafe(full))
        .execute(&mut *writer)
        .await
        .unwrap();
    drop(writer);
    let long = |_: &str| format!("[{:?}]", "x".repeat(100_000));
    let full = register.record_test(&shop_test("run-1"), long).await;
    assert!(matches!(full, Err(RegisterError::Disk { .. })), "{full:?}");
    let mut writer = register.writer.acquire().await.unwrap();
    sqlx::query("PRAGMA max_page_count = 1000000")
        .execute(&mut *writer)
        .await
        .unwrap();
    drop(writer);
    let entered = register.record_test(&shop_test("run-1"), long).await;
    assert_eq!(entered.unwrap().certificate_number, "TV-2026-0001");
}

#[tokio::test]
async fn a_record_that_is_no_json_leaves_neither_test_nor_number() {
    let (_folder, _path, register) = fresh().await;
    let bad = register
        .record_test(&shop_test("run-1"), |_| "{broken".to_owned())
        .await;
    assert!(
        matches!(bad, Err(RegisterError::Database { .. })),
        "{bad:?}"
    );
    assert_eq!(register.find_by_run("run-1").await.unwrap(), None);
    let entered = register.record_test(&shop_test("run-1"), record).await;
    assert_eq!(entered.unwrap().certificate_number, "TV-2026-0001");
}

#[tokio::test]
async fn the_hour_that_repeats_in_autumn_is_sorted_by_instant() {
    let (_folder, _path, register) = fresh().await;
    // 25 October 2026, Europe/Berlin: 02:30+02:00 comes before 02:10+01:00.
    let before = 1_792_888_200_000; // 00:30 UTC
    let after = 1_792_890_600_000; // 01:10 UTC
    for (run_id, started_utc_ms) in [("02:10+01:00", after), ("02:30+02:00", before)] {
        let test = NewTest {
            started_utc_ms,
            ..shop_test(run_id)
        };
        register.record_test(&test, record).await.unwrap();
    }
    for list in [
        register.latest(10).await.unwrap(),
        register.tests_of_unit("TV-0312").await.unwrap(),
        register
            .matching("plough", Period::ALWAYS, 10)
            .await
            .unwrap(),
    ] {
        let order: Vec<&str> = list.iter().map(|e| e.run_id.as_str()).collect();
        assert_eq!(order, ["02:10+01:00", "02:30+02:00"]);
    }
}

#[tokio::test]
async fn what_the_tables_would_refuse_is_refused_in_words() {
    let (_folder, _path, register) = fresh().await;
    type Spoil = fn(&mut NewTest);
    let spoil: [(&str, Spoil); 6] = [
        ("run id", |t| t.run_id.clear()),
        ("unit tag", |t| t.unit.tag = " ".to_owned()),
        ("archive file", |t| t.archive_file.clear()),
        ("archive hash", |t| t.archive_sha256 = "A".repeat(64)),
        ("archive hash", |t| t.archive_sha256.push('0')),
        ("headline", |t| t.headline = "é".repeat(2_001)),
    ];
    for (wanted, spoil) in spoil {
        let mut test = shop_test("run-1");
        spoil(&mut test);
        let error = register.record_test(&test, record).await.unwrap_err();
        assert!(
            matches!(&error, RegisterError::Unfit { field, .. } if *field == wanted),
            "{error}"
        );
    }
}
