//! A bench with one unit that came in leaking, was rebuilt, and came back.

use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::sync::LazyLock;
use tempfile::TempDir;

/// Runs the program in a folder; exit status, standard output and standard error.
pub fn stillrod(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_stillrod"))
        .args(arguments)
        .current_dir(folder)
        .env("TZ", "UTC")
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (
        output.status.code().unwrap_or(-1),
        text(output.stdout),
        text(output.stderr),
    )
}

/// Runs the program where it must succeed; its standard output.
#[track_caller]
pub fn done(folder: &Path, arguments: &[&str]) -> String {
    let (status, out, err) = stillrod(folder, arguments);
    assert_eq!(status, 0, "{arguments:?}\n{out}{err}");
    out
}

/// Runs the program where it must refuse; what it says.
#[track_caller]
pub fn refused(folder: &Path, arguments: &[&str]) -> String {
    let (status, out, err) = stillrod(folder, arguments);
    assert_eq!(status, 1, "{arguments:?}\n{out}{err}");
    err
}

/// The sheet of the first job; closed by `closing`.
pub fn sheet(number: &str, closing: &str) -> String {
    format!(
        r#"[job]
{number}
unit = "TV-0312"
machine = "winter carrier 7"
came_in = 2026-11-20
{closing}
symptom = "Pflug sinkt über Nacht"
by = "fitter 2"
[[finding]]
part = "piston seal"
condition = "lip torn"
[decision]
do = "rebuild"
reason = "tube and rod are sound"
"#
    )
}

fn make() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    let write = |text: String| std::fs::write(here.join("job.toml"), text).unwrap();
    write(sheet("", ""));
    done(here, &["job", "job.toml"]);
    for scenario in ["piston-seal-bypass", "tight-rebuild"] {
        stillrod(here, &["rehearse", scenario, "--json"]);
    }
    write(sheet("number = 1", "went_out = 2026-11-23"));
    done(here, &["job", "job.toml"]);
    let back = r#"[job]
unit = "TV-0312"
came_in = 2026-12-20
symptom = "plough sinks again"
by = "fitter 1"
"#;
    std::fs::write(here.join("back.toml"), back).unwrap();
    done(here, &["job", "back.toml"]);
    stillrod(
        here,
        &["rehearse", "piston-seal-bypass", "--json", "--seed", "9"],
    );
    folder
}

/// The bench, made once; its number depends on the year, which the tests read from it.
pub fn shop() -> &'static Path {
    static SHOP: LazyLock<TempDir> = LazyLock::new(make);
    SHOP.path()
}

/// A copy of the bench to work on.
pub fn own_shop() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    copy(
        &shop().join("stillrod-data"),
        &folder.path().join("stillrod-data"),
    );
    folder
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target: PathBuf = to.join(entry.file_name());
        match entry.file_type().unwrap().is_dir() {
            true => copy(&entry.path(), &target),
            false => drop(std::fs::copy(entry.path(), target).unwrap()),
        }
    }
}

/// The papers of the bench, in order.
pub fn numbers() -> Vec<String> {
    let papers = std::fs::read_dir(shop().join("stillrod-data/papers")).unwrap();
    let mut numbers: Vec<String> = papers
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "pdf"))
        .map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    numbers.sort();
    assert_eq!(numbers.len(), 3, "{numbers:?}");
    numbers
}
