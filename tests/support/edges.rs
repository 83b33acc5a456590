//! Whether all of a page stays on it: words, as poppler's `pdftotext` finds them, and ink.

#[path = "grey.rs"]
pub mod grey;

use grey::grey_page;
use std::path::Path;
use std::process::Command;

fn attribute(line: &str, name: &str) -> f64 {
    let from = line.find(&format!("{name}=\"")).expect(name) + name.len() + 2;
    let text = &line[from..];
    text[..text.find('"').expect("a quote")]
        .parse()
        .expect("a number")
}

/// Fails if a word leaves its page or comes nearer to an edge than printers reach, or if anything
/// is printed where it would be cut off.
#[track_caller]
pub fn assert_inside(pdf: &Path) {
    const UNPRINTED_PT: f64 = 12.0;
    /// The box of a word across the page is larger than the word: its ink is looked at instead.
    const TALL_PT: f64 = 24.0;
    let output = Command::new("pdftotext")
        .arg("-bbox")
        .arg(pdf)
        .arg("-")
        .output();
    let output = output.expect("pdftotext; install poppler-utils");
    assert!(output.status.success(), "{}", pdf.display());
    let text = String::from_utf8(output.stdout).expect("UTF-8");
    let (mut width, mut height) = (0.0, 0.0);
    let (mut n_words, mut n_pages) = (0, 0);
    for line in text.lines().map(str::trim) {
        if line.starts_with("<page") {
            (width, height) = (attribute(line, "width"), attribute(line, "height"));
            n_pages += 1;
            assert_blank_border(pdf, n_pages);
        } else if line.starts_with("<word") {
            n_words += 1;
            let [left, top, right, bottom] =
                ["xMin", "yMin", "xMax", "yMax"].map(|name| attribute(line, name));
            let is_inside = left >= UNPRINTED_PT
                && top >= UNPRINTED_PT
                && right <= width - UNPRINTED_PT
                && bottom <= height - UNPRINTED_PT;
            assert!(
                is_inside || bottom - top > TALL_PT,
                "{}, a page of {width} × {height}: {line}",
                pdf.display()
            );
        }
    }
    assert!(n_words > 50, "only {n_words} words in {}", pdf.display());
}

/// Fails if anything is printed in the outermost strip of a page.
#[track_caller]
fn assert_blank_border(pdf: &Path, page: usize) {
    const STRIP: usize = 5;
    let (width, height, pixels) = grey_page(pdf, page, 60);
    for (index, grey) in pixels.iter().enumerate() {
        let (x, y) = (index % width, index / width);
        let is_border = x < STRIP || y < STRIP || x + STRIP >= width || y + STRIP >= height;
        assert!(
            !is_border || *grey > 250,
            "{}, page {page}: printed at {x}, {y} of {width} × {height}",
            pdf.display()
        );
    }
}
