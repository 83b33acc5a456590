//! Two programs write into one register as fast as they can: no test is lost, no number is given
//! twice or left out, and the statements are one chain.
//!
//! The programs are real ones: this test starts itself twice, with the file in the environment.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::collections::BTreeSet;
use std::path::Path;
use std::path::PathBuf;
use std::process::Child;
use std::process::Command;
use std::time::Duration;
use stillrod::register::Bench;
use stillrod::register::Build;
use stillrod::register::NewTest;
use stillrod::register::NumberPrefix;
use stillrod::register::PaperKind;
use stillrod::register::Period;
use stillrod::register::Register;
use stillrod::register::RegisterError;
use stillrod::register::Unit;
use stillrod::register::audit;
use stillrod::signature::SigningKey;
use stillrod::verdict::Outcome;

const N_EACH: usize = 500;
const FILE: &str = "STILLROD_TEST_REGISTER";
const WRITER: &str = "STILLROD_TEST_WRITER";
const AUGUST_2026: i64 = 1_785_571_200_000;

fn a_test(writer: &str, index: usize) -> NewTest {
    let run_id = format!("run-{writer}-{index}");
    NewTest {
        archive_file: format!("{run_id}.h5"),
        run_id,
        unit: Unit {
            // Both write about the same units, too.
            tag: format!("TV-{:04}", index % 40),
            description: "plough lift cylinder".into(),
            machine: "winter carrier 7".into(),
            serial: "0312-B".into(),
            seal: format!("seal {}", index % 7),
            build: Build::default(),
        },
        started_utc_ms: AUGUST_2026 + i64::try_from(index).unwrap(),
        time_zone: "Europe/London".into(),
        outcome: Outcome::Pass,
        headline: "cap loss 0.08 mL/min".into(),
        archive_sha256: "0123456789abcdef".repeat(4),
        software: "stillrod 0.1.0".into(),
        method_version: 1,
        sensors: Vec::new(),
        bench: Bench::Shop,
        kind: PaperKind::Certificate,
        prefix: NumberPrefix::new("TV").unwrap(),
        issued_utc_ms: AUGUST_2026,
        issued_utc_offset_s: 0,
    }
}

fn start(file: &Path, writer: &str) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "one_of_two_writers"])
        .env(FILE, file)
        .env(WRITER, writer)
        .spawn()
        .unwrap()
}

/// A file that says that a writer is about to begin; none begins before both are there.
fn ready(file: &Path, writer: &str) -> PathBuf {
    file.with_file_name(format!("ready-{writer}"))
}

/// The body of a program that writes; by itself there is nothing to write into.
#[test]
fn one_of_two_writers() {
    let (Some(file), Ok(writer)) = (std::env::var_os(FILE), std::env::var(WRITER)) else {
        return;
    };
    let key = SigningKey::from_random(&[writer.as_bytes()[0]; 32]);
    tokio::runtime::Runtime::new().unwrap().block_on(async {
        let register = Register::open(Path::new(&file)).await.unwrap();
        std::fs::write(ready(Path::new(&file), &writer), "").unwrap();
        while !["a", "b"]
            .iter()
            .all(|w| ready(Path::new(&file), w).exists())
        {
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
        for index in 0..N_EACH {
            let record =
                |number: &str| format!("{{\"number\":\"{number}\",\"writer\":\"{writer}\"}}");
            // On a slow disk the other may hold this one off for longer than a write waits.
            loop {
                let test = a_test(&writer, index);
                match register.record_signed(&test, record, &key).await {
                    Err(RegisterError::Locked { .. }) => {}
                    entered => break drop(entered.unwrap()),
                }
            }
        }
        register.close().await;
    });
}

#[tokio::test]
async fn a_thousand_tests_of_two_programs_are_all_there_numbered_and_in_one_chain() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("register.db");
    // Not even the file is there: both make it.
    let mut writers = ["a", "b"].map(|writer| start(&file, writer));
    for writer in &mut writers {
        assert!(writer.wait().unwrap().success());
    }
    let register = Register::open(&file).await.unwrap();
    register.check().await.unwrap();
    let all = register.latest(1000).await.unwrap();
    let runs: BTreeSet<&str> = all.iter().map(|entry| entry.run_id.as_str()).collect();
    let expected: BTreeSet<String> = ["a", "b"]
        .iter()
        .flat_map(|writer| (0..N_EACH).map(move |index| a_test(writer, index).run_id))
        .collect();
    assert!(runs.iter().copied().eq(expected.iter().map(String::as_str)));
    let numbers: BTreeSet<String> = all.iter().map(|e| e.certificate_number.clone()).collect();
    let expected: BTreeSet<String> = (1..=2 * N_EACH)
        .map(|n| format!("TV-2026-{n:04}"))
        .collect();
    assert_eq!(numbers, expected);
    for entry in all.iter().step_by(97) {
        let number = &entry.certificate_number;
        let record = register.record_json(number).await.unwrap().unwrap();
        let writer = entry.run_id.split('-').nth(1).unwrap();
        assert_eq!(
            record,
            format!("{{\"number\":\"{number}\",\"writer\":\"{writer}\"}}")
        );
        let by_words = register.matching(number, Period::ALWAYS, 10).await;
        assert!(by_words.unwrap().contains(entry), "{number}");
    }
    register.close().await;
    let found = audit(&file).await.unwrap();
    assert_eq!(found.differs, Vec::<String>::new());
    let chain: Vec<&str> = found
        .chain
        .iter()
        .map(|head| head.number.as_str())
        .collect();
    assert!(
        chain
            .iter()
            .copied()
            .eq(expected.iter().map(String::as_str))
    );
    // Both began when both were there. How often they take turns is the database's affair, which
    // lets whoever has just written write again.
    println!("the programs took turns {} times", turns(&all));
}

/// How often the next number went to the other program.
fn turns(all: &[stillrod::register::Entry]) -> usize {
    let mut by_row: Vec<_> = all.iter().collect();
    by_row.sort_by_key(|entry| entry.test_id);
    let writer = |entry: &stillrod::register::Entry| entry.run_id.as_bytes()[4];
    let pairs = by_row.windows(2);
    pairs
        .filter(|pair| writer(pair[0]) != writer(pair[1]))
        .count()
}
