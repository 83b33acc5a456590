//! The file, judged by programs of others, and its figures against the record's.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use serde_json::Value;
use stillrod::certificate::IsolationRecord;
use stillrod::certificate::RECORD_FILE;
use stillrod::certificate::compose_isolation;
use stillrod::certificate::isolation_pdf;

use crate::played::investigated;
use crate::python;
use crate::scene;

/// Runs a tool and gives its output; says what to install if it is missing.
#[track_caller]
fn run(tool: &str, package: &str, arguments: &[&Path]) -> String {
    let output = Command::new(tool)
        .args(arguments)
        .output()
        .unwrap_or_else(|e| panic!("cannot run {tool}: {e}; install the package {package}"));
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{tool} refuses: {text}{errors}");
    text
}

/// For looking at: `ISOLATION_FOLDER=/some/folder cargo test --test isolation`.
fn folder() -> (tempfile::TempDir, PathBuf) {
    let temporary = tempfile::tempdir().expect("a temporary folder");
    let path = std::env::var_os("ISOLATION_FOLDER")
        .map_or_else(|| temporary.path().to_path_buf(), PathBuf::from);
    (temporary, path)
}

/// Text of a file, its words with single spaces between them.
fn text_of(pdf: &Path) -> String {
    let text = run("pdftotext", "poppler-utils", &[pdf, Path::new("-")]);
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn every_sheet_is_one_valid_page_with_its_record_inside() {
    let (_temporary, folder) = folder();
    let mut paths = Vec::new();
    let mut all = scene::all();
    all.push((
        "played",
        investigated(&["drift-is-the-valve", "tight-rebuild"]),
    ));
    for (name, facts) in all {
        let path = folder.join(format!("{name}.pdf"));
        fs::write(&path, isolation_pdf(&facts).expect("a sheet")).expect("writable");
        run("qpdf", "qpdf", &[Path::new("--check"), &path]);
        let info = run("pdfinfo", "poppler-utils", &[&path]);
        let pages = info.lines().find(|l| l.starts_with("Pages:"));
        assert!(pages.expect("a count").ends_with(" 1"), "{name}: {info}");
        let saved = folder.join(format!("{name}.json"));
        let detach = ["-save", "1", "-o"].map(Path::new);
        run(
            "pdfdetach",
            "poppler-utils",
            &[&detach[..], &[&saved, &path]].concat(),
        );
        assert_eq!(
            fs::read_to_string(&saved).expect("text"),
            IsolationRecord::from_facts(&facts).to_json_pretty(),
            "{name}: {RECORD_FILE}"
        );
        paths.push(path);
    }
    let arguments: Vec<&str> = paths.iter().map(|p| p.to_str().expect("UTF-8")).collect();
    let said = python::run("check_pdf.py", &arguments);
    assert_eq!(said.matches(": valid").count(), 2 * paths.len(), "{said}");
}

#[test]
fn equal_facts_give_equal_bytes() {
    let bytes = || isolation_pdf(&scene::full()).expect("a sheet");
    assert!(bytes() == bytes());
}

/// Every word that was composed stands on the page, drawings among them.
#[test]
fn the_page_carries_what_was_composed() {
    let temporary = tempfile::tempdir().expect("a temporary folder");
    for (name, facts) in scene::all() {
        let path = temporary.path().join(format!("{name}.pdf"));
        fs::write(&path, isolation_pdf(&facts).expect("a sheet")).expect("writable");
        let bare = |text: &str| text.split_whitespace().collect::<String>();
        let text = bare(&text_of(&path));
        let paper = compose_isolation(&facts);
        let mut said: Vec<&String> = paper.conclusion.sentences.iter().collect();
        said.extend(paper.next_steps.iter().chain(&paper.not_tested));
        said.extend(paper.patterns.iter().chain(&paper.phases));
        said.extend(paper.ways.iter().flat_map(|w| [&w.name, &w.figure, &w.at]));
        said.extend(paper.asked.iter().map(|pair| &pair.1));
        said.push(&paper.conclusion.word);
        for sentence in said {
            assert!(
                text.contains(&bare(sentence)),
                "{name}: {sentence} in {text}"
            );
        }
        for word in paper
            .rows
            .iter()
            .flat_map(|row| &row.1)
            .flat_map(|cell| cell.split(' '))
        {
            assert!(text.contains(word), "{name}: {word}");
        }
    }
}

/// The figures of the drawing, read back from the page, agree with the record to the last
/// digit that is printed; an end is never rounded inwards.
#[test]
fn figures_on_the_page_are_those_of_the_record() {
    let temporary = tempfile::tempdir().expect("a temporary folder");
    let path = temporary.path().join("full.pdf");
    let facts = scene::full();
    fs::write(&path, isolation_pdf(&facts).expect("a sheet")).expect("writable");
    let text = text_of(&path);
    let record = IsolationRecord::from_facts(&facts).to_json_pretty();
    let record: Value = serde_json::from_str(&record).expect("JSON");
    let of = |way: &str, field: &str| {
        let ways = record["ways"].as_array().expect("ways");
        let way = ways.iter().find(|w| w["way"] == way).expect("a way");
        way[field].as_f64().expect("a number")
    };
    let number_after = |words: &str| -> f64 {
        let rest = text.split_once(words).expect(words).1;
        let number: String = rest
            .trim_start()
            .chars()
            .take_while(|c| c.is_ascii_digit() || *c == '.')
            .collect();
        number.parse().expect("a number")
    };
    let best = number_after("the valve on the cap port leaks");
    assert!((best - of("cap_valve_leakage", "best_ml_per_min")).abs() <= 0.005);
    let best = number_after("The piston seal leaks");
    assert!((best - of("piston_bypass", "best_ml_per_min")).abs() <= 0.005);
    let upper = number_after("cap-port plug less than");
    let exact = of("cap_port_leakage", "upper_ml_per_min");
    assert!(
        upper >= exact && upper - exact < 0.01,
        "{upper} for {exact}"
    );
    let upper = number_after("0 …");
    let exact = of("gland_leakage", "upper_ml_per_min");
    assert!(
        upper >= exact && upper - exact < 0.01,
        "{upper} for {exact}"
    );
}
