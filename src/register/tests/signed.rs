//! Statements of certificates: made with the number or not at all, in one chain.

use super::*;
use crate::signature::SigningKey;

pub(super) fn key() -> SigningKey {
    SigningKey::from_random(&[6; 32])
}

/// Enters a test with a signed statement.
async fn signed(register: &Register, test: &NewTest) -> String {
    let entered = register.record_signed(test, record, &key()).await;
    entered.unwrap().certificate_number
}

#[tokio::test]
async fn a_certificate_that_cannot_be_signed_is_not_entered_and_uses_up_no_number() {
    let (_folder, path, register) = fresh().await;
    let twice = |_: &str| "{\"a\": 1, \"a\": 2}".to_owned();
    let test = shop_test("run-1");
    let refused = register.record_signed(&test, twice, &key()).await;
    let error = refused.unwrap_err();
    assert!(
        matches!(&error, RegisterError::NotSigned { number, .. } if number == "TV-2026-0001"),
        "{error}"
    );
    assert_eq!(register.latest(10).await.unwrap(), []);
    assert_eq!(signed(&register, &test).await, "TV-2026-0001");
    assert_eq!(audit(&path).await.unwrap().differs, [""; 0]);
}

#[tokio::test]
async fn a_statement_is_read_as_it_was_signed_and_no_one_may_change_it() {
    let (_folder, path, register) = fresh().await;
    let number = signed(&register, &shop_test("run-1")).await;
    let signed = register.statement(&number).await.unwrap().unwrap();
    assert!(signed.is_genuine());
    assert_eq!(signed.public_key(), key().public());
    assert_eq!(signed.statement().value("number"), Some(number.as_str()));
    assert_eq!(signed.statement().value("run"), Some("run-1"));
    assert_eq!(register.statement("TV-2026-0002").await.unwrap(), None);
    let mut connection = other_program(&path).await;
    for sql in [
        "UPDATE statement SET text = 'x'",
        "UPDATE statement SET row_fields = 'x'",
        "UPDATE statement SET signature = replace(signature, '0', '1')",
        "DELETE FROM statement",
    ] {
        let done = sqlx::raw_sql(sql).execute(&mut connection).await;
        assert!(done.is_err(), "{sql}");
    }
}

#[tokio::test]
async fn entering_a_run_twice_signs_it_once() {
    let (_folder, path, register) = fresh().await;
    for _ in 0..2 {
        signed(&register, &shop_test("run-1")).await;
    }
    assert_eq!(audit(&path).await.unwrap().chain.len(), 1);
}

#[tokio::test]
async fn a_unit_described_anew_is_no_change_of_older_certificates() {
    let (_folder, path, register) = fresh().await;
    for seal in [
        "PTFE slide ring",
        "lip ring",
        "lip ring of the second batch",
    ] {
        let mut test = shop_test(seal);
        test.unit.seal = seal.into();
        signed(&register, &test).await;
    }
    assert_eq!(audit(&path).await.unwrap().differs, [""; 0]);
    register.close().await;
    run_sql(&path, "UPDATE unit SET seal = 'lip ring'").await;
    let found = audit(&path).await.unwrap();
    assert_eq!(
        found.differs,
        ["TV-2026-0003: unit.seal is `lip ring`, `lip ring of the second batch` was signed"]
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn programs_that_write_together_make_one_chain_over_all_series() {
    let (_folder, path, _register) = fresh().await;
    let mut tasks = tokio::task::JoinSet::new();
    for index in 0..12 {
        let path = path.clone();
        tasks.spawn(async move {
            let register = Register::open(&path).await?;
            let mut test = shop_test(&format!("run-{index}"));
            if index % 3 == 0 {
                test.bench = Bench::Practice;
            }
            register.record_signed(&test, record, &key()).await
        });
    }
    while let Some(entered) = tasks.join_next().await {
        entered.unwrap().unwrap();
    }
    let found = audit(&path).await.unwrap();
    assert_eq!(found.differs, [""; 0]);
    assert_eq!(found.chain.len(), 12);
    assert_eq!(found.keys, [key().public()]);
    let of_shop = |head: &&Head| head.number.starts_with("TV-");
    assert_eq!(found.chain.iter().filter(of_shop).count(), 8);
}

#[tokio::test]
async fn a_register_longer_than_one_portion_is_looked_through_to_its_end() {
    let (_folder, path, register) = fresh().await;
    for index in 0..250 {
        let test = shop_test(&format!("run-{index}"));
        signed(&register, &test).await;
    }
    let found = audit(&path).await.unwrap();
    assert_eq!(found.differs, [""; 0]);
    assert_eq!(found.chain.len(), 250);
    assert_eq!(found.chain[249].number, "TV-2026-0250");
}
