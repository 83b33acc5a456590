//! Several recordings of one unit as people and scripts judge them: files, exit status,
//! messages.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use serde_json::Value;
use std::path::Path;
use std::path::PathBuf;
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

/// Runs a scenario or inquiry into a folder; its status and what it printed.
fn rehearsed(name: &str, folder: &Path) -> (i32, Value) {
    let folder = folder.to_str().unwrap();
    let output = stillrod(&["rehearse", name, "--json", "--data", folder]);
    let record = serde_json::from_slice(&output.stdout);
    (
        status(&output),
        record.unwrap_or_else(|e| panic!("{e}: {}", text(&output.stderr))),
    )
}

fn recordings(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder.join("recordings")).unwrap();
    let paths = entries.map(|e| e.unwrap().path());
    let mut found: Vec<PathBuf> = paths
        .filter(|p| p.extension().is_some_and(|e| e == "h5"))
        .collect();
    found.sort();
    found
        .iter()
        .map(|p| p.to_str().unwrap().to_owned())
        .collect()
}

fn way<'a>(record: &'a Value, word: &str) -> &'a Value {
    let ways = record["ways"].as_array().unwrap();
    ways.iter().find(|w| w["way"] == word).unwrap()
}

#[test]
fn an_inquiry_leaves_recordings_papers_and_a_sheet_and_judging_repeats_its_answer() {
    let folder = tempfile::tempdir().unwrap();
    let (exit, record) = rehearsed("three-holds-valve", folder.path());
    assert_eq!(
        (exit, record["answer"].as_str()),
        (40, Some("Valve")),
        "{record:#}"
    );
    assert_eq!(way(&record, "cap_valve_leakage")["standing"], "leaks");
    assert_eq!(way(&record, "piston_bypass")["standing"], "tight");
    assert_eq!(record["phases"].as_array().unwrap().len(), 3);
    let files = recordings(folder.path());
    let [a, b, e] = &files[..] else {
        panic!("{files:?}")
    };
    let (seen, sheet) = (
        a.replace(".h5", "-seen.toml"),
        folder.path().join("again.pdf"),
    );
    let sheet_name = sheet.to_str().unwrap();
    let again = stillrod(&[
        "judge", a, b, e, "--seen", &seen, "--sheet", sheet_name, "--json",
    ]);
    assert_eq!(status(&again), 40, "{}", text(&again.stderr));
    let list: Value = serde_json::from_slice(&again.stdout).unwrap();
    let list = list.as_array().unwrap();
    // The records of the holds, then the sheet's.
    assert_eq!(list.len(), 4);
    for field in ["answer", "conclusion", "ways", "phases", "patterns"] {
        assert_eq!(list[3][field], record[field], "{field}");
    }
    let beside: Value =
        serde_json::from_slice(&std::fs::read(sheet.with_extension("json")).unwrap()).unwrap();
    assert_eq!(beside, list[3]);
    let words = Command::new("pdftotext").arg(&sheet).arg("-").output();
    let words = text(&words.expect("pdftotext of poppler-utils").stdout);
    assert_eq!(words.matches('\u{c}').count(), 1, "one page");
    assert!(words.contains("The valve on the cap port leaks"), "{words}");
    // Without what eyes saw they are one question all the same: other plumbing of one unit.
    let blind = stillrod(&["judge", a, b, e]);
    let said = text(&blind.stdout);
    assert!(said.contains("TOGETHER: Valve"), "{said}");
}

#[test]
fn what_is_no_investigation_is_judged_one_by_one_and_not_forced_together() {
    let (one, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    rehearsed("cap-plug-leak", one.path());
    rehearsed("hanging-load", other.path());
    let (a, b) = (&recordings(one.path())[0], &recordings(other.path())[0]);
    let apart = stillrod(&["judge", a, b, "--json"]);
    let list: Value = serde_json::from_slice(&apart.stdout).unwrap();
    assert_eq!(list.as_array().unwrap().len(), 2);
    let sheet = one.path().join("x.pdf");
    let refused = stillrod(&["judge", a, b, "--sheet", sheet.to_str().unwrap()]);
    assert_eq!(status(&refused), 1);
    assert!(
        text(&refused.stderr).contains("no investigation"),
        "{}",
        text(&refused.stderr)
    );
    assert!(!sheet.exists());
    let seen = one.path().join("seen.toml");
    let name = Path::new(a).file_name().unwrap().to_str().unwrap();
    std::fs::write(
        &seen,
        format!("[[phase]]\nrecording = \"{name}\"\ngland = \"dry\"\n"),
    )
    .unwrap();
    let forced = stillrod(&["judge", a, b, "--seen", seen.to_str().unwrap()]);
    assert_eq!(status(&forced), 1);
    let said = text(&forced.stderr);
    assert!(
        said.contains("TV-0312") && said.contains("is of unit"),
        "{said}"
    );
    // What was seen of a recording that is not there helps nobody.
    std::fs::write(
        &seen,
        "[[phase]]\nrecording = \"lost.h5\"\ngland = \"dry\"\n",
    )
    .unwrap();
    let lost = stillrod(&["judge", a, "--seen", seen.to_str().unwrap()]);
    assert_eq!(status(&lost), 1);
    assert!(
        text(&lost.stderr).contains("lost.h5"),
        "{}",
        text(&lost.stderr)
    );
    let wrong = stillrod(&["judge", a, "--seen", a]);
    assert_eq!(status(&wrong), 1);
}

/// One hold with what eyes saw of it is an investigation, too.
#[test]
fn one_hold_with_dry_rags_says_more_than_the_hold() {
    let folder = tempfile::tempdir().unwrap();
    rehearsed("cap-plug-leak", folder.path());
    let a = &recordings(folder.path())[0];
    let name = Path::new(a).file_name().unwrap().to_str().unwrap();
    let seen = folder.path().join("seen.toml");
    let looked = "gland = \"dry\"\nrod_port = \"dry\"\ncap_port = \"wet\"\n";
    std::fs::write(
        &seen,
        format!("[[phase]]\nrecording = \"{name}\"\n{looked}"),
    )
    .unwrap();
    let judged = stillrod(&["judge", a, "--seen", seen.to_str().unwrap(), "--json"]);
    let list: Value = serde_json::from_slice(&judged.stdout).unwrap();
    assert_eq!(
        list[1]["phases"][0]["seen"]["cap_port"], "wet",
        "{:#}",
        list[1]["phases"]
    );
}

const AS_FOUND: &str = r#"
[unit]
tag = "TV-0312"
[cylinder]
kind = "double_acting"
bore = "63 mm"
rod = "36 mm"
stroke = "400 mm"
cap_dead_volume = "20 mL"
rod_dead_volume = "20 mL"
cap_rating = "350 bar"
rod_rating = "350 bar"
[oil]
name = "ISO VG 46"
viscosity_40c = "46 mm²/s"
viscosity_100c = "6.8 mm²/s"
expansion = "7.0e-4 1/K"
stiffness = "1.6 GPa"
[circuit]
cap_port = "on_valve"
rod_port = "on_valve"
rod = "pushed_in"
load = "30 kN"
[ratings]
rod_plug = "@plug@"
[hold]
settle = "60 s"
length = "300 s"
[sensors]
"#;

fn planned(folder: &Path, plug: &str, leak: &[&str]) -> Output {
    let setup = folder.join("as-found.toml");
    std::fs::write(&setup, AS_FOUND.replace("@plug@", plug)).unwrap();
    stillrod(&[&["plan", "--setup", setup.to_str().unwrap()], leak].concat())
}

/// 30 kN on a 36 mm rod: 295 bar where the pressures meet (worked from the areas).
#[test]
fn a_plan_says_phases_pressures_and_what_a_plug_would_not_stand() {
    let folder = tempfile::tempdir().unwrap();
    let leak = ["--leak", "0.06 mL/min"];
    let plan = planned(folder.path(), "400 bar", &leak);
    let said = text(&plan.stdout);
    assert_eq!(status(&plan), 0, "{}", text(&plan.stderr));
    for part in [
        "\nA  ",
        "\nD  ",
        "295 bar",
        "The load makes 96 bar; with 30 bar on the rod side it starts at 116 bar",
        "WARNING",
        "nobody",
    ] {
        assert!(
            said.to_lowercase().contains(&part.to_lowercase()),
            "{part}: {said}"
        );
    }
    let refused = planned(folder.path(), "250 bar", &leak);
    let said = text(&refused.stdout);
    assert!(
        said.contains("Refused") && said.contains("rating of its plug is 225 bar"),
        "{said}"
    );
    let silent = planned(folder.path(), "400 bar", &[]);
    assert_eq!(status(&silent), 1);
    assert!(
        text(&silent.stderr).contains("--leak"),
        "{}",
        text(&silent.stderr)
    );
    let wrong = planned(folder.path(), "400 bar", &["--leak", "0.06 mm"]);
    assert_eq!(status(&wrong), 1);
    for (leak, part) in [
        ("-1 mL/min", "above zero"),
        ("0.06", "write it as \"0.06 mL/min\""),
        (
            "0.00001 mL/min",
            "smallest leak that a hold of 4 h would see",
        ),
    ] {
        let refused = planned(folder.path(), "400 bar", &["--leak", leak]);
        let said = text(&refused.stderr);
        assert_eq!(status(&refused), 1, "{said}");
        assert!(said.contains(part), "{part}: {said}");
    }
}

/// A movement measured at the load and the same measured at the rod give the same figures.
#[test]
fn a_movement_measured_at_the_load_gives_the_figures_of_the_rod() {
    let folder = tempfile::tempdir().unwrap();
    let judged = |ratio: f64, lines: &str| {
        let sensors = format!(
            "[sensors.p_cap]\nzero_uncertainty = \"0.05 bar\"\nspan_uncertainty_percent = 0.1\n\
             [sensors.p_rod]\nzero_uncertainty = \"0.05 bar\"\nspan_uncertainty_percent = 0.1\n\
             [sensors.x]\nzero_uncertainty = \"{} mm\"\nspan_uncertainty_percent = 0.05\nresolution = \"{} mm\"\n{lines}",
            0.1 * ratio,
            0.002 * ratio
        );
        let setup = AS_FOUND
            .replace("@plug@", "400 bar")
            .replace("[sensors]\n", &sensors);
        let mut table = String::from("t_s,p_cap_bar,p_rod_bar,x_mm\n");
        for row in 0..3700 {
            let t = f64::from(row) * 0.1;
            let wander = f64::from((row * 7919) % 13) * 1e-4;
            let x = (300.0 - 0.005 * t + wander) * ratio;
            table += &format!("{t:.1},{:.4},{:.4},{x:.6}\n", 96.0 + wander, 15.0 + wander);
        }
        let (csv, toml) = (
            folder.path().join("log.csv"),
            folder.path().join("setup.toml"),
        );
        std::fs::write(&csv, table).unwrap();
        std::fs::write(&toml, setup).unwrap();
        let output = stillrod(&[
            "judge",
            csv.to_str().unwrap(),
            "--setup",
            toml.to_str().unwrap(),
            "--json",
        ]);
        let record: Value = serde_json::from_slice(&output.stdout)
            .unwrap_or_else(|e| panic!("{e}: {}", text(&output.stderr)));
        record
    };
    let (rod, load) = (judged(1.0, ""), judged(2.5, "motion_ratio = 2.5\n"));
    for index in 0..rod["figures"].as_array().unwrap().len() {
        for field in ["value", "expanded_uncertainty"] {
            let (a, b) = (
                &rod["figures"][index][field],
                &load["figures"][index][field],
            );
            let (a, b) = (a.as_f64().unwrap_or(0.0), b.as_f64().unwrap_or(0.0));
            assert!(
                (a - b).abs() < 1e-4 * a.abs().max(1e-3),
                "{index} {field}: {a} {b}"
            );
        }
    }
    assert!(
        load.to_string().contains("2.5 times as far as the rod"),
        "{load:#}"
    );
}

/// A leak that is not the same in all phases is an answer, not a contradiction without words.
#[test]
fn a_leak_at_one_place_or_at_low_pressure_only_is_an_answer_of_its_own() {
    for (inquiry, answer, part) in [
        ("leaks-at-one-place", "Leaks at one place", "at that place"),
        ("leaks-at-low-pressure", "Leaks at low pressure", "lip seal"),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let (exit, record) = rehearsed(inquiry, folder.path());
        assert_eq!(
            (exit, record["answer"].as_str()),
            (40, Some(answer)),
            "{record:#}"
        );
        let first = record["conclusion"][0].as_str().unwrap();
        assert!(first.contains(part), "{first}");
        assert!(record["contradiction"].is_string());
    }
}

/// A slip of the keyboard costs no recording.
#[test]
fn a_sheet_is_written_over_nothing_it_is_made_from() {
    let folder = tempfile::tempdir().unwrap();
    rehearsed("three-holds-valve", folder.path());
    let files = recordings(folder.path());
    let before = std::fs::read(&files[0]).unwrap();
    let seen = folder.path().join("seen.pdf");
    std::fs::write(&seen, "").unwrap();
    let seen = seen.to_str().unwrap();
    for (sheet, word) in [
        (&files[0][..], "ends in .pdf"),
        ("sheet", "ends in .pdf"),
        (seen, "written over"),
    ] {
        let refused = stillrod(&[
            "judge", &files[0], &files[1], "--seen", seen, "--sheet", sheet,
        ]);
        let said = text(&refused.stderr);
        assert_eq!(status(&refused), 1, "{said}");
        assert!(said.contains(word), "{said}");
        assert!(refused.stdout.is_empty());
    }
    assert_eq!(std::fs::read(&files[0]).unwrap(), before);
}

#[test]
fn a_copy_of_a_hold_is_the_same_hold() {
    let folder = tempfile::tempdir().unwrap();
    rehearsed("three-holds-valve", folder.path());
    let files = recordings(folder.path());
    let copy = folder.path().join("copy.h5");
    let mut bytes = std::fs::read(&files[0]).unwrap();
    bytes.push(b'x');
    std::fs::write(&copy, bytes).unwrap();
    let copy = copy.to_str().unwrap();
    let seen = folder.path().join("seen.toml");
    std::fs::write(&seen, "").unwrap();
    let seen = seen.to_str().unwrap();
    let refused = stillrod(&["judge", &files[0], &files[1], copy, "--seen", seen]);
    let said = text(&refused.stderr);
    assert_eq!(status(&refused), 1, "{said}");
    assert!(said.contains("same hold"), "{said}");
}

/// Oil that was seen, and that no flow explains, is never "no leak"; at a port on its valve it
/// is the fitting that is meant.
#[test]
fn oil_that_was_seen_is_never_no_leak() {
    let judged = |inquiry: &str, looks: [&str; 3]| -> Value {
        let folder = tempfile::tempdir().unwrap();
        rehearsed(inquiry, folder.path());
        let files = recordings(folder.path());
        let phases = files.iter().zip(looks).map(|(file, look)| {
            let name = Path::new(file).file_name().unwrap().to_str().unwrap();
            format!("[[phase]]\nrecording = \"{name}\"\n{look}\n")
        });
        let seen = folder.path().join("seen.toml");
        std::fs::write(&seen, phases.collect::<String>()).unwrap();
        let mut arguments = vec!["judge", "--json", "--seen", seen.to_str().unwrap()];
        arguments.extend(files.iter().map(String::as_str));
        let output = stillrod(&arguments);
        let all: Value = serde_json::from_slice(&output.stdout)
            .unwrap_or_else(|e| panic!("{e}: {}", text(&output.stderr)));
        all.as_array().unwrap().last().unwrap().clone()
    };
    let dry = judged("three-holds-tight", ["", "gland = \"dry\"", ""]);
    assert_eq!(dry["answer"], "No leak found");
    let torn = judged(
        "three-holds-tight",
        ["", "gland = \"wet\"", "gland = \"dry\""],
    );
    assert_eq!(torn["answer"], "Cannot be told", "{torn:#}");
    assert_eq!(way(&torn, "gland_leakage")["standing"], "open");
    assert!(
        torn["patterns"]
            .to_string()
            .contains("in phase C it stayed dry"),
        "{torn:#}"
    );
    let fitting = judged("three-holds-tight", ["cap_port = \"wet\"", "", ""]);
    assert_eq!(fitting["answer"], "Valve or its fitting", "{fitting:#}");
}
