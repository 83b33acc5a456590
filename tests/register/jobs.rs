//! Sheets in, searches and histories out.

use crate::bench::done;
use crate::bench::numbers;
use crate::bench::own_shop;
use crate::bench::refused;
use crate::bench::sheet;
use crate::bench::shop;

#[test]
fn the_example_sheet_can_be_entered_as_it_is_and_twice_is_once() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    let example = done(here, &["job", "--example"]);
    std::fs::write(here.join("job.toml"), &example).unwrap();
    let first = done(here, &["job", "job.toml"]);
    assert!(first.contains("Job        1, version 1"), "{first}");
    let again = done(here, &["job", "job.toml"]);
    assert!(again.contains("says nothing new"), "{again}");
    // Another sheet without the number would be a second job of a unit that is still here.
    std::fs::write(
        here.join("job.toml"),
        example.replace("gland wet", "gland dry"),
    )
    .unwrap();
    let error = refused(here, &["job", "job.toml"]);
    assert!(error.contains("job 1 of TV-0312 is still open"), "{error}");
    assert!(error.contains("number = 1"), "{error}");
    std::fs::write(
        here.join("job.toml"),
        example.replace("price = 84.00", "price = -1"),
    )
    .unwrap();
    let error = refused(here, &["job", "job.toml"]);
    assert!(
        error.contains("job.toml, line ") && error.contains("two places"),
        "{error}"
    );
}

#[test]
fn words_of_any_case_and_accent_find_jobs_and_tests() {
    let of = |words: &[&str]| done(shop(), &[&["find"], words].concat());
    let found = of(&["PFLUG", "uber"]);
    assert!(
        found.contains("job 1 ") && found.contains("Pflug sinkt über Nacht"),
        "{found}"
    );
    assert!(!found.contains("Tests"), "{found}");
    let found = of(&["tv-0312"]);
    for number in numbers() {
        assert!(found.contains(&number), "{found}");
    }
    let found = of(&[&numbers()[1]]);
    assert!(found.contains("Pass") && !found.contains("Fail"), "{found}");
    assert_eq!(of(&["nowhere"]), "Nothing has all of these words.\n");
    assert_eq!(
        of(&["--until", "2020-01-01"]),
        "Nothing has all of these words.\n"
    );
    let found = of(&["--from", "2026-12-01", "sinks"]);
    assert!(
        found.contains("sinks again") && !found.contains("Pflug"),
        "{found}"
    );
    let error = refused(shop(), &["find", "--from", "1.12.2026"]);
    assert!(error.contains("write it as 2026-11-20"), "{error}");
    let empty = tempfile::tempdir().unwrap();
    let error = refused(empty.path(), &["find"]);
    assert!(error.contains("there is no register"), "{error}");
    assert_eq!(std::fs::read_dir(empty.path()).unwrap().count(), 0);
}

#[test]
fn a_history_says_what_a_rebuild_changed_and_what_came_back() {
    let said = done(shop(), &["history", "TV-0312"]);
    let place = |text: &str| said.find(text).unwrap_or_else(|| panic!("{text}\n{said}"));
    let after = place("Before and after");
    let since = place("Since it was here last");
    let (first, second) = (place("Pflug sinkt"), place("sinks again"));
    assert!(first < after && after < second && second < since, "{said}");
    // The rebuild made it less, the comeback more; a plug that was tight both times did not change.
    let loss = |part: &str| {
        let line = part
            .lines()
            .find(|line| line.contains("Oil lost from the cap side"));
        line.unwrap_or_else(|| panic!("{part}")).to_owned()
    };
    assert!(loss(&said[after..since]).contains(": less, by "), "{said}");
    assert!(loss(&said[since..]).contains(": more, by "), "{said}");
    assert!(said[since..].contains("past the rod-port plug"), "{said}");
    let plug = said[since..]
        .lines()
        .find(|line| line.contains("rod-port plug"))
        .unwrap();
    assert!(plug.contains("no change that can be shown"), "{plug}");
    let error = refused(shop(), &["history", "TV-9999"]);
    assert!(error.contains("there is no unit TV-9999"), "{error}");
}

#[test]
fn rebuilds_that_came_back_are_counted_by_seal() {
    let said = done(shop(), &["rebuilds", "--within", "30"]);
    assert!(
        said.starts_with("1 of 1 rebuilds came back within 30 days"),
        "{said}"
    );
    // 23 November to 20 December are 27 days.
    assert!(
        said.contains("back 2026-12-20 after 27 days: plough sinks again (job 2)"),
        "{said}"
    );
    let said = done(shop(), &["rebuilds", "--within", "26"]);
    assert!(said.starts_with("0 of 1"), "{said}");
    assert!(said.contains("0 of 1\n"), "{said}");
    // A visit after which nothing was done is no comeback.
    let folder = own_shop();
    let left = r#"[job]
number = 2
unit = "TV-0312"
came_in = 2026-12-20
went_out = 2026-12-21
symptom = "plough sinks again"
by = "fitter 1"
[decision]
do = "leave"
reason = "the hose was loose"
"#;
    std::fs::write(folder.path().join("left.toml"), left).unwrap();
    done(folder.path(), &["job", "left.toml"]);
    let said = done(folder.path(), &["rebuilds", "--within", "30"]);
    assert!(said.starts_with("0 of 1"), "{said}");
    let said = done(shop(), &["rebuilds", "--since", "2026-11-24"]);
    assert!(said.starts_with("0 of 0"), "{said}");
    let said = done(shop(), &["units", "--machine", "winter carrier 7"]);
    assert!(
        said.contains("3 tests, 2 jobs") && said.contains("job 2 is open"),
        "{said}"
    );
    assert_eq!(done(shop(), &["units", "--machine", "carrier"]), "");
}

#[test]
fn a_job_keeps_what_it_said_before_and_a_photo_stays_with_it() {
    let folder = own_shop();
    let here = folder.path();
    let text = sheet("number = 1", "withdrawn = \"entered for another unit\"");
    std::fs::write(here.join("job.toml"), text).unwrap();
    let said = done(here, &["job", "job.toml"]);
    assert!(said.contains("Job        1, version 3"), "{said}");
    let found = done(here, &["find", "Pflug"]);
    assert!(
        found.contains("WITHDRAWN: entered for another unit"),
        "{found}"
    );
    let error = refused(here, &["job", "job.toml"]);
    assert!(error.contains("was withdrawn"), "{error}");
    std::fs::write(here.join("gland.JPG"), b"a picture").unwrap();
    let photo = [
        "attach",
        "TV-0312",
        "gland.JPG",
        "--job",
        "1",
        "--about",
        "score",
        "--by",
        "fitter 2",
    ];
    let said = done(here, &photo);
    // SHA-256 of the nine bytes "a picture", by sha256sum (GNU coreutils).
    let hash = {
        let out = std::process::Command::new("sha256sum")
            .arg(here.join("gland.JPG"))
            .output()
            .unwrap();
        String::from_utf8(out.stdout).unwrap()[..64].to_owned()
    };
    assert!(said.contains(&format!("{hash}.jpg")), "{said}");
    assert!(
        here.join(format!("stillrod-data/files/{hash}.jpg"))
            .exists()
    );
    assert!(done(here, &photo).contains("was there already"));
    assert!(done(here, &["history", "TV-0312"]).contains("gland.JPG  job 1, score"));
    let error = refused(
        here,
        &[
            "attach",
            "TV-0312",
            "gland.JPG",
            "--job",
            "7",
            "--by",
            "fitter 2",
        ],
    );
    assert!(error.contains("no job of this number"), "{error}");
    std::fs::write(here.join("empty.jpg"), b"").unwrap();
    assert!(refused(here, &["attach", "TV-0312", "empty.jpg", "--by", "x"]).contains("1 byte"));
}

#[test]
fn sensors_are_known_with_the_calibration_they_were_used_with() {
    let said = done(shop(), &["sensors"]);
    let lines: Vec<&str> = said.lines().collect();
    assert!(lines.len() >= 3, "{said}");
    let dues: Vec<&str> = lines
        .iter()
        .filter_map(|line| line.split(" due ").nth(1)?.split(' ').next())
        .collect();
    assert!(dues.is_sorted(), "{said}");
    assert!(
        said.contains("P-11") && said.contains("TV-CAL-2026-031"),
        "{said}"
    );
    // Three tests with the same papers are one calibration.
    assert!(
        lines
            .iter()
            .all(|line| line.contains(", 1 calibration  (practice bench)")),
        "{said}"
    );
}
