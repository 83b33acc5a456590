//! Photos, papers, withdrawing, copies: done from the page, seen by the program.

use crate::bench::done;
use crate::bench::numbers;
use crate::bench::own_shop;
use crate::browser::Browser;
use crate::browser::encoded;
use crate::browser::serve;
use crate::sheets_typed::send_file;

const PNG: &[u8] = b"\x89PNG\r\n\x1a\n and more";

#[test]
fn a_photo_is_kept_for_what_it_is() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let token = browser.token("/unit?tag=TV-0312");
    let reply = send_file(&mut browser, &token, ("TV-0312", "../../gland.exe"), PNG);
    assert_eq!(reply.status, 303, "{}", reply.text());
    let text = browser.page("/unit?tag=TV-0312");
    let address = text
        .split("<img src=\"")
        .last()
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    let address = address.replace("&#38;", "&");
    let reply = browser.get(&address);
    assert_eq!(
        (reply.status, reply.header("content-type")),
        (200, "image/png")
    );
    assert_eq!(reply.body, PNG);
    assert_eq!(reply.header("x-content-type-options"), "nosniff");
    // The hash alone, for another unit or another hash, opens nothing.
    let sha256 = address.split("sha256=").nth(1).unwrap();
    assert_eq!(
        browser
            .get(&format!("/file?tag=TV-0313&sha256={sha256}"))
            .status,
        404
    );
    for wrong in ["", "0", "../register.db", "%2e%2e%2fregister.db"] {
        let path = format!("/file?tag=TV-0312&sha256={wrong}");
        assert_eq!(browser.get(&path).status, 404, "{wrong}");
    }
    let told = done(folder.path(), &["history", "TV-0312"]);
    assert!(
        told.contains("the <gland>") && told.contains(".png)"),
        "{told}"
    );
    assert_eq!(
        std::fs::read_dir(folder.path().join("stillrod-data/files"))
            .unwrap()
            .count(),
        1
    );
}

#[test]
fn what_is_no_photo_is_not_kept() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let token = browser.token("/unit?tag=TV-0312");
    // Whatever it is called.
    for wrong in [
        &b"<svg xmlns='http://www.w3.org/2000/svg'/>"[..],
        b"<html>",
        b"MZ",
        b"",
    ] {
        let reply = send_file(&mut browser, &token, ("TV-0312", "photo.png"), wrong);
        assert_eq!(reply.status, 400);
        assert!(
            reply.text().contains("no JPEG, PNG or PDF"),
            "{}",
            reply.text()
        );
    }
    let reply = send_file(&mut browser, &token, ("TV-9999", "photo.png"), PNG);
    assert_eq!(reply.status, 400);
    assert!(
        reply.text().contains("there is no unit of this tag"),
        "{}",
        reply.text()
    );
    let large = [PNG, &vec![0; 22 * 1024 * 1024]].concat();
    let reply = send_file(&mut browser, &token, ("TV-0312", "photo.png"), &large);
    assert_eq!(reply.status, 413);
    assert!(reply.text().contains("too large"), "{}", reply.text());
    let reply = send_file(&mut browser, &"0".repeat(64), ("TV-0312", "photo.png"), PNG);
    assert_eq!(reply.status, 403);
}

#[test]
fn a_paper_has_its_files_by_its_number_alone() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let number = &numbers()[1];
    let text = browser.page("/papers");
    assert!(
        numbers().iter().all(|number| text.contains(number)),
        "{text}"
    );
    let text = browser.page(&format!("/paper?number={number}"));
    assert!(
        text.contains("signed when it was entered") && text.contains("Pass"),
        "{text}"
    );
    let data = folder.path().join("stillrod-data");
    let same = |which: &str, browser: &mut Browser| {
        browser.get(&format!("/paper/{which}?number={number}"))
    };
    let reply = same("pdf", &mut browser);
    let paper = std::fs::read(data.join(format!("papers/{number}.pdf"))).unwrap();
    assert_eq!(
        (reply.status, reply.header("content-type")),
        (200, "application/pdf")
    );
    assert_eq!(
        reply.header("content-disposition"),
        format!("attachment; filename=\"{number}.pdf\"")
    );
    assert!(reply.body == paper);
    let record = same("record", &mut browser);
    assert!(
        record
            .text()
            .contains(&format!("\"certificate_number\": \"{number}\""))
    );
    let recording = same("recording", &mut browser);
    let kept = std::fs::read_dir(data.join("recordings")).unwrap();
    let mut kept = kept.map(|entry| std::fs::read(entry.unwrap().path()).unwrap());
    assert!(kept.any(|bytes| bytes == recording.body));
    assert_eq!(
        recording.header("content-length"),
        recording.body.len().to_string()
    );
    let label = browser.get("/label?tag=TV-0312");
    assert!(label.body.starts_with(b"%PDF-"));
    for wrong in [
        "../register.db",
        "..%2F..%2Fetc%2Fpasswd",
        "",
        "TV-0312",
        &encoded("../keys/signing-key"),
    ] {
        for which in ["pdf", "record", "recording", "..%2f..", "signing-key"] {
            let reply = browser.get(&format!("/paper/{which}?number={wrong}"));
            assert_eq!(reply.status, 404, "{which} {wrong}");
        }
    }
    // A file that is gone is a sentence.
    std::fs::remove_file(data.join(format!("papers/{number}.pdf"))).unwrap();
    let reply = same("pdf", &mut browser);
    assert_eq!(reply.status, 404);
    assert!(
        reply.text().contains("is not where it should be"),
        "{}",
        reply.text()
    );
}

#[test]
fn a_paper_is_withdrawn_with_role_and_reason() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let number = &numbers()[0];
    let address = format!("/paper?number={number}");
    let token = browser.token(&address);
    let reply = browser.post(
        "/withdraw",
        &[
            ("token", &token),
            ("number", number),
            ("by", " "),
            ("reason", "wrong cylinder"),
        ],
    );
    assert_eq!(reply.status, 422, "{}", reply.text());
    let text = reply.text();
    assert!(
        text.contains("id=\"by-fault\"") && text.contains("value=\"wrong cylinder\""),
        "{text}"
    );
    assert_eq!(
        browser
            .post(
                "/withdraw",
                &[("number", number), ("by", "fitter 2"), ("reason", "x")]
            )
            .status,
        403
    );
    assert!(!browser.page(&address).contains("It no longer counts"));
    let fields = [
        ("token", token.as_str()),
        ("number", number),
        ("by", "fitter 2"),
        ("reason", "wrong cylinder"),
    ];
    assert_eq!(browser.post("/withdraw", &fields).status, 303);
    let text = browser.page(&address);
    assert!(
        text.contains("It no longer counts") && text.contains("wrong cylinder"),
        "{text}"
    );
    assert!(!text.contains("action=\"/withdraw\""), "{text}");
    let found = done(folder.path(), &["find", number]);
    assert!(found.contains("WITHDRAWN: wrong cylinder"), "{found}");
    let again = browser.post("/withdraw", &fields);
    assert_eq!(again.status, 422);
    let fields = [
        ("token", token.as_str()),
        ("number", "TV-1"),
        ("by", "fitter 2"),
        ("reason", "x"),
    ];
    assert_eq!(browser.post("/withdraw", &fields).status, 404);
}

#[test]
fn a_copy_is_made_beside_the_page() {
    let folder = own_shop();
    let served = serve(folder.path(), &["--backup", "copy"]);
    let mut browser = Browser::new(served.at);
    let token = browser.token("/moving");
    assert_eq!(browser.post("/copy", &[]).status, 403);
    assert_eq!(browser.post("/copy", &[("token", &token)]).status, 303);
    let mut text = String::new();
    for _ in 0..600 {
        text = browser.page("/moving");
        if !text.contains("is being made since") {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    assert!(text.contains("Copied and checked"), "{text}");
    assert!(folder.path().join("copy/register.db").exists());
    assert!(!folder.path().join("copy/keys/signing-key").exists());
    drop(served);
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    assert!(browser.page("/moving").contains("nowhere yet"));
    let token = browser.token("/job/new");
    assert_eq!(browser.post("/copy", &[("token", &token)]).status, 400);
}

#[test]
fn sensors_and_shop_are_shown_as_they_are_known() {
    let folder = own_shop();
    let shop = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/src/rehearsal/year/tarn-valley-year.toml"
    );
    let served = serve(folder.path(), &["--shop", shop]);
    let mut browser = Browser::new(served.at);
    let text = browser.page("/shop");
    for part in [
        "Tarn Valley road depot",
        "Decision rule:",
        "source",
        "mL/min",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    let text = browser.page("/sensors");
    assert!(
        text.contains("practice bench") && text.contains("used with it since"),
        "{text}"
    );
}
