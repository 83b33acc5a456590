//! What is judged again is kept beside the test and changes nothing of it.

use super::*;

fn again(number: &str) -> JudgedAgain {
    JudgedAgain {
        number: number.into(),
        at_utc_ms: AUGUST_2026 + 86_400_000,
        time_zone: "Europe/Berlin".into(),
        role: "bench technician".into(),
        limits: vec!["rebuilt-63-cap-loss".into(), "cap_loss: 0.3 mL/min".into()],
        outcome: Outcome::Fail,
        headline: "1.4 is over the limit of 0.3 mL/min".into(),
        software: "stillrod 0.1.0".into(),
        record_json: "{\"outcome\": \"fail\"}".into(),
    }
}

#[tokio::test]
async fn what_was_judged_again_stands_beside_the_first_judgement() {
    let (_folder, _path, register) = fresh().await;
    register
        .record_test(&shop_test("run-1"), record)
        .await
        .unwrap();
    let first = register
        .find_by_number("TV-2026-0001")
        .await
        .unwrap()
        .unwrap();
    let earlier = again("TV-2026-0001");
    let later = JudgedAgain {
        outcome: Outcome::Pass,
        ..earlier.clone()
    };
    register.keep_judged_again(&earlier).await.unwrap();
    register.keep_judged_again(&later).await.unwrap();
    let listed = register.judged_again("TV-2026-0001").await.unwrap();
    assert_eq!(listed, [later, earlier]);
    let now = register
        .find_by_number("TV-2026-0001")
        .await
        .unwrap()
        .unwrap();
    assert_eq!((now, Outcome::Pass), (first.clone(), first.outcome));
    let kept = register.record_json("TV-2026-0001").await.unwrap().unwrap();
    assert_eq!(kept, record("TV-2026-0001"));
}

#[tokio::test]
async fn nothing_is_kept_without_a_paper_a_role_or_a_limit() {
    let (_folder, _path, register) = fresh().await;
    register
        .record_test(&shop_test("run-1"), record)
        .await
        .unwrap();
    let whole = again("TV-2026-0001");
    for (wrong, says) in [
        (again("TV-2026-0002"), "no paper of this number"),
        (
            JudgedAgain {
                role: "  ".into(),
                ..whole.clone()
            },
            "role",
        ),
        (
            JudgedAgain {
                limits: Vec::new(),
                ..whole.clone()
            },
            "limits",
        ),
    ] {
        let said = register
            .keep_judged_again(&wrong)
            .await
            .unwrap_err()
            .to_string();
        assert!(said.contains(says), "{said}");
    }
    assert!(
        register
            .judged_again("TV-2026-0001")
            .await
            .unwrap()
            .is_empty()
    );
    // A refusal leaves the register free for the next.
    register.keep_judged_again(&whole).await.unwrap();
}

#[tokio::test]
async fn what_was_judged_again_is_never_changed_nor_deleted() {
    let (_folder, path, register) = fresh().await;
    register
        .record_test(&shop_test("run-1"), record)
        .await
        .unwrap();
    register
        .keep_judged_again(&again("TV-2026-0001"))
        .await
        .unwrap();
    let mut other = other_program(&path).await;
    for (sql, says) in [
        ("DELETE FROM judged_again", "never deleted"),
        ("UPDATE judged_again SET outcome = 'pass'", "never changed"),
    ] {
        let said = sqlx::query(sql)
            .execute(&mut other)
            .await
            .unwrap_err()
            .to_string();
        assert!(said.contains(says), "{said}");
    }
}

#[tokio::test]
async fn a_register_from_before_is_not_told_that_guards_are_gone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.db");
    let options = file::options(&path, Duration::ZERO).create_if_missing(true);
    let mut all = SqliteConnection::connect_with(&options).await.unwrap();
    for layout in &file::LAYOUTS[..4] {
        sqlx::raw_sql(*layout).execute(&mut all).await.unwrap();
    }
    all.close().await.unwrap();
    let said = format!("{:?}", audit(&path).await.unwrap());
    assert!(!said.contains("guard"), "{said}");
    // Brought up to date, a guard that is taken away is missed.
    let register = Register::open(&path).await.unwrap();
    register.close().await;
    let mut other = other_program(&path).await;
    sqlx::query("DROP TRIGGER judged_again_is_kept")
        .execute(&mut other)
        .await
        .unwrap();
    other.close().await.unwrap();
    let said = format!("{:?}", audit(&path).await.unwrap());
    assert!(said.contains("judged_again_is_kept"), "{said}");
}
