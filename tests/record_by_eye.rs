//! A test without electronics at a pipe in the place of a terminal: the program by itself, words
//! on its standard input, in real time.

use std::io::BufRead;
use std::io::BufReader;
use std::io::Write;
use std::path::Path;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;

const SETUP: &str = "[unit]\ntag = \"TV-0312\"\n\
    [cylinder]\nkind = \"double_acting\"\nbore = \"63 mm\"\nrod = \"36 mm\"\nstroke = \"400 mm\"\nwall = \"5 mm\"\n\
    cap_dead_volume = \"20 mL\"\nrod_dead_volume = \"20 mL\"\ncap_rating = \"160 bar\"\nrod_rating = \"160 bar\"\n\
    [oil]\nname = \"ISO VG 46\"\nviscosity_40c = \"46 mm²/s\"\nviscosity_100c = \"6.8 mm²/s\"\n\
    expansion = \"7.0e-4 1/K\"\nstiffness = \"1.6 GPa\"\n\
    [circuit]\ncap_port = \"blocked\"\nrod_port = \"open_to_vessel\"\nrod = \"locked\"\nprobe = \"cap\"\n\
    [by_eye.p_cap]\nname = \"G-7\"\nrange = [\"0 bar\", \"250 bar\"]\ndivision = \"1 bar\"\nclass = 0.6\n\
    certificate = \"C-7\"\ndue = \"2027-03-31\"\n\
    [by_eye.t_oil]\nrange = [\"0 °C\", \"100 °C\"]\ndivision = \"1 °C\"\nerror = \"1 °C\"\n";

const HOLD: &str = "[hold]\nsettle = \"0 s\"\nlength = \"120 s\"\nat = \"200 mm\"\n";

struct Session {
    child: Child,
    lines: std::io::Lines<BufReader<std::process::ChildStdout>>,
    seen: String,
}

impl Session {
    fn begin(folder: &Path, setup: &str, shop: &str) -> Self {
        let path = |name: &str| folder.join(name);
        std::fs::write(path("setup.toml"), setup).expect("writable");
        std::fs::write(path("shop.toml"), shop).expect("writable");
        let mut child = Command::new(env!("CARGO_BIN_EXE_stillrod"))
            .arg("record")
            .arg("--setup")
            .arg(path("setup.toml"))
            .arg("--shop")
            .arg(path("shop.toml"))
            .arg("--data")
            .arg(path("data"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("runs");
        let lines = BufReader::new(child.stdout.take().expect("a pipe")).lines();
        Self {
            child,
            lines,
            seen: String::new(),
        }
    }

    /// Reads up to a line that has these words.
    fn until(&mut self, words: &str) {
        for line in self.lines.by_ref() {
            let line = line.expect("text");
            self.seen.push_str(&line);
            self.seen.push('\n');
            if line.contains(words) {
                return;
            }
        }
        panic!("`{words}` was never said:\n{}", self.seen);
    }

    fn types(&mut self, line: &str) {
        writeln!(self.child.stdin.as_mut().expect("open"), "{line}").expect("heard");
    }

    /// Status, what was said, and what was warned of.
    fn ends(mut self) -> (i32, String, String) {
        for line in self.lines.by_ref() {
            self.seen.push_str(&line.expect("text"));
            self.seen.push('\n');
        }
        let done = self.child.wait_with_output().expect("ends");
        let warned = String::from_utf8_lossy(&done.stderr).into_owned();
        (done.status.code().unwrap_or(-1), self.seen, warned)
    }
}

const SHOP: &str = "[shop]\nname = \"Tarn Valley road depot\"\ntime_zone = \"UTC\"\nnumber_prefix = \"TV\"\n\
    [decision]\nrule = \"guarded\"\nprobability = 0.95\n\
    [[limit]]\nid = \"loss\"\nfigure = \"leak_down\"\nvalue = \"10 bar/min\"\nsource = \"depot\"\n";

/// Two minutes of real time: five looks, with slips of the finger among them.
#[test]
fn a_person_reads_a_whole_hold_with_slips_and_gets_a_report() {
    let folder = tempfile::tempdir().expect("a folder");
    let setup = format!("{SETUP}{HOLD}[acceptance]\nlimits = [\"loss\"]\n");
    let mut session = Session::begin(folder.path(), &setup, SHOP);
    let gauge = "Read now: cap-end pressure (pressure gauge G-7), in bar.";
    let thermometer = "Read now: oil temperature (thermometer), in °C.";
    for (n, bar) in ["160", "158,5", "157.0 bar", "156", "155"]
        .into_iter()
        .enumerate()
    {
        session.until(gauge);
        match n {
            1 => {
                // Another instrument's number, and no number at all.
                session.types("42");
                session.until(gauge);
                session.types("about 158");
                session.until(gauge);
            }
            2 => {
                session.types("172");
                session.types("wrong");
                session.until("Taken back");
                session.until(gauge);
            }
            _ => {}
        }
        session.types(bar);
        session.until(thermometer);
        session.types("42");
    }
    session.until("Press Enter if they stand");
    session.types("");
    let (status, seen, warned) = session.ends();
    assert_eq!(status, 0, "{seen}\n{warned}");
    for part in [
        "158.5 bar",
        "157 bar",
        "Pressure loss",
        "2.5",
        "PASS",
        "no calibration certificate",
    ] {
        assert!(seen.contains(part), "{part}: {seen}");
    }
    for part in ["far from the last", "does not begin with a number"] {
        assert!(warned.contains(part), "{part}: {warned}");
    }
    // A thermometer without papers makes a report.
    let papers = std::fs::read_dir(folder.path().join("data/papers")).expect("papers");
    let pdf = papers
        .map(|p| p.expect("an entry").path())
        .next()
        .expect("a paper");
    let text = Command::new("pdftotext")
        .arg("-layout")
        .arg(&pdf)
        .arg("-")
        .output();
    let text = String::from_utf8_lossy(&text.expect("poppler").stdout).into_owned();
    for part in [
        "Report of",
        "Read by eye, without a board",
        "pressure gauge read by eye, class 0.6",
        "0 to 250 bar, division 1.0 bar",
        "Readings of the hold",
        "cap-end pressure 158.5 bar",
        "taken back and read again: cap-end pressure 172 bar",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
}

#[test]
fn whoever_leaves_ends_the_recording_as_interrupted() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut session = Session::begin(folder.path(), &format!("{SETUP}{HOLD}"), SHOP);
    session.until("Read now");
    session.types("160");
    session.until("160 bar");
    drop(session.child.stdin.take());
    let (status, seen, _) = session.ends();
    assert_eq!(status, 30, "{seen}");
    assert!(seen.contains("interrupted"), "{seen}");
}

#[track_caller]
fn refused(setup: &str, parts: &[&str]) {
    let folder = tempfile::tempdir().expect("a folder");
    let (status, seen, said) = Session::begin(folder.path(), setup, SHOP).ends();
    assert_eq!(status, 1, "{seen}\n{said}");
    for part in parts {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert!(
        !folder.path().join("data/recordings").exists(),
        "nothing was begun"
    );
}

#[test]
fn what_cannot_be_done_by_eye_is_refused_before_the_start_step_by_step() {
    let named = |name: &str| format!("[procedure]\nname = \"{name}\"\n{SETUP}");
    // 90 s are too few looks.
    refused(
        &named("gross-leak-in-two-minutes"),
        &["Short hold: a hold of 90 s is too short to be read by eye"],
    );
    // A plain gauge cannot see that it has settled in time.
    let coarse = named("quick-leak-down").replace("division = \"1 bar\"", "division = \"5 bar\"");
    refused(
        &coarse,
        &["Hold: by a gauge with divisions of 5 bar it takes 43 min"],
    );
    // A load on a rod that nothing reads, over an end that nothing reads.
    refused(
        &named("held-load-on-the-machine"),
        &["the rod end is shut and no gauge reads it", "[by_eye.x]"],
    );
    // A gauge that ends before the pressure does.
    let short = named("quick-leak-down").replace("250 bar", "100 bar");
    refused(
        &short,
        &["asks for 160 bar, and the scale of the gauge ends at 100 bar"],
    );
    refused(
        &format!("{SETUP}[hold]\nsettle = \"0 s\"\nlength = \"60 s\"\n"),
        &["60 s is too short"],
    );
}

#[test]
fn a_board_needs_its_port_and_eyes_need_none() {
    let board = SETUP.replace("[by_eye.t_oil]", "[gone]");
    let from = board.find("[by_eye.p_cap]").expect("a gauge");
    let board = format!(
        "{}[sensors.p_cap]\nchannel = 0\nzero_uncertainty = \"0.1 bar\"\nspan_uncertainty_percent = 0.1\n{}",
        &board[..from],
        HOLD.replace("at = \"200 mm\"\n", "")
    );
    refused(&board, &["`--port`", "[by_eye]"]);
}
