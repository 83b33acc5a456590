//! A test is judged again by other limits, beside the first judgement and never instead of it.

use crate::bench::done;
use crate::bench::numbers;
use crate::bench::own_shop;
use crate::browser::Browser;
use crate::browser::Reply;
use crate::browser::Served;
use crate::browser::serve;
use std::path::Path;
use tempfile::TempDir;

const SHOP: &str = include_str!("../../src/rehearsal/year/tarn-valley-year.toml");

fn shown() -> (TempDir, Served, Browser) {
    let folder = own_shop();
    std::fs::write(folder.path().join("shop.toml"), SHOP).unwrap();
    let served = serve(folder.path(), &["--shop", "shop.toml"]);
    let browser = Browser::new(served.at);
    (folder, served, browser)
}

/// The sheet of a paper's recording.
fn sheet(number: &str) -> String {
    format!("/recording?number={number}")
}

fn judge(browser: &mut Browser, number: &str, fields: &[(&str, &str)]) -> Reply {
    let token = browser.token(&sheet(number));
    let mut all = vec![("token", token.as_str()), ("number", number)];
    all.extend_from_slice(fields);
    browser.post("/recording/judge", &all)
}

/// The part of a sheet that begins with one word and ends with another.
fn between<'a>(text: &'a str, from: &str, until: &str) -> &'a str {
    let start = text.find(from).unwrap_or_else(|| panic!("{from}\n{text}"));
    text[start..].split(until).next().unwrap()
}

fn everything_of(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut all: Vec<(String, Vec<u8>)> = ["papers", "recordings"]
        .iter()
        .flat_map(|part| std::fs::read_dir(folder.join("stillrod-data").join(part)).unwrap())
        .map(|entry| entry.unwrap().path())
        .map(|path| (path.display().to_string(), std::fs::read(path).unwrap()))
        .collect();
    all.sort();
    all
}

#[test]
fn a_wider_limit_passes_beside_the_fail_that_stands() {
    let (folder, _served, mut browser) = shown();
    let number = &numbers()[0];
    let before = everything_of(folder.path());
    let text = browser.page(&sheet(number));
    // Only limits of figures that were measured can be chosen.
    assert!(
        text.contains("value=\"rebuilt-63-cap-loss\"")
            && text.contains("value=\"rebuilt-63-drift\""),
        "{text}"
    );
    let wide = [
        ("figure", "cap_loss"),
        ("most", "2,0 mL/min"),
        ("by", "bench technician"),
    ];
    let reply = judge(&mut browser, number, &wide);
    assert_eq!(reply.status, 303, "{}", reply.text());
    let text = browser.page(&format!("{}&said=judged", sheet(number)));
    assert!(text.contains("Judged again and kept. The first judgement stands."));
    let first = between(&text, "First judgement", "</article>");
    assert!(
        first.contains("stamp fail")
            && first.contains("0.12 mL/min")
            && first.contains("It stands."),
        "{first}"
    );
    let again = between(&text, "Looked at again on", "</article>");
    assert!(
        again.contains("stamp pass") && again.contains("2,0 mL/min"),
        "{again}"
    );
    assert!(
        again.contains("Not entered: the first judgement stands. By bench technician."),
        "{again}"
    );
    assert!(
        again.contains("typed when judged again, by bench technician"),
        "{again}"
    );
    // The same figure with the same interval stands on both sides.
    let figure = |text: &str| between(text, "Oil lost from the cap side", "(95 %)").to_owned();
    assert_eq!(figure(first), figure(again));
    // Nothing of paper, record and recording changed, and the register is as it was signed.
    assert_eq!(everything_of(folder.path()), before);
    let text = browser.page(&format!("/paper?number={number}"));
    assert!(
        text.contains("stamp large fail") && text.contains("Judged again"),
        "{text}"
    );
    assert!(browser.page("/papers").contains("stamp fail"));
    drop(_served);
    let verified = done(folder.path(), &["verify", "stillrod-data/register.db"]);
    assert!(!verified.contains("guard"), "{verified}");
}

#[test]
fn limits_of_the_shop_are_chosen_by_their_names_and_both_are_kept() {
    let (_folder, _served, mut browser) = shown();
    let number = &numbers()[0];
    let chosen = [
        ("limit", "rebuilt-100-cap-loss"),
        ("limit", "rebuilt-100-drift"),
        ("by", "fitter 2"),
    ];
    assert_eq!(judge(&mut browser, number, &chosen).status, 303);
    let wide = [
        ("figure", "drift"),
        ("most", "9 mm/min"),
        ("by", "fitter 2"),
    ];
    assert_eq!(judge(&mut browser, number, &wide).status, 303);
    let text = browser.page(&sheet(number));
    assert_eq!(text.matches("Looked at again on").count(), 2);
    assert_eq!(text.matches("First judgement").count(), 1);
    // The latest stands first.
    let later = between(&text, "Looked at again on", "</article>");
    assert!(
        later.contains("9 mm/min") && later.contains("stamp pass"),
        "{later}"
    );
    assert!(
        text.contains("0.60 mL/min") && text.contains("0.10 mm/min"),
        "{text}"
    );
}

#[test]
fn what_is_missing_is_said_at_its_field_and_nothing_is_kept() {
    let (_folder, _served, mut browser) = shown();
    let number = numbers()[0].clone();
    let long = "x".repeat(5_000);
    for (fields, says) in [
        (&[("by", "fitter 2")][..], "Choose a limit, or type one."),
        (&[("limit", "rebuilt-63-drift")], "Write your role"),
        (
            &[("limit", "rebuilt-63-drift"), ("by", "   ")],
            "Write your role",
        ),
        (
            &[("limit", "../../etc/passwd"), ("by", "fitter 2")],
            "has no limit ../../etc/passwd",
        ),
        (
            &[
                ("figure", "friction"),
                ("most", "1 bar"),
                ("by", "fitter 2"),
            ],
            "Choose a figure",
        ),
        (
            &[
                ("figure", "cap_loss"),
                ("most", "a lot"),
                ("by", "fitter 2"),
            ],
            "does not begin with a number",
        ),
        (
            &[
                ("figure", "cap_loss"),
                ("most", "2 bar"),
                ("by", "fitter 2"),
            ],
            "mL/min",
        ),
        (
            &[
                ("figure", "cap_loss"),
                ("most", "NaN mL/min"),
                ("by", "fitter 2"),
            ],
            "does not begin with a number",
        ),
        (
            &[
                ("figure", "cap_loss"),
                ("most", "1\"\n[[limit]]\nid = \"x"),
                ("by", "fitter 2"),
            ],
            "mL/min",
        ),
        (
            &[("figure", "cap_loss"), ("most", &long), ("by", "fitter 2")],
            "does not begin with a number",
        ),
    ] {
        let reply = judge(&mut browser, &number, fields);
        assert_eq!(reply.status, 422, "{fields:?}\n{}", reply.text());
        assert!(reply.text().contains(says), "{fields:?}\n{}", reply.text());
    }
    let text = browser.page(&sheet(&number));
    assert!(!text.contains("Looked at again on"), "{text}");
}

#[test]
fn nothing_is_judged_without_the_mark_of_a_page_or_without_a_paper() {
    let (_folder, _served, mut browser) = shown();
    let number = numbers()[0].clone();
    let reply = browser.post(
        "/recording/judge",
        &[
            ("number", &number),
            ("limit", "rebuilt-63-drift"),
            ("by", "x"),
        ],
    );
    assert_eq!(reply.status, 403);
    let token = browser.token(&sheet(&number));
    let reply = browser.post(
        "/recording/judge",
        &[("token", &token), ("number", "TV-1"), ("by", "x")],
    );
    assert_eq!(reply.status, 404);
}

#[test]
fn another_recording_than_was_entered_is_not_judged() {
    let (folder, _served, mut browser) = shown();
    let numbers = numbers();
    let recordings = folder.path().join("stillrod-data/recordings");
    let mut files: Vec<_> = std::fs::read_dir(recordings)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "h5"))
        .collect();
    files.sort();
    std::fs::copy(&files[1], &files[0]).unwrap();
    let reply = judge(
        &mut browser,
        &numbers[0],
        &[("limit", "rebuilt-63-drift"), ("by", "fitter 2")],
    );
    assert_eq!(reply.status, 400, "{}", reply.text());
    assert!(
        reply.text().contains("another file than was entered"),
        "{}",
        reply.text()
    );
}

#[test]
fn a_procedure_is_judged_again_step_by_step() {
    let (folder, served, _browser) = shown();
    drop(served);
    crate::bench::stillrod(folder.path(), &["rehearse", "proof-sound", "--json"]);
    let served = serve(folder.path(), &["--shop", "shop.toml"]);
    let mut browser = Browser::new(served.at);
    let papers = browser.page("/papers");
    let number = between(&papers, "/paper?number=", "\"")[14..].to_owned();
    // The sentence that decided it is that of a hold, with its figure.
    let paper = browser.page(&format!("/paper?number={number}"));
    let said = between(&paper, "<p class=\"say\">", "</p>");
    assert!(
        said.contains("Piston seal") && said.contains("mL/min"),
        "{said}"
    );
    let tight = [
        ("figure", "cap_loss"),
        ("most", "0.001 mL/min"),
        ("by", "fitter 2"),
    ];
    let reply = judge(&mut browser, &number, &tight);
    assert_eq!(reply.status, 303, "{}", reply.text());
    let text = browser.page(&sheet(&number));
    let again = between(&text, "Looked at again on", "</article>");
    assert!(
        again.contains("Piston seal") && again.contains("0.001 mL/min"),
        "{again}"
    );
    assert!(!again.contains("stamp pass"), "{again}");
    let first = between(&text, "First judgement", "</article>");
    assert!(first.contains("stamp pass"), "{first}");
}

#[test]
fn without_a_shop_file_it_is_said_where_limits_come_from() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let text = browser.page(&sheet(&numbers()[0]));
    assert!(
        text.contains("start the page with stillrod serve --shop shop.toml"),
        "{text}"
    );
    assert!(!text.contains("/recording/judge"));
}
