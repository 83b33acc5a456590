//! The first weeks of a rehearsed year: tests, papers, jobs and their dates belong together.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::collections::BTreeSet;
use stillrod::daemon::a_year::days;
use stillrod::daemon::paper::sha256_hex;
use stillrod::register::Bench;
use stillrod::register::Register;
use stillrod::register::audit;
use stillrod::rehearsal::year::DAY_MS;
use stillrod::rehearsal::year::YEAR_UTC_MS;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_month_has_its_tests_papers_and_jobs_at_their_dates() {
    let folder = tempfile::tempdir().unwrap();
    let month = days(folder.path(), 1, 31, |_| {}).await.unwrap();
    println!("{month:?}");
    assert!(month.n_tests >= 8, "{month:?}");
    let n_with_outcome: usize = month.outcomes.values().sum();
    assert_eq!(n_with_outcome, month.n_tests);
    assert!(month.outcomes.contains_key("fail") && month.outcomes.contains_key("pass"));
    // A second year in the same folder would be told as one.
    assert!(days(folder.path(), 1, 31, |_| {}).await.is_err());

    let file = folder.path().join("register.db");
    let register = Register::open(&file).await.unwrap();
    let tests = register.latest(1000).await.unwrap();
    assert_eq!(tests.len(), month.n_tests);
    let month_ms = YEAR_UTC_MS..YEAR_UTC_MS + 31 * DAY_MS;
    let numbers: BTreeSet<String> = (1..=tests.len())
        .map(|n| format!("PRACTICE-TV-2025-{n:04}"))
        .collect();
    let found: BTreeSet<String> = tests.iter().map(|t| t.certificate_number.clone()).collect();
    assert_eq!(found, numbers);
    let mut jobs = BTreeSet::new();
    for test in &tests {
        assert_eq!(test.bench, Bench::Practice);
        assert!(month_ms.contains(&test.started_utc_ms) && month_ms.contains(&test.issued_utc_ms));
        assert!(test.issued_utc_ms > test.started_utc_ms);
        let job = register
            .job(test.job.expect("a test belongs to a job"))
            .await
            .unwrap();
        assert_eq!(job[0].tag, test.unit.tag);
        jobs.insert(job[0].number);
        let path = folder.path().join("recordings").join(&test.archive_file);
        assert_eq!(sha256_hex(&path).unwrap(), test.archive_sha256);
        for end in ["pdf", "json"] {
            let name = format!("{}.{end}", test.certificate_number);
            assert!(folder.path().join("papers").join(name).exists());
        }
    }
    assert!(jobs.len() <= month.n_jobs);
    // Numbers are given in the order of the dates.
    let mut by_number = tests.clone();
    by_number.sort_by(|a, b| a.certificate_number.cmp(&b.certificate_number));
    assert!(by_number.is_sorted_by_key(|test| test.issued_utc_ms));
    register.close().await;
    assert_eq!(audit(&file).await.unwrap().differs, Vec::<String>::new());
}

/// `cargo test --release --test a_year -- --ignored --nocapture` tells how long a year takes.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "takes minutes; the month above has the same code"]
async fn a_whole_year_is_rehearsed() {
    let folder = tempfile::tempdir().unwrap();
    let told = |sentence: String| println!("{sentence}");
    let year = stillrod::daemon::a_year::a_year(folder.path(), 1, told)
        .await
        .unwrap();
    println!("{year:?}");
    assert!(year.n_tests >= 200 && year.n_units >= 60, "{year:?}");
}
