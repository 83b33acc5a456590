//! The file, judged by programs of others. Needs `qpdf` and poppler's tools.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use stillrod::certificate::RECORD_FILE;
use stillrod::certificate::Record;
use stillrod::certificate::Standing;
use stillrod::certificate::pdf;
use stillrod::quantity::UnitSystem;
use stillrod::verdict::Outcome;

use crate::scene::Scene;

const ALL: [Outcome; 5] = [
    Outcome::Pass,
    Outcome::Fail,
    Outcome::Undecided,
    Outcome::NotValid,
    Outcome::Measured,
];

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

fn written(folder: &Path, scene: &Scene, name: &str) -> PathBuf {
    let path = folder.join(format!("{name}.pdf"));
    fs::write(&path, pdf(&scene.facts()).expect("a certificate")).expect("writable");
    path
}

/// For looking at: `CERTIFICATE_FOLDER=/some/folder cargo test`.
fn folder() -> (tempfile::TempDir, PathBuf) {
    let temporary = tempfile::tempdir().expect("a temporary folder");
    let path = std::env::var_os("CERTIFICATE_FOLDER")
        .map_or_else(|| temporary.path().to_path_buf(), PathBuf::from);
    (temporary, path)
}

fn text_of(pdf: &Path) -> String {
    run(
        "pdftotext",
        "poppler-utils",
        &[Path::new("-layout"), pdf, Path::new("-")],
    )
}

#[test]
fn every_outcome_makes_a_sound_file_with_all_fonts_inside() {
    let (_temporary, folder) = folder();
    for outcome in ALL {
        let path = written(&folder, &Scene::new(outcome), outcome.word());
        let said = run("qpdf", "qpdf", &[Path::new("--check"), &path]);
        assert!(
            said.contains("No syntax or stream encoding errors found"),
            "{said}"
        );
        let fonts = run("pdffonts", "poppler-utils", &[&path]);
        let rows: Vec<&str> = fonts.lines().skip(2).collect();
        assert!(rows.len() >= 2, "{fonts}");
        for row in rows {
            // Columns from the right: object, generation, uni, sub, emb.
            let cells: Vec<&str> = row.split_whitespace().rev().collect();
            assert_eq!(cells[2..5], ["yes", "yes", "yes"], "{row}");
        }
    }
}

#[test]
fn the_record_inside_is_the_record() {
    let (_temporary, folder) = folder();
    let scene = Scene::new(Outcome::Pass);
    let path = written(&folder, &scene, "attached");
    let target = folder.join("taken-out.json");
    let arguments = ["-save", "1", "-o"].map(Path::new);
    let arguments: Vec<&Path> = arguments
        .into_iter()
        .chain([target.as_path(), &path])
        .collect();
    run("pdfdetach", "poppler-utils", &arguments);
    let found = fs::read_to_string(&target).expect("the attachment");
    assert_eq!(found, Record::from_facts(&scene.facts()).to_json_pretty());
    let names = run("pdfdetach", "poppler-utils", &[Path::new("-list"), &path]);
    assert!(names.contains(RECORD_FILE), "{names}");
}

#[test]
fn the_front_of_an_ordinary_test_is_one_page_and_says_its_outcome_in_words() {
    let (_temporary, folder) = folder();
    for outcome in ALL {
        let path = written(
            &folder,
            &Scene::new(outcome).in_earnest(),
            &format!("{}-real", outcome.word()),
        );
        let text = text_of(&path);
        let pages: Vec<&str> = text.split_terminator('\u{c}').collect();
        assert!(pages[0].contains(outcome.plain()), "{outcome:?}: {text}");
        assert!(pages[0].contains("signature"), "{outcome:?}: {text}");
        assert!(pages[1].contains("For the expert"), "{outcome:?}: {text}");
        assert!(!text.contains("PRACTICE"));
        let is_report = matches!(outcome, Outcome::Measured | Outcome::NotValid);
        assert_eq!(text.contains("REPORT, not a certificate"), is_report);
    }
}

#[test]
fn practice_is_marked_on_each_page() {
    let (_temporary, folder) = folder();
    let path = written(&folder, &Scene::new(Outcome::Pass), "practice");
    let text = run("pdftotext", "poppler-utils", &[&path, Path::new("-")]);
    assert!(
        text.contains("PRACTICE – not a measurement of a real cylinder"),
        "{text}"
    );
    for page in text.split_terminator('\u{c}') {
        assert!(
            page.contains("not a measurement of a real cylinder"),
            "{page}"
        );
    }
}

#[test]
fn equal_facts_give_equal_bytes() {
    let one = pdf(&Scene::new(Outcome::Pass).facts()).expect("a certificate");
    let two = pdf(&Scene::new(Outcome::Pass).facts()).expect("a certificate");
    assert_eq!(one, two);
}

#[test]
fn an_inch_shop_gets_letter_paper() {
    let (_temporary, folder) = folder();
    let mut scene = Scene::new(Outcome::Undecided).in_earnest();
    scene.units = UnitSystem::Inch;
    scene.standing = Standing::Duplicate;
    let path = written(&folder, &scene, "inch");
    let info = run("pdfinfo", "poppler-utils", &[&path]);
    assert!(info.contains("612 x 792 pts (letter)"), "{info}");
    let text = text_of(&path);
    let pages: Vec<&str> = text.split_terminator('\u{c}').collect();
    assert!(pages[0].contains("signature"), "{}", pages[0]);
    assert!(text.contains("in³/min") && text.contains("psi"), "{text}");
    assert!(
        text.contains("0,065 mL/min"),
        "the limit as typed is missing"
    );
}

#[test]
fn many_limits_and_long_words_go_on_to_further_pages() {
    let (_temporary, folder) = folder();
    let mut scene = Scene::new(Outcome::Fail).in_earnest();
    let row = scene.verdict.judged[0].clone();
    for index in 0..40 {
        let mut row = row.clone();
        row.limit.id =
            format!("limit-number-{index}-with-a-very-long-name-that-does-not-fit-its-column");
        scene.verdict.judged.push(row);
    }
    let path = written(&folder, &scene, "long");
    let text = text_of(&path);
    assert!(text.matches('\u{c}').count() > 3);
    assert!(text.contains("limit-number-39"));
}

#[test]
fn a_name_the_font_cannot_write_is_an_error_that_says_so() {
    let scene = Scene::new(Outcome::Pass);
    let mut facts = scene.facts();
    facts.shop_name = "Depot 泵".into();
    let error = pdf(&facts).expect_err("no glyph").to_string();
    assert!(
        error.contains("泵") && error.contains("shop file"),
        "{error}"
    );
}
