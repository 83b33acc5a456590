//! The sample runs: from raw bytes of the adapter to the text of the certificate.
//!
//! `UPDATE_EXPECTED=1 cargo test --test sample_runs` rewrites the expected texts; the
//! difference is read, not waved through.

use std::path::Path;
use std::path::PathBuf;
use stillrod::certificate::Record;
use stillrod::certificate::compose;
use stillrod::daemon::investigation::File;
use stillrod::daemon::investigation::Investigated;
use stillrod::daemon::investigation::investigated;
use stillrod::daemon::judge::JudgedFile;
use stillrod::daemon::judge::judge_hold;
use stillrod::daemon::judgement::Judgement;
use stillrod::daemon::judgement::judged;
use stillrod::daemon::paper::facts;
use stillrod::daemon::paper::sha256_hex;
use stillrod::daemon::screen::result_text;
use stillrod::daemon::test_run::recording_from_capture;
use stillrod::recording::Heading;
use stillrod::recording::Recording;
use stillrod::settings::SeenFile;
use stillrod::settings::Setup;
use stillrod::settings::Shop;
use stillrod::settings::Test;
use stillrod::settings::sensors_of;
use stillrod::settings::with_procedure;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-runs")
}

fn text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// Compares with a file; `UPDATE_EXPECTED=1` rewrites it, to be read in the difference.
#[track_caller]
fn compare(expected: &Path, actual: &str) {
    if std::env::var_os("UPDATE_EXPECTED").is_some() {
        std::fs::write(expected, actual).expect("writable");
    }
    assert_eq!(
        std::fs::read_to_string(expected).unwrap_or_default(),
        actual,
        "{}",
        expected.display()
    );
}

/// What a hold's bytes and its settings make.
fn judged_bytes(run: &Path, bytes_file: &Path, setup_file: &str) -> (Recording, Judgement) {
    let (setup_toml, shop_toml) = (text(&run.join(setup_file)), text(&run.join("shop.toml")));
    let shop = Shop::parse("shop.toml", &shop_toml).expect("a shop file");
    let test = Test::parse("setup.toml", &setup_toml, Some(&shop)).expect("a setup file");
    let heading = Heading {
        run_id: run
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned(),
        started_utc_ms: 1_773_475_500_000,
        time_zone: "UTC".into(),
        software: "sample run".into(),
        source: String::new(),
        setup_toml,
        shop_toml,
        practice: "practice bench: not a measurement of a real cylinder".into(),
    };
    let bytes = std::fs::read(bytes_file).expect("readable");
    let recording = recording_from_capture(&bytes, heading, &test).expect("a recording");
    let judgement = judged(&recording, None).expect("settings that can be used");
    (recording, judgement)
}

/// Text of the certificate, and the record.
fn replayed(run: &Path) -> (String, String) {
    let bytes_file = run.join("adapter.bytes");
    let (recording, judgement) = judged_bytes(run, &bytes_file, "setup.toml");
    let hash = sha256_hex(&bytes_file).expect("readable");
    let facts = facts(
        &recording,
        &judgement,
        &bytes_file,
        &hash,
        Some("SAMPLE-0001"),
    );
    let paper = compose(&facts);
    let text = format!("{}\n{paper:#?}\n", result_text(&judgement));
    (text, Record::from_facts(&facts).to_json_pretty() + "\n")
}

#[test]
fn captured_bytes_give_the_certificates_they_gave_before() {
    let mut n_runs = 0;
    for entry in std::fs::read_dir(folder()).expect("a folder") {
        let run = entry.expect("an entry").path();
        if run.join("adapter.bytes").exists() {
            let (text, record) = replayed(&run);
            compare(&run.join("expected.txt"), &text);
            compare(&run.join("record.json"), &record);
            n_runs += 1;
        }
    }
    assert!(n_runs >= 4, "only {n_runs} runs were replayed");
}

/// What the phases of a folder come to together.
fn replayed_together(run: &Path) -> Investigated {
    let entries = std::fs::read_dir(run).expect("a folder");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let mut paths: Vec<PathBuf> = paths
        .filter(|p| p.extension().is_some_and(|e| e == "bytes"))
        .collect();
    paths.sort();
    let judged: Vec<JudgedFile> = paths
        .iter()
        .map(|path| {
            let label = path.file_stem().expect("a name").to_string_lossy();
            let (recording, judgement) = judged_bytes(run, path, &format!("{label}.toml"));
            JudgedFile {
                judgement,
                record_json: String::new(),
                recording,
            }
        })
        .collect();
    let files: Vec<File<'_>> = paths
        .iter()
        .zip(&judged)
        .map(|(path, judged)| File { path, judged })
        .collect();
    let seen = SeenFile::parse("seen.toml", &text(&run.join("seen.toml"))).expect("what was seen");
    let found = investigated(&files, Some(&seen)).expect("one unit");
    found.expect("an investigation")
}

/// Three cylinders that look like something else, and their sheets. `UPDATE_EXPECTED=1` writes
/// the sheets, too.
#[test]
fn holds_that_look_like_something_else_give_the_sheets_they_gave_before() {
    for trap in [
        "good-valve-looks-bad",
        "rod-stands-on-a-bad-seal",
        "glass-shows-a-third",
    ] {
        let run = folder().join(trap);
        let found = replayed_together(&run);
        compare(&run.join("expected.txt"), &(found.text() + "\n"));
        compare(&run.join("record.json"), &(found.record_json() + "\n"));
        assert!(
            found.text().starts_with("TOGETHER: Piston seal"),
            "{}",
            found.text()
        );
        let sheet = run.join("sheet.pdf");
        if std::env::var_os("UPDATE_EXPECTED").is_some() {
            found.write_sheet(&sheet).expect("a sheet");
            std::fs::remove_file(run.join("sheet.json")).expect("the record beside it");
        }
        let pdf = std::fs::read(&sheet).expect("the sheet");
        assert!(pdf.starts_with(b"%PDF-1.7") && pdf.len() > 10_000);
    }
}

/// A measured pressure decay of a chamber filled with air (origin beside the file). An
/// ordinary line through 5 to 145 s has slope −2.4327e-4 bar/s, its halves −2.4616e-4 and
/// −2.1603e-4, all of the record −2.3494e-4 (plain sums over the file, computed apart): no
/// interval that leaves one of them out would be honest. Scatter alone, taken as
/// independent, would claim ±0.1e-4.
#[test]
fn a_measured_decay_of_gas_gives_a_rate_that_knows_it_is_no_line() {
    let run = folder().join("air-chamber-aluminium");
    let setup = ("setup.toml".to_owned(), text(&run.join("setup.toml")));
    let judged = judge_hold(&run.join("record.csv"), Some(&setup), None).expect("reads");
    assert_eq!(judged.judgement.verdict.outcome.word(), "measured");
    let evaluation = judged.judgement.evaluation.as_ref().expect("a hold");
    let [figure] = &evaluation.figures[..] else {
        panic!("one figure of a gas: {:?}", evaluation.figures)
    };
    let bar_min = |pa_s: f64| pa_s * 60e-5;
    let (lower, upper) = (bar_min(figure.lower_si), bar_min(figure.upper_si));
    for slope_bar_s in [2.4327e-4, 2.4616e-4, 2.1603e-4, 2.3494e-4] {
        let slope = slope_bar_s * 60.0;
        assert!(
            lower < slope && slope < upper,
            "{slope} bar/min is not within {lower} … {upper}"
        );
    }
    assert!(
        (figure
            .measured
            .map(|m| bar_min(m.value_si))
            .expect("a value")
            - 2.4327e-4 * 60.0)
            .abs()
            < 1e-4
    );
    assert!(upper - lower < 0.006, "{lower} … {upper} says nothing");
    compare(&run.join("expected.txt"), &result_text(&judged.judgement));
}

/// What README shows of settings is read by the code that reads settings.
#[test]
fn the_settings_in_the_readme_can_be_used() {
    let readme = text(&Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md"));
    let blocks: Vec<&str> = readme
        .split("```toml\n")
        .skip(1)
        .map(|block| block.split("```").next().unwrap_or_default())
        .collect();
    let [
        naming,
        procedure,
        by_eye,
        setup,
        stiffness,
        supplied,
        shop,
        table,
        seen,
        points,
    ] = &blocks[..]
    else {
        panic!(
            "a procedure's name, a procedure, instruments read by eye, a setup, a table for it, sensors on a supply, a shop file, a table of limits, what was seen \
             and points, not {} blocks",
            blocks.len()
        )
    };
    let sensors = sensors_of("README.md", points).expect("points of a sensor");
    assert!(sensors[0].calibration.is_some());
    let sensors = sensors_of("README.md", supplied).expect("a sensor and its supply");
    assert!(sensors[0].is_against_supply && !sensors[1].is_against_supply);
    SeenFile::parse("README.md", seen).expect("what was seen");
    let shop = Shop::parse("README.md", &format!("{shop}\n{table}")).expect("a shop file");
    for setup in [(*setup).to_owned(), format!("{setup}\n{stiffness}")] {
        Setup::parse("README.md", &setup, Some(&shop)).expect("a setup file");
    }
    // The same setup goes through both procedures that are shown.
    let hold = setup.find("[hold]").expect("a hold");
    let after = hold + setup[hold..].find("\n[").expect("a table after it");
    let unit = format!("{}{}", &setup[..hold], &setup[after..]);
    // Neither is held against the drift.
    let unit = unit.replace(", \"rebuilt-63-drift\"", "");
    let named = "[procedure]\nfile = \"our-proof.toml\"\n";
    // Instruments that are read by eye stand in the place of the sensors.
    let sensors = unit.find("[sensors.").expect("sensors");
    let limits = unit.find("[acceptance]").expect("limits");
    let read = format!("{by_eye}\n{}{}", &unit[..sensors], &unit[limits..]);
    let whole = with_procedure("README.md", &read, |_| Err("built in".into()));
    let test = Test::parse("README.md", &whole.expect("a procedure"), Some(&shop));
    let test = test.expect("a test that is read by eye");
    assert_eq!((test.steps.len(), test.not_by_eye()), (6, Vec::new()));
    assert_eq!(test.by_eye().map(|own| own.instruments.len()), Some(3));
    for (naming, n_steps) in [(*naming, 19), (named, 4)] {
        let text = format!("{naming}\n{unit}");
        let whole = with_procedure("README.md", &text, |_| Ok((*procedure).to_owned()));
        let whole = whole.expect("a setup with a procedure");
        let test = Test::parse("README.md", &whole, Some(&shop)).expect("a test");
        assert_eq!(test.steps.len(), n_steps);
    }
}
