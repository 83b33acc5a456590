//! The paper in other people's hands: marks on each page, edges, and a code that can be read.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use stillrod::certificate::Letterhead;
use stillrod::certificate::Logo;
use stillrod::certificate::PaperSize;
use stillrod::certificate::Standing;
use stillrod::certificate::TagLabel;
use stillrod::certificate::compose;
use stillrod::certificate::pdf;
use stillrod::certificate::tag_label;
use stillrod::quantity::UnitSystem;
use stillrod::verdict::Outcome;

use crate::edges::assert_inside;
use crate::edges::grey::grey_page;
use crate::scene::Scene;

const ALL: [Outcome; 5] = [
    Outcome::Pass,
    Outcome::Fail,
    Outcome::Undecided,
    Outcome::NotValid,
    Outcome::Measured,
];

const LOGO: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"96\" height=\"48\">\
    <path d=\"M4 40 L48 6 L92 40 Z\" fill=\"#1f5f8b\"/></svg>";

fn letterhead(paper: PaperSize) -> Letterhead {
    Letterhead {
        address: [
            "Depot yard",
            "Long lane past the weighbridge and the old salt barn",
            "Tarn Valley",
            "open on weekdays",
        ]
        .map(str::to_owned)
        .to_vec(),
        logo: Some(Logo::Svg(LOGO.into())),
        paper: Some(paper),
    }
}

fn written(name: &str, bytes: &[u8]) -> (tempfile::TempDir, PathBuf) {
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = std::env::var_os("CERTIFICATE_FOLDER")
        .map_or_else(|| temporary.path().to_path_buf(), PathBuf::from);
    let path = folder.join(format!("{name}.pdf"));
    fs::write(&path, bytes).expect("writable");
    (temporary, path)
}

fn pages(pdf: &Path) -> Vec<String> {
    let output = Command::new("pdftotext").arg(pdf).arg("-").output();
    let text = String::from_utf8(output.expect("poppler-utils").stdout).expect("text");
    text.split_terminator('\u{c}')
        .map(|page| page.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect()
}

#[test]
fn no_text_leaves_a_page_of_either_size() {
    for paper in [PaperSize::A4, PaperSize::Letter] {
        for units in [UnitSystem::Metric, UnitSystem::Inch] {
            for outcome in ALL {
                let mut scene = Scene::new(outcome);
                scene.units = units;
                let mut facts = scene.facts();
                facts.letterhead = letterhead(paper);
                let bytes = pdf(&facts).expect("a paper");
                let name = format!("edges-{paper:?}-{units:?}-{}", outcome.word());
                let (_temporary, path) = written(&name, &bytes);
                assert_inside(&path);
                let pages = pages(&path);
                assert!(pages[0].contains("Depot yard, Long lane"), "{}", pages[0]);
                assert!(pages[0].contains("signature"), "{name}: {}", pages[0]);
            }
        }
    }
}

#[test]
fn what_a_paper_is_not_stands_on_each_of_its_pages() {
    let day = "2 April 2026";
    let why = "sensor P-11 was found wrong at its yearly calibration, and the cylinder was tested again on 3 April";
    for (outcome, standing, words) in [
        (
            Outcome::Pass,
            Standing::Duplicate,
            "DUPLICATE, printed again",
        ),
        (
            Outcome::Fail,
            Standing::withdrawn(day, why),
            "WITHDRAWN on 2 April 2026: sensor P-11 was found wrong",
        ),
        (
            Outcome::Measured,
            Standing::Original,
            "REPORT, not a certificate",
        ),
    ] {
        let mut scene = Scene::new(outcome);
        scene.standing = standing;
        let facts = scene.facts();
        let bytes = pdf(&facts).expect("a paper");
        let (_temporary, path) = written(&format!("marks-{}", outcome.word()), &bytes);
        assert_inside(&path);
        let pages = pages(&path);
        assert!(pages.len() >= 2);
        for (index, page) in pages.into_iter().enumerate() {
            // Across the page, light grey: programs that take out text tear turned words apart.
            let (_, _, pixels) = grey_page(&path, index + 1, 60);
            let is_mark = |grey: &&u8| (0xD4..=0xE8).contains(*grey);
            let part = pixels.iter().filter(is_mark).count() as f64 / pixels.len() as f64;
            assert!(
                (0.02..0.2).contains(&part),
                "{words}: {part} of page {index}"
            );
            assert!(page.contains(words), "{page}");
            assert!(page.contains("not a measurement of a real cylinder"));
        }
    }
}

/// Reads the only code of a page; `spoil` is the radius of a spot of grease by the code's width.
fn read_back((width, height, mut pixels): (usize, usize, Vec<u8>), spoil: f64) -> String {
    let decode = |pixels: &[u8]| {
        let mut image = rqrr::PreparedImage::prepare_from_greyscale(width, height, |x, y| {
            pixels[y * width + x]
        });
        let grids = image.detect_grids();
        let corners = grids.first().map(|grid| grid.bounds);
        let text = grids.first().map(|grid| grid.decode().map(|d| d.1));
        (corners, text)
    };
    let (corners, _) = decode(&pixels);
    let corners = corners.expect("a code on the page");
    // A thumb on the middle of the code.
    let (left, right) = (f64::from(corners[0].x), f64::from(corners[2].x));
    let (top, bottom) = (f64::from(corners[0].y), f64::from(corners[2].y));
    let radius = spoil * (right - left);
    let middle = ((left + right) / 2.0, (top + bottom) / 2.0);
    for y in 0..height {
        for x in 0..width {
            if (x as f64 - middle.0).hypot(y as f64 - middle.1) < radius {
                pixels[y * width + x] = 0x30;
            }
        }
    }
    let (_, text) = decode(&pixels);
    text.expect("a code on the page")
        .expect("a code that can be read")
}

#[test]
fn the_code_is_read_back_from_the_page_even_under_a_greasy_thumb() {
    for (outcome, spoil) in [
        (Outcome::Pass, 0.0),
        (Outcome::Fail, 0.2),
        (Outcome::Measured, 0.2),
    ] {
        let scene = Scene::new(outcome);
        let facts = scene.facts();
        let (_temporary, path) = written("code", &pdf(&facts).expect("a paper"));
        let said = compose(&facts).code_text;
        assert!(said.contains(&facts.sha256_hex), "{said}");
        assert_eq!(read_back(grey_page(&path, 1, 300), spoil), said);
    }
}

#[test]
fn a_tag_label_is_as_large_as_its_tape_and_its_code_is_the_tag() {
    let full = TagLabel {
        tag: "TV-0312".into(),
        description: "plough lift cylinder, 63/36 × 400, of the winter carrier".into(),
        shop: "Tarn Valley road depot, hydraulics bench".into(),
        last: Some(("TVC-2026-0031".into(), "14 March 2026".into())),
    };
    let bare = TagLabel {
        tag: "A-VERY-LONG-TAG-OF-A-UNIT-0312-B-2026".into(),
        description: String::new(),
        shop: "Depot".into(),
        last: None,
    };
    for (name, label) in [("label", full), ("label-bare", bare)] {
        let (_temporary, path) = written(name, &tag_label(&label).expect("a label"));
        let output = Command::new("pdfinfo").arg(&path).output();
        let info = String::from_utf8(output.expect("poppler-utils").stdout).expect("text");
        // 62 mm × 29 mm.
        assert!(info.contains("175.748 x 82.2"), "{info}");
        assert!(info.contains("Pages:           1"), "{info}");
        let text = pages(&path).remove(0);
        assert!(text.replace(' ', "").contains(&label.tag), "{text}");
        assert_eq!(
            text.contains("14 March 2026"),
            label.last.is_some(),
            "{text}"
        );
        assert_eq!(read_back(grey_page(&path, 1, 300), 0.12), label.tag);
    }
}
