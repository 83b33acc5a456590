//! How units are built: kept, brought up to date, signed, and told apart from what was signed before.

use super::signed::key;
use super::*;
use crate::cylinder::Kind;
use crate::register::fields::Fields;
use crate::signature::CertificateStatement;
use crate::signature::Digest;
use crate::signature::issued_utc;
use crate::signature::sections;

fn plough_lift() -> Build {
    Build {
        kind: Some(Kind::DoubleActing),
        bore_um: Some(63_000),
        rod_um: Some(36_000),
        stroke_um: Some(400_000),
        cap_rating_pa: Some(25_000_000),
        rod_rating_pa: None,
        ports: "G 3/8".into(),
        holding_valve: "counterbalance valve, cap end".into(),
    }
}

async fn built(register: &Register) -> Build {
    let units = register.units(UnitsOf::Shop, "").await.unwrap();
    units[0].unit.build.clone()
}

#[tokio::test]
async fn what_a_test_does_not_say_of_a_build_stays_as_it_was() {
    let (_folder, path, register) = fresh().await;
    let mut test = shop_test("run-1");
    test.unit.build = plough_lift();
    register.record_test(&test, record).await.unwrap();
    // A plain chamber, a procedure without ratings: nothing is said, nothing is lost.
    register
        .record_test(&shop_test("run-2"), record)
        .await
        .unwrap();
    assert_eq!(built(&register).await, plough_lift());
    let mut bored = shop_test("run-3");
    bored.unit.build.bore_um = Some(63_500);
    register.record_test(&bored, record).await.unwrap();
    let now = built(&register).await;
    assert_eq!(now.bore_um, Some(63_500));
    assert_eq!(now.ports, "G 3/8");
    let mut practice = shop_test("run-4");
    practice.bench = Bench::Practice;
    practice.unit.build.bore_um = Some(40_000);
    register.record_test(&practice, record).await.unwrap();
    assert_eq!(built(&register).await.bore_um, Some(63_500));
    let mut other = other_program(&path).await;
    let was: Vec<(i64, String)> = sqlx::query_as("SELECT bore_um, described_by FROM unit_was")
        .fetch_all(&mut other)
        .await
        .unwrap();
    assert_eq!(was, [(63_000, "run run-1".to_owned())]);
}

/// A register as it was laid out before units had a build, with one signed certificate.
async fn register_from_before(path: &Path) {
    let options = file::options(path, Duration::ZERO).create_if_missing(true);
    let mut all = SqliteConnection::connect_with(&options).await.unwrap();
    for layout in &file::LAYOUTS[..3] {
        sqlx::raw_sql(*layout).execute(&mut all).await.unwrap();
    }
    let hash = "a".repeat(64);
    let record = record("TV-2026-0001");
    let rows = format!(
        "INSERT INTO unit (id, tag, description, machine, serial, seal, described_by, described_utc_ms)
             VALUES (1, 'TV-0312', 'plough lift cylinder', 'winter carrier 7', '0312-B',
                     'PTFE slide ring', 'run run-0', {AUGUST_2026});
         INSERT INTO test (id, run_id, unit, started_utc_ms, time_zone, outcome, headline,
                 archive_file, archive_sha256, software, method_version, practice)
             VALUES (1, 'run-0', 1, {AUGUST_2026}, 'Europe/Berlin', 'fail', 'cap loss 1.4 mL/min',
                     'run-0.h5', '{hash}', 'stillrod 0.1.0', 1, 0);
         INSERT INTO certificate (id, number, series, year, sequence, test, issued_utc_ms, kind,
                 record_json)
             VALUES (1, 'TV-2026-0001', 'TV', 2026, 1, 1, {AUGUST_2026}, 'certificate',
                     '{record}');
         INSERT INTO test_words (rowid, words)
             VALUES ({AUGUST_2026} * 1048576 + 1, 'TV-2026-0001 TV-0312 plough lift cylinder');"
    );
    sqlx::raw_sql(sqlx::AssertSqlSafe(rows))
        .execute(&mut all)
        .await
        .unwrap();
    let sql = format!(
        "SELECT {} FROM certificate JOIN test ON test.id = certificate.test
         JOIN unit ON unit.id = test.unit",
        Fields::selected(false)
    );
    let row = sqlx::query(sqlx::AssertSqlSafe(sql)).fetch_one(&mut all);
    let fields = Fields::of_row(&row.await.unwrap()).unwrap();
    let fields: Vec<String> = fields.texts().collect();
    assert_eq!(fields.len(), 1, "the older form alone");
    let stated = CertificateStatement {
        number: "TV-2026-0001".into(),
        kind: "certificate".into(),
        run_id: "run-0".into(),
        archive_sha256: Digest::from_hex(&hash).unwrap(),
        row_sha256: Digest::of(fields[0].as_bytes()),
        sections: sections(&record).unwrap(),
        record_sha256: Digest::of(record.as_bytes()),
        issued_utc: issued_utc(AUGUST_2026),
        previous: Digest::ZERO,
    };
    let signed = stated.sign(&key()).unwrap();
    sqlx::query("INSERT INTO statement VALUES (1, $1, $2, $3)")
        .bind(&fields[0])
        .bind(signed.statement().text())
        .bind(signed.signature_hex())
        .execute(&mut all)
        .await
        .unwrap();
    all.close().await.unwrap();
}

#[tokio::test]
async fn what_was_signed_before_units_had_a_build_stays_as_good_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.db");
    register_from_before(&path).await;
    let clean = audit(&path).await.unwrap();
    assert_eq!(
        (clean.differs.as_slice(), clean.chain.len()),
        ([].as_slice(), 1)
    );
    // A field of it that was changed is told of, in the old layout and in the new one.
    run_sql(&path, "UPDATE test SET headline = 'cap loss 0.1 mL/min'").await;
    let told =
        "TV-2026-0001: test.headline is `cap loss 0.1 mL/min`, `cap loss 1.4 mL/min` was signed";
    assert_eq!(audit(&path).await.unwrap().differs, [told]);
    let register = Register::open(&path).await.unwrap();
    assert_eq!(audit(&path).await.unwrap().differs, [told]);
    run_sql(&path, "UPDATE test SET headline = 'cap loss 1.4 mL/min'").await;
    assert_eq!(built(&register).await, Build::default());
    let mut test = shop_test("run-1");
    test.unit.build = plough_lift();
    register.record_signed(&test, record, &key()).await.unwrap();
    assert_eq!(audit(&path).await.unwrap().differs, [""; 0]);
    assert_eq!(built(&register).await, plough_lift());
    register.close().await;
    run_sql(&path, "UPDATE unit SET bore_um = 63001, ports = ''").await;
    assert_eq!(
        audit(&path).await.unwrap().differs,
        [
            "TV-2026-0002: unit.bore_um is `63001`, `63000` was signed",
            "TV-2026-0002: unit.ports is ``, `G 3/8` was signed"
        ]
    );
}
