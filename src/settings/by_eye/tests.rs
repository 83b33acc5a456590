//! Setups that are read by eye: what comes of them, and what is refused at its own line.

use crate::channel::CountsUp;
use crate::channel::Role;
use crate::settings::Setup;

const REST: &str = "[unit]\ntag = \"TV-0312\"\n\
    [cylinder]\nkind = \"double_acting\"\nbore = \"63 mm\"\nrod = \"36 mm\"\nstroke = \"400 mm\"\n\
    cap_dead_volume = \"20 mL\"\nrod_dead_volume = \"20 mL\"\n\
    [oil]\nname = \"ISO VG 46\"\nviscosity_40c = \"46 mm²/s\"\nviscosity_100c = \"6.8 mm²/s\"\n\
    expansion = \"7.0e-4 1/K\"\nstiffness = \"1.6 GPa\"\n\
    [circuit]\ncap_port = \"blocked\"\nrod_port = \"open_to_vessel\"\nrod = \"locked\"\nprobe = \"cap\"\n";

const EYES: &str = "[by_eye.p_cap]\nname = \"G-7\"\nrange = [\"0 bar\", \"250 bar\"]\ndivision = \"2 bar\"\nclass = 1.0\n\
    certificate = \"TVD-G7\"\ndue = \"2027-03-31\"\nrating = \"250 bar\"\n\
    [by_eye.x]\nrange = [\"0 mm\", \"10 mm\"]\ndivision = \"0,01 mm\"\nerror = \"0,02 mm\"\ncounts_up = \"rod_in\"\n\
    [by_eye.t_oil]\nrange = [\"0 °C\", \"100 °C\"]\ndivision = \"1 °C\"\nerror = \"1 °C\"\n";

const HOLD: &str = "[hold]\nsettle = \"2 min\"\nlength = \"10 min\"\nat = \"200 mm\"\n";

fn whole() -> String {
    format!("{REST}{EYES}{HOLD}")
}

#[test]
fn a_gauge_a_dial_and_a_thermometer_take_the_place_of_the_board() {
    let setup = Setup::parse("setup.toml", &whole(), None).expect("a setup");
    let by_eye = setup.subject.by_eye.as_ref().expect("read by eye");
    assert_eq!(by_eye.instruments.len(), 3);
    assert_eq!(setup.sensors.len(), 3);
    let gauge = by_eye.instrument(Role::CapPressure).expect("a gauge");
    assert!((gauge.error_si - 2.5e5).abs() < 1e-6 && (gauge.division_si - 2e5).abs() < 1e-6);
    assert_eq!(
        (gauge.unit.name, gauge.papers.serial.as_str()),
        ("bar", "G-7")
    );
    let dial = by_eye.instrument(Role::Position).expect("a dial");
    assert_eq!(dial.counts_up, Some(CountsUp::RodIn));
    assert!((dial.division_si - 1e-5).abs() < 1e-12);
    let thermometer = by_eye.instrument(Role::OilTemperature).expect("one");
    assert!((thermometer.division_si - 1.0).abs() < 1e-9);
    assert!((thermometer.unit.to_si(40.0) - 313.15).abs() < 1e-9);
    assert!((by_eye.rod_out_m.expect("said") - 0.2).abs() < 1e-12);
    // A gauge is a weak part as a sensor is.
    let rating = setup.ratings.cap.expect("rated");
    assert!((rating.pressure.bar() - 250.0).abs() < 1e-9);
}

#[track_caller]
fn refused(change: (&str, &str), line_of: &str, part: &str) {
    let text = whole();
    assert!(text.contains(change.0), "{}", change.0);
    let text = text.replacen(change.0, change.1, 1);
    let error = Setup::parse("setup.toml", &text, None).expect_err(part);
    assert!(error.message.contains(part), "{error}");
    let at = text.find(line_of).expect(line_of);
    let line = text[..at].matches('\n').count() + 1;
    assert_eq!(error.line, line, "{error}");
}

#[test]
fn what_is_wrong_is_said_at_its_own_table() {
    let gauge = "[by_eye.p_cap]";
    refused(("class = 1.0\n", ""), gauge, "needs either `class`");
    refused(("class = 1.0", "class = 40.0"), gauge, "number on the dial");
    refused(("\"2 bar\"", "\"2 mm\""), gauge, "unit");
    refused(("\"2 bar\"", "\"50 bar\""), gauge, "tenth of the range");
    refused(("\"250 bar\"]", "\"0 bar\"]"), gauge, "low to high");
    refused(("2027-03-31", "March"), gauge, "is no date");
    refused(
        ("counts_up = \"rod_in\"\n", ""),
        "[by_eye.x]",
        "needs `counts_up`",
    );
    refused(("error = \"0,02 mm\"\n", ""), "[by_eye.x]", "needs `error`");
    refused(
        ("[by_eye.t_oil]", "[by_eye.t_wall]"),
        "[by_eye.t_wall]",
        "p_cap (pressure gauge)",
    );
    refused(
        ("probe = \"cap\"\n", ""),
        "[by_eye.t_oil]",
        "[circuit], probe",
    );
    let board = "[sensors.x]\nchannel = 2\nzero_uncertainty = \"0.5 mm\"\nspan_uncertainty_percent = 0.05\n[hold]";
    refused(("[hold]", board), gauge, "leave one of them away");
    refused(
        ("[hold]\n", "[hold]\nuntil_decided = true\n"),
        "[hold]",
        "needs a board",
    );
}

#[test]
fn nothing_that_reads_is_no_setup() {
    let none = format!("{REST}{HOLD}").replace("at = \"200 mm\"\n", "");
    let error = Setup::parse("setup.toml", &none, None).expect_err("nothing reads");
    assert!(error.message.contains("[by_eye.p_cap]"), "{error}");
}

#[test]
fn nothing_that_reads_is_refused_and_an_empty_table_of_sensors_is_a_board_to_come() {
    let none = format!("{REST}{HOLD}");
    let error = Setup::parse("setup.toml", &none, None).expect_err("nothing reads");
    assert!(error.message.contains("[by_eye.p_cap]"), "{error}");
    let to_come = format!("{REST}{HOLD}[sensors]\n");
    let setup = Setup::parse("setup.toml", &to_come, None).expect("a plan needs no sensors");
    assert!(setup.sensors.is_empty() && setup.subject.by_eye.is_none());
}
