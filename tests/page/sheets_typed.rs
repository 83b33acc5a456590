//! Forms: what is typed is kept exactly as the program keeps a sheet, and nothing typed is lost.

use crate::bench::done;
use crate::bench::own_shop;
use crate::browser::Browser;
use crate::browser::serve;
use std::path::Path;
use stillrod::settings::sheet_fields;

/// The example sheet as fields of the form.
fn example(folder: &Path, changes: &[(&str, &str)]) -> Vec<(String, String)> {
    let text = done(folder, &["job", "--example"]);
    let mut fields: Vec<(String, String)> = sheet_fields("example", &text)
        .unwrap()
        .into_iter()
        .collect();
    for (name, value) in changes {
        fields.retain(|(known, _)| known != name);
        fields.push(((*name).into(), (*value).into()));
    }
    fields
}

#[track_caller]
fn post(browser: &mut Browser, fields: &[(String, String)]) -> crate::browser::Reply {
    let token = browser.token("/job/new");
    let mut all: Vec<(&str, &str)> = vec![("token", &token)];
    all.extend(fields.iter().map(|(n, v)| (n.as_str(), v.as_str())));
    browser.post("/job", &all)
}

#[test]
fn a_sheet_from_the_form_is_the_sheet_from_the_file() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let fields = example(folder.path(), &[("unit", "TV-0400")]);
    let reply = post(&mut browser, &fields);
    assert_eq!(
        (reply.status, reply.header("location")),
        (303, "/job?number=3&said=entered")
    );
    let text = browser.page("/job?number=3&said=entered");
    assert!(text.contains("The sheet is entered"), "{text}");
    // By hand, as on the slip of paper: 489 against 1300.
    for part in [
        "489.00 GBP",
        "1300.00 GBP",
        "A rebuild costs 811.00 GBP less.",
        "at 17.0 h",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    // The program takes the same sheet from a file for what is there already.
    let found = done(folder.path(), &["find", "lip", "torn", "guide", "ring"]);
    assert!(
        found.contains("job 3 ") && found.contains("TV-0400"),
        "{found}"
    );
    let told = done(folder.path(), &["history", "TV-0400"]);
    assert!(told.contains("plough sinks overnight, gland wet"), "{told}");
    // Sent again, it says nothing new; changed, it is another version of the same job.
    let more = [
        ("number", "3"),
        ("version", "1"),
        ("unit", "TV-0400"),
        ("went_out", "2026-11-23"),
    ];
    let reply = post(&mut browser, &example(folder.path(), &more));
    assert_eq!(reply.status, 303, "{}", reply.text());
    let text = browser.page("/unit?tag=TV-0400");
    assert!(text.contains("in 2026-11-20, out 2026-11-23"), "{text}");
    // Whoever still has the first version open does not write over it.
    let reply = post(&mut browser, &example(folder.path(), &more));
    assert_eq!(reply.status, 422);
    assert!(
        reply.text().contains("Somebody entered this job meanwhile"),
        "{}",
        reply.text()
    );
}

#[test]
fn what_is_wrong_is_said_at_its_field_and_nothing_typed_is_lost() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    for (field, value, says) in [
        ("symptom", "  ", "must not be empty"),
        ("came_in", "20.11.2026", "write a day as 2026-11-20"),
        ("went_out", "2026-11-19", "before it came in"),
        ("part-0-price", "12.505", "two places"),
        ("finding-0-measured", "0.1 kg", "kg"),
        ("rebuild_hours", "-3", "rebuild_hours"),
        ("unit", " ", "must not be empty"),
        ("unit", "TV-0312", "job 2 of TV-0312 is still open"),
        ("reason", &"x".repeat(4001), "shorten it to 4000 bytes"),
    ] {
        let changes = [("unit", "TV-0400"), (field, value)];
        let fields = example(folder.path(), &changes);
        let reply = post(&mut browser, &fields);
        assert_eq!(reply.status, 422, "{field} {value}\n{}", reply.text());
        let text = reply.text();
        let place = text
            .find(&format!("id=\"{field}-fault\""))
            .unwrap_or_else(|| panic!("{field}\n{text}"));
        let fault = text[place..].split("</p>").next().unwrap();
        assert!(fault.contains(says), "{field}: {fault}");
        assert!(text.contains("Everything typed is still here"));
        for (_, value) in fields.iter().filter(|(_, value)| !value.contains('\n')) {
            let shown = value.replace('&', "&#38;");
            assert!(
                text.contains(&shown) || value.trim().is_empty(),
                "{value} is lost\n{text}"
            );
        }
    }
    assert!(!done(folder.path(), &["units"]).contains("TV-0400"));
}

#[test]
fn more_rows_and_the_sum_cost_nothing_that_was_typed() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let press = |browser: &mut Browser, key: &str| {
        let changes = [
            ("unit", "TV-0400"),
            ("press", key),
            ("symptom", "half typed"),
        ];
        let reply = post(browser, &example(folder.path(), &changes));
        assert_eq!(reply.status, 200);
        reply.text()
    };
    let text = press(&mut browser, "finding");
    assert!(
        text.contains("finding-1-part")
            && text.contains("half typed")
            && !text.contains("class=\"fault\"")
    );
    let text = press(&mut browser, "part");
    assert!(text.contains("part-2-what"), "{text}");
    let text = press(&mut browser, "sum");
    assert!(text.contains("A rebuild costs 811.00 GBP less."), "{text}");
    assert!(!done(folder.path(), &["units"]).contains("TV-0400"));
}

/// The example with signs of a page in every field that takes words.
fn nasty_sheet(folder: &Path, nasty: &str, tag: &str) -> Vec<(String, String)> {
    let names = example(folder, &[]);
    let texts = [
        "unit",
        "description",
        "machine",
        "serial",
        "seal",
        "symptom",
        "outside_place",
        "by",
        "reason",
        "money",
        "finding-0-part",
        "finding-0-condition",
        "part-0-what",
        "torques",
    ];
    names
        .into_iter()
        .chain(["description", "machine", "serial", "seal"].map(|n| (n.into(), String::new())))
        .map(|(name, value)| match texts.contains(&name.as_str()) {
            true if name == "unit" => (name, tag.into()),
            true => (name, format!("a{nasty}")),
            false => (name, value),
        })
        .collect()
}

#[test]
fn signs_of_the_page_in_any_field_stay_text() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let nasty = "\"><script>alert(1)</script>'&{{ 7*7 }}";
    let tag = format!("TV{nasty}");
    let fields = nasty_sheet(folder.path(), nasty, &tag);
    let reply = post(&mut browser, &fields);
    assert_eq!(reply.status, 303, "{}", reply.text());
    let tag = crate::browser::encoded(&tag);
    let job = reply.header("location").to_owned();
    let token = browser.token(&format!("/unit?tag={tag}"));
    let name = "a.png\\\"><script>x";
    let reply = send_file(
        &mut browser,
        &token,
        ("TV\"><script>alert(1)</script>'&{{ 7*7 }}", name),
        b"\x89PNG\r\n\x1a\nx",
    );
    assert_eq!(reply.status, 303, "{}", reply.text());
    let words = crate::browser::encoded("<script>");
    for path in [
        "/".into(),
        "/units".into(),
        format!("/units?words={words}&from={words}&until={words}&after={words}"),
        format!("/unit?tag={tag}"),
        format!("/job/new?tag={tag}"),
        job,
        format!("/papers?words={words}"),
        format!("/paper?number={words}"),
        format!("/nowhere/{words}"),
    ] {
        let text = browser.get(&path).text();
        let scripts: Vec<&str> = text.matches("<script").collect();
        assert_eq!(scripts.len(), 1, "{path}\n{text}");
        assert!(
            text.contains("<script src=\"/look/") && !text.contains("alert(1)</script>"),
            "{path}"
        );
    }
    // An answer that says what was typed back.
    let token = browser.token("/job/new");
    let reply = browser.post(
        "/job",
        &[
            ("token", &token),
            ("symptom", nasty),
            ("came_in", nasty),
            ("do", nasty),
        ],
    );
    assert_eq!(reply.status, 422);
    assert_eq!(
        reply.text().matches("<script").count(),
        1,
        "{}",
        reply.text()
    );
}

/// Sends a file with the form of a story; a name may have quotes.
#[track_caller]
pub fn send_file(
    browser: &mut Browser,
    token: &str,
    (tag, name): (&str, &str),
    content: &[u8],
) -> crate::browser::Reply {
    let mut body = Vec::new();
    for (field, value) in [
        ("token", token),
        ("tag", tag),
        ("about", "the <gland>"),
        ("by", "fitter 2"),
    ] {
        body.extend(
            format!(
                "--edge\r\nContent-Disposition: form-data; name=\"{field}\"\r\n\r\n{value}\r\n"
            )
            .bytes(),
        );
    }
    body.extend(
        format!("--edge\r\nContent-Disposition: form-data; name=\"file\"; filename=\"{name}\"\r\nContent-Type: image/png\r\n\r\n").bytes(),
    );
    body.extend(content);
    body.extend(b"\r\n--edge--\r\n");
    browser.send(
        "POST",
        "/photo",
        "Content-Type: multipart/form-data; boundary=edge\r\n",
        &body,
    )
}
