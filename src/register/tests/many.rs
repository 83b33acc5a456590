//! Many entries as one.

use super::jobs::job;
use super::*;
use sqlx::Row as _;

/// Every row of every table of a file, as text; the words with their places.
async fn all_rows(path: &Path) -> Vec<String> {
    let mut connection = other_program(path).await;
    let tables: Vec<String> = sqlx::query_scalar(
        "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table'
         AND name <> 'sqlite_schema' ORDER BY name",
    )
    .fetch_all(&mut connection)
    .await
    .unwrap();
    assert!(tables.len() >= 10, "{tables:?}");
    let mut rows = Vec::new();
    for table in tables
        .iter()
        .map(String::as_str)
        .chain(["test_terms", "job_terms"])
    {
        let columns: Vec<String> =
            sqlx::query_scalar("SELECT 'quote(' || name || ')' FROM pragma_table_info($1)")
                .bind(table)
                .fetch_all(&mut connection)
                .await
                .unwrap();
        let sql = format!("SELECT {} AS all_of_it FROM {table}", columns.join(" || "));
        let found = sqlx::query(sqlx::AssertSqlSafe(sql));
        for row in found.fetch_all(&mut connection).await.unwrap() {
            let text: Option<String> = row.get("all_of_it");
            rows.push(format!("{table}: {text:?}"));
        }
    }
    rows
}

#[tokio::test]
async fn many_at_once_make_the_same_rows_as_one_after_another() {
    let (_one, path_of_one, one) = fresh().await;
    let (_many, path_of_many, all) = fresh().await;
    let mut many = all.many().await.unwrap();
    for index in 0..20 {
        let test = NewTest {
            bench: [Bench::Shop, Bench::Practice][index % 2],
            started_utc_ms: AUGUST_2026 + 1000 * index as i64,
            ..shop_test(&format!("run-{index}"))
        };
        let mut sheet = job(&format!("plough sinks {index}"));
        sheet.unit.tag = format!("TV-{}", index % 3);
        // A unit has one open job at a time.
        if index < 17 {
            sheet.state = JobState::Done;
            sheet.went_out.clone_from(&sheet.came_in);
        }
        let single = one.enter_job(&sheet).await.unwrap();
        let entered;
        (many, entered) = many.enter_job(&sheet).await.unwrap();
        assert_eq!(entered, single);
        let single = one.record_test(&test, record).await.unwrap();
        let entered;
        (many, entered) = many.record_test(&test, record).await.unwrap();
        assert_eq!(entered, single);
    }
    assert_eq!(all.latest(10).await.unwrap(), [], "before it is finished");
    many.finish().await.unwrap();
    one.close().await;
    all.close().await;
    let rows = all_rows(&path_of_one).await;
    assert!(rows.len() > 300, "{}", rows.len());
    assert_eq!(all_rows(&path_of_many).await, rows);
}

#[tokio::test]
async fn one_that_is_refused_takes_all_others_along() {
    let (_folder, _path, register) = fresh().await;
    let many = register.many().await.unwrap();
    let (many, _) = many.record_test(&shop_test("run-1"), record).await.unwrap();
    let refused = many
        .record_test(&shop_test("run-2"), |_| "{broken".to_owned())
        .await;
    assert!(refused.is_err());
    assert_eq!(register.latest(10).await.unwrap(), []);
    let entered = register.record_test(&shop_test("run-3"), record).await;
    assert_eq!(entered.unwrap().certificate_number, "TV-2026-0001");
}
