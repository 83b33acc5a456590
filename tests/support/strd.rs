//! Reads NIST StRD files as they are published, and counts digits that agree.
//!
//! LRE is the number of significant digits that agree with the certified ones,
//! −log10 |found − certified| / |certified|; where zero is certified, of the absolute error.

use std::fs;
use std::path::Path;

/// Text of a file of `tests/data/nist_strd`.
pub fn text(name: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/nist_strd");
    fs::read_to_string(folder.join(format!("{name}.dat"))).expect("a copied file")
}

/// Numbers of a line; a label such as `b1 =` is passed over.
fn numbers(line: &str) -> Vec<f64> {
    let all = line.split_whitespace().map(str::parse);
    all.filter_map(Result::ok).collect()
}

/// Rows of data, which begin at line 61 of a regression file.
pub fn rows(text: &str) -> Vec<Vec<f64>> {
    let rows = text.lines().skip(60).map(numbers);
    rows.filter(|row| !row.is_empty()).collect()
}

/// Rows of numbers whose label is `letter` and a counting number.
pub fn parameters(text: &str, letter: char) -> Vec<Vec<f64>> {
    let labelled = text.lines().take(60).filter(|line| {
        let label = line.trim_start().strip_prefix(letter);
        label.is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
    });
    let rows = labelled.map(numbers);
    rows.filter(|row| row.len() >= 2).collect()
}

/// The last number of the first line that contains `label`.
pub fn certified(text: &str, label: &str) -> f64 {
    let line = text.lines().find(|line| line.contains(label));
    let line = line.unwrap_or_else(|| panic!("no line {label}"));
    *numbers(line).last().expect("a number")
}

/// Digits that agree, 15 at most.
pub fn digits(found: f64, certified: f64) -> f64 {
    let size = if certified == 0.0 {
        1.0
    } else {
        certified.abs()
    };
    let error = (found - certified).abs() / size;
    if error.is_nan() {
        return 0.0;
    }
    (-error.log10()).clamp(0.0, 15.0)
}
