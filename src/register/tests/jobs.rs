//! Jobs, withdrawn papers, and what units were before.

use super::*;

pub(super) fn job(symptom: &str) -> NewJob {
    NewJob {
        number: None,
        unit: shop_test("run-1").unit,
        entered_utc_ms: AUGUST_2026,
        time_zone: "Europe/Berlin".to_owned(),
        role: "fitter 2".to_owned(),
        state: JobState::Open,
        reason: String::new(),
        came_in: "2026-08-01".to_owned(),
        went_out: String::new(),
        symptom: symptom.to_owned(),
        decision: None,
        findings: vec![Finding {
            part: "piston seal".to_owned(),
            condition: "lip torn".to_owned(),
            structural: false,
            measured_m: Some(0.12e-3),
            limit_m: Some(0.05e-3),
        }],
        parts: vec![PartUsed {
            part: "guide ring".to_owned(),
            count: 2,
            price_hundredths: 1250,
            from_kit: false,
        }],
        sheet: format!("symptom = {symptom:?}"),
    }
}

#[tokio::test]
async fn a_job_has_versions_and_none_is_lost() {
    let (_folder, _path, register) = fresh().await;
    let opened = register.enter_job(&job("plough sinks")).await.unwrap();
    assert_eq!((opened.number, opened.version), (1, 1));
    let again = NewJob {
        number: Some(1),
        ..job("plough sinks")
    };
    let again = register.enter_job(&again).await.unwrap();
    assert!(again.unchanged && again.version == 1);
    let done = NewJob {
        number: Some(1),
        state: JobState::Done,
        went_out: "2026-08-03".to_owned(),
        decision: Some(Decision::Rebuild),
        ..job("plough sinks overnight")
    };
    assert_eq!(register.enter_job(&done).await.unwrap().version, 2);
    let versions = register.job(1).await.unwrap();
    assert_eq!(versions.len(), 2);
    assert_eq!(versions[0].symptom, "plough sinks overnight");
    assert_eq!(versions[0].decision, Some(Decision::Rebuild));
    assert_eq!(versions[1].state, JobState::Open);
    assert_eq!(versions[0].findings, done.findings);
    assert_eq!(versions[0].parts, done.parts);
    assert!(versions[0].findings[0].is_over());
    assert_eq!(
        register.jobs_of_unit("TV-0312").await.unwrap(),
        versions[..1]
    );
    // Only what stands now is found.
    for (text, n_found) in [
        ("overnight", 1),
        ("lip torn", 1),
        ("guide ring", 1),
        ("dry", 0),
        ("", 1),
    ] {
        let found = register.jobs_matching(text, 10).await.unwrap();
        assert_eq!(found.len(), n_found, "{text:?}");
    }
}

#[tokio::test]
async fn a_job_that_cannot_be_is_refused_in_words() {
    let (_folder, _path, register) = fresh().await;
    register.enter_job(&job("sinks")).await.unwrap();
    let mut other = NewJob {
        number: Some(1),
        ..job("sinks")
    };
    other.unit.tag = "TV-0313".to_owned();
    let bad = [
        (
            NewJob {
                number: Some(2),
                ..job("sinks")
            },
            "no job of this number",
        ),
        (other, "of another unit"),
        (
            NewJob {
                came_in: "1 August".to_owned(),
                ..job("sinks")
            },
            "2026-11-20",
        ),
        (
            NewJob {
                went_out: "2026-07-31".to_owned(),
                ..job("sinks")
            },
            "before it came in",
        ),
        (
            NewJob {
                state: JobState::Withdrawn,
                ..job("sinks")
            },
            "why the job is withdrawn",
        ),
        (
            NewJob {
                symptom: " ".to_owned(),
                ..job("sinks")
            },
            "must not be empty",
        ),
        (
            NewJob {
                role: String::new(),
                ..job("sinks")
            },
            "must not be empty",
        ),
    ];
    for (job, says) in bad {
        let said = register.enter_job(&job).await.unwrap_err().to_string();
        assert!(said.contains(says), "{said}");
    }
    assert_eq!(register.jobs_matching("", 10).await.unwrap().len(), 1);
}

#[tokio::test]
async fn a_test_belongs_to_the_job_that_is_open_then() {
    let (_folder, _path, register) = fresh().await;
    register
        .record_test(&shop_test("before"), record)
        .await
        .unwrap();
    register.enter_job(&job("sinks")).await.unwrap();
    register
        .record_test(&shop_test("during"), record)
        .await
        .unwrap();
    let done = NewJob {
        number: Some(1),
        state: JobState::Done,
        went_out: "2026-08-02".to_owned(),
        ..job("sinks")
    };
    register.enter_job(&done).await.unwrap();
    register
        .record_test(&shop_test("after"), record)
        .await
        .unwrap();
    for (run, expected) in [("before", None), ("during", Some(1)), ("after", None)] {
        let entry = register.find_by_run(run).await.unwrap().unwrap();
        assert_eq!(entry.job, expected, "{run}");
    }
}

#[tokio::test]
async fn a_withdrawn_paper_stays_with_its_reason_and_for_good() {
    let (_folder, path, register) = fresh().await;
    register
        .record_test(&shop_test("run-1"), record)
        .await
        .unwrap();
    let withdrawal = Withdrawal {
        number: "TV-2026-0001".to_owned(),
        at_utc_ms: AUGUST_2026 + 1,
        time_zone: "Europe/Berlin".to_owned(),
        role: "bench technician".to_owned(),
        reason: "wrong cylinder on the bench".to_owned(),
    };
    register.withdraw(&withdrawal).await.unwrap();
    let entry = register.find_by_run("run-1").await.unwrap().unwrap();
    assert_eq!(entry.withdrawn, Some(withdrawal.reason.clone()));
    let again = register
        .withdraw(&withdrawal)
        .await
        .unwrap_err()
        .to_string();
    assert!(again.contains("withdrawn already"), "{again}");
    let unknown = Withdrawal {
        number: "TV-2026-0009".to_owned(),
        ..withdrawal.clone()
    };
    let said = register.withdraw(&unknown).await.unwrap_err().to_string();
    assert!(said.contains("no paper of this number"), "{said}");
    let unfounded = Withdrawal {
        reason: " ".to_owned(),
        ..withdrawal
    };
    assert!(register.withdraw(&unfounded).await.is_err());
    let mut other = other_program(&path).await;
    for sql in [
        "DELETE FROM withdrawal",
        "UPDATE withdrawal SET reason = 'x'",
    ] {
        assert!(
            sqlx::raw_sql(sql).execute(&mut other).await.is_err(),
            "{sql}"
        );
    }
}

#[tokio::test]
async fn a_unit_remembers_what_it_was_described_as() {
    let (_folder, path, register) = fresh().await;
    register
        .record_test(&shop_test("run-1"), record)
        .await
        .unwrap();
    register
        .record_test(&shop_test("run-2"), record)
        .await
        .unwrap();
    let mut moved = shop_test("run-3");
    moved.unit.machine = "winter carrier 9".to_owned();
    register.record_test(&moved, record).await.unwrap();
    let mut other = other_program(&path).await;
    let was: Vec<(String, String)> = sqlx::query_as("SELECT machine, described_by FROM unit_was")
        .fetch_all(&mut other)
        .await
        .unwrap();
    assert_eq!(
        was,
        [("winter carrier 7".to_owned(), "run run-1".to_owned())]
    );
    // Tests are found by the machine of their day and by that of today.
    assert_eq!(
        register
            .matching("carrier 7", Period::ALWAYS, 9)
            .await
            .unwrap()
            .len(),
        2
    );
    assert_eq!(
        register
            .matching("carrier 9", Period::ALWAYS, 9)
            .await
            .unwrap()
            .len(),
        1
    );
}
