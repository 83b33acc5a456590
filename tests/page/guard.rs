//! What the page refuses, and how it says so.

use crate::bench::own_shop;
use crate::browser::Browser;
use crate::browser::encoded;
use crate::browser::serve;

/// Every address that can be shown.
const SHEETS: &[&str] = &[
    "/",
    "/units",
    "/unit",
    "/unit?tag=TV-0312",
    "/job?number=1",
    "/job/new",
    "/papers",
    "/paper",
    "/sensors",
    "/shop",
    "/moving",
    "/pair",
    "/bench",
    "/bench/plan?piece=practice:tight-rebuild",
    "/bench/plan",
    "/bench/picture/account",
    "/sensors/calibrate",
];

/// Every address that something is sent to.
const DEEDS: &[&str] = &[
    "/job",
    "/photo",
    "/withdraw",
    "/copy",
    "/pair",
    "/bench/begin",
    "/bench/say",
];

#[test]
fn nothing_is_done_for_a_form_from_elsewhere_or_without_its_mark() {
    let folder = own_shop();
    let served = serve(folder.path(), &["--backup", "copy"]);
    for path in DEEDS {
        let mut browser = Browser::new(served.at);
        let token = browser.token("/job/new");
        let fields = [
            ("token", token.as_str()),
            ("number", "1"),
            ("by", "x"),
            ("reason", "x"),
        ];
        // The mark is that of this browser and this start.
        let mut other = Browser::new(served.at);
        let _ = other.token("/job/new");
        let reply = other.post(path, &fields);
        assert_eq!(reply.status, 403, "{path}");
        assert!(
            reply.text().contains("This form is from before"),
            "{}",
            reply.text()
        );
        for wrong in ["", "0", &token[1..], &"0".repeat(64), &token.to_uppercase()] {
            assert_eq!(
                browser.post(path, &[("token", wrong)]).status,
                403,
                "{path} {wrong}"
            );
        }
        assert_eq!(
            browser
                .send("POST", path, "Content-Type: text/plain\r\n", b"token=x")
                .status,
            415,
            "{path}"
        );
        assert_eq!(browser.send("POST", path, "", b"").status, 415, "{path}");
        for origin in [Some("http://elsewhere.example"), Some("null"), None] {
            browser.origin = origin.map(str::to_owned);
            let reply = browser.post(path, &fields);
            assert_eq!(reply.status, 403, "{path} {origin:?}");
            assert!(
                reply.text().contains("not sent from a page of this bench"),
                "{}",
                reply.text()
            );
        }
        browser.origin = Some(format!("http://{}", served.at));
        let more =
            "Content-Type: application/x-www-form-urlencoded\r\nSec-Fetch-Site: cross-site\r\n";
        assert_eq!(
            browser.send("POST", path, more, b"token=x").status,
            403,
            "{path}"
        );
        assert!(
            matches!(browser.get(path).status, 200 | 303 | 404 | 405),
            "{path}"
        );
    }
    assert!(!folder.path().join("copy").exists());
}

#[test]
fn a_form_that_is_too_large_is_refused_with_a_sentence() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let token = browser.token("/job/new");
    for (path, size) in [
        ("/withdraw", 20_000),
        ("/job", 1_100_000),
        ("/copy", 20_000),
    ] {
        let reply = browser.post(path, &[("token", &token), ("reason", &"x".repeat(size))]);
        assert_eq!(reply.status, 413, "{path}");
        assert!(
            reply.text().contains("This is too large"),
            "{}",
            reply.text()
        );
    }
    let part = "--edge\r\nContent-Disposition: form-data; name=\"about\"\r\n\r\n";
    let long = format!("{part}{}\r\n--edge--\r\n", "x".repeat(100_000));
    let more = "Content-Type: multipart/form-data; boundary=edge\r\n";
    assert_eq!(
        browser.send("POST", "/photo", more, long.as_bytes()).status,
        413
    );
    let many = vec![("a", "b"); 6_000];
    assert_eq!(browser.post("/job", &many).status, 400);
    let head = format!(
        "GET / HTTP/1.1\r\nHost: {}\r\nX: {}\r\n\r\n",
        served.at,
        "x".repeat(70_000)
    );
    assert_eq!(browser.raw(head.as_bytes()).status, 431);
}

#[test]
fn many_connections_that_say_nothing_do_not_stop_the_page_for_ever() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let silent: Vec<_> = (0..80)
        .map(|_| std::net::TcpStream::connect(served.at))
        .collect();
    assert!(silent.iter().all(Result::is_ok));
    // Those that wait are let in when the silent ones have had their time.
    let mut browser = Browser::new(served.at);
    assert!(browser.page("/units").contains("TV-0312"));
}

#[test]
fn a_request_to_another_address_is_refused() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    for host in [
        "elsewhere.example",
        "elsewhere.example:8377",
        "127.0.0.1:1",
        "",
        "127.0.0.1",
    ] {
        let mut browser = Browser::new(served.at);
        browser.host = host.into();
        let reply = browser.get("/");
        assert_eq!(reply.status, 421, "{host}");
        assert!(
            reply.text().contains("not the address of this bench"),
            "{}",
            reply.text()
        );
        assert!(!reply.text().contains("TV-0312"));
    }
    let twice = format!(
        "GET / HTTP/1.1\r\nHost: {0}\r\nHost: {0}\r\nConnection: close\r\n\r\n",
        served.at
    );
    assert!(Browser::new(served.at).raw(twice.as_bytes()).status >= 400);
    let absolute = format!(
        "GET http://elsewhere.example/ HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n",
        served.at
    );
    assert_eq!(Browser::new(served.at).raw(absolute.as_bytes()).status, 421);
}

#[test]
fn every_answer_forbids_what_the_page_does_not_use() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    for path in SHEETS.iter().chain(&["/nowhere", "/look/x.css"]) {
        let reply = browser.get(path);
        let policy = reply.header("content-security-policy");
        assert!(policy.starts_with("default-src 'none'"), "{path} {policy}");
        assert!(!policy.contains("unsafe"), "{path} {policy}");
        assert_eq!(reply.header("x-content-type-options"), "nosniff", "{path}");
        assert_eq!(reply.header("cache-control"), "no-store", "{path}");
        assert!(
            matches!(
                reply.header("referrer-policy"),
                "same-origin" | "no-referrer"
            ),
            "{path}"
        );
        let text = reply.text();
        assert!(
            !text.contains("style=") && !text.contains("<style") && !text.contains("onclick"),
            "{path}"
        );
        assert!(
            !text.contains("http://") && !text.contains("https://"),
            "{path}\n{text}"
        );
    }
    let text = browser.page("/");
    for name in ["css", "js", "svg"] {
        let address = text
            .split('"')
            .find(|part| part.starts_with("/look/") && part.ends_with(name));
        let reply = browser.get(address.expect(name));
        assert_eq!(reply.status, 200, "{name}");
        assert!(
            reply.header("cache-control").contains("immutable"),
            "{name}"
        );
    }
}

#[test]
fn a_path_that_leads_elsewhere_leads_nowhere() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    for wrong in [
        "../register.db",
        "..%2fregister.db",
        "%2e%2e/%2e%2e/etc/passwd",
        "....//register.db",
        "..\\register.db",
        "/etc/passwd",
        "register.db%00.css",
        "..%252fregister.db",
    ] {
        for path in ["/", "/look/", "/units/", "/unit/"] {
            let reply = browser.get(&format!("{path}{wrong}"));
            assert_eq!(reply.status, 404, "{path}{wrong}");
            assert!(!reply.text().contains("SQLite") && !reply.text().contains("root:"));
        }
        let reply = browser.get(&format!("/unit?tag={}", encoded(wrong)));
        assert_eq!(reply.status, 404, "{wrong}");
    }
    for wrong in ["/unit?tag=%", "/unit?tag=%ff", "/units?words=%zz"] {
        let reply = browser.get(wrong);
        assert_eq!(reply.status, 400, "{wrong}");
        assert!(reply.text().contains("cannot be read"), "{}", reply.text());
    }
}

#[test]
fn a_wrong_method_is_a_page_with_a_sentence() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    for method in ["POST", "PUT", "DELETE", "PATCH"] {
        let reply = browser.send(method, "/units", "", b"");
        assert_eq!(reply.status, 405, "{method}");
        assert!(
            reply.text().contains("does not take what was sent"),
            "{}",
            reply.text()
        );
    }
}

#[test]
fn a_browser_in_the_network_types_the_code_once() {
    let folder = own_shop();
    let served = serve(folder.path(), &["--lan"]);
    let code = served.code.clone().expect("a code");
    let mut browser = Browser::new(served.at);
    let reply = browser.get("/units");
    assert_eq!((reply.status, reply.header("location")), (303, "/pair"));
    let token = browser.token("/pair");
    // Without the mark of the form, from elsewhere, or with another code it does not count.
    assert_eq!(browser.post("/pair", &[("code", &code)]).status, 403);
    browser.origin = Some("http://elsewhere.example".into());
    assert_eq!(
        browser
            .post("/pair", &[("token", &token), ("code", &code)])
            .status,
        403
    );
    browser.origin = Some("null".into());
    assert_eq!(
        browser
            .post("/pair", &[("token", &token), ("code", &code)])
            .status,
        403
    );
    browser.origin = None;
    assert_eq!(
        browser
            .post("/pair", &[("token", &token), ("code", &code)])
            .status,
        403
    );
    browser.origin = Some(format!("http://{}", served.at));
    let reply = browser.post("/pair", &[("token", &token), ("code", "0000 000")]);
    assert_eq!(reply.status, 403);
    assert!(
        reply.text().contains("This is not the code"),
        "{}",
        reply.text()
    );
    assert_eq!(browser.get("/units").status, 303);
    let bare = code.replace(' ', "");
    let reply = browser.post("/pair", &[("token", &token), ("code", &bare)]);
    assert_eq!(reply.status, 303, "{}", reply.text());
    assert!(browser.page("/units").contains("TV-0312"));
    // Another start has another code and knows the browser.
    assert_eq!(served.end(), Some(0));
    let served = serve(folder.path(), &["--lan"]);
    let mut again = Browser::new(served.at);
    again.cookies.clone_from(&browser.cookies);
    assert!(again.page("/units").contains("TV-0312"));
    // A cookie that is not the program's is none.
    for cookie in &mut again.cookies {
        cookie.1 = cookie.1.replace(['0', '1', '2', '3'], "4");
    }
    assert_eq!(again.get("/units").status, 303);
}

#[test]
fn codes_cannot_be_tried_out() {
    let folder = own_shop();
    let served = serve(folder.path(), &["--lan"]);
    let mut browser = Browser::new(served.at);
    let token = browser.token("/pair");
    for _ in 0..5 {
        assert_eq!(
            browser
                .post("/pair", &[("token", &token), ("code", "1")])
                .status,
            403
        );
    }
    let code = served.code.clone().expect("a code");
    let reply = browser.post("/pair", &[("token", &token), ("code", &code)]);
    assert_eq!((reply.status, reply.header("retry-after")), (429, "60"));
    assert_eq!(browser.get("/units").status, 303);
}
