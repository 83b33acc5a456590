//! A sensor calibrated from the page, along points of a rig whose truth is known.

use crate::browser::Browser;
use crate::browser::serve;
use std::time::Duration;
use stillrod::rehearsal::Pace;
use stillrod::rehearsal::rig::Handling;
use stillrod::rehearsal::rig::Hands;
use stillrod::rehearsal::rig::RigBoard;
use stillrod::rehearsal::rig::rig_unit;
use stillrod::settings::sensors_of;

const SETUP: &str = "[sensors.x]\nchannel = 2\nserial = \"X-31\"\n\
    zero_uncertainty = \"0.1 mm\"\nspan_uncertainty_percent = 0.1\n";

const ADDRESS: &str = "/sensors/calibrate";

fn board() -> (RigBoard, Hands) {
    let unit = rig_unit("proof-sound").unwrap();
    let (board, hands) = RigBoard::start(&unit, Pace::Times(20.0)).unwrap();
    // A real board does not wait for anybody.
    hands.seen(f64::MAX);
    (board, hands)
}

/// Runs the rod to a place, m; when it stands, where it truly does, mm.
fn run_to(hands: &Hands, x_m: f64) -> f64 {
    let begins_s = hands.streamed_s().unwrap_or(0.0) + 4.0;
    let run = Handling::Strokes {
        count: 0,
        low_pa: 12e5,
        x_m,
    };
    hands.act(begins_s, run);
    let ends_s = begins_s + run.takes_s() + 1.0;
    while hands.streamed_s().unwrap_or(0.0) < ends_s {
        std::thread::sleep(Duration::from_millis(20));
    }
    hands.instant(ends_s).unwrap().x_m * 1e3
}

fn form<'a>(port: &'a str, more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let usual = [
        ("what", "begin"),
        ("setup", "bench.toml"),
        ("sensor", "x"),
        ("adapter", port),
        ("who", "bench technician"),
        ("reference", "gauge <blocks>"),
        ("reference_certificate", "TV-CAL-2026-011"),
        ("reference_in", "mm"),
        ("reference_uncertainty", "0.01 mm"),
        ("read_in", "mm"),
        ("degree", "1"),
    ];
    // The first of a name counts.
    [more, &usual].concat()
}

fn sent(browser: &mut Browser, fields: &[(&str, &str)]) -> (u16, String) {
    let token = browser.token("/tag");
    let fields = [&[("token", token.as_str())], fields].concat();
    let reply = browser.post(ADDRESS, &fields);
    (reply.status, reply.text())
}

#[track_caller]
fn shown(browser: &mut Browser, text: &str) -> String {
    for _ in 0..1200 {
        let page = browser.page(ADDRESS);
        if page.contains(text) {
            return page;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("no `{text}` in\n{}", browser.page(ADDRESS));
}

/// A bench with a setup and an adapter, and a browser at it.
fn bench(port: &str) -> (tempfile::TempDir, crate::browser::Served, Browser) {
    let folder = tempfile::tempdir().unwrap();
    let setups = folder.path().join("stillrod-data/setups");
    std::fs::create_dir_all(&setups).unwrap();
    std::fs::write(setups.join("bench.toml"), SETUP).unwrap();
    let served = serve(folder.path(), &["--adapter", port]);
    let browser = Browser::new(served.at);
    (folder, served, browser)
}

#[track_caller]
fn say(browser: &mut Browser, what: &str, text: &str) {
    let (status, page) = sent(browser, &[("what", what), ("text", text)]);
    assert_eq!(status, 303, "{page}");
}

fn kept(folder: &tempfile::TempDir) -> Vec<std::path::PathBuf> {
    let kept = std::fs::read_dir(folder.path().join("stillrod-data/calibrations"));
    let kept = kept.into_iter().flatten();
    kept.map(|file| file.unwrap().path()).collect()
}

#[test]
fn what_cannot_be_calibrated_is_said_before_anything_is_opened() {
    let (board, _hands) = board();
    let port = board.port_path().display().to_string();
    let (folder, _served, mut browser) = bench(&port);
    for (field, wrong, part) in [
        ("sensor", "../x", "there is no [sensors."),
        ("sensor", "p_cap", "there is no [sensors.p_cap]"),
        ("reference_in", "bar", "bar"),
        ("reference_uncertainty", "0.01", "0.01"),
        ("who", "", "who"),
    ] {
        let (status, text) = sent(&mut browser, &form(&port, &[(field, wrong)]));
        assert_eq!(status, 422, "{field}\n{text}");
        // What was typed is still there, as it was typed.
        let is_there = text.contains("gauge &#60;blocks&#62;");
        assert!(text.contains(part) && is_there, "{field}\n{text}");
    }
    for (field, wrong) in [
        ("setup", "../bench.toml"),
        ("setup", ""),
        ("adapter", "/etc/passwd"),
    ] {
        let (status, _) = sent(&mut browser, &form(&port, &[(field, wrong)]));
        assert_eq!(status, 404, "{field}");
    }
    // Given up, it leaves nothing, and the next one can begin.
    for _ in 0..2 {
        assert_eq!(sent(&mut browser, &form(&port, &[])).0, 303);
        shown(&mut browser, "X-31");
        assert_eq!(sent(&mut browser, &form(&port, &[])).0, 409);
        say(&mut browser, "end", "");
        shown(&mut browser, "name=\"reference_certificate\"");
    }
    assert!(kept(&folder).is_empty());
}

#[test]
fn points_are_taken_from_the_page_and_make_the_table_of_the_sensor() {
    let (board, hands) = board();
    let port = board.port_path().display().to_string();
    let (folder, _served, mut browser) = bench(&port);
    assert_eq!(sent(&mut browser, &form(&port, &[])).0, 303);
    shown(&mut browser, "X-31");
    say(&mut browser, "reference", "ten");
    shown(&mut browser, "! ");
    say(&mut browser, "done", "");
    shown(&mut browser, "Take more points");
    say(&mut browser, "reference", "390");
    shown(&mut browser, "Point 1");
    say(&mut browser, "back", "");
    shown(&mut browser, "is taken back");
    for (number, place_m) in (1..).zip([0.0, 0.1, 0.2, 0.3, 0.38, 0.25, 0.05]) {
        let true_mm = run_to(&hands, place_m);
        say(&mut browser, "reference", &format!("{true_mm:.4}"));
        shown(&mut browser, &format!("Point {number}:"));
    }
    say(&mut browser, "done", "");
    let page = shown(&mut browser, "The curve is fitted and kept in a file:");
    let is_text = page.contains("gauge &#60;blocks&#62;") && !page.contains("gauge <blocks>");
    assert!(is_text, "{page}");
    let kept = kept(&folder);
    assert_eq!(kept.len(), 1, "{kept:?}");
    let block = std::fs::read_to_string(&kept[0]).unwrap();
    let whole = format!("[sensors.x]\nchannel = 2\ncalibrated_by = \"shop\"\n{block}");
    let sensors = sensors_of("x.toml", &whole).unwrap();
    let found = sensors[0].calibration.as_ref().unwrap();
    assert_eq!(found.written.len(), 7);
    let curve = found.curve.calibration(0.0, 1.0);
    for (reference, reading) in &found.written {
        let value = curve.si_at_zero_code + curve.si_per_code * reading * 1e-3;
        let off_m = (value - reference * 1e-3).abs();
        assert!(off_m < 10e-6, "{reference} mm: {value} m");
    }
}
