//! The program as people and scripts run it: files, exit status, messages.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use serde_json::Value;
use std::path::Path;
use std::process::Command;
use std::process::Output;

fn stillrod(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_stillrod"))
        .args(arguments)
        .output()
        .unwrap()
}

fn status(output: &Output) -> i32 {
    output.status.code().unwrap_or(-1)
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Runs a scenario as fast as it can into a folder; returns status and record.
fn rehearsed(scenario: &str, folder: &Path) -> (i32, Value) {
    let output = stillrod(&[
        "rehearse",
        scenario,
        "--json",
        "--data",
        folder.to_str().unwrap(),
    ]);
    let record = serde_json::from_slice(&output.stdout).unwrap_or_else(|e| {
        panic!(
            "{scenario}: {e}: {}{}",
            text(&output.stdout),
            text(&output.stderr)
        )
    });
    (status(&output), record)
}

fn files(folder: &Path, ending: &str) -> Vec<std::path::PathBuf> {
    let entries = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path());
    entries
        .filter(|p| p.extension().is_some_and(|e| e == ending))
        .collect()
}

#[test]
fn a_rehearsal_leaves_paper_recording_and_register_and_judging_repeats_every_digit() {
    let folder = tempfile::tempdir().unwrap();
    let (exit, record) = rehearsed("piston-seal-bypass", folder.path());
    assert_eq!((exit, record["outcome"].as_str()), (10, Some("fail")));
    assert_eq!(record["exit_status"], 10);
    let archives = files(&folder.path().join("recordings"), "h5");
    let [archive] = &archives[..] else {
        panic!("one recording: {archives:?}")
    };
    assert_eq!(
        files(&folder.path().join("recordings"), "journal"),
        Vec::<std::path::PathBuf>::new()
    );
    let number = record["certificate_number"].as_str().unwrap();
    assert!(number.starts_with("PRACTICE-TV-"), "{number}");
    for ending in ["pdf", "json"] {
        assert!(
            folder
                .path()
                .join(format!("papers/{number}.{ending}"))
                .exists()
        );
    }
    // An ordinary test is one sheet: front for everybody, back for the expert.
    let paper = folder.path().join(format!("papers/{number}.pdf"));
    let words = Command::new("pdftotext").arg(&paper).arg("-").output();
    let words = words.expect("pdftotext of poppler-utils");
    assert_eq!(text(&words.stdout).matches('\u{c}').count(), 2);
    let again = stillrod(&["judge", archive.to_str().unwrap(), "--json"]);
    assert_eq!(status(&again), 10);
    let judged: Value = serde_json::from_slice(&again.stdout).unwrap();
    for field in ["figures", "limits", "findings", "outcome", "hold", "data"] {
        assert_eq!(judged[field], record[field], "{field}");
    }
    let hash = record["data"]["sha256"].as_str().unwrap();
    assert_eq!(hash.len(), 64);
    assert_eq!(stillrod::daemon::paper::sha256_hex(archive).unwrap(), hash);
}

/// The check by chance is said under the result, stands in the record, repeats its digits,
/// and changes nothing else.
#[test]
fn a_check_by_chance_is_said_and_changes_no_figure() {
    let folder = tempfile::tempdir().unwrap();
    let (_, record) = rehearsed("piston-seal-bypass", folder.path());
    assert!(record["figures"][0].get("by_chance").is_none());
    let archive = files(&folder.path().join("recordings"), "h5").remove(0);
    let archive = archive.to_str().unwrap();
    let judged = |more: &[&str]| {
        let arguments = [&["judge", archive, "--by-chance", "10000"], more].concat();
        let output = stillrod(&arguments);
        assert_eq!(status(&output), 10, "{}", text(&output.stderr));
        text(&output.stdout)
    };
    let said = judged(&[]);
    let (result, check) = said.split_once("Checked by chance").unwrap();
    assert!(
        check.starts_with(" (10000 trials, seed 1; JCGM 101)"),
        "{check}"
    );
    for figure in [
        "Rod movement",
        "Pressure loss",
        "Oil lost from",
        "Oil gained on",
    ] {
        let line = check.lines().find(|line| line.contains(figure)).unwrap();
        assert!(
            line.contains("95 % from") && line.contains("the stated interval"),
            "{line}"
        );
    }
    let plain = text(&stillrod(&["judge", archive]).stdout);
    assert_eq!(result.trim_end(), plain.trim_end());

    let json = judged(&["--json"]);
    assert_eq!(json, judged(&["--json"]));
    let mut judged: Value = serde_json::from_str(&json).unwrap();
    let mut n_checked = 0;
    for figure in judged["figures"].as_array_mut().unwrap() {
        let by = figure.as_object_mut().unwrap().remove("by_chance");
        let (Some(by), Some(value)) = (by, figure["value"].as_f64()) else {
            assert!(figure.get("value").is_none(), "{figure}");
            continue;
        };
        n_checked += 1;
        assert_eq!(
            (by["n_trials"].as_u64(), by["seed"].as_u64()),
            (Some(10_000), Some(1))
        );
        let half = figure["expanded_uncertainty"].as_f64().unwrap();
        let (low, high) = (by["lower"].as_f64().unwrap(), by["upper"].as_f64().unwrap());
        // Both methods see the same measurement: the ends are not far apart.
        assert!((low - (value - half)).abs() < 0.35 * half, "{figure} {by}");
        assert!((high - (value + half)).abs() < 0.35 * half, "{figure} {by}");
        assert!(by["agreement"].is_string() && by["tolerance"].as_f64().unwrap() > 0.0);
    }
    assert_eq!(n_checked, 4);
    assert_eq!(judged["figures"], record["figures"]);
}

#[test]
fn a_load_that_a_failing_seal_could_not_bear_is_not_started() {
    let folder = tempfile::tempdir().unwrap();
    let scenario = stillrod::rehearsal::scenario("tight-rebuild").unwrap();
    let setup = folder.path().join("setup.toml");
    let weak = scenario
        .setup_toml()
        .replace("cap_rating = \"350 bar\"", "cap_rating = \"250 bar\"");
    std::fs::write(&setup, weak).unwrap();
    let shop = folder.path().join("shop.toml");
    std::fs::write(&shop, stillrod::rehearsal::SHOP_TOML).unwrap();
    let data = folder.path().join("data");
    let arguments = [
        "record",
        "--port",
        "/dev/null",
        "--setup",
        setup.to_str().unwrap(),
        "--shop",
    ];
    let tail = [shop.to_str().unwrap(), "--data", data.to_str().unwrap()];
    let output = stillrod(&[&arguments[..], &tail[..]].concat());
    assert_eq!(status(&output), 50);
    assert!(
        text(&output.stderr).contains("295 bar"),
        "{}",
        text(&output.stderr)
    );
}

#[test]
fn the_same_seed_gives_the_same_figures() {
    let figures = || {
        let folder = tempfile::tempdir().unwrap();
        rehearsed("cap-plug-leak", folder.path()).1["figures"].clone()
    };
    assert_eq!(figures(), figures());
}

/// One operating error: arguments, and what its message must say.
#[track_caller]
fn refused(arguments: &[&str], expected_status: i32, parts: &[&str]) {
    let output = stillrod(arguments);
    let message = text(&output.stderr);
    assert_eq!(status(&output), expected_status, "{arguments:?}: {message}");
    for part in parts {
        assert!(
            message.contains(part),
            "{arguments:?}: `{message}` should say `{part}`"
        );
    }
}

/// A folder with files for one test, and paths as text.
struct Desk(tempfile::TempDir);

impl Desk {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn path(&self, name: &str) -> String {
        self.0.path().join(name).to_str().unwrap().to_owned()
    }

    fn write(&self, name: &str, content: &str) -> String {
        std::fs::write(self.0.path().join(name), content).unwrap();
        self.path(name)
    }
}

fn sample(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample-runs")
        .join(name);
    path.to_str().unwrap().to_owned()
}

#[test]
fn wrong_usage_and_wrong_settings_are_refused_with_what_where_and_what_to_do() {
    let desk = Desk::new();
    let data = desk.path("data");
    refused(&["judge"], 2, &["FILE"]);
    refused(&["rehearse", "--speed", "0"], 2, &["above 0"]);
    for (trials, part) in [
        ("0", "0 trials are too few"),
        ("999999999", "more than are ever needed"),
        ("-3", "-3"),
        ("run.h5", "name the files before it"),
    ] {
        refused(&["judge", "a.h5", "--by-chance", trials], 2, &[part]);
    }
    refused(&["rehearse", "no-such"], 1, &["no-such", "tight-rebuild"]);
    let none = desk.path("none.toml");
    refused(
        &["rehearse", "--shop", &none, "--data", &data],
        1,
        &["none.toml", "cannot be read"],
    );
    let head = "[shop]\nname = \"x\"\ntime_zone = \"UTC\"\nnumber_prefix = \"X\"\n";
    let shop = desk.write(
        "shop.toml",
        &format!("{head}[decision]\nrule = \"simple\"\n"),
    );
    refused(
        &["rehearse", "--shop", &shop, "--data", &data],
        1,
        &["line", "rebuilt-63-cap-loss"],
    );
    let broken = desk.write(
        "broken.toml",
        &format!("{head}[decision]\nrule = \"guessed\"\n"),
    );
    refused(
        &["rehearse", "--shop", &broken, "--data", &data],
        1,
        &["broken.toml, line 6", "guarded"],
    );
}

#[test]
fn a_calibration_is_written_once_and_not_over_another() {
    let desk = Desk::new();
    let rows: Vec<String> = (0..6)
        .map(|i| format!("[{}, {}.0{}]", 40 * i, 4_000 + 2_560 * i, i % 3))
        .collect();
    let points = format!(
        "[sensors.p_cap]\ncalibrated_by = \"maker\"\n[sensors.p_cap.calibration]\ndate = \"2026-10-02\"\n\
         who = \"maker's laboratory\"\nreference = \"piston gauge\"\nreference_certificate = \"C-1\"\n\
         reference_in = \"bar\"\nreference_uncertainty = \"0.05 bar\"\nread_in = \"counts\"\ndegree = 2\n\
         points = [{}]\n",
        rows.join(", ")
    );
    let (points, block) = (desk.write("points.toml", &points), desk.path("p-11.toml"));
    let output = stillrod(&["calibrate", &points, "--write", &block]);
    let said = text(&output.stdout);
    assert_eq!(status(&output), 0, "{}", text(&output.stderr));
    assert!(
        said.contains("maker's certificate") && said.contains("covariance (b, c)"),
        "{said}"
    );
    assert!(
        std::fs::read_to_string(&block)
            .unwrap()
            .contains("[sensors.p_cap.calibration]")
    );
    let again = ["calibrate", &points, "--write", &block];
    refused(&again, 1, &["p-11.toml", "name a new file"]);
    let none = desk.write("none.toml", "[unit]\n");
    refused(&["calibrate", &none], 1, &["has no points"]);
}

#[test]
fn a_wrong_port_is_refused_with_its_name() {
    let desk = Desk::new();
    let (setup, shop, data) = (
        sample("tight-rebuild/setup.toml"),
        sample("tight-rebuild/shop.toml"),
        desk.path("data"),
    );
    for (port, part) in [
        ("/dev/ttyNOSUCH7".to_owned(), "not found"),
        (desk.write("no-port", "a file"), "no-port"),
    ] {
        let arguments = [
            "record", "--port", &port, "--setup", &setup, "--shop", &shop, "--data", &data,
        ];
        refused(&arguments, 1, &[&port, part]);
    }
}

#[test]
fn a_table_that_would_be_misread_is_refused_with_line_and_column() {
    let desk = Desk::new();
    let setup = sample("air-chamber-aluminium/setup.toml");
    let table = |name: &str, content: &str, parts: &[&str]| {
        let arguments = ["judge", &desk.write(name, content), "--setup", &setup];
        refused(&arguments, 1, &[&[name], parts].concat());
    };
    table(
        "semicolon.csv",
        "t_s;p_cap_bar\n0;1,5\n",
        &["line 1", ";", "comma"],
    );
    table(
        "comma.csv",
        "t_s,p_cap_bar\n0,\"1,5\"\n",
        &["line 2", "p_cap_bar", "decimal point"],
    );
    table(
        "dots.csv",
        "t_s,p_cap_bar\n151.102.000,1.5\n",
        &["line 2", "t_s", "thousands"],
    );
    table("missing.csv", "p_cap_bar\n1.5\n", &["t_s", "missing"]);
    table(
        "nan.csv",
        "t_s,p_cap_bar\n0,1.5\n1,NaN\n",
        &["line 3", "NaN", "empty"],
    );
    table(
        "back.csv",
        "t_s,p_cap_bar\n0,1.5\n2,1.5\n1,1.5\n",
        &["line 4", "does not go forward"],
    );
    refused(
        &["judge", &desk.write("a.csv", "t_s,p_cap_bar\n0,1\n")],
        1,
        &["a.csv", "--setup"],
    );
}

/// A reading that cannot be is no measurement; a wild one outside the hold changes nothing.
#[test]
fn an_impossible_reading_in_a_table_is_not_valid() {
    let desk = Desk::new();
    let setup = sample("air-chamber-aluminium/setup.toml");
    let judged = |name: &str, row: &dyn Fn(u32) -> String| {
        let rows: String = (0..160).map(|t| format!("{t},{}\n", row(t))).collect();
        let path = desk.write(name, &format!("t_s,p_cap_bar\n{rows}"));
        let output = stillrod(&["judge", &path, "--setup", &setup]);
        (status(&output), text(&output.stdout))
    };
    let falling = |from: f64, t: u32| {
        format!(
            "{:.4}",
            from - 0.001 * f64::from(t) - 0.0007 * f64::from(t % 3)
        )
    };
    assert_eq!(judged("sound.csv", &|t| falling(7.0, t)).0, 40);
    let (exit, said) = judged("vacuum.csv", &|t| falling(-490.0, t));
    assert_eq!(exit, 30, "{said}");
    let (exit, said) = judged("wild.csv", &|t| {
        if t == 1 {
            "1e200".into()
        } else {
            falling(7.0, t)
        }
    });
    assert_eq!(exit, 40, "{said}");
    assert!(said.contains("bar/min") && !said.contains("± –"), "{said}");
}

#[test]
fn a_file_that_is_no_recording_is_refused_with_its_name() {
    let desk = Desk::new();
    let setup = sample("air-chamber-aluminium/setup.toml");
    refused(
        &["judge", &desk.path("none.csv"), "--setup", &setup],
        1,
        &["none.csv", "cannot be read"],
    );
    refused(
        &["judge", &desk.write("a.txt", "x")],
        1,
        &["a.txt", ".h5", ".csv"],
    );
    refused(
        &["judge", &desk.write("text.h5", "no recording")],
        1,
        &["text.h5"],
    );
    refused(&["judge", &desk.path("none.h5")], 1, &["none.h5"]);
}

#[test]
fn a_truncated_archive_is_refused_and_never_judged() {
    let folder = tempfile::tempdir().unwrap();
    let _ = rehearsed("cap-plug-leak", folder.path());
    let archive = files(&folder.path().join("recordings"), "h5").remove(0);
    let bytes = std::fs::read(&archive).unwrap();
    let cut = folder.path().join("cut.h5");
    for part in [0.1, 0.5, 0.9, 0.999] {
        std::fs::write(&cut, &bytes[..(bytes.len() as f64 * part) as usize]).unwrap();
        refused(&["judge", cut.to_str().unwrap()], 1, &["cut.h5"]);
    }
}
