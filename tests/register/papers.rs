//! Papers that no longer count, and copies.

use crate::bench::done;
use crate::bench::numbers;
use crate::bench::own_shop;
use crate::bench::refused;
use std::path::Path;
use std::process::Command;

/// The pages of a paper as text, by poppler.
fn pages(path: &Path) -> Vec<String> {
    let output = Command::new("pdftotext")
        .args([path.to_str().unwrap(), "-"])
        .output()
        .expect("pdftotext; install poppler-utils");
    let text = String::from_utf8(output.stdout).unwrap();
    let pages = text.split('\u{c}').filter(|page| !page.trim().is_empty());
    // Words as they follow each other, wherever lines break.
    let words = |page: &str| page.split_whitespace().collect::<Vec<_>>().join(" ");
    pages.map(words).collect()
}

fn says(pages: &[String], word: &str) -> bool {
    !pages.is_empty() && pages.iter().all(|page| page.to_lowercase().contains(word))
}

#[test]
fn a_withdrawn_paper_says_so_on_every_page_and_stays_whole() {
    let folder = own_shop();
    let here = folder.path();
    let number = &numbers()[0];
    let paper = here.join(format!("stillrod-data/papers/{number}.pdf"));
    assert!(
        !pages(&paper)
            .iter()
            .any(|page| page.to_lowercase().contains("withdrawn"))
    );
    let ask = [
        "withdraw",
        number,
        "--by",
        "bench technician",
        "--reason",
        "wrong cylinder on the bench",
    ];
    done(here, &ask);
    assert!(says(&pages(&paper), "withdrawn"), "{:?}", pages(&paper));
    assert!(pages(&paper)[0].contains("wrong cylinder on the bench"));
    assert!(pages(&paper)[0].contains("counts no longer"));
    let said = done(
        here,
        &[
            "verify",
            "stillrod-data/register.db",
            paper.to_str().unwrap(),
        ],
    );
    assert!(
        said.contains(&format!("withdrawn: {number}: wrong cylinder")),
        "{said}"
    );
    assert!(refused(here, &ask).contains("withdrawn already"));
    // It is not compared with any more, and a copy of it is withdrawn, too.
    assert!(!done(here, &["history", "TV-0312"]).contains("Before and after"));
    done(here, &["paper", number]);
    let copy = here.join(format!("stillrod-data/papers/{number}-duplicate.pdf"));
    assert!(says(&pages(&copy), "withdrawn"));
    // A copy that got lost is made again as what it is.
    std::fs::remove_file(&paper).unwrap();
    crate::bench::stillrod(here, &["rehearse", "tight-rebuild", "--json"]);
    assert!(says(&pages(&paper), "withdrawn"));
}

#[test]
fn a_duplicate_says_the_same_and_that_it_is_one() {
    let folder = own_shop();
    let here = folder.path();
    let number = &numbers()[1];
    let out = done(here, &["paper", number]);
    let copy = here.join(out.trim());
    assert!(says(&pages(&copy), "duplicate"), "{:?}", pages(&copy));
    let own = pages(&here.join(format!("stillrod-data/papers/{number}.pdf")));
    assert!(
        !own.iter()
            .any(|page| page.to_lowercase().contains("duplicate"))
    );
    done(here, &["verify", copy.to_str().unwrap()]);
    assert!(refused(here, &["paper", "TV-2026-9999"]).contains("there is no paper TV-2026-9999"));
    // Nothing is made from another recording.
    let recordings = here.join("stillrod-data/recordings");
    let of = |word: &str| {
        let mut all = std::fs::read_dir(&recordings)
            .unwrap()
            .map(|e| e.unwrap().path());
        all.find(|path| path.to_str().unwrap().contains(word))
            .unwrap()
    };
    let tight = of("tight-rebuild");
    std::fs::copy(of("piston-seal-bypass"), &tight).unwrap();
    assert!(refused(here, &["paper", number]).contains("another file than was entered"));
    std::fs::remove_file(&tight).unwrap();
    assert!(refused(here, &["paper", number]).contains("put it back first"));
}

#[test]
fn a_label_says_the_tag_and_the_last_paper() {
    let folder = own_shop();
    let here = folder.path();
    let out = done(here, &["label", "TV-0312"]);
    assert_eq!(out.trim(), "stillrod-data/papers/label-TV-0312.pdf");
    let said = pages(&here.join(out.trim())).concat();
    assert!(
        said.contains("TV-0312") && said.contains(&numbers()[2]),
        "{said}"
    );
    assert!(!said.to_lowercase().contains("fail"), "{said}");
    assert!(refused(here, &["label", "TV-9"]).contains("there is no unit TV-9"));
}
