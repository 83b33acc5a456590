//! Each sheet answers, and says what the register knows.

use crate::bench::numbers;
use crate::bench::own_shop;
use crate::browser::Browser;
use crate::browser::serve;

#[test]
fn the_bench_sheet_has_what_is_here_and_what_was_last_tested() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let text = browser.page("/");
    assert!(
        text.contains("plough sinks again") && text.contains("/job?number=2"),
        "{text}"
    );
    for number in numbers() {
        assert!(text.contains(&number), "{number}\n{text}");
    }
    assert_eq!(served.end(), Some(0));
}

#[test]
fn units_are_found_by_words_and_days() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let text = browser.page("/units");
    assert!(
        text.contains("href=\"/unit?tag=TV-0312\"") && text.contains("3 tests, 2 jobs"),
        "{text}"
    );
    // A pass of practice is not taken for one of a real cylinder.
    assert!(text.contains("practice bench"), "{text}");
    let text = browser.page("/units?words=PFLUG+uber");
    assert!(
        text.contains("TV-0312") && text.contains("Pflug sinkt über Nacht"),
        "{text}"
    );
    let text = browser.page("/units?words=tv-0312&from=2026-01-01");
    assert!(
        text.contains("TV-0312") && text.contains(&numbers()[2]),
        "{text}"
    );
    let text = browser.page("/units?words=nowhere");
    assert!(text.contains("Nothing has all of these words"), "{text}");
    let text = browser.page("/units?words=tv&from=1.12.2026");
    assert!(
        text.contains("Write a day as 2026-11-20") && text.contains("aria-invalid"),
        "{text}"
    );
    // What was typed is still there.
    assert!(
        text.contains("value=\"1.12.2026\"") && text.contains("value=\"tv\""),
        "{text}"
    );
}

#[test]
fn a_story_has_visits_changes_and_a_chart_over_the_years() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let text = browser.page("/unit?tag=TV-0312");
    let place = |part: &str| text.find(part).unwrap_or_else(|| panic!("{part}\n{text}"));
    // The latest visit stands first.
    let (back, first) = (place("plough sinks again"), place("Pflug sinkt"));
    assert!(place("Since it was here last") > back && place("Since it was here last") < first);
    assert!(place("Before and after") > first, "{text}");
    assert!(text[first..].contains("less, by "), "{text}");
    assert!(text[back..first].contains("more, by "), "{text}");
    let chart = text
        .split("srcset=\"")
        .nth(1)
        .expect("a chart")
        .split('"')
        .next()
        .unwrap();
    let reply = browser.get(&chart.replace("&#38;", "&").replace("&amp;", "&"));
    assert_eq!(
        (reply.status, reply.header("content-type")),
        (200, "image/svg+xml")
    );
    assert!(reply.text().starts_with("<svg") && reply.text().contains("TV-0312"));
    assert_eq!(browser.get("/unit/years?tag=TV-0312&index=999").status, 404);
    let reply = browser.get("/unit?tag=TV-9999");
    assert_eq!(reply.status, 404);
    assert!(
        reply.text().contains("There is no unit TV-9999."),
        "{}",
        reply.text()
    );
}
