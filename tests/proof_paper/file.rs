//! The file, judged by programs of others. Needs `qpdf` and poppler's tools.

use crate::scene::FREE;
use crate::scene::SOUND;
use crate::scene::WORN;
use crate::scene::not_done;
use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use stillrod::certificate::ProofFacts;
use stillrod::certificate::ProofRecord;
use stillrod::certificate::RECORD_FILE;
use stillrod::certificate::Standing;
use stillrod::certificate::StepShown;
use stillrod::certificate::proof_pdf;
use stillrod::certificate::proof_pdf_twin;
use stillrod::quantity::UnitSystem;

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

fn written(folder: &Path, facts: &ProofFacts<'_>, name: &str) -> PathBuf {
    let path = folder.join(format!("{name}.pdf"));
    fs::write(&path, proof_pdf(facts).expect("a paper")).expect("writable");
    path
}

/// For looking at: `CERTIFICATE_FOLDER=/some/folder cargo test`.
fn folder() -> (tempfile::TempDir, PathBuf) {
    let temporary = tempfile::tempdir().expect("a temporary folder");
    let path = std::env::var_os("CERTIFICATE_FOLDER")
        .map_or_else(|| temporary.path().to_path_buf(), PathBuf::from);
    (temporary, path)
}

fn pages_of(pdf: &Path) -> Vec<String> {
    let text = run(
        "pdftotext",
        "poppler-utils",
        &[Path::new("-layout"), pdf, Path::new("-")],
    );
    text.split_terminator('\u{c}').map(str::to_owned).collect()
}

fn in_inches<'a>(mut facts: ProofFacts<'a>) -> ProofFacts<'a> {
    facts.units = UnitSystem::Inch;
    for step in &mut facts.steps {
        if let StepShown::Held { facts: hold, .. } = &mut step.shown {
            hold.units = UnitSystem::Inch;
        }
    }
    facts
}

/// Only the steps of these names, the first of the holds deciding.
fn only<'a>(mut facts: ProofFacts<'a>, ids: &[&str]) -> ProofFacts<'a> {
    facts.steps.retain(|s| ids.contains(&s.id.as_str()));
    let is_hold =
        |s: &stillrod::certificate::StepFacts<'_>| matches!(s.shown, StepShown::Held { .. });
    facts.deciding = facts.steps.iter().position(is_hold);
    facts
}

#[test]
fn the_front_is_one_page_and_all_steps_and_holds_follow() {
    let (_temporary, folder) = folder();
    let pages = pages_of(&written(&folder, &SOUND.facts(), "proof-pass"));
    let front = &pages[0];
    for part in [
        "Pass",
        "signature",
        "Not tested",
        "Cautions",
        "Rebuild proof, double acting",
    ] {
        assert!(front.contains(part), "{part}: {front}");
    }
    assert!(
        front.contains("(3 of 3)") && front.contains("nearly out"),
        "{front}"
    );
    assert!(
        pages[1].contains("All steps, for the expert"),
        "{}",
        pages[1]
    );
    assert!(pages[1].contains("Zero before") && pages[1].contains("Zero after"));
    let all = pages.join("\n");
    assert!(all.contains("The whole test over time"));
    assert_eq!(all.matches("Uncertainty budget").count(), 6);
    assert!((5..=7).contains(&pages.len()), "{} pages", pages.len());
    assert!(!all.contains("PRACTICE"));
}

#[test]
fn few_steps_stand_on_the_front_whole() {
    let (_temporary, folder) = folder();
    let facts = only(SOUND.facts(), &["zero-before", "seal-in", "zero-after"]);
    let pages = pages_of(&written(&folder, &facts, "proof-short"));
    for part in [
        "Zero before",
        "Piston seal, nearly in",
        "Zero after",
        "signature",
    ] {
        assert!(pages[0].contains(part), "{part}: {}", pages[0]);
    }
    assert!(!pages[0].contains("all of them from page 2 on"));
}

#[test]
fn the_files_are_sound_and_valid_for_the_archive_and_for_readers_of_screens() {
    let (_temporary, folder) = folder();
    let reasons = ["not done: Proof, cap end".to_owned()];
    let paths = [
        written(&folder, &SOUND.facts(), "valid-pass"),
        written(&folder, &WORN.facts(), "valid-fail"),
        written(&folder, &FREE.facts(), "valid-measured"),
        written(&folder, &in_inches(SOUND.facts()), "valid-inch"),
        written(
            &folder,
            &not_done(SOUND.facts(), "proof-cap", &reasons),
            "valid-not-valid",
        ),
    ];
    for path in &paths {
        let said = run("qpdf", "qpdf", &[Path::new("--check"), path]);
        assert!(
            said.contains("No syntax or stream encoding errors found"),
            "{said}"
        );
        let fonts = run("pdffonts", "poppler-utils", &[path]);
        for row in fonts.lines().skip(2) {
            // Columns from the right: object, generation, uni, sub, emb.
            let cells: Vec<&str> = row.split_whitespace().rev().collect();
            assert_eq!(cells[2..5], ["yes", "yes", "yes"], "{row}");
        }
    }
    let arguments: Vec<&str> = paths.iter().filter_map(|p| p.to_str()).collect();
    let said = crate::python::run("check_pdf.py", &arguments);
    assert_eq!(said.matches(": valid").count(), 2 * paths.len(), "{said}");
}

#[test]
fn the_pages_are_sound_for_an_archive_by_another_checker_too() {
    let (_temporary, folder) = folder();
    for (name, bytes) in [
        ("pass", proof_pdf_twin(&SOUND.facts())),
        ("fail", proof_pdf_twin(&WORN.facts())),
    ] {
        let path = folder.join(format!("{name}-older-form.pdf"));
        fs::write(&path, bytes.expect("pages")).expect("writable");
        let (is_valid, said) = crate::preflight::said_of(&path);
        assert!(is_valid, "{name}: {said}");
    }
}

#[test]
fn the_record_inside_is_the_record() {
    let (_temporary, folder) = folder();
    let facts = SOUND.facts();
    let path = written(&folder, &facts, "proof-attached");
    let target = folder.join("taken-out.json");
    let arguments = ["-save", "1", "-o"].map(Path::new);
    let arguments: Vec<&Path> = arguments
        .into_iter()
        .chain([target.as_path(), &path])
        .collect();
    run("pdfdetach", "poppler-utils", &arguments);
    let found = fs::read_to_string(&target).expect("the attachment");
    assert_eq!(found, ProofRecord::from_facts(&facts).to_json_pretty());
    let names = run("pdfdetach", "poppler-utils", &[Path::new("-list"), &path]);
    assert!(names.contains(RECORD_FILE), "{names}");
}

#[test]
fn marks_stand_on_each_page() {
    let (_temporary, folder) = folder();
    let mut facts = WORN.facts();
    facts.standing = Standing::Duplicate;
    for page in pages_of(&written(&folder, &facts, "proof-marks")) {
        assert!(page.contains("PRACTICE – not a measurement"), "{page}");
        assert!(page.contains("DUPLICATE, printed again"), "{page}");
    }
}

#[test]
fn an_inch_shop_gets_letter_paper() {
    let (_temporary, folder) = folder();
    let path = written(&folder, &in_inches(SOUND.facts()), "proof-inch");
    let info = run("pdfinfo", "poppler-utils", &[&path]);
    assert!(info.contains("612 x 792 pts (letter)"), "{info}");
    let pages = pages_of(&path);
    assert!(pages[0].contains("signature"), "{}", pages[0]);
    let all = pages.join("\n");
    assert!(all.contains("in³/min") && all.contains("psi") && all.contains("0.12 mL/min"));
}

#[test]
fn forty_steps_and_long_words_go_on_to_further_pages() {
    let (_temporary, folder) = folder();
    let mut facts = WORN.facts();
    let own = facts.steps.clone();
    for turn in 0..2 {
        for mut step in own.clone() {
            step.id = format!("{}-{turn}", step.id);
            step.title += ", once more with a name that does not fit into its column";
            facts.steps.push(step);
        }
    }
    let path = written(&folder, &facts, "proof-long");
    let pages = pages_of(&path);
    assert!(pages[0].contains("signature"), "{}", pages[0]);
    assert!(
        pages[1].contains("All steps, for the expert"),
        "{}",
        pages[1]
    );
    let all = pages.join("\n");
    assert!(
        all.contains("Step 47") && pages.len() > 12,
        "{} pages",
        pages.len()
    );
}

#[test]
fn a_procedure_without_a_hold_shows_what_was_recorded() {
    let (_temporary, folder) = folder();
    let facts = only(
        SOUND.facts(),
        &["zero-before", "run-in", "proof-cap", "proof-outside"],
    );
    let pages = pages_of(&written(&folder, &facts, "proof-no-hold"));
    assert!(pages[0].contains("What was recorded") && pages[0].contains("signature"));
    assert!(pages[0].contains("no hold was judged"), "{}", pages[0]);
}

#[test]
fn equal_facts_give_equal_bytes() {
    let one = proof_pdf(&SOUND.facts()).expect("a paper");
    assert_eq!(one, proof_pdf(&SOUND.facts()).expect("a paper"));
}

#[test]
fn a_name_the_font_cannot_write_is_an_error_that_says_so() {
    let mut facts = SOUND.facts();
    facts.shop_name = "Depot 泵".into();
    let error = proof_pdf(&facts).expect_err("no glyph").to_string();
    assert!(error.contains("泵"), "{error}");
}
