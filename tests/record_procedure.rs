//! A procedure with a board on a port and a person at the terminal, as a shop does it: the program
//! by itself, answers on its standard input, the rig worked when it asks.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::io::BufRead;
use std::io::BufReader;
use std::io::Write;
use std::path::Path;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;
use stillrod::circuit::Circuit;
use stillrod::circuit::Port;
use stillrod::circuit::RodHold;
use stillrod::rehearsal::Pace;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::rig::Handling;
use stillrod::rehearsal::rig::Hands;
use stillrod::rehearsal::rig::RigBoard;
use stillrod::rehearsal::rig::rig_unit;

/// Bench time goes this many times faster than the clock on the wall.
const TIMES: f64 = 20.0;

/// A short procedure of the shop's own.
const PROCEDURE: &str = "[procedure]\ntitle = \"Short hold\"\nabout = \"For a test.\"\nkinds = [\"double_acting\"]\n\
    [[step]]\nid = \"zero\"\ntitle = \"Zero\"\ntell = [\"Open both ports.\"]\nsource = \"common practice\"\n\
    [step.vented]\nlength = \"12 s\"\n\
    [[step]]\nid = \"seal\"\ntitle = \"Seal\"\ntell = [\"Lock the rod.\"]\nsource = \"common practice\"\n\
    [step.hold]\ncap_port = \"blocked\"\nrod_port = \"open_to_vessel\"\nrod = \"locked\"\npressure = \"100 bar\"\n\
    at = \"50 %\"\nsettle = \"60 s\"\nlength = \"120 s\"\nfigures = [\"cap_loss\"]\n\
    [[step]]\nid = \"cup\"\ntitle = \"Cup at the rod port\"\ntell = [\"Read the cup.\"]\nsource = \"common practice\"\n\
    [step.reading]\nwhat = \"collected\"\nuncertainty = \"0.1 mL\"\nfigure = \"piston_bypass\"\n";

struct Session {
    child: Child,
    lines: std::io::Lines<BufReader<std::process::ChildStdout>>,
    seen: String,
}

impl Session {
    fn begin(port: &Path, folder: &Path) -> Self {
        let named = |name: &str| folder.join(name).to_str().unwrap().to_owned();
        let mut child = Command::new(env!("CARGO_BIN_EXE_stillrod"))
            .args(["record", "--port", port.to_str().unwrap()])
            .args([
                "--setup",
                &named("setup.toml"),
                "--shop",
                &named("shop.toml"),
            ])
            .args(["--data", &named("data")])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        Self {
            child,
            lines,
            seen: String::new(),
        }
    }

    /// Reads up to a line that has these words.
    fn until(&mut self, words: &str) {
        for line in self.lines.by_ref() {
            let line = line.unwrap();
            self.seen.push_str(&line);
            self.seen.push('\n');
            if line.contains(words) {
                return;
            }
        }
        panic!("`{words}` was never said:\n{}", self.seen);
    }

    fn types(&mut self, line: &str) {
        writeln!(self.child.stdin.as_mut().unwrap(), "{line}").unwrap();
    }

    fn ends(mut self) -> (i32, String) {
        for line in self.lines.by_ref() {
            self.seen.push_str(&line.unwrap());
            self.seen.push('\n');
        }
        (self.child.wait().unwrap().code().unwrap_or(-1), self.seen)
    }
}

/// Works the rig from now on; returns when it is left alone.
fn work(hands: &Hands, handling: Handling) {
    let begins_s = hands.streamed_s().unwrap_or(0.0) + 4.0;
    hands.act(begins_s, handling);
    let ends_s = begins_s + handling.takes_s();
    while hands.streamed_s().unwrap_or(0.0) < ends_s {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
}

fn prepared() -> (RigBoard, Hands, tempfile::TempDir) {
    let unit = rig_unit("proof-seats-retracted").unwrap();
    let folder = tempfile::tempdir().unwrap();
    let setup = format!(
        "{}\n[procedure]\nfile = \"short.toml\"\n[acceptance]\nlimits = [\"rebuilt-63-cap-loss\", \"cup\"]\n",
        unit.setup_toml_without_plan()
    );
    let cup = "\n[[limit]]\nid = \"cup\"\nfigure = \"piston_bypass\"\nvalue = \"0.12 mL/min\"\nsource = \"depot\"\n";
    for (name, text) in [
        ("setup.toml", setup),
        ("short.toml", PROCEDURE.into()),
        // Before the files that travel behind the shop's own text.
        (
            "shop.toml",
            SHOP_TOML.replacen("[decision]", &format!("{cup}\n[decision]"), 1),
        ),
    ] {
        std::fs::write(folder.path().join(name), text).unwrap();
    }
    let (board, hands) = RigBoard::start(&unit, Pace::Times(TIMES)).unwrap();
    // A real board does not wait for anybody.
    hands.seen(f64::MAX);
    (board, hands, folder)
}

#[test]
fn a_person_at_the_terminal_goes_through_a_procedure() {
    let (board, hands, folder) = prepared();
    let mut session = Session::begin(&board.port_path(), folder.path());
    session.until("Step 1 of 3: Zero");
    session.until("Press Enter");
    work(&hands, Handling::Vent);
    session.types("");
    session.until("Step 2 of 3: Seal");
    session.until("Press Enter");
    // A word is no "done".
    session.types("wait");
    session.types("");
    session.until("Bring the cap end to 100 bar and shut it off.");
    work(
        &hands,
        Handling::Press {
            circuit: Circuit::plain(Port::Blocked, Port::OpenToVessel, RodHold::Locked),
            x_m: 0.2,
            holding_pa: 100e5,
            other_pa: 0.0,
        },
    );
    session.until("Step 3 of 3: Cup at the rod port");
    // What mixes comma and point is asked for again.
    session.until("Type it as in");
    session.types("1.234,5 mL in 3 min");
    session.until("Type it as in");
    session.types("1,8 mL in 3 min");
    session.until("Understood: 0.600 mL/min");
    let (status, seen) = session.ends();
    assert_eq!(status, 10, "{seen}");
    assert!(seen.contains("Fail: Cup at the rod port"), "{seen}");
    assert!(seen.contains("Fail: Seal"), "{seen}");
    // The procedure travels with the recording: its file may go.
    std::fs::remove_file(folder.path().join("short.toml")).unwrap();
    let recordings = folder.path().join("data/recordings");
    let archive = std::fs::read_dir(recordings).unwrap().find_map(|entry| {
        let path = entry.unwrap().path();
        path.extension().is_some_and(|e| e == "h5").then_some(path)
    });
    let again = Command::new(env!("CARGO_BIN_EXE_stillrod"))
        .args(["judge", archive.unwrap().to_str().unwrap()])
        .output()
        .unwrap();
    assert_eq!(again.status.code(), Some(10));
}

/// Whoever leaves the terminal leaves the test: what is there is kept, and passes nothing.
#[test]
fn a_terminal_that_is_gone_ends_the_recording_as_interrupted() {
    let (board, _hands, folder) = prepared();
    let mut session = Session::begin(&board.port_path(), folder.path());
    session.until("Press Enter");
    drop(session.child.stdin.take());
    let (status, seen) = session.ends();
    assert_eq!(status, 30, "{seen}");
    assert!(
        seen.contains("not done: Zero, Seal, Cup at the rod port"),
        "{seen}"
    );
}
