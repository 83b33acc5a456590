//! Tables out, and in again.

use crate::bench::done;
use crate::bench::numbers;
use crate::bench::own_shop;
use crate::bench::refused;

#[test]
fn tables_are_read_by_others_and_agree_with_the_record() {
    let folder = own_shop();
    let here = folder.path();
    let said = done(here, &["export", "out"]);
    assert!(said.contains("3 tests in tests.csv"), "{said}");
    let mut reader = csv::Reader::from_path(here.join("out/tests.csv")).unwrap();
    let names = reader.headers().unwrap().clone();
    let column = |name: &str| names.iter().position(|n| n == name).unwrap();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let of = |name: &str| {
        rows.iter()
            .map(|row| row[column(name)].to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(of("number"), numbers());
    assert_eq!(of("outcome"), ["fail", "pass", "fail"]);
    assert_eq!(of("job"), ["1", "1", "2"]);
    // Nobody looked at the zeros of a single hold: its paper says that it is a report, and so does
    // the register, whatever came out.
    assert_eq!(of("kind"), ["report"; 3]);
    // The figures are those of the record beside the paper, to the last digit.
    let mut reader = csv::Reader::from_path(here.join("out/figures.csv")).unwrap();
    let names = reader.headers().unwrap().clone();
    let column = |name: &str| names.iter().position(|n| n == name).unwrap();
    let mut n_checked = 0;
    for row in reader.records().map(Result::unwrap) {
        let path = here.join(format!(
            "stillrod-data/papers/{}.json",
            &row[column("number")]
        ));
        let record: serde_json::Value =
            serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
        let figures = record["figures"].as_array().unwrap();
        let own = figures
            .iter()
            .find(|f| f["name"] == row[column("figure")])
            .unwrap();
        for name in ["value", "lower", "upper"] {
            let number = row[column(name)].parse::<f64>().ok();
            assert_eq!(number, own[name].as_f64(), "{row:?}");
        }
        assert_eq!(own["unit"], row[column("unit")]);
        n_checked += 1;
    }
    assert!(n_checked > 10, "{n_checked}");
    let error = refused(here, &["export", "out"]);
    assert!(error.contains("is there already"), "{error}");
}

#[test]
fn units_come_in_from_a_spreadsheet_and_none_is_described_over() {
    let folder = own_shop();
    let here = folder.path();
    let table = "tag;description;machine;price\r\nTV-0400;Räumschild;Träger 9;1\r\nTV-0312;something else;;2\r\n";
    std::fs::write(here.join("units.csv"), table).unwrap();
    let said = done(here, &["import", "units.csv", "--by", "office"]);
    assert!(
        said.contains("TV-0312 is known already and stays as it was described"),
        "{said}"
    );
    assert!(said.contains("2 units read"), "{said}");
    assert!(done(here, &["units", "--machine", "Träger 9"]).contains("never tested"));
    // Rows that were signed are as they were.
    done(here, &["verify", "stillrod-data/register.db"]);
    std::fs::write(here.join("units.csv"), "tag,machine\nTV-0500,a\n,b\n").unwrap();
    let error = refused(here, &["import", "units.csv", "--by", "office"]);
    assert!(
        error.contains("units.csv, line 3: `tag` must not be empty"),
        "{error}"
    );
    assert!(!done(here, &["units"]).contains("TV-0500"));
    std::fs::write(here.join("units.txt"), "tag").unwrap();
    assert!(refused(here, &["import", "units.txt", "--by", "office"]).contains("none of .csv"));
}

#[test]
fn tests_of_another_bench_come_in_with_their_recordings_and_the_same_figures() {
    let folder = own_shop();
    let here = folder.path();
    done(here, &["export", "out"]);
    std::fs::copy(
        here.join("out/tests.jsonl"),
        here.join("stillrod-data/tests.jsonl"),
    )
    .unwrap();
    let list = here.join("stillrod-data/tests.jsonl");
    let other = tempfile::tempdir().unwrap();
    let ask = ["import", list.to_str().unwrap(), "--by", "office"];
    let said = done(other.path(), &ask);
    assert_eq!(said.lines().count(), 3, "{said}");
    assert!(
        said.contains(&format!("(was {} there)", numbers()[2])),
        "{said}"
    );
    let figures = |folder: &std::path::Path, out: &str| {
        done(folder, &["export", out]);
        std::fs::read_to_string(folder.join(out).join("figures.csv")).unwrap()
    };
    assert_eq!(figures(other.path(), "there"), figures(here, "again"));
    // Twice is once.
    let said = done(other.path(), &ask);
    assert!(
        said.lines()
            .all(|line| line.contains("is already in the register")),
        "{said}"
    );
    done(other.path(), &["verify", "stillrod-data/register.db"]);
    // A recording that is missing, or another, is told of and left out.
    let text = std::fs::read_to_string(&list).unwrap();
    let hash = text.split("\"archive_sha256\":\"").nth(1).unwrap()[..64].to_owned();
    std::fs::write(&list, text.replace(&hash, &"0".repeat(64))).unwrap();
    let third = tempfile::tempdir().unwrap();
    let said = done(third.path(), &ask);
    assert!(
        said.contains("is another file than the list names"),
        "{said}"
    );
    assert!(done(third.path(), &["find"]).contains(&numbers()[0]));
}
