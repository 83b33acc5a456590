//! A page as it comes out of a grey printer, by poppler's `pdftoppm`.

use std::path::Path;
use std::process::Command;

/// A page as grey pixels, white 255: width, height, rows from the top.
#[track_caller]
pub fn grey_page(pdf: &Path, page: usize, per_inch: usize) -> (usize, usize, Vec<u8>) {
    let (page, per_inch) = (page.to_string(), per_inch.to_string());
    let arguments = ["-gray", "-r", &per_inch, "-f", &page, "-l", &page];
    let output = Command::new("pdftoppm").args(arguments).arg(pdf).output();
    let output = output.expect("pdftoppm; install poppler-utils");
    assert!(output.status.success(), "{}", pdf.display());
    let bytes = output.stdout;
    let mut parts = bytes.splitn(4, |b| *b == b'\n');
    assert_eq!(parts.next(), Some(&b"P5"[..]));
    let size = std::str::from_utf8(parts.next().expect("a size")).expect("text");
    let (width, height) = size.split_once(' ').expect("two numbers");
    let pixels = parts.nth(1).expect("pixels").to_vec();
    (
        width.parse().expect("a width"),
        height.parse().expect("a height"),
        pixels,
    )
}
