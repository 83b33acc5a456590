//! The check of the architecture checked itself: planted violations must be found,
//! and what is allowed must not be.

use super::check;
use super::dependencies;

/// Findings for one planted file, the header line left out of the count.
#[track_caller]
fn finds(file: &str, body: &str, expected: &[&str]) {
    assert_eq!(
        check(file, &format!("//! Header.\n{body}")),
        expected,
        "{file}: {body}"
    );
}

#[test]
fn a_room_that_names_one_it_may_not_know_is_found() {
    finds(
        "src/recording/mod.rs",
        "\nuse crate::verdict::Verdict;\n",
        &["src/recording/mod.rs:3: `recording` may not know `verdict`"],
    );
    finds(
        "src/oil.rs",
        "fn a() -> crate::circuit::Circuit {}",
        &["src/oil.rs:2: `oil` may not know `circuit`"],
    );
    finds(
        "src/main.rs",
        "use stillrod::account::Figure;\nuse stillrod::daemon::run;",
        &["src/main.rs:2: `main` may not know `account`"],
    );
    finds(
        "src/archive/write.rs",
        "#[cfg(test)]\nmod tests {\n    use crate::account::Figure;\n}",
        &["src/archive/write.rs:4: `archive` may not know `account`"],
    );
}

#[test]
fn what_a_room_may_know_is_not_found() {
    finds(
        "src/verdict/mod.rs",
        "use crate::account::Figure;\nuse crate::verdict::Limit;",
        &[],
    );
    finds(
        "src/oil.rs",
        "//! See [`crate::verdict`].\n/// `crate::verdict`\n// crate::verdict",
        &[],
    );
    finds("src/oil.rs", "let a = 1; // as crate::verdict does", &[]);
    finds(
        "src/oil.rs",
        "pub(crate) fn a() {}\nlet b = my_crate::verdict::c;",
        &[],
    );
    finds("src/settings/mod.rs", "use crate::account::Subject;", &[]);
}

#[test]
fn ways_around_the_table_are_found() {
    finds(
        "src/oil.rs",
        "use crate::{verdict, quantity};",
        &["src/oil.rs:2: names several rooms in one line; write one `use` for each"],
    );
    for line in [
        "use super::verdict::Limit;",
        "pub use super::verdict::Limit;",
    ] {
        for file in ["src/oil.rs", "src/fit/mod.rs"] {
            let finding = format!("{file}:2: `super` leaves the room; write `crate::room`");
            finds(file, line, &[&finding]);
        }
    }
    finds(
        "src/fit/least.rs",
        "use super::super::verdict::Limit;",
        &["src/fit/least.rs:2: `super` leaves the room; write `crate::room`"],
    );
    finds("src/fit/least.rs", "use super::Limit;", &[]);
    finds("src/fit/shape/mod.rs", "use super::Limit;", &[]);
    finds(
        "src/oil.rs",
        "#[cfg(test)]\nmod tests {\n    use super::*;\n}",
        &[],
    );
    finds(
        "src/settings/mod.rs",
        "use crate::account::Evaluation;",
        &["src/settings/mod.rs:2: `settings` may not know `account::Evaluation`"],
    );
    finds(
        "src/oil.rs",
        "use crate::cupboard::Spoon;",
        &["src/oil.rs:2: `cupboard` is no room; the rooms are in tests/architecture.rs"],
    );
}

#[test]
fn a_file_outside_the_table_or_without_a_header_is_found() {
    for (file, room) in [
        ("src/cupboard.rs", "cupboard"),
        ("src/cupboard/notes.txt", "cupboard"),
        ("src/bin/other.rs", "bin"),
    ] {
        let finding =
            format!("{file}:1: `{room}` is no room; the rooms are in tests/architecture.rs");
        finds(file, "", &[&finding]);
    }
    assert_eq!(
        check("src/oil.rs", "use std::fmt;\n"),
        ["src/oil.rs:1: begins without `//!`"]
    );
    assert_eq!(
        check("src/register/migrations/0001.sql", "-- Tables."),
        [""; 0]
    );
}

#[test]
fn an_outside_crate_in_a_wrong_room_is_found() {
    for line in [
        "use sqlx::Row;",
        "use sqlx::Row as _;",
        "use sqlx;",
        "extern crate sqlx;",
        "fn a(b: sqlx::Error) {}",
        "fn a(b: &::sqlx::Error) {}",
        "#[derive(sqlx::FromRow)]",
    ] {
        finds(
            "src/daemon.rs",
            line,
            &["src/daemon.rs:2: `daemon` may not name the crate `sqlx`"],
        );
        finds("src/register/rows.rs", line, &[]);
    }
    finds(
        "src/import/mod.rs",
        "use crate::import::toml::a;\nlet b = my_sqlx::c;",
        &[],
    );
    finds("src/oil.rs", "use thiserror::Error;", &[]);
}

#[test]
fn a_test_may_name_a_crate_for_test_data_but_no_other() {
    let test =
        |line: &str| format!("#[cfg(test)]\n#[rustfmt::skip]\nmod tests {{\n    {line}\n}}\n");
    finds("src/fit/mod.rs", &test("use serde_json::Value;"), &[]);
    finds("src/fit/tests.rs", "use serde_json::Value;", &[]);
    finds(
        "src/fit/mod.rs",
        &test("use sqlx::Row;"),
        &["src/fit/mod.rs:5: `fit` may not name the crate `sqlx`"],
    );
    finds(
        "src/fit/mod.rs",
        &(test("use std::fmt;") + "use serde_json::Value;"),
        &["src/fit/mod.rs:7: `fit` may not name the crate `serde_json`"],
    );
    finds(
        "src/fit/mod.rs",
        "#[cfg(test)]\nmod tests;\nuse serde_json::Value;",
        &["src/fit/mod.rs:4: `fit` may not name the crate `serde_json`"],
    );
}

#[test]
fn a_clock_a_file_or_a_print_in_a_pure_room_is_found() {
    for (line, name) in [
        ("let text = std::fs::read(path);", "std::fs"),
        ("use std::time::Instant;", "Instant"),
        ("let now = SystemTime::now();", "SystemTime"),
        ("    println!(\"{x}\");", "println!"),
        ("    eprintln!(\"{x}\");", "eprintln!"),
        ("use std::thread;", "std::thread"),
        ("use std::net::TcpStream;", "std::net"),
    ] {
        let body = format!("{line}\n#[cfg(test)]\nmod tests {{\n    {line}\n}}\n");
        finds(
            "src/account/mod.rs",
            &body,
            &[&format!(
                "src/account/mod.rs:2: `account` is pure and may not name `{name}`"
            )],
        );
        finds(
            "src/certificate/compose.rs",
            &body,
            &[&format!(
                "src/certificate/compose.rs:2: `certificate` is pure and may not name `{name}`"
            )],
        );
        finds("src/certificate/pdf.rs", &body, &[]);
        finds("src/daemon.rs", &body, &[]);
    }
    finds("src/account/mod.rs", "let a = Instantaneous::new();", &[]);
}

#[test]
fn dependencies_are_read_as_they_are_named_in_code() {
    let manifest = "[package]\nname = \"a\"\n[dependencies]\ntokio-serial = \"5\"\nb.workspace = true\n\
                    hdf5 = { package = \"other\" }\n[dev-dependencies]\nc = \"1\"\n[features]\nd = []\n";
    assert_eq!(dependencies(manifest), ["tokio_serial", "b", "hdf5"]);
}
