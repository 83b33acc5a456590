//! The commands as people type them: what they print, and their exit status.

use crate::shop;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::Command;

/// Runs the program; exit status, what it printed, and what it complained of.
fn run(arguments: &[&str]) -> (Option<i32>, String, String) {
    let done = Command::new(env!("CARGO_BIN_EXE_stillrod"))
        .args(arguments)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (done.status.code(), text(done.stdout), text(done.stderr))
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn the_exit_status_is_that_of_the_worst_file() {
    let folder = tempfile::tempdir().unwrap();
    let list = shop::data().join("keys/public-keys.txt");
    let (paper, record) = (shop::paper(1, "pdf"), shop::paper(1, "json"));
    let changed = folder.path().join("changed.json");
    let other = std::fs::read_to_string(&record).unwrap();
    std::fs::write(&changed, other.replacen("\"pass\"", "\"fail\"", 1)).unwrap();
    let missing = folder.path().join("missing.pdf");
    let key = ["verify", "--key", text(&list)];
    for (files, status) in [
        (vec![text(&paper), text(&record)], 0),
        (vec![text(&changed), text(&paper)], 10),
        (vec![text(&paper), text(&missing)], 1),
        (vec![text(&changed), text(&missing)], 10),
    ] {
        let (found, said, _) = run(&[&key[..], &files[..]].concat());
        assert_eq!(found, Some(status), "{said}");
        assert!(files.iter().all(|file| said.contains(file)), "{said}");
    }
    // No list at hand.
    let data = text(folder.path());
    let (found, said, _) = run(&["verify", "--data", data, text(&paper)]);
    assert_eq!(found, Some(20), "{said}");
    let (found, _, complaint) = run(&["verify", "--key", text(&missing), text(&paper)]);
    assert_eq!(found, Some(1), "{complaint}");
}

#[test]
fn the_head_that_is_printed_is_the_one_that_is_checked() {
    let register = shop::data().join("register.db");
    let (status, line, _) = run(&["verify", "--head", text(&register)]);
    assert_eq!(status, Some(0));
    let (number, hash) = line.trim().split_once(' ').unwrap();
    let data = ["--data", text(shop::data()), text(&register)];
    let kept = ["verify", "--head-was", number, hash];
    let (status, said, _) = run(&[&kept[..], &data[..]].concat());
    assert_eq!(status, Some(0), "{said}");
    let kept = ["verify", "--head-was", "PRACTICE-TV-2026-0099", hash];
    let (status, said, _) = run(&[&kept[..], &data[..]].concat());
    assert_eq!(status, Some(10), "{said}");
}

#[test]
fn a_key_is_shown_replaced_and_refused_when_others_can_read_it() {
    let folder = tempfile::tempdir().unwrap();
    let data = text(folder.path());
    let (status, first, _) = run(&["key", "--data", data]);
    assert_eq!(status, Some(0));
    let (_, again, _) = run(&["key", "--data", data]);
    assert_eq!(again, first);
    let (status, second, _) = run(&["key", "--data", data, "--replace"]);
    assert_eq!(status, Some(0));
    assert_ne!(second.lines().next(), first.lines().next());
    let list = std::fs::read_to_string(folder.path().join("keys/public-keys.txt")).unwrap();
    let public = |said: &str| said.lines().next().unwrap()["Public key  ".len()..].to_owned();
    let at = |said: &str| list.find(&public(said)).unwrap();
    assert!(at(&first) < at(&second), "{list}");
    let secret = folder.path().join("keys/signing-key");
    std::fs::set_permissions(&secret, std::fs::Permissions::from_mode(0o644)).unwrap();
    for command in [vec!["key"], vec!["rehearse", "tight-rebuild"]] {
        let (status, _, complaint) = run(&[&command[..], &["--data", data]].concat());
        assert_eq!(status, Some(1), "{complaint}");
        assert!(complaint.contains("chmod 600"), "{complaint}");
    }
    // Nothing was recorded or entered meanwhile.
    let recordings = std::fs::read_dir(folder.path().join("recordings")).unwrap();
    assert_eq!(recordings.count(), 0);
}

#[test]
fn papers_of_a_key_that_was_replaced_are_still_known() {
    let folder = tempfile::tempdir().unwrap();
    let data = text(folder.path());
    for scenario in ["tight-rebuild", "cap-plug-leak"] {
        let (_, said, complaint) = run(&["rehearse", scenario, "--data", data]);
        assert!(said.contains("Paper "), "{complaint}");
        run(&["key", "--data", data, "--replace"]);
    }
    let mut files = vec![folder.path().join("register.db")];
    for below in ["papers", "recordings"] {
        let entries = std::fs::read_dir(folder.path().join(below)).unwrap();
        files.extend(entries.map(|entry| entry.unwrap().path()));
    }
    assert_eq!(files.len(), 7);
    let files: Vec<&str> = files.iter().map(|path| text(path)).collect();
    let (status, said, _) = run(&[&["verify", "--data", data][..], &files[..]].concat());
    assert_eq!(status, Some(0), "{said}");
    // The register's chain goes on over the change of keys.
    let of_register = said
        .split(text(&folder.path().join("papers")))
        .next()
        .unwrap();
    assert_eq!(of_register.matches("key: ").count(), 2, "{said}");
}
