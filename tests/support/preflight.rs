//! A checker of PDF/A-1b by others: Apache PDFBox Preflight 2.0 (Debian's `libpdfbox2-java`).

use std::path::Path;
use std::process::Command;

/// Packages of Debian that it takes.
const PACKAGES: &str = "default-jre-headless libpdfbox2-java libactivation-java libjaxb-api-java";

const JARS: [&str; 8] = [
    "preflight.jar",
    "pdfbox2.jar",
    "fontbox2.jar",
    "xmpbox.jar",
    "commons-logging.jar",
    "commons-io.jar",
    "javax.activation.jar",
    "jaxb-api.jar",
];

/// What it says of a file, and whether it is valid.
pub fn said_of(pdf: &Path) -> (bool, String) {
    let jars: Vec<String> = JARS
        .iter()
        .map(|jar| format!("/usr/share/java/{jar}"))
        .collect();
    for jar in &jars {
        assert!(
            Path::new(jar).exists(),
            "{jar} is missing; install {PACKAGES}"
        );
    }
    let output = Command::new("java")
        .args([
            "-cp",
            &jars.join(":"),
            "org.apache.pdfbox.preflight.Validator_A1b",
        ])
        .arg(pdf)
        .output()
        .unwrap_or_else(|error| panic!("cannot run java: {error}; install {PACKAGES}"));
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let errors = String::from_utf8_lossy(&output.stderr);
    let is_valid = text.contains("is a valid PDF/A-1b file");
    assert!(
        is_valid || text.contains("is not a valid PDF/A-1b file") || text.contains("error(s)"),
        "no answer: {text}{errors}"
    );
    (is_valid, text)
}
