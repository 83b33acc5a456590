//! A walk along points: the program by itself, a person on its standard input, a board on a port
//! whose rod is run to known places. What is true is asked of the rig.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::io::BufRead;
use std::io::BufReader;
use std::io::Write;
use std::path::Path;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use stillrod::rehearsal::Pace;
use stillrod::rehearsal::rig::Handling;
use stillrod::rehearsal::rig::Hands;
use stillrod::rehearsal::rig::RigBoard;
use stillrod::rehearsal::rig::rig_unit;
use stillrod::settings::sensors_of;

/// Bench time goes this many times faster than the clock on the wall.
const TIMES: f64 = 20.0;

const POINTS: &str = "[sensors.x]\nchannel = 2\nserial = \"X-31\"\ncalibrated_by = \"shop\"\n\n\
    [sensors.x.calibration]\ndate = \"2026-10-02\"\nwho = \"bench technician\"\nreference = \"gauge blocks\"\n\
    reference_certificate = \"TV-CAL-2026-011\"\nreference_in = \"mm\"\nreference_uncertainty = \"0.01 mm\"\n\
    read_in = \"mm\"\ndegree = 1\n";

struct Session {
    child: Child,
    lines: std::io::Lines<BufReader<std::process::ChildStdout>>,
    seen: String,
}

impl Session {
    fn begin(port: &Path, folder: &Path) -> Self {
        let file = folder.join("points.toml");
        std::fs::write(&file, POINTS).unwrap();
        let mut child = Command::new(env!("CARGO_BIN_EXE_stillrod"))
            .arg("calibrate")
            .arg(file)
            .arg("--port")
            .arg(port)
            .arg("--write")
            .arg(folder.join("x-31.toml"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        Self {
            child,
            lines,
            seen: String::new(),
        }
    }

    /// Reads up to a line that has these words, and gives it.
    fn until(&mut self, words: &str) -> String {
        for line in self.lines.by_ref() {
            let line = line.unwrap();
            self.seen.push_str(&line);
            self.seen.push('\n');
            if line.contains(words) {
                return line;
            }
            // What is not expected would be waited for in vain.
            assert!(
                !line.starts_with('!') && !line.starts_with("Point"),
                "`{words}` is not said:\n{}",
                self.seen
            );
        }
        panic!("`{words}` was never said:\n{}", self.seen);
    }

    fn types(&mut self, line: &str) {
        writeln!(self.child.stdin.as_mut().unwrap(), "{line}").unwrap();
    }
}

/// Runs the rod to a place, m; when it stands, where it truly does, mm.
fn run_to(hands: &Hands, x_m: f64) -> f64 {
    let ends_s = begin(hands, x_m).1 + 1.0;
    while hands.streamed_s().unwrap_or(0.0) < ends_s {
        std::thread::sleep(Duration::from_millis(20));
    }
    hands.instant(ends_s).unwrap().x_m * 1e3
}

/// Begins to run the rod to a place, m; when it begins and ends, s.
fn begin(hands: &Hands, x_m: f64) -> (f64, f64) {
    let begins_s = hands.streamed_s().unwrap_or(0.0) + 4.0;
    let run = Handling::Strokes {
        count: 0,
        low_pa: 12e5,
        x_m,
    };
    hands.act(begins_s, run);
    (begins_s, begins_s + run.takes_s())
}

fn board() -> (RigBoard, Hands) {
    let unit = rig_unit("proof-sound").unwrap();
    let (board, hands) = RigBoard::start(&unit, Pace::Times(TIMES)).unwrap();
    // A real board does not wait for anybody.
    hands.seen(f64::MAX);
    (board, hands)
}

#[test]
fn points_are_taken_at_rest_typed_either_way_and_make_the_curve_of_the_sensor() {
    let (board, hands) = board();
    let folder = tempfile::tempdir().unwrap();
    let mut session = Session::begin(&board.port_path(), folder.path());
    session.until("\"done\" ends");
    // What is no value is said, and nothing is taken.
    session.types("ten");
    session.until("!");
    session.types("1.234,5");
    session.until("!");
    // Too few points make no curve, and none is lost.
    let true_mm = run_to(&hands, 0.0);
    session.types(&format!("{true_mm:.4}"));
    session.until("Point 1");
    let true_mm = run_to(&hands, 0.1);
    session.types(&format!("{true_mm:.4}").replace('.', ","));
    session.until("Point 2");
    let true_mm = run_to(&hands, 0.2);
    session.types(&format!("{:.5} cm", true_mm / 10.0));
    session.until("Point 3");
    session.types("done");
    session.until("too few");
    // A rod that runs makes no point: it is well on its way, and has far to go.
    let stood_mm = true_mm;
    let (_, ends_s) = begin(&hands, 0.38);
    let gone_mm = || {
        let now_s = hands.streamed_s().unwrap_or(0.0);
        hands
            .instant(now_s)
            .map_or(0.0, |now| now.x_m * 1e3 - stood_mm)
    };
    while gone_mm() < 10.0 {
        std::thread::sleep(Duration::from_millis(5));
    }
    session.types("300");
    session.until("still moved");
    while hands.streamed_s().unwrap_or(0.0) < ends_s + 1.0 {
        std::thread::sleep(Duration::from_millis(20));
    }
    // Typed wrongly, taken back, typed again.
    session.types("390");
    session.until("Point 4");
    session.types("back");
    session.until("taken back");
    for (number, place_m) in [(4, 0.3), (5, 0.38), (6, 0.25), (7, 0.15), (8, 0.0)] {
        let true_mm = run_to(&hands, place_m);
        session.types(&format!("{true_mm:.4}"));
        session.until(&format!("Point {number}"));
    }
    session.types("done");
    let written = session.until("Written");
    assert!(written.contains("x-31.toml"));
    assert_eq!(session.child.wait().unwrap().code(), Some(0));
    let block = std::fs::read_to_string(folder.path().join("x-31.toml")).unwrap();
    let whole = format!("[sensors.x]\nchannel = 2\ncalibrated_by = \"shop\"\n{block}");
    let sensors = sensors_of("x-31.toml", &whole).unwrap();
    let found = sensors[0].calibration.as_ref().unwrap();
    assert_eq!(found.written.len(), 8);
    // The sensor is off, the curve is not.
    let off = |(reference, reading): &(f64, f64)| (reading - reference).abs();
    let furthest = found.written.iter().map(off).fold(0.0, f64::max);
    assert!(furthest > 0.1, "{furthest} mm");
    let curve = found.curve.calibration(0.0, 1.0);
    for (reference, reading) in &found.written {
        let value = curve.si_at_zero_code + curve.si_per_code * reading * 1e-3;
        assert!(
            (value - reference * 1e-3).abs() < 10e-6,
            "{reference} mm: {value} m"
        );
    }
}

#[test]
fn an_input_that_ends_prints_the_points_and_makes_no_file() {
    let (board, hands) = board();
    let folder = tempfile::tempdir().unwrap();
    let mut session = Session::begin(&board.port_path(), folder.path());
    session.until("\"done\" ends");
    run_to(&hands, 0.1);
    session.types("100");
    session.until("Point 1");
    drop(session.child.stdin.take());
    session.until("points = [[100.0, ");
    assert_eq!(session.child.wait().unwrap().code(), Some(1));
    assert!(!folder.path().join("x-31.toml").exists());
}
