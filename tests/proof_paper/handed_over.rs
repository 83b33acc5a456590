//! The paper of a procedure in other people's hands: both sizes of paper, marks on each page.

use stillrod::certificate::Letterhead;
use stillrod::certificate::Logo;
use stillrod::certificate::PaperSize;
use stillrod::certificate::ProofFacts;
use stillrod::certificate::Standing;
use stillrod::certificate::proof_pdf;

use crate::edges::assert_inside;
use crate::scene::SOUND;
use crate::scene::WORN;
use std::path::PathBuf;

fn written(facts: &ProofFacts<'_>, name: &str) -> (tempfile::TempDir, PathBuf) {
    let temporary = tempfile::tempdir().expect("a folder");
    let folder = std::env::var_os("CERTIFICATE_FOLDER")
        .map_or_else(|| temporary.path().to_path_buf(), PathBuf::from);
    let path = folder.join(format!("{name}.pdf"));
    std::fs::write(&path, proof_pdf(facts).expect("a paper")).expect("writable");
    (temporary, path)
}

fn pages(path: &std::path::Path) -> Vec<String> {
    let output = std::process::Command::new("pdftotext")
        .arg(path)
        .arg("-")
        .output();
    let text = String::from_utf8(output.expect("poppler-utils").stdout).expect("text");
    text.split_terminator('\u{c}')
        .map(|page| page.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect()
}

#[test]
fn no_text_leaves_a_page_of_either_size() {
    for paper in [PaperSize::A4, PaperSize::Letter] {
        for (name, mut facts) in [("sound", SOUND.facts()), ("worn", WORN.facts())] {
            facts.letterhead = Letterhead {
                address: vec!["Depot yard".into(), "Tarn Valley".into()],
                logo: Some(Logo::Svg(
                    "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"9\" height=\"9\"><circle r=\"4\"/></svg>".into(),
                )),
                paper: Some(paper),
            };
            let (_temporary, path) = written(&facts, &format!("proof-{name}-{paper:?}"));
            assert_inside(&path);
            let front = pages(&path).remove(0);
            assert!(front.contains("Depot yard, Tarn Valley"), "{front}");
            assert!(front.contains("signature"), "{front}");
        }
    }
}

#[test]
fn a_withdrawn_paper_says_day_and_reason_on_each_page() {
    let mut facts = SOUND.facts();
    facts.standing = Standing::withdrawn("2 April 2026", "the probe sat in air");
    let (_temporary, path) = written(&facts, "proof-withdrawn");
    for page in pages(&path) {
        let said = "WITHDRAWN on 2 April 2026: the probe sat in air";
        assert!(page.contains(said), "{page}");
    }
}

#[test]
fn the_front_has_a_line_for_each_hold_and_the_way_of_the_oil_in_the_worst() {
    let facts = SOUND.facts();
    let (_temporary, path) = written(&facts, "proof-lines");
    let front = pages(&path).remove(0);
    for step in &facts.steps {
        if matches!(step.shown, stillrod::certificate::StepShown::Held { .. }) {
            assert!(front.contains(&step.title), "{}: {front}", step.title);
        }
    }
    assert!(front.contains("past the piston"), "{front}");
}
