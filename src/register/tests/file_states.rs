//! What the register says to a file that is foreign, newer, damaged, or new.
//!
//! Files are spoiled on purpose; one that is refused must be left as it was.

use std::collections::BTreeSet;

use sqlx::Connection as _;
use sqlx::SqliteConnection;

use super::*;

#[tokio::test]
async fn the_tables_themselves_refuse_a_word_or_a_deletion_that_must_not_be() {
    let (_folder, path, register) = fresh().await;
    register
        .record_test(&shop_test("run-1"), record)
        .await
        .unwrap();
    let mut connection = other_program(&path).await;
    for sql in [
        "UPDATE test SET outcome = 'passed'",
        "UPDATE test SET outcome = 'Pass'",
        "UPDATE test SET started_utc_ms = '02:30'",
        "UPDATE test SET practice = 2",
        "UPDATE test SET unit = 99",
        "UPDATE certificate SET kind = 'paper'",
        "UPDATE certificate SET number = 'TV-2026-0009'",
        "DELETE FROM certificate",
        "DELETE FROM test",
        "DELETE FROM unit",
    ] {
        let done = sqlx::raw_sql(sql).execute(&mut connection).await;
        assert!(done.is_err(), "{sql}");
    }
}

#[tokio::test]
async fn a_file_full_of_garbage_is_called_no_database_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.db");
    for garbage in [
        b"a shopping list".repeat(1_000),
        b"x".to_vec(),
        [b"SQLite format 3\0".as_slice(), &[0xa5; 5_000]].concat(),
    ] {
        std::fs::write(&path, &garbage).unwrap();
        let error = Register::open(&path).await.unwrap_err();
        assert!(
            matches!(error, RegisterError::NotADatabase { .. }),
            "{error}"
        );
        assert_eq!(std::fs::read(&path).unwrap(), garbage);
    }
}

#[tokio::test]
async fn a_register_with_spoiled_pages_is_called_damaged() {
    let (_folder, path, register) = fresh().await;
    for index in 0..50 {
        let test = shop_test(&format!("run-{index}"));
        register.record_test(&test, record).await.unwrap();
    }
    register.close().await;
    // Pages that are free hold nothing that could be spoiled.
    run_sql(&path, "VACUUM").await;
    let whole = std::fs::read(&path).unwrap();
    let page_size = usize::from(u16::from_be_bytes([whole[16], whole[17]]));
    let mut n_found = 0;
    // Page 1 holds the layout; the others hold rows and indexes.
    for start in (page_size..whole.len()).step_by(page_size) {
        let mut spoiled = whole.clone();
        spoiled[start..start + 64].fill(0xff);
        std::fs::write(&path, &spoiled).unwrap();
        let error = Register::open(&path).await.unwrap_err();
        assert!(matches!(error, RegisterError::Damaged { .. }), "{error}");
        n_found += 1;
    }
    assert!(n_found > 5, "{n_found}");
    // Cut off in the middle, as a broken copy would be.
    std::fs::write(&path, &whole[..whole.len() / 2]).unwrap();
    let error = Register::open(&path).await.unwrap_err();
    assert!(matches!(error, RegisterError::Damaged { .. }), "{error}");
}

#[tokio::test]
async fn a_register_of_a_newer_program_is_refused_with_both_versions() {
    let (_folder, path, register) = fresh().await;
    register.close().await;
    run_sql(&path, "PRAGMA user_version = 99").await;
    let error = Register::open(&path).await.unwrap_err();
    assert!(
        matches!(error, RegisterError::Newer { found: 99, .. }),
        "{error}"
    );
    let text = error.to_string();
    assert!(
        text.contains("99") && text.contains("newer program"),
        "{text}"
    );
}

#[tokio::test]
async fn a_database_of_another_program_is_refused_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.db");
    let options = file::options(&path, Duration::ZERO).create_if_missing(true);
    let mut connection = SqliteConnection::connect_with(&options).await.unwrap();
    sqlx::raw_sql("CREATE TABLE test (id INTEGER); INSERT INTO test VALUES (7)")
        .execute(&mut connection)
        .await
        .unwrap();
    connection.close().await.unwrap();
    let before = std::fs::read(&path).unwrap();
    let error = Register::open(&path).await.unwrap_err();
    assert!(matches!(error, RegisterError::Foreign { .. }), "{error}");
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[tokio::test]
async fn a_path_where_no_file_can_be_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let missing = folder.path().join("missing").join("register.db");
    let error = Register::open(&missing).await.unwrap_err();
    assert!(matches!(error, RegisterError::NoFolder { .. }), "{error}");
    // The folder itself, and a folder in which nobody can make a file.
    for path in [folder.path(), Path::new("/proc/register.db")] {
        let error = Register::open(path).await.unwrap_err();
        assert!(matches!(error, RegisterError::CannotOpen { .. }), "{error}");
    }
}

#[tokio::test]
async fn a_register_that_cannot_be_written_says_so() {
    // The account that runs the tests may be allowed to write everywhere, so the
    // refusal comes from a connection that is read-only.
    let (_folder, path, register) = fresh().await;
    let mut reader = register.readers.acquire().await.unwrap();
    let refused = rows::insert_test(&mut reader, &shop_test("run-1")).await;
    let error = sorted(&path, "enter the test", refused.unwrap_err());
    assert!(matches!(error, RegisterError::ReadOnly { .. }), "{error}");
    assert!(error.to_string().contains("allow writing"), "{error}");
}

#[tokio::test]
async fn an_empty_file_is_filled_as_if_there_were_none() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.db");
    std::fs::write(&path, b"").unwrap();
    let register = Register::open(&path).await.unwrap();
    assert_eq!(register.latest(10).await.unwrap(), []);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn programs_that_start_together_on_a_new_file_all_open_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.db");
    let mut tasks = tokio::task::JoinSet::new();
    for index in 0..8 {
        let path = path.clone();
        tasks.spawn(async move {
            let register = Register::open(&path).await?;
            let test = shop_test(&format!("run-{index}"));
            register.record_test(&test, record).await
        });
    }
    let mut numbers = BTreeSet::new();
    while let Some(entered) = tasks.join_next().await {
        numbers.insert(entered.unwrap().unwrap().certificate_number);
    }
    assert_eq!(numbers.len(), 8);
    assert_eq!(numbers.last().unwrap(), "TV-2026-0008");
}

#[tokio::test]
async fn the_file_is_kept_with_write_ahead_logging_and_full_synchronisation() {
    let (_folder, _path, register) = fresh().await;
    let mut writer = register.writer.acquire().await.unwrap();
    let mode: String = sqlx::query_scalar("PRAGMA journal_mode")
        .fetch_one(&mut *writer)
        .await
        .unwrap();
    assert_eq!(mode, "wal");
    // SQLite documentation: synchronous 2 is FULL; times in milliseconds.
    for (pragma, value) in [
        ("PRAGMA synchronous", 2),
        ("PRAGMA foreign_keys", 1),
        ("PRAGMA busy_timeout", 5_000),
    ] {
        let found: i64 = sqlx::query_scalar(pragma)
            .fetch_one(&mut *writer)
            .await
            .unwrap();
        assert_eq!(found, value, "{pragma}");
    }
}

#[tokio::test]
async fn an_exported_copy_is_whole_and_never_replaces_a_file() {
    let (folder, _path, register) = fresh().await;
    register
        .record_test(&shop_test("run-1"), record)
        .await
        .unwrap();
    let copy = folder.path().join("copy's.db");
    register.export(&copy).await.unwrap();
    let opened = Register::open(&copy).await.unwrap();
    assert_eq!(
        opened.find_by_run("run-1").await.unwrap(),
        register.find_by_run("run-1").await.unwrap()
    );
    let again = register.export(&copy).await;
    assert!(
        matches!(again, Err(RegisterError::CopyExists { .. })),
        "{again:?}"
    );
}

/// A register that is so large that it is not checked whole: here, every one.
async fn opened_as_large(path: &Path) -> Result<Register, RegisterError> {
    Register::open_with(path, BUSY, 0).await
}

/// The first page of each table and index.
async fn roots(path: &Path) -> Vec<(String, i64)> {
    let mut connection = other_program(path).await;
    let sql = "SELECT name, rootpage FROM sqlite_schema WHERE rootpage > 0";
    let roots = sqlx::query_as(sql).fetch_all(&mut connection).await;
    connection.close().await.unwrap();
    roots.unwrap()
}

#[tokio::test]
async fn a_large_register_that_is_spoiled_at_its_ends_or_cut_off_is_found_before_anything_is_written()
 {
    let (folder, path, register) = fresh().await;
    let mut many = register.many().await.unwrap();
    for index in 0..300 {
        let mut test = shop_test(&format!("run-{index}"));
        test.unit.tag = format!("TV-{index}");
        let long = |number: &str| format!("[{:?}, {number:?}]", "x".repeat(9_000));
        (many, _) = many.record_test(&test, long).await.unwrap();
        (many, _) = many.enter_job(&jobs::job("plough sinks")).await.unwrap();
    }
    many.finish().await.unwrap();
    register.close().await;
    run_sql(&path, "VACUUM").await;
    let whole = std::fs::read(&path).unwrap();
    opened_as_large(&path).await.unwrap().close().await;
    let page = usize::from(u16::from_be_bytes([whole[16], whole[17]]));
    let roots = roots(&path).await;
    assert!(roots.len() > 20, "{}", roots.len());
    let copy = folder.path().join("spoiled.db");
    let refused = async |name: &str, bytes: &[u8]| {
        std::fs::write(&copy, bytes).unwrap();
        let _ = std::fs::remove_file(copy.with_file_name("spoiled.db-wal"));
        let opened = opened_as_large(&copy).await;
        let is_left = std::fs::read(&copy).unwrap() == bytes;
        match opened {
            Err(error) => {
                assert!(
                    matches!(error, RegisterError::Damaged { .. }),
                    "{name}: {error}"
                );
                assert!(is_left, "{name}: it was refused and written");
                true
            }
            Ok(opened) => {
                opened.close().await;
                false
            }
        }
    };
    assert!(refused("half", &whole[..whole.len() / 2]).await);
    assert!(refused("last page", &whole[..whole.len() - page]).await);
    // Of words the small tables of the index are not looked at, but what finds a word.
    let is_seen = |name: &str| !name.ends_with("_docsize") && !name.starts_with("job_words");
    for (name, root) in roots.iter().filter(|(name, _)| is_seen(name)) {
        let start = (usize::try_from(*root).unwrap() - 1) * page + if *root == 1 { 100 } else { 0 };
        let mut spoiled = whole.clone();
        spoiled[start..start + 64].fill(0xff);
        assert!(refused(name, &spoiled).await, "{name}");
    }
    // How many of all pages: told, because the rest is left to the whole check.
    let (mut n_found, mut n_pages) = (0, 0);
    for start in (page..whole.len()).step_by(page * 7) {
        let mut spoiled = whole.clone();
        spoiled[start..start + 64].fill(0xff);
        n_pages += 1;
        if refused("any page", &spoiled).await {
            n_found += 1;
            continue;
        }
        let register = opened_as_large(&copy).await.unwrap();
        let found = register.check().await;
        assert!(
            found.is_err(),
            "page {} is not seen by the whole check",
            start / page
        );
        register.close().await;
    }
    println!("a quick look found {n_found} of {n_pages} spoiled pages");
}
