//! A test done from the page, in plain HTTP: begun, seen, spoken to, ended, and kept.
//!
//! The practice bench plays it; what a person does with the sheet in a browser is in `bench.mjs`.
#![allow(
    clippy::disallowed_methods,
    reason = "a test that waits for a program has an end"
)]

use crate::browser::Browser;
use crate::browser::Served;
use crate::browser::serve;
use std::io::BufRead as _;
use std::io::BufReader;
use std::io::Write as _;
use std::net::TcpStream;
use std::path::Path;
use std::time::Duration;
use std::time::Instant;
use stillrod::rehearsal::Pace;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::VirtualBoard;
use stillrod::rehearsal::scenario;
use tempfile::TempDir;

/// Longest that anything here takes; a test that waits longer has failed.
const LONGEST: Duration = Duration::from_secs(240);

fn begun(browser: &mut Browser, piece: &str, pace: &str) -> u16 {
    let token = browser.token("/job/new");
    let fields = [
        ("token", token.as_str()),
        ("piece", piece),
        ("pace", pace),
        ("read", "yes"),
    ];
    browser.post("/bench/begin", &fields).status
}

fn said(browser: &mut Browser, what: &str, more: &[(&str, &str)]) -> u16 {
    let token = browser.token("/job/new");
    let fields = [&[("token", token.as_str()), ("what", what)], more].concat();
    browser.post("/bench/say", &fields).status
}

/// The sheet of the bench once it shows a text.
#[track_caller]
fn shown(browser: &mut Browser, text: &str) -> String {
    let began = Instant::now();
    loop {
        let page = browser.page("/bench");
        if page.contains(text) {
            return page;
        }
        assert!(began.elapsed() < LONGEST, "no `{text}` in\n{page}");
        std::thread::sleep(Duration::from_millis(50));
    }
}

fn fresh(more: &[&str]) -> (TempDir, Served) {
    let folder = tempfile::tempdir().unwrap();
    let served = serve(folder.path(), more);
    (folder, served)
}

/// Runs the program beside the page; what it says.
fn told(folder: &Path, arguments: &[&str]) -> String {
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_stillrod"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap();
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
fn a_hold_goes_from_the_page_into_the_register() {
    let (folder, served) = fresh(&[]);
    let mut browser = Browser::new(served.at);
    let plan = browser.page("/bench/plan?piece=practice:piston-seal-bypass&pace=most");
    for part in [
        "0.12 mL/min",
        "Oil under pressure goes through the skin",
        "a tight cylinder passes 0.12 mL/min after",
        "The planned 5 min are enough.",
        "name=\"read\"",
    ] {
        assert!(plan.contains(part), "no {part} in\n{plan}");
    }
    assert_eq!(
        begun(&mut browser, "practice:piston-seal-bypass", "most"),
        303
    );
    let page = shown(&mut browser, "What came out");
    for part in ["PRACTICE-TV-", "stamp large fail", ">Fail<"] {
        assert!(page.contains(part), "no {part} in\n{page}");
    }
    let number = page.split("number=PRACTICE-").nth(1).unwrap();
    let number = format!("PRACTICE-{}", &number[..12]);
    let paper = browser.page(&format!("/paper?number={number}"));
    assert!(paper.contains("stamp large fail"), "{paper}");
    // The terminal finds the same test, and its signature holds.
    let history = told(folder.path(), &["history", "TV-0312"]);
    assert!(history.contains(&number), "{history}");
    let verified = told(folder.path(), &["verify", "stillrod-data/register.db"]);
    assert!(verified.contains(&number), "{verified}");
}

#[test]
fn nothing_begins_before_the_cautions_were_read_or_with_what_is_not_there() {
    let (folder, served) = fresh(&[]);
    let setups = folder.path().join("stillrod-data/setups");
    std::fs::create_dir_all(&setups).unwrap();
    std::fs::write(setups.join("broken.toml"), "[unit]\ntag = 3\n").unwrap();
    std::fs::write(folder.path().join("secret.toml"), "secret").unwrap();
    let mut browser = Browser::new(served.at);
    let free = browser.page("/bench");
    assert!(
        free.contains("broken.toml") && free.contains("line 2"),
        "{free}"
    );
    let token = browser.token("/job/new");
    let mut begin = |fields: &[(&str, &str)]| {
        let fields = [&[("token", token.as_str())], fields].concat();
        let reply = browser.post("/bench/begin", &fields);
        (reply.status, reply.text())
    };
    let (status, text) = begin(&[("piece", "practice:tight-rebuild"), ("pace", "most")]);
    assert_eq!(status, 422, "{text}");
    assert!(text.contains("Read them and tick that you have."), "{text}");
    for piece in [
        "",
        "practice:",
        "practice:nothing",
        "setup:nothing.toml",
        "setup:../secret.toml",
        "setup:/etc/passwd",
        "setup:broken.toml/../broken.toml",
        "secret.toml",
    ] {
        let (status, text) = begin(&[("piece", piece), ("read", "yes")]);
        assert_eq!(status, 400, "{piece}\n{text}");
        assert!(text.contains("Nothing was chosen"), "{piece}\n{text}");
    }
    let (status, text) = begin(&[("piece", "setup:broken.toml"), ("read", "yes")]);
    assert!(status == 400 && text.contains("line 2"), "{text}");
    assert!(browser.page("/bench").contains("What is on the bench?"));
    assert!(
        !folder
            .path()
            .join("stillrod-data/recordings")
            .read_dir()
            .unwrap()
            .any(|_| true)
    );
}

/// A setup of the shop, as a person would have put it there, and the board behind an adapter.
#[test]
fn a_board_on_an_adapter_is_read_by_a_setup_of_the_shop() {
    let scenario = scenario("piston-seal-bypass").unwrap();
    let board = VirtualBoard::start(&scenario, Pace::AsFastAsItCan).unwrap();
    let port = board.port_path().display().to_string();
    let folder = tempfile::tempdir().unwrap();
    let setups = folder.path().join("stillrod-data/setups");
    std::fs::create_dir_all(&setups).unwrap();
    std::fs::write(setups.join("tv-0312.toml"), scenario.setup_toml()).unwrap();
    std::fs::write(setups.join("procedure-own.toml"), "a procedure").unwrap();
    std::fs::write(folder.path().join("shop.toml"), SHOP_TOML).unwrap();
    let served = serve(folder.path(), &["--shop", "shop.toml", "--adapter", &port]);
    let mut browser = Browser::new(served.at);
    let free = browser.page("/bench?tag=TV-0312");
    assert!(
        free.contains("value=\"setup:tv-0312.toml\" checked"),
        "{free}"
    );
    assert!(!free.contains("procedure-own"), "{free}");
    assert!(
        browser
            .page("/bench?tag=TV-9999")
            .contains("There is no setup of TV-9999 yet.")
    );
    let token = browser.token("/job/new");
    let mut begin = |adapter: &str| {
        let fields = [
            ("token", token.as_str()),
            ("piece", "setup:tv-0312.toml"),
            ("adapter", adapter),
            ("read", "yes"),
        ];
        let reply = browser.post("/bench/begin", &fields);
        (reply.status, reply.text())
    };
    for adapter in ["", "/dev/null", "/etc/passwd", "../../dev/ttyUSB0"] {
        let (status, text) = begin(adapter);
        assert_eq!(status, 422, "{adapter}\n{text}");
        assert!(text.contains("Choose the adapter of the board."), "{text}");
    }
    let (status, text) = begin(&port);
    assert_eq!(status, 303, "{text}");
    let page = shown(&mut browser, "What came out");
    assert!(page.contains("stamp large fail"), "{page}");
    // It is a test of the shop, with a number of its own.
    let history = told(folder.path(), &["history", "TV-0312"]);
    assert!(
        history.contains("TV-20") && !history.contains("PRACTICE"),
        "{history}"
    );
}

#[test]
fn one_test_at_a_time_and_only_who_began_it_answers() {
    let (_folder, served) = fresh(&[]);
    let (mut mine, mut other) = (Browser::new(served.at), Browser::new(served.at));
    assert_eq!(begun(&mut mine, "practice:proof-sound", "1"), 303);
    let page = shown(&mut mine, "It is done");
    assert!(
        page.contains("value=\"stop\"") && !page.contains("You are looking on"),
        "{page}"
    );
    assert_eq!(begun(&mut other, "practice:proof-sound", "1"), 409);
    let page = other.page("/bench");
    assert!(
        page.contains("You are looking on") && !page.contains("value=\"stop\""),
        "{page}"
    );
    assert!(other.page("/").contains("TV-0312 is on the bench."));
    for what in ["stop", "clear"] {
        assert_eq!(said(&mut other, what, &[]), 409, "{what}");
    }
    for what in ["done", "read"] {
        assert_eq!(said(&mut other, what, &[("number", "1")]), 409, "{what}");
    }
    assert_eq!(
        said(&mut other, "typed", &[("number", "1"), ("text", "1")]),
        409
    );
    // An answer to what is not asked does nothing.
    for number in ["0", "2", "18446744073709551615"] {
        assert_eq!(said(&mut mine, "done", &[("number", number)]), 303);
    }
    for number in ["", "-1", "x", "1e3"] {
        assert_eq!(said(&mut mine, "done", &[("number", number)]), 404);
    }
    shown(&mut mine, "Step 1 of");
    assert_eq!(said(&mut other, "take", &[]), 303);
    assert_eq!(said(&mut mine, "stop", &[]), 409);
    assert_eq!(said(&mut other, "stop", &[]), 303);
    let page = shown(&mut other, "What came out");
    assert!(page.contains(">Not valid<"), "{page}");
    // What is over is taken off by who answers; then the bench is free for anybody.
    assert_eq!(said(&mut mine, "clear", &[]), 409);
    assert_eq!(said(&mut other, "clear", &[]), 303);
    assert!(mine.page("/bench").contains("What is on the bench?"));
}

#[test]
fn what_was_not_said_yet_cannot_have_been_read() {
    let (_folder, served) = fresh(&[]);
    let mut browser = Browser::new(served.at);
    assert_eq!(
        begun(&mut browser, "practice:adapter-pulled-and-back", "20"),
        303
    );
    shown(&mut browser, "settling");
    let all = [("number", "18446744073709551615")];
    assert_eq!(said(&mut browser, "read", &all), 303);
    let page = shown(&mut browser, "adapter lost");
    assert!(page.contains("Read this"), "{page}");
    assert_eq!(said(&mut browser, "stop", &[]), 303);
    let page = shown(&mut browser, "What came out");
    assert!(page.contains("Read this"), "{page}");
    assert_eq!(said(&mut browser, "read", &all), 303);
    assert!(!browser.page("/bench").contains("Read this"));
}

/// The events of one screen, as lines.
fn events(served: &Served, browser: &Browser) -> BufReader<TcpStream> {
    let stream = TcpStream::connect(served.at).unwrap();
    stream.set_read_timeout(Some(LONGEST)).unwrap();
    let cookies: Vec<String> = browser
        .cookies
        .iter()
        .map(|(n, v)| format!("{n}={v}"))
        .collect();
    let request = format!(
        "GET /bench/live HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\n\r\n",
        served.at,
        cookies.join("; ")
    );
    (&stream).write_all(request.as_bytes()).unwrap();
    BufReader::new(stream)
}

#[test]
fn a_screen_is_told_of_readings_and_of_what_changes_until_the_page_ends() {
    let (folder, served) = fresh(&[]);
    let mut browser = Browser::new(served.at);
    assert_eq!(begun(&mut browser, "practice:tight-rebuild", "10"), 303);
    shown(&mut browser, "settling");
    let mut lines = events(&served, &browser).lines();
    let mut next = |wanted: &str| {
        lines
            .by_ref()
            .map(Result::unwrap)
            .find(|line| line.contains(wanted))
            .unwrap_or_else(|| panic!("the line ended before `{wanted}`"))
    };
    assert!(next("HTTP/1.1").contains("200"));
    assert!(next("content-type").contains("text/event-stream"));
    next("event: readings");
    let cap = next("data: reading\tcap\t");
    let value = cap.split('\t').nth(2).unwrap().parse::<f64>();
    assert!(value.is_ok_and(|bar| (50.0..250.0).contains(&bar)), "{cap}");
    next("event: part");
    next("Holding: this counts");
    // The program ends: the recording is kept as interrupted, and the screen hears no more.
    let began = Instant::now();
    assert_eq!(served.end(), Some(0));
    assert!(began.elapsed() < Duration::from_secs(60));
    let papers = told(folder.path(), &["history", "TV-0312"]);
    assert!(papers.to_lowercase().contains("not valid"), "{papers}");
    let left = std::fs::read_dir(folder.path().join("stillrod-data/recordings")).unwrap();
    let names: Vec<String> = left
        .map(|f| f.unwrap().file_name().into_string().unwrap())
        .collect();
    assert!(names.len() == 1 && names[0].ends_with(".h5"), "{names:?}");
}

#[test]
fn what_a_kill_left_undone_is_said_on_the_first_sheet() {
    let (folder, served) = fresh(&[]);
    let mut browser = Browser::new(served.at);
    assert_eq!(begun(&mut browser, "practice:tight-rebuild", "10"), 303);
    shown(&mut browser, "Holding: this counts");
    // As a power cut would.
    drop(served);
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let page = browser.page("/");
    assert!(page.contains("Made good since the last start"), "{page}");
    assert!(
        page.contains("was left undone and is now entered"),
        "{page}"
    );
    assert!(page.contains("stamp not-valid"), "{page}");
    assert!(browser.page("/bench").contains("What is on the bench?"));
}
