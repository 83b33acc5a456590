//! The pages in the older form of PDF/A-1b, judged by a checker that knows only that one.
//!
//! No complete checker of PDF/A-3 was found; fonts, colours, metadata and structure of a page are
//! the same in both forms, so this looks at what the other checker passes over.

use stillrod::certificate::pdf;
use stillrod::certificate::pdf_twin;
use stillrod::quantity::UnitSystem;
use stillrod::verdict::Outcome;

use crate::preflight::said_of;
use crate::scene::Scene;

#[test]
fn the_pages_of_a_certificate_are_sound_for_an_archive_by_another_checker_too() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut inch = Scene::new(Outcome::Fail);
    inch.units = UnitSystem::Inch;
    for (name, scene) in [
        ("pass", Scene::new(Outcome::Pass)),
        ("fail-in-inches", inch),
        ("not-valid", Scene::new(Outcome::NotValid)),
    ] {
        let path = folder.path().join(format!("{name}.pdf"));
        let bytes = pdf_twin(&scene.facts()).expect("pages");
        std::fs::write(&path, bytes).expect("writable");
        let (is_valid, said) = said_of(&path);
        assert!(is_valid, "{name}: {said}");
    }
}

#[test]
fn the_checker_refuses_what_is_no_such_file() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    // An attachment is forbidden in that form.
    let path = folder.path().join("attached.pdf");
    let scene = Scene::new(Outcome::Pass);
    std::fs::write(&path, pdf(&scene.facts()).expect("a paper")).expect("writable");
    let (is_valid, said) = said_of(&path);
    assert!(!is_valid, "{said}");
    // So is a page whose letters have no font in the file.
    let mut bytes = pdf_twin(&scene.facts()).expect("pages");
    let font = b"/FontFile2";
    let at = bytes
        .windows(font.len())
        .position(|found| found == font || found == b"/FontFile3");
    let at = at.expect("a font");
    bytes[at + 1..at + 5].copy_from_slice(b"Xont");
    std::fs::write(&path, bytes).expect("writable");
    let (is_valid, said) = said_of(&path);
    assert!(!is_valid, "{said}");
}
