//! Registers whose rows, statements or chain somebody worked on past the program.

use crate::shop;
use crate::shop::is_changed;
use crate::shop::keys;
use crate::shop::looked_at;
use crate::shop::looked_at_with;
use sqlx::Connection;
use sqlx::SqliteConnection;
use sqlx::sqlite::SqliteConnectOptions;
use std::path::Path;
use std::path::PathBuf;
use stillrod::daemon::folder::DataFolder;
use stillrod::daemon::paper::enter;
use stillrod::daemon::verify::Grade;
use stillrod::daemon::verify::KeptHead;
use stillrod::daemon::verify::Told;
use stillrod::daemon::verify::head;
use stillrod::register::Register;
use tempfile::TempDir;

const LAYOUT_BEFORE: &str =
    include_str!("../../src/register/migrations/0001_units_tests_certificates.sql");

fn block_on<T>(work: impl Future<Output = T>) -> T {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    runtime.block_on(work)
}

/// A copy of the shop's register in a folder of its own.
fn copy() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.db");
    std::fs::copy(shop::data().join("register.db"), &path).unwrap();
    (folder, path)
}

async fn opened(path: &Path) -> SqliteConnection {
    let options = SqliteConnectOptions::new()
        .filename(path)
        .create_if_missing(true)
        .foreign_keys(false)
        .pragma("ignore_check_constraints", "1");
    SqliteConnection::connect_with(&options).await.unwrap()
}

/// Works on a register as somebody would who knows how: guards away, work, guards back.
async fn work(path: &Path, sql: &str) {
    let mut all = opened(path).await;
    let guards: Vec<(String, String)> =
        sqlx::query_as("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
            .fetch_all(&mut all)
            .await
            .unwrap();
    assert_eq!(guards.len(), 27);
    let mut script = String::new();
    for (name, _) in &guards {
        script.push_str(&format!("DROP TRIGGER {name};\n"));
    }
    script.push_str(sql);
    for (_, guard) in &guards {
        script.push_str(&format!(";\n{guard}"));
    }
    sqlx::raw_sql(sqlx::AssertSqlSafe(script))
        .execute(&mut all)
        .await
        .unwrap_or_else(|error| panic!("{sql}: {error}"));
    all.close().await.unwrap();
}

fn worked_on(sql: &str) -> Told {
    let (_folder, path) = copy();
    block_on(work(&path, sql));
    looked_at(&path)
}

#[test]
fn the_register_of_the_shop_is_whole_with_its_recordings() {
    let path = shop::data().join("register.db");
    let told = looked_at(&path);
    assert_eq!(told.grade, Grade::Whole, "{told:?}");
    assert!(
        !told.lines.iter().any(|l| l.starts_with("missing")),
        "{told:?}"
    );
    // Away from its recordings they are named, and no fault of the chain.
    let (_folder, path) = copy();
    let told = looked_at(&path);
    assert_eq!(told.grade, Grade::Whole, "{told:?}");
    let n_missing = told
        .lines
        .iter()
        .filter(|l| l.starts_with("missing"))
        .count();
    assert_eq!(n_missing, 3, "{told:?}");
    // Nothing was written beside it.
    assert_eq!(
        std::fs::read_dir(path.parent().unwrap()).unwrap().count(),
        1
    );
}

#[test]
fn guards_that_were_taken_away_and_put_back_show_nothing_by_themselves() {
    assert_eq!(worked_on("SELECT 1").grade, Grade::Whole);
}

#[test]
fn every_column_of_a_row_is_held() {
    let mut columns = Vec::new();
    let (_folder, path) = copy();
    block_on(async {
        let mut all = opened(&path).await;
        for table in ["unit", "test", "certificate", "statement"] {
            let found: Vec<(String, String)> =
                sqlx::query_as("SELECT name, type FROM pragma_table_info($1)")
                    .bind(table)
                    .fetch_all(&mut all)
                    .await
                    .unwrap();
            columns.extend(found.into_iter().map(|(name, kind)| (table, name, kind)));
        }
        all.close().await.unwrap();
    });
    assert!(columns.len() >= 30, "{columns:?}");
    for (table, column, kind) in columns {
        let value = match (kind.as_str(), column.as_str()) {
            ("INTEGER", _) => format!("coalesce({column}, 0) + 70"),
            // Still hexadecimal digits, and never the ones that were there.
            (_, "archive_sha256" | "signature") => format!(
                "CASE substr({column}, 1, 1) WHEN '0' THEN '1' ELSE '0' END || substr({column}, 2)"
            ),
            _ => format!("{column} || ' '"),
        };
        let row = match table {
            // All tests may be of one unit.
            "unit" => "id = (SELECT unit FROM test WHERE id = 2)",
            "statement" => "certificate = 2",
            _ => "id = 2",
        };
        let sql = format!("UPDATE {table} SET {column} = {value} WHERE {row}");
        let told = worked_on(&sql);
        let field = format!("{table}.{column} is ");
        let is_own =
            ["id", "unit", "test", "certificate", "record_json"].contains(&column.as_str());
        let is_named = !is_own && table != "statement";
        match is_named {
            true => is_changed(&told, &[&field]),
            false => is_changed(&told, &[]),
        }
    }
}

#[test]
fn the_row_and_what_it_was_are_named() {
    let number = number_of(2);
    let told = worked_on("UPDATE test SET outcome = 'pass' WHERE id = 2");
    let sentence = format!("{number}: test.outcome is `pass`, `fail` was signed");
    is_changed(&told, &[&sentence]);
    assert_eq!(
        told.lines
            .iter()
            .filter(|l| l.starts_with("changed"))
            .count(),
        1
    );
    let told = worked_on(
        "UPDATE certificate SET record_json = replace(record_json, '\"outcome\": \"fail\"', '\"outcome\": \"pass\"') WHERE id = 2",
    );
    is_changed(&told, &[&format!("{number}: section `outcome`")]);
}

fn number_of(place: usize) -> String {
    let path = shop::paper(place, "pdf");
    path.file_stem().unwrap().to_str().unwrap().to_owned()
}

#[test]
fn a_statement_that_was_rewritten_is_found() {
    let number = number_of(2);
    for sql in [
        "UPDATE statement SET text = replace(text, 'kind: ', 'kind: x') WHERE certificate = 2",
        "UPDATE statement SET text = (SELECT text FROM statement WHERE certificate = 1) WHERE certificate = 2",
        "UPDATE statement SET text = 'gone' WHERE certificate = 2",
    ] {
        let sentence = format!("{number}: its statement, or its signature");
        is_changed(&worked_on(sql), &[&sentence]);
    }
    let told = worked_on("DELETE FROM statement WHERE certificate = 2");
    is_changed(
        &told,
        &[
            &format!("{number}: its statement is gone"),
            "the chain is broken",
        ],
    );
    // A whole one of another row, in its place.
    let told = worked_on(
        "UPDATE statement SET text = o.text, signature = o.signature, row_fields = o.row_fields
         FROM (SELECT * FROM statement WHERE certificate = 1) AS o WHERE statement.certificate = 2",
    );
    is_changed(&told, &[&number, "the chain is broken"]);
}

#[test]
fn a_row_taken_out_of_the_middle_breaks_the_chain() {
    let told = worked_on(
        "DELETE FROM statement WHERE certificate = 2; DELETE FROM certificate WHERE id = 2;
         DELETE FROM test WHERE id = 2",
    );
    let between = format!("broken between {} and {}", number_of(1), number_of(3));
    let missing = format!("{} is missing", number_of(2));
    is_changed(&told, &[&between, &missing]);
    // Numbers moved up to hide the gap.
    let told = worked_on(
        "DELETE FROM statement WHERE certificate = 2; DELETE FROM certificate WHERE id = 2;
         DELETE FROM test WHERE id = 2;
         UPDATE certificate SET sequence = 2, number = replace(number, '0003', '0002') WHERE id = 3",
    );
    is_changed(&told, &["the chain is broken", "certificate.number is"]);
    // Only the first row: what is left names something before it.
    let told = worked_on("DELETE FROM statement WHERE certificate = 1");
    is_changed(&told, &["the chain is broken before"]);
    let told = worked_on("DELETE FROM certificate WHERE id = 2");
    is_changed(&told, &["its row was taken away, its statement is left"]);
}

const CUT: &str =
    "DELETE FROM statement WHERE certificate = 3; DELETE FROM certificate WHERE id = 3;
    DELETE FROM test WHERE id = 3";

#[test]
fn a_cut_tail_is_found_with_its_head_only() {
    let whole = shop::data().join("register.db");
    let (line, grade) = block_on(head(&whole)).unwrap();
    assert_eq!(grade, Grade::Whole);
    let (number, hash) = line.split_once(' ').unwrap();
    assert_eq!(number, number_of(3));
    let (_folder, path) = copy();
    block_on(work(&path, CUT));
    assert_eq!(looked_at(&path).grade, Grade::Whole);
    for hash in [hash, &hash[..16], &hash.to_uppercase()] {
        let kept = KeptHead::new(number, hash).unwrap();
        let told = looked_at_with(&whole, &keys(), Some(&kept));
        assert_eq!(told.grade, Grade::Whole, "{told:?}");
        let told = looked_at_with(&path, &keys(), Some(&kept));
        is_changed(&told, &["is not in the chain"]);
    }
    let other = KeptHead::new(number, &"0".repeat(16)).unwrap();
    is_changed(
        &looked_at_with(&whole, &keys(), Some(&other)),
        &["is not in the chain"],
    );
    for wrong in ["", "0123", &"0".repeat(65), "not hexadecimal!"] {
        assert!(KeptHead::new(number, wrong).is_err(), "{wrong}");
    }
}

#[test]
fn the_head_is_on_the_back_of_the_paper() {
    let (line, _) = block_on(head(&shop::data().join("register.db"))).unwrap();
    let hash = line.split_once(' ').unwrap().1.to_owned();
    let text = std::process::Command::new("pdftotext")
        .arg(shop::paper(3, "pdf"))
        .arg("-")
        .output()
        .expect("pdftotext; install poppler-utils");
    let text = String::from_utf8(text.stdout).unwrap();
    assert!(
        text.contains(&format!("statement {}", &hash[..16])),
        "{text}"
    );
}

#[test]
fn a_recording_that_was_exchanged_is_found_by_its_row() {
    let (folder, path) = copy();
    let recordings = folder.path().join("recordings");
    std::fs::create_dir(&recordings).unwrap();
    let name = shop::recording(2).file_name().unwrap().to_owned();
    // A whole and genuine recording, of another run.
    std::fs::copy(shop::recording(1), recordings.join(&name)).unwrap();
    let sentence = format!("{}: the recording", number_of(2));
    is_changed(
        &looked_at(&path),
        &[&sentence, "is another file than was entered"],
    );
}

#[test]
fn a_register_from_before_is_not_signed_and_left_as_it_is() {
    let (_folder, path) = copy();
    std::fs::remove_file(&path).unwrap();
    block_on(async {
        let mut all = opened(&path).await;
        let source = shop::data().join("register.db");
        let script = format!(
            "{LAYOUT_BEFORE} ATTACH '{}' AS shop;
             INSERT INTO unit SELECT id, tag, description, machine, serial, seal FROM shop.unit;
             INSERT INTO test SELECT id, run_id, unit, started_utc_ms, time_zone, outcome, headline,
                 archive_file, archive_sha256, software, method_version, practice FROM shop.test;
             INSERT INTO certificate SELECT * FROM shop.certificate;",
            source.display()
        );
        sqlx::raw_sql(sqlx::AssertSqlSafe(script))
            .execute(&mut all)
            .await
            .unwrap();
        all.close().await.unwrap();
    });
    let before = std::fs::read(&path).unwrap();
    let told = looked_at(&path);
    assert_eq!(told.grade, Grade::Untold, "{told:?}");
    assert!(told.lines[0].contains("before signatures"), "{told:?}");
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[test]
fn rows_from_before_stay_unsigned_and_later_ones_make_a_chain() {
    let root = tempfile::tempdir().unwrap();
    let folder = DataFolder::open(root.path()).unwrap();
    block_on(async {
        let whole = Register::open(&shop::data().join("register.db"))
            .await
            .unwrap();
        let numbers = [number_of(1), number_of(2), number_of(3)];
        let register = Register::open(&folder.register()).await.unwrap();
        for (index, number) in numbers.iter().enumerate() {
            let name = shop::recording(index + 1).file_name().unwrap().to_owned();
            let archive = folder.recordings().join(name);
            std::fs::copy(shop::recording(index + 1), &archive).unwrap();
            let recording = stillrod::archive::read(&archive).unwrap();
            if index == 0 {
                let entry = whole.find_by_number(number).await.unwrap().unwrap();
                let test = new_test(entry);
                let record = whole.record_json(number).await.unwrap().unwrap();
                register.record_test(&test, |_| record).await.unwrap();
            }
            // The paper of a row from before can still be made again, and is not signed.
            enter(&folder, &register, &archive, &recording)
                .await
                .unwrap();
        }
        whole.close().await;
        register.close().await;
    });
    let told = looked_at(&folder.register());
    assert_eq!(told.grade, Grade::Untold, "{told:?}");
    let list = format!("not signed (made before signatures): {}", number_of(1));
    assert!(told.lines.contains(&list), "{told:?}");
    let old = looked_at(&folder.papers().join(format!("{}.pdf", number_of(1))));
    assert_eq!(old.grade, Grade::Untold, "{old:?}");
    // Its statement cannot be made to look as if it had never been.
    block_on(work(
        &folder.register(),
        "DELETE FROM statement WHERE certificate = 2",
    ));
    is_changed(&looked_at(&folder.register()), &["the chain is broken"]);
}

fn new_test(entry: stillrod::register::Entry) -> stillrod::register::NewTest {
    stillrod::register::NewTest {
        run_id: entry.run_id,
        unit: entry.unit,
        started_utc_ms: entry.started_utc_ms,
        time_zone: entry.time_zone,
        outcome: entry.outcome,
        headline: entry.headline,
        archive_file: entry.archive_file,
        archive_sha256: entry.archive_sha256,
        software: entry.software,
        method_version: entry.method_version,
        sensors: Vec::new(),
        bench: entry.bench,
        kind: entry.kind,
        prefix: stillrod::register::NumberPrefix::new("TV").unwrap(),
        issued_utc_ms: entry.issued_utc_ms,
        issued_utc_offset_s: 0,
    }
}
