//! Our figures hold against an estimate made by somebody else, from the file alone.
//!
//! Three runs of the practice bench go the whole way: bytes of the board, recording,
//! archive file, judgement. The program `independent_fit.py` then opens the file with
//! h5py, makes its own estimate with NumPy and SciPy, and compares. What agreement
//! means, and how sharp both must be for it to mean anything, is decided there.

mod support {
    pub mod play;
    pub mod python;
}

use std::path::Path;
use stillrod::account::Figure;
use stillrod::account::FigureName;
use stillrod::archive;
use stillrod::daemon::judgement::judged;
use stillrod::rehearsal::scenario;
use support::play::recording;

const SCRIPT: &str = "independent_fit.py";

/// Value and expanded uncertainty in the unit of data files; the mean over the hold for
/// a flow, as the other side makes no guess at how a flow began.
fn figure_json(figure: &Figure) -> serde_json::Value {
    let measured = figure.mean_over_hold.or(figure.measured);
    let measured = measured.expect("these four are measured, not bounded");
    let unit = figure.name.si_per_metric_unit();
    serde_json::json!({
        "value": measured.value_si / unit,
        "expanded": figure.coverage_factor * measured.standard_si / unit,
        "unit": figure.name.metric_unit(),
    })
}

/// Archive file and figures of a scenario in a folder: the arguments of the script.
/// `sharp` names figures with the largest combined expanded uncertainty that still
/// makes the comparison one, in the figure's unit or, ending in `%`, of its value.
fn prepared(folder: &Path, name: &str, sharp: &serde_json::Value) -> [String; 2] {
    let scenario = scenario(name).expect("in the catalogue");
    let recording = recording(&scenario);
    let judgement = judged(&recording, None).expect("its own settings");
    let evaluation = judgement.evaluation.expect("a hold");
    let four = [
        FigureName::Drift,
        FigureName::LeakDown,
        FigureName::CapLoss,
        FigureName::RodGain,
    ];
    let figures: serde_json::Map<_, _> = four
        .into_iter()
        .map(|name| {
            let figure = evaluation.figure(name);
            let figure = figure.unwrap_or_else(|| panic!("{name:?}: {:?}", evaluation.doubts));
            (name.word().to_owned(), figure_json(figure))
        })
        .collect();
    let file = folder.join(format!("{name}.h5"));
    archive::write(&recording, &file).expect("written");
    let ours = folder.join(format!("{name}.json"));
    let text = serde_json::json!({ "figures": figures, "sharp": sharp }).to_string();
    std::fs::write(&ours, text).expect("written");
    [file, ours].map(|path| path.to_str().expect("our own name").to_owned())
}

#[test]
fn an_independent_estimate_from_the_file_agrees_with_ours_and_not_with_four_sigma_more() {
    let tight = serde_json::json!({ "drift": "0.001", "cap_loss": "0.06", "rod_gain": "0.06" });
    let leaking = serde_json::json!({ "drift": "1 %", "cap_loss": "15 %", "rod_gain": "15 %" });
    let cases = [
        ("tight-rebuild", &tight),
        ("piston-seal-bypass", &leaking),
        ("gland-leak-with-bypass", &leaking),
    ];
    let folder = tempfile::tempdir().expect("a folder");
    // Side by side: most of the time is the bench's and the fit's.
    std::thread::scope(|scope| {
        for (name, sharp) in cases {
            let folder = folder.path();
            scope.spawn(move || {
                let [file, ours] = prepared(folder, name, sharp);
                println!("{name}\n{}", support::python::run(SCRIPT, &[&file, &ours]));
                if name == "piston-seal-bypass" {
                    refused(&[&file, &ours, "4"]);
                }
            });
        }
    });
}

/// The script must refuse each figure by name, for being moved and for nothing else.
fn refused(arguments: &[&str]) {
    let output = support::python::attempt(SCRIPT, arguments);
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{said}");
    let sentences: Vec<&str> = said.lines().collect();
    let names = ["drift", "leak_down", "cap_loss", "rod_gain"];
    assert_eq!(sentences.len(), names.len(), "{said}");
    for (sentence, name) in sentences.iter().zip(names) {
        let beginning = format!("{name} of ours does not agree");
        assert!(sentence.starts_with(&beginning), "{said}");
    }
}
