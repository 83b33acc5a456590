//! Recordings are looked at: pictures, values and stretches, and what is refused.

use crate::bench::done;
use crate::bench::numbers;
use crate::bench::own_shop;
use crate::browser::Browser;
use crate::browser::Served;
use crate::browser::encoded;
use crate::browser::serve;
use std::path::Path;
use std::path::PathBuf;
use tempfile::TempDir;

fn shown() -> (TempDir, Served, Browser) {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let browser = Browser::new(served.at);
    (folder, served, browser)
}

/// The address of the first paper's recording, with more behind it.
fn of(path: &str, more: &str) -> String {
    format!("{path}?number={}{more}", numbers()[0])
}

/// All links of a sheet whose word is this, as they can be asked for.
fn links(text: &str, word: &str) -> Vec<String> {
    let ends = format!(">{word}</a>");
    text.split("<a ")
        .filter(|part| part.contains(&ends))
        .filter_map(|part| part.split("href=\"").nth(1)?.split('"').next())
        .map(|link| link.replace("&#38;", "&").replace("&amp;", "&"))
        .collect()
}

fn link(text: &str, word: &str) -> String {
    let found = links(text, word);
    found
        .first()
        .unwrap_or_else(|| panic!("{word}\n{text}"))
        .clone()
}

/// The value of an attribute, where it stands first.
fn attribute(text: &str, name: &str) -> String {
    let found = text.split(&format!("{name}=\"")).nth(1).expect("there");
    let value = found.split('"').next().unwrap();
    value.replace("&#38;", "&").replace("&amp;", "&")
}

fn archive(folder: &Path) -> PathBuf {
    let mut all: Vec<PathBuf> = std::fs::read_dir(folder.join("stillrod-data/recordings"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "h5"))
        .collect();
    all.sort();
    all.remove(0)
}

#[test]
fn the_paper_leads_to_its_recording_with_phases_and_remarks() {
    let (_folder, _served, mut browser) = shown();
    let text = browser.page(&of("/paper", ""));
    let text = browser.page(&link(&text, "Look at the recording"));
    for part in [
        "Recording of",
        "Settling",
        "Counted hold",
        "None: no reading is missing.",
        "What the readings say",
        "were not looked at before and after",
        "cap-end pressure",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    // Only what was recorded can be ticked.
    assert!(text.contains("value=\"p_cap\" checked") && !text.contains("value=\"v_supply\""));
    let picture = browser.get(&attribute(&text, "img src"));
    assert_eq!(
        (picture.status, picture.header("content-type")),
        (200, "image/svg+xml")
    );
    let svg = picture.text();
    assert!(
        svg.starts_with("<svg") && svg.contains("counted hold") && svg.contains("pressure, bar"),
        "{svg}"
    );
}

#[test]
fn links_lead_closer_and_back_and_along() {
    let (_folder, _served, mut browser) = shown();
    let whole = browser.page(&of("/recording", ""));
    assert!(links(&whole, "Wider").is_empty() && links(&whole, "Earlier").is_empty());
    let closer = browser.page(&link(&whole, "Closer"));
    for word in ["Wider", "Earlier", "Later", "All of it"] {
        assert_eq!(links(&closer, word).len(), 1, "{word}");
    }
    let back = browser.page(&link(&closer, "Wider"));
    let stretch = |text: &str| (attribute(text, "data-from"), attribute(text, "data-until"));
    assert_eq!(stretch(&back), stretch(&whole));
    let hold = browser.page(&link(&whole, "Counted hold"));
    assert_eq!(stretch(&hold).0, "60");
    assert_ne!(stretch(&hold), stretch(&whole));
    // Whoever goes on looking closer comes to an end, and each step is shown.
    let mut text = whole;
    let mut n_steps = 0;
    while let Some(next) = links(&text, "Closer").first() {
        text = browser.page(next);
        n_steps += 1;
        assert!(n_steps < 25, "{text}");
    }
    let picture = browser.get(&attribute(&text, "img src"));
    assert_eq!(picture.status, 200);
}

#[test]
fn channels_are_left_away_and_stay_so() {
    let (_folder, _served, mut browser) = shown();
    let text = browser.page(&of("/recording", "&channel=x"));
    assert!(text.contains("value=\"x\" checked") && !text.contains("value=\"p_cap\" checked"));
    let picture = browser.get(&attribute(&text, "img src")).text();
    assert!(
        picture.contains("position, mm") && !picture.contains("pressure, bar"),
        "{picture}"
    );
    assert!(link(&text, "Closer").contains("channel=x"));
    let values = browser.page(&attribute(&text, "data-values"));
    assert_eq!(values.matches("\"name\"").count(), 1, "{values}");
    // A channel that nobody has shows all, not nothing.
    let text = browser.page(&of("/recording", "&channel=../../etc/passwd"));
    assert!(text.contains("value=\"p_cap\" checked") && text.contains("value=\"x\" checked"));
}

#[test]
fn values_are_single_readings_close_up_and_lowest_to_highest_from_afar() {
    let (_folder, _served, mut browser) = shown();
    let read = |browser: &mut Browser, more: &str| -> serde_json::Value {
        let reply = browser.get(&of("/recording/values", more));
        assert_eq!(
            (reply.status, reply.header("content-type")),
            (200, "application/json")
        );
        assert!(reply.body.len() < 120_000, "{}", reply.body.len());
        serde_json::from_slice(&reply.body).unwrap()
    };
    let far = read(&mut browser, "");
    let (columns, lanes) = (
        far["columns"].as_array().unwrap(),
        far["lanes"].as_array().unwrap(),
    );
    assert!((200..=400).contains(&columns.len()), "{}", columns.len());
    assert!(columns.iter().all(|column| column[2].as_u64() > Some(1)));
    for lane in lanes {
        let values = lane["values"].as_array().unwrap();
        assert_eq!(values.len(), columns.len());
        for value in values {
            let at = |index: usize| value[index].as_f64().unwrap();
            assert!(at(0) <= at(1) && at(1) <= at(2), "{lane}");
        }
    }
    let close = read(&mut browser, "&from=100&until=101");
    let columns = close["columns"].as_array().unwrap();
    assert!(
        !columns.is_empty()
            && columns
                .iter()
                .all(|column| column[2] == 1 && column[0] == column[1])
    );
    // A time in the form tells the same reading.
    let cap = &close["lanes"][0];
    assert_eq!(
        (cap["name"].as_str(), cap["unit"].as_str()),
        (Some("cap-end pressure"), Some("bar"))
    );
    let at = columns[3][0].as_f64().unwrap();
    let text = browser.page(&of("/recording", &format!("&at={at}")));
    let decimals = usize::try_from(cap["decimals"].as_u64().unwrap()).unwrap();
    let expected = format!("{:.decimals$}", cap["values"][3][1].as_f64().unwrap());
    assert!(
        text.contains(&format!("<span class=\"figure\">{expected}</span>")),
        "{expected}\n{text}"
    );
    assert!(text.contains("one reading of each channel"));
}

#[test]
fn a_shop_that_reads_inches_sees_inches() {
    let folder = own_shop();
    let shop = "[shop]\nname = \"Tarn Valley road depot\"\nunits = \"inch\"\ntime_zone = \"Europe/London\"\n\
                number_prefix = \"TV\"\n[decision]\nrule = \"simple\"\n";
    std::fs::write(folder.path().join("shop.toml"), shop).unwrap();
    let served = serve(folder.path(), &["--shop", "shop.toml"]);
    let mut browser = Browser::new(served.at);
    let picture = browser.page(&of("/recording/picture", ""));
    assert!(
        picture.contains("pressure, psi") && picture.contains(">\nin\n</text>"),
        "{picture}"
    );
    let values = browser.page(&of("/recording/values", ""));
    assert!(
        values.contains("\"psi\"") && values.contains("\"°F\"") && !values.contains("\"bar\""),
        "{values}"
    );
    let text = browser.page(&of("/recording", "&at=100"));
    assert!(
        text.contains("psi") && !text.contains("bar</span>"),
        "{text}"
    );
}

#[test]
fn what_is_no_stretch_is_said_at_its_field_and_nothing_is_drawn_of_it() {
    let (_folder, _served, mut browser) = shown();
    let long = "1".repeat(5_000);
    let long = long.as_str();
    for (from, until, at, says) in [
        ("NaN", "", "", "Write a time as"),
        ("", "inf", "", "Write a time as"),
        ("-inf", "", "", "Write a time as"),
        ("200", "100", "", "It must end after it begins."),
        ("100", "100", "", "It must end after it begins."),
        ("1e300", "", "", "The recording goes from"),
        ("-1e300", "-1e299", "", "The recording goes from"),
        ("99999", "999999", "", "The recording goes from"),
        ("<script>", "", "", "Write a time as"),
        ("", "", "NaN", "Write a time as"),
        ("", "", "1e300", "The recording goes from"),
        ("", "", "-99", "The recording goes from"),
        (long, "", "", "Write a time as"),
    ] {
        let more = format!(
            "&from={}&until={}&at={}",
            encoded(from),
            encoded(until),
            encoded(at)
        );
        let reply = browser.get(&of("/recording", &more));
        let text = reply.text();
        assert_eq!(reply.status, 422, "{more}\n{text}");
        assert!(
            text.contains(says) && text.contains("aria-invalid"),
            "{more}\n{text}"
        );
        assert!(!text.contains("<script>\""), "{text}");
        if !(from.is_empty() && until.is_empty()) {
            for path in ["/recording/picture", "/recording/values"] {
                let reply = browser.get(&of(path, &more));
                assert_eq!(reply.status, 400, "{path}{more}");
                assert!(
                    reply.text().contains("This stretch cannot be shown."),
                    "{}",
                    reply.text()
                );
            }
        }
    }
    // What reaches beyond both ends is all there is, and what is as good as nothing is a little.
    for more in [
        "&from=-1e300&until=1e300",
        "&from=100&until=100.0000001",
        "&from=0&until=1e-300",
    ] {
        let reply = browser.get(&of("/recording/picture", more));
        assert_eq!(reply.status, 200, "{more}");
        assert!(
            reply.text().contains("</svg>") && !reply.text().contains("NaN"),
            "{more}"
        );
        assert_eq!(browser.get(&of("/recording", more)).status, 200, "{more}");
    }
}

#[test]
fn numbers_that_no_paper_has_lead_to_a_sentence_and_to_no_file() {
    let (_folder, _served, mut browser) = shown();
    for number in [
        "",
        "TV-1",
        "../../etc/passwd",
        "..%2F",
        "'%20OR%201=1--",
        "%00",
        &"9".repeat(9_000),
    ] {
        for path in ["/recording", "/recording/picture", "/recording/values"] {
            let reply = browser.get(&format!("{path}?number={number}"));
            assert_eq!(reply.status, 404, "{path} {number}\n{}", reply.text());
            assert!(
                reply.text().contains("There is no paper"),
                "{}",
                reply.text()
            );
        }
    }
}

#[test]
fn a_recording_that_is_not_there_is_said_and_the_paper_offers_none() {
    let (folder, _served, mut browser) = shown();
    // It was looked at before, and is remembered.
    browser.page(&of("/recording", ""));
    std::fs::remove_file(archive(folder.path())).unwrap();
    for path in ["/recording", "/recording/picture", "/recording/values"] {
        let reply = browser.get(&of(path, ""));
        assert_eq!(reply.status, 404, "{path}");
        assert!(
            reply.text().contains("is not where it should be"),
            "{}",
            reply.text()
        );
    }
    let text = browser.page(&of("/paper", ""));
    assert!(links(&text, "Look at the recording").is_empty(), "{text}");
}

#[test]
fn a_recording_that_is_damaged_is_said_and_nothing_of_it_is_shown() {
    let (folder, served, mut browser) = shown();
    let path = archive(folder.path());
    let whole = std::fs::read(&path).unwrap();
    browser.page(&of("/recording", ""));
    let damaged: [Vec<u8>; 4] = [
        whole[..whole.len() / 2].to_vec(),
        Vec::new(),
        b"no recording at all".repeat(1_000),
        whole
            .iter()
            .enumerate()
            .map(|(at, byte)| if at > 4_096 { byte ^ 0x55 } else { *byte })
            .collect(),
    ];
    for bytes in &damaged {
        std::fs::write(&path, bytes).unwrap();
        for path in ["/recording", "/recording/picture", "/recording/values"] {
            let reply = browser.get(&of(path, ""));
            assert_eq!(reply.status, 500, "{path}");
            assert!(
                reply.text().contains("The recording cannot be read."),
                "{}",
                reply.text()
            );
        }
    }
    std::fs::write(&path, &whole).unwrap();
    browser.page(&of("/recording", ""));
    assert_eq!(served.end(), Some(0));
}

#[test]
fn a_gap_is_listed_and_has_no_values() {
    let folder = own_shop();
    done(
        folder.path(),
        &["rehearse", "adapter-pulled-and-back", "--json"],
    );
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let papers = browser.page("/papers");
    let number = papers
        .split("/paper?number=")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap()
        .to_owned();
    let text = browser.page(&format!("/recording?number={number}"));
    assert!(
        text.contains("Gap of 3") && text.contains("the adapter was unplugged"),
        "{text}"
    );
    // Pulled 180 s into the hold, which counts from 60 s on.
    let text = browser.page(&format!("/recording?number={number}&at=241"));
    assert!(
        text.contains("Nothing was recorded from 3:59.98 to 4:03"),
        "{text}"
    );
    let values = browser.page(&format!(
        "/recording/values?number={number}&from=230&until=250"
    ));
    let values: serde_json::Value = serde_json::from_str(&values).unwrap();
    let columns = values["columns"].as_array().unwrap();
    let is_told = |c: &serde_json::Value| c[3] == 1 && c[0].as_f64() > Some(242.0);
    assert_eq!(
        columns.iter().filter(|c| c[3] == 1).count(),
        1,
        "{columns:?}"
    );
    assert!(columns.iter().any(is_told), "{columns:?}");
}
