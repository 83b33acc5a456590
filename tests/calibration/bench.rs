//! A shop calibrates the sensor of a leak-down test by points.

use stillrod::account::FigureName;
use stillrod::channel::CalibratedBy;
use stillrod::channel::SignalKind;
use stillrod::daemon::calibrate::calibrate;
use stillrod::daemon::conduct::NamedText;
use stillrod::daemon::judge::JudgedFile;
use stillrod::daemon::judge::judge_file;
use stillrod::daemon::judge::judge_hold;
use stillrod::settings::Setup;
use stillrod::settings::sensors_of;
use stillrod::verdict::Outcome;

/// What the logger shows at a pressure, bar: 2 % too much, and half a bar.
fn shown(bar: f64) -> f64 {
    1.02 * bar + 0.5
}

/// Points at every 20 bar up to `highest`, up and down, with a hysteresis of 0.02 bar.
fn points(highest: u8) -> String {
    let up = (0..=highest / 20).map(|i| 20.0 * f64::from(i));
    let rows =
        up.flat_map(|bar| [0.01, -0.01].map(|e| format!("  [{bar:?}, {:.2}],\n", shown(bar) + e)));
    format!(
        "[sensors.p_cap.calibration]\ndate = \"2026-10-02\"\nwho = \"bench technician\"\n\
         reference = \"piston gauge G-02\"\nreference_certificate = \"TV-CAL-2026-007\"\n\
         reference_in = \"bar\"\nreference_uncertainty = \"0.02 bar\"\nread_in = \"bar\"\ndegree = 1\n\
         points = [\n{}]\n",
        rows.collect::<String>()
    )
}

fn setup(sensor: &str) -> String {
    format!(
        "[unit]\ntag = \"TV-0912\"\n[chamber]\n[gas]\n[hold]\nsettle = \"0 s\"\nlength = \"120 s\"\n\
         [acceptance]\nlimits = [\"loss\"]\n[sensors.p_cap]\nserial = \"P-11\"\n{sensor}"
    )
}

fn by_points(highest: u8) -> String {
    setup(&format!("calibrated_by = \"shop\"\n{}", points(highest)))
}

/// A loss of 0.6 bar/min from 90 bar as the logger showed it, judged under a setup.
fn judged(setup: &str) -> JudgedFile {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.csv");
    let mut table = String::from("t_s, p_cap_bar\n");
    for i in 0..=1_200 {
        let t_s = 0.1 * f64::from(i);
        let ripple = 0.002 * f64::from((i * 7) % 5 - 2);
        table += &format!("{t_s:.1}, {:.4}\n", shown(90.0 - 0.01 * t_s) + ripple);
    }
    std::fs::write(&path, table).unwrap();
    let shop = "[shop]\nname = \"Tarn Valley road depot\"\ntime_zone = \"UTC\"\nnumber_prefix = \"TV\"\n\
                [decision]\nrule = \"simple\"\n\
                [[limit]]\nid = \"loss\"\nfigure = \"leak_down\"\nvalue = \"1 bar/min\"\nsource = \"test\"\n";
    let named = |file: &str, text: &str| -> NamedText { (file.into(), text.into()) };
    let setup = named("setup.toml", setup);
    judge_hold(&path, Some(&setup), Some(&named("shop.toml", shop))).unwrap()
}

fn loss_bar_per_min(judged: &JudgedFile) -> (f64, f64) {
    let evaluation = judged.judgement.evaluation.as_ref().unwrap();
    let measured = evaluation.figure(FigureName::LeakDown).unwrap();
    let measured = measured.measured.as_ref().unwrap();
    (measured.value_si * 60e-5, measured.standard_si * 60e-5)
}

#[test]
fn the_curve_takes_the_sensor_s_error_out_of_the_figure_and_its_uncertainty_in() {
    let stated = "zero_uncertainty = \"0.01 bar\"\nspan_uncertainty_percent = 0.0\n";
    let (as_shown, _) = loss_bar_per_min(&judged(&setup(stated)));
    assert!((as_shown / 0.612 - 1.0).abs() < 2e-3, "{as_shown}");
    let calibrated = judged(&by_points(120));
    let (value, standard) = loss_bar_per_min(&calibrated);
    assert!((value / 0.6 - 1.0).abs() < 1e-3, "{value}");
    assert_eq!(calibrated.judgement.verdict.outcome, Outcome::Pass);
    // A span error of 5 % that came since adds to it: 5 % of 0.6 bar/min.
    let drifted = by_points(120).replace(
        "calibrated_by",
        "span_uncertainty_percent = 5.0\ncalibrated_by",
    );
    let (same, wider) = loss_bar_per_min(&judged(&drifted));
    assert!((same - value).abs() < 1e-9);
    assert!(
        wider > 0.0295 && wider < 0.033 && standard < 0.01,
        "{wider} {standard}"
    );
}

/// The same hold, by points that end at 80 bar: never a pass.
#[test]
fn a_reading_beyond_the_points_is_never_a_pass() {
    let found = judged(&by_points(80)).judgement;
    assert_eq!(found.verdict.outcome, Outcome::NotValid);
    let evidence: Vec<&str> = found.flags.iter().map(|f| f.evidence.as_str()).collect();
    assert!(
        evidence.iter().any(|e| e.contains("calibrated over")),
        "{evidence:?}"
    );
}

#[test]
fn an_overdue_sensor_is_said_and_whose_calibration_it_was_is_in_the_record() {
    let overdue = by_points(120).replace("serial", "due = \"2020-01-31\"\nserial");
    let found = judged(&overdue);
    let mut flags = found.judgement.flags.iter();
    assert!(flags.any(|f| {
        f.evidence
            .contains("due on 2020-01-31: a report, not a certificate")
    }));
    let record: serde_json::Value = serde_json::from_str(&found.record_json).unwrap();
    assert_eq!(record["sensors"][0]["calibrated_by"], "shop");
    assert_eq!(record["outcome"], "pass");
}

#[test]
fn what_is_pasted_back_is_the_same_calibration() {
    let text = by_points(120);
    let found = calibrate(&("points.toml".into(), text.clone())).unwrap();
    let [one] = &found[..] else {
        panic!("one sensor")
    };
    for part in [
        "shop's own calibration",
        "piston gauge G-02, certificate TV-CAL-2026-007, ± 0.02 bar (k = 2)",
        "12 degrees of freedom",
        "covariance (a, b)",
        "Span       -0.010 to 120.010 bar",
        "b = 0.980",
    ] {
        assert!(one.text.contains(part), "`{part}` is not in\n{}", one.text);
    }
    let pasted = setup(&format!("calibrated_by = \"shop\"\n{}", one.block));
    assert_eq!(
        sensors_of("a", &pasted).unwrap(),
        sensors_of("b", &text).unwrap()
    );
    let sensor = &Setup::parse("setup.toml", &without_limits(&pasted), None)
        .unwrap()
        .sensors[0];
    assert_eq!(sensor.papers.by, Some(CalibratedBy::Shop));
    let none = calibrate(&("empty.toml".into(), "[unit]\ntag = \"x\"\n".into()));
    assert!(none.unwrap_err().to_string().contains("has no points"));
}

fn without_limits(text: &str) -> String {
    text.replace("[acceptance]\nlimits = [\"loss\"]\n", "")
}

/// Refused with a message that has `part`, at the line that begins with `line`.
#[track_caller]
fn refused(old: &str, new: &str, line: &str, part: &str) {
    let text = without_limits(&by_points(120));
    assert!(text.contains(old), "`{old}` is not in the setup");
    let text = text.replacen(old, new, 1);
    let error = Setup::parse("setup.toml", &text, None).expect_err(part);
    assert!(error.message.contains(part), "{error}");
    let found = text.lines().nth(error.line - 1).unwrap_or_default();
    assert!(
        found.trim_start().starts_with(line),
        "points at `{found}`: {error}"
    );
}

#[test]
fn points_that_cannot_be_used_are_refused_with_their_line() {
    let table = "[sensors.p_cap.calibration]";
    refused(
        "[60.0, 61.71]",
        "[62.0, 61.71]",
        "[62.0, 61.71]",
        "point 7 lies",
    );
    refused("degree = 1", "degree = 3", "points", "1 for a line or 2");
    refused("degree = 1", "degree = \"x\"", "degree", "usize");
    refused("\"2026-10-02\"", "\"2 October\"", table, "no date");
    refused(
        "\"TV-CAL-2026-007\"",
        "\" \"",
        table,
        "`reference_certificate` is empty",
    );
    refused("\"0.02 bar\"", "\"0 bar\"", table, "no reference is exact");
    refused("\"0.02 bar\"", "\"0.02 mm\"", table, "no pressure");
    refused(
        "read_in = \"bar\"",
        "read_in = \"mV\"",
        "[0.0",
        "no pressure",
    );
    refused(
        "calibrated_by = \"shop\"\n",
        "",
        "[sensors.p_cap]",
        "whose they are",
    );
    refused(
        "calibrated_by = \"shop\"",
        "calibrated_by = \"someone\"",
        "calibrated_by",
        "maker",
    );
    let few = without_limits(&by_points(120));
    let from = few.find("  [20.0").unwrap();
    refused(
        &few[from..few.len() - 2],
        "",
        "points",
        "2 points are too few",
    );
}

/// The logger shows bar; points in mA say nothing of what it shows.
#[test]
fn a_table_of_values_wants_points_in_values() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.csv");
    std::fs::write(&path, "t_s, p_cap_bar\n0, 50\n1, 50\n").unwrap();
    let text = without_limits(&by_points(120)).replace("read_in = \"bar\"", "read_in = \"mA\"");
    let error = judge_file(&path, Some(&("setup.toml".into(), text)), None, None).unwrap_err();
    assert!(
        error.to_string().contains("read as counts, mA or V"),
        "{error}"
    );
}

#[test]
fn the_points_in_the_readme_can_be_used() {
    let readme = include_str!("../../README.md");
    let blocks = readme.split("```toml\n").skip(1);
    let mut points = blocks.filter_map(|b| b.split("```").next().filter(|b| b.contains("read_in")));
    let found = calibrate(&("README.md".into(), points.next().unwrap().into())).unwrap();
    assert!(found[0].text.contains("10 points on 2026-10-02"));
    assert!(
        found[0].text.contains("8 degrees of freedom"),
        "{}",
        found[0].text
    );
}

#[test]
fn a_signal_is_read_with_its_range_and_refused_where_it_does_not_fit() {
    let with = |keys: &str| {
        let stated = "zero_uncertainty = \"0.1 bar\"\nspan_uncertainty_percent = 0.1\n";
        let text = without_limits(&setup(&format!("{keys}{stated}")));
        Setup::parse("setup.toml", &text, None)
    };
    let range = "range = [\"0 bar\", \"250 bar\"]\n";
    let read = with(&format!("channel = 0\nsignal = \"4-20 mA\"\n{range}")).unwrap();
    let signal = read.sensors[0].signal.unwrap();
    assert_eq!(signal.kind, SignalKind::Loop);
    assert!((signal.range_si.1 - 250e5).abs() < 1e-6);
    for (keys, part) in [
        (
            "channel = 0\nsignal = \"4-20 mA\"\n".to_owned(),
            "go together",
        ),
        (format!("channel = 0\n{range}"), "go together"),
        (
            format!("channel = 0\nsignal = \"0-10 V\"\n{range}"),
            "0.5-4.5 V",
        ),
        (format!("signal = \"4-20 mA\"\n{range}"), "shows values"),
        (
            "channel = 0\nsignal = \"4-20 mA\"\nrange = [\"1 bar\", \"1 bar\"]\n".into(),
            "no extent",
        ),
    ] {
        let error = with(&keys).expect_err(part);
        assert!(error.message.contains(part), "{error}");
    }
    let volts = by_points(120)
        .replace("read_in = \"bar\"", "read_in = \"V\"")
        .replace(
            "serial",
            &format!("channel = 0\nsignal = \"4-20 mA\"\n{range}serial"),
        );
    let error = Setup::parse("setup.toml", &without_limits(&volts), None).unwrap_err();
    assert!(error.message.contains("not read from a signal"), "{error}");
}
