//! A photo of a tag or a paper leads to what its code names, or says what helps.

use crate::bench::numbers;
use crate::bench::own_shop;
use crate::browser::Browser;
use crate::browser::Reply;
use crate::browser::serve;
use qrcode::EcLevel;
use qrcode::QrCode;
use std::path::Path;

fn photo(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/tag_photos");
    std::fs::read(folder.join(name)).unwrap()
}

/// A picture of a code that says this, as a screen shows it.
fn picture_of(text: &str) -> Vec<u8> {
    let code = QrCode::with_error_correction_level(text, EcLevel::H).unwrap();
    let (n, scale, quiet) = (code.width(), 6, 4);
    let side = (n + 2 * quiet) * scale;
    let dark = code.to_colors();
    let pixel = |at: usize| {
        let place = |at: usize| (at / scale).checked_sub(quiet).filter(|at| *at < n);
        match (place(at % side), place(at / side)) {
            (Some(x), Some(y)) if dark[y * n + x] == qrcode::Color::Dark => 0,
            _ => 255,
        }
    };
    let pixels: Vec<u8> = (0..side * side).map(pixel).collect();
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, side as u32, side as u32);
    encoder.set_color(png::ColorType::Grayscale);
    let mut writer = encoder.write_header().unwrap();
    writer.write_image_data(&pixels).unwrap();
    drop(writer);
    bytes
}

/// Sends a photo as the form does.
fn send(browser: &mut Browser, token: &str, bytes: &[u8]) -> Reply {
    let head = format!(
        "--limit\r\nContent-Disposition: form-data; name=\"token\"\r\n\r\n{token}\r\n--limit\r\n\
         Content-Disposition: form-data; name=\"photo\"; filename=\"tag.jpg\"\r\n\
         Content-Type: image/jpeg\r\n\r\n"
    );
    let body = [head.as_bytes(), bytes, b"\r\n--limit--\r\n"].concat();
    let kind = "Content-Type: multipart/form-data; boundary=limit\r\n";
    browser.send("POST", "/tag", kind, &body)
}

#[track_caller]
fn leads_to(browser: &mut Browser, token: &str, bytes: &[u8], address: &str) {
    let reply = send(browser, token, bytes);
    assert_eq!(
        (reply.status, reply.header("location")),
        (303, address),
        "{}",
        reply.text()
    );
    browser.page(address);
}

#[track_caller]
fn says(browser: &mut Browser, token: &str, bytes: &[u8], sentence: &str) -> String {
    let reply = send(browser, token, bytes);
    assert_eq!(reply.status, 422, "{}", reply.text());
    let text = reply.text();
    assert!(text.contains(sentence), "{sentence}\n{text}");
    // The next photo can be taken from here.
    assert!(text.contains("name=\"photo\""), "{text}");
    text
}

#[test]
fn a_photo_of_a_label_leads_to_the_story_of_its_unit() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    for sheet in ["/", "/units", "/tag"] {
        let text = browser.page(sheet);
        assert!(
            text.contains("accept=\"image/*\" capture=\"environment\"")
                && text.contains("action=\"/tag\""),
            "{sheet}\n{text}"
        );
    }
    let token = browser.token("/tag");
    let story = "/unit?tag=TV-0312";
    leads_to(&mut browser, &token, &photo("from-the-side.jpg"), story);
    leads_to(&mut browser, &token, &picture_of("TV-0312"), story);
    // Another code in the same photo is no hindrance.
    leads_to(&mut browser, &token, &photo("two-codes.jpg"), story);
}

#[test]
fn a_photo_of_a_paper_leads_to_it_if_it_is_the_paper_of_the_register() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let token = browser.token("/tag");
    let number = &numbers()[0];
    let address = format!("/paper?number={number}");
    let record = folder
        .path()
        .join(format!("stillrod-data/papers/{number}.json"));
    let record: serde_json::Value =
        serde_json::from_slice(&std::fs::read(record).unwrap()).unwrap();
    let outcome = record["outcome"].as_str().unwrap();
    let text = browser.page(&address);
    let words = text.split(|c: char| !c.is_ascii_hexdigit());
    let sha256 = words.into_iter().find(|word| word.len() == 64).unwrap();
    let code = |number: &str, outcome: &str, sha256: &str| {
        picture_of(&format!(
            "certificate {number}\noutcome {outcome}\nsha256 {sha256}"
        ))
    };
    leads_to(
        &mut browser,
        &token,
        &code(number, outcome, sha256),
        &address,
    );
    let other_outcome = if outcome == "pass" { "fail" } else { "pass" };
    for changed in [
        code(number, other_outcome, sha256),
        code(number, outcome, &"0".repeat(64)),
    ] {
        let text = says(
            &mut browser,
            &token,
            &changed,
            "another outcome or another recording",
        );
        assert!(text.contains(&format!("href=\"{address}\"")), "{text}");
    }
    let unknown = code("TV-1999-0001", outcome, sha256);
    says(
        &mut browser,
        &token,
        &unknown,
        "This shop has no such paper",
    );
    let run = picture_of(&format!("run nowhere\noutcome pass\nsha256 {sha256}"));
    says(&mut browser, &token, &run, "paper nowhere");
}

#[test]
fn an_unknown_tag_is_said_and_leads_to_a_new_job() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let token = browser.token("/tag");
    let text = says(
        &mut browser,
        &token,
        &picture_of("TV-0999"),
        "The code says TV-0999.",
    );
    assert!(text.contains("href=\"/job/new?tag=TV-0999\""), "{text}");
    let text = browser.page("/job/new?tag=TV-0999");
    assert!(text.contains("value=\"TV-0999\""), "{text}");
    // Nothing of a code becomes part of the page.
    let hostile = "<script>alert(1)</script>\"&x";
    let text = says(
        &mut browser,
        &token,
        &picture_of(hostile),
        "No unit has this tag.",
    );
    assert!(!text.contains("<script>alert"), "{text}");
    let long = "long ".repeat(60);
    let text = says(
        &mut browser,
        &token,
        &picture_of(&long),
        "neither a tag nor a paper",
    );
    assert!(!text.contains(&long) && text.contains('…'), "{text}");
    says(
        &mut browser,
        &token,
        &picture_of("https://depot.example/7"),
        "neither a tag nor a paper",
    );
}

#[test]
fn a_photo_without_a_code_and_what_is_no_photo_are_said_to_be() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let token = browser.token("/tag");
    let cut = photo("palette.png");
    for (bytes, sentence) in [
        (photo("no-code.jpg"), "No code was found"),
        (photo("animation.gif"), "neither JPEG nor PNG"),
        (b"<svg/>".to_vec(), "neither JPEG nor PNG"),
        (cut[..cut.len() / 2].to_vec(), "The photo is damaged"),
        (Vec::new(), "No photo was sent"),
    ] {
        says(&mut browser, &token, &bytes, sentence);
    }
    let mut large = b"\xff\xd8\xff".to_vec();
    large.resize(20 * 1024 * 1024 + 1, 0);
    says(&mut browser, &token, &large, "Up to 20 MB");
    large.resize(22 * 1024 * 1024, 0);
    assert_eq!(send(&mut browser, &token, &large).status, 413);
    // Without the mark nothing is looked at; and the page is still there.
    assert_eq!(
        send(&mut browser, &"0".repeat(64), &photo("straight.jpg")).status,
        403
    );
    assert_eq!(served.end(), Some(0));
}
