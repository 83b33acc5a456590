//! Runs Python programs that check our files with other people's libraries.
//!
//! The libraries live in an environment of their own below the target folder, made once with
//! pip. Without Python or pip the test fails and says what to install: a check that is left
//! out in silence is none.

use std::fs::File;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::Output;

/// What the checks use.
const PACKAGES: [&str; 4] = ["h5py", "numpy", "scipy", "pdf-oxide"];

/// Runs `tests/python/SCRIPT` with arguments; returns what it printed.
///
/// # Panics
/// If Python is missing, or the script ends with an error: with all it printed.
#[track_caller]
pub fn run(script: &str, arguments: &[&str]) -> String {
    let output = attempt(script, arguments);
    succeeded(&format!("tests/python/{script}"), &output);
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// The same for a script that may end with an error: how it ended and what it printed.
///
/// # Panics
/// If Python is missing.
#[track_caller]
pub fn attempt(script: &str, arguments: &[&str]) -> Output {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/python")
        .join(script);
    Command::new(interpreter())
        .arg(path)
        .args(arguments)
        .output()
        .expect("an interpreter that was just made can be started")
}

/// The interpreter of the environment; makes the environment the first time.
fn interpreter() -> PathBuf {
    let below = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let environment = below.join("python");
    let interpreter = environment.join(if cfg!(windows) {
        "Scripts/python.exe"
    } else {
        "bin/python"
    });
    let done = environment.join("packages.txt");
    let wanted = PACKAGES.join("\n");
    // Tests of several files run at the same time.
    let lock =
        File::create(below.join("python.lock")).expect("a target folder that can be written");
    lock.lock().expect("a target folder on a local disk");
    if std::fs::read_to_string(&done).is_ok_and(|found| found == wanted) {
        return interpreter;
    }
    let python = if cfg!(windows) { "python" } else { "python3" };
    let made = Command::new(python)
        .args(["-m", "venv", "--clear"])
        .arg(&environment)
        .output();
    let made = made.unwrap_or_else(|error| {
        panic!("{python} cannot be started ({error}); install Python 3.9 or newer with its venv and pip: apt-get install python3-venv python3-pip")
    });
    succeeded(
        "making a Python environment (on Debian: apt-get install python3-venv)",
        &made,
    );
    let installed = Command::new(&interpreter)
        .args([
            "-m",
            "pip",
            "install",
            "--quiet",
            "--disable-pip-version-check",
        ])
        .args(PACKAGES)
        .output()
        .expect("the environment has an interpreter");
    succeeded(
        "pip install (on Debian: apt-get install python3-pip; it needs the network once)",
        &installed,
    );
    std::fs::write(&done, wanted).expect("the environment can be written");
    interpreter
}

#[track_caller]
fn succeeded(what: &str, output: &Output) {
    assert!(
        output.status.success(),
        "{what} failed ({}):\n{}{}",
        output.status,
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
}
