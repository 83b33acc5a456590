//! The architecture as a test: which room may know which, which outside crate is
//! named where, and which rooms touch nothing outside.
//!
//! The tables below are the architecture; changing one is a review of its own. Files
//! are read line by line as text, the way rustfmt leaves them; comments do not count.
//! A room of the table may be missing, a file outside the table may not exist.

use std::fs;
use std::path::Path;

#[path = "architecture/planted.rs"]
mod planted;

/// Each room of `src/` and the rooms it may name, in reading order.
const MAY_KNOW: &[(&str, &str)] = &[
    ("quantity", ""),
    ("cylinder", "quantity"),
    ("oil", "quantity"),
    ("circuit", "quantity cylinder"),
    ("fit", ""),
    ("procedure", "quantity cylinder oil circuit"),
    ("channel", "quantity fit"),
    ("recording", "quantity channel"),
    (
        "account",
        "quantity fit cylinder oil circuit procedure channel recording",
    ),
    (
        "health",
        "quantity fit channel circuit cylinder procedure recording",
    ),
    // The decision rule needs the normal distribution.
    ("verdict", "quantity procedure health account fit"),
    // A hold on paper is judged by the code that judges real ones; how many of them pass needs the
    // normal distribution.
    (
        "foresight",
        "quantity fit cylinder oil circuit procedure channel account verdict",
    ),
    (
        "bench",
        "quantity cylinder oil circuit fit procedure channel recording account health verdict",
    ),
    // Rows in bench time, gaps and loss are what a recording is made of.
    ("link", "channel recording"),
    // Statements of what other rooms hold; it sees hashes and texts, never their things.
    ("signature", ""),
    // The channel's calibration is part of the recording that is stored.
    ("archive", "quantity channel recording signature"),
    // A table has no phases; the hold plan says where they are.
    ("import", "quantity channel procedure recording"),
    ("register", "quantity cylinder verdict signature"),
    // Tables of what the register and its records hold.
    ("exchange", "cylinder register certificate"),
    (
        "settings",
        "quantity cylinder oil circuit procedure channel account verdict recording register",
    ),
    // A track of a recording is found by its channel's role; a port belongs to a chamber.
    (
        "chart",
        "quantity cylinder circuit procedure channel recording account verdict",
    ),
    (
        "certificate",
        "quantity cylinder circuit procedure channel recording account health verdict chart signature",
    ),
    ("rehearsal", "quantity cylinder oil circuit"),
    // Codes in a photo; what they mean is the shell's business.
    ("tag_photo", ""),
    // It shows plain values of its own; marks of forms and names of files are hashes.
    ("page", "signature"),
    (
        "daemon",
        "quantity cylinder oil circuit fit procedure channel recording account health verdict \
         foresight bench link signature archive import register settings chart certificate \
         rehearsal exchange page tag_photo",
    ),
    // Bodies of commands of the program, for `main` alone.
    ("commands", "daemon register settings"),
    ("main", "daemon commands"),
    ("lib", ""),
];

/// Where a room may name only some items of another: `settings` fills what is known
/// of the piece and the names of figures, and never sees a result.
const ONLY_THESE: &[(&str, &str, &[&str])] = &[
    (
        "settings",
        "account",
        &["Subject", "Fluid", "Stated", "FigureName"],
    ),
    ("foresight", "fit", &["normal_cdf"]),
    ("page", "signature", &["Digest", "Hasher"]),
    // A job sheet is filled in; what the register holds is not looked at.
    (
        "settings",
        "register",
        &[
            "Decision",
            "Finding",
            "Build",
            "Hundredths",
            "JobState",
            "PartUsed",
            "Rates",
            "Rebuilding",
            "Replacing",
            "Unit",
        ],
    ),
];

/// Each outside crate and the rooms that may name it; `*` is all. Every dependency is here.
const CRATES: &[(&str, &str)] = &[
    ("anyhow", "daemon main commands"),
    ("askama", "page"),
    ("axum", "page"),
    // A logo that is a picture travels with its shop file as text.
    ("base64", "settings"),
    ("clap", "main commands"),
    ("clarabel", "fit"),
    ("crc", "recording archive"),
    ("csv", "import exchange"),
    ("differential_equations", "rehearsal"),
    // Signatures and their hashes are made in one place; chance comes in from the shell.
    ("ed25519_dalek", "signature"),
    ("firmware_protocol", "channel link rehearsal daemon"),
    ("getrandom", "daemon"),
    ("hdf5", "archive"),
    // Connections are counted and timed, which the layer above does not do.
    ("hyper", "page"),
    ("hyper_util", "page"),
    ("indicatif", "daemon"),
    // The archive writes its start as a calendar date, as the standard for such files asks.
    (
        "jiff",
        "settings archive daemon certificate signature exchange",
    ),
    ("krilla", "certificate"),
    ("krilla_svg", "certificate"),
    ("nalgebra", "fit"),
    ("notosans", "certificate"),
    ("plotters", "chart"),
    // The decoders that the typesetter brings along.
    ("png", "tag_photo"),
    ("qrcode", "certificate"),
    ("rand", "rehearsal"),
    // Both draw from a seed: the practice bench its noise, the Monte Carlo method its inputs.
    ("rand_chacha", "fit rehearsal"),
    ("rand_distr", "rehearsal"),
    ("ringbuf", "link recording"),
    ("rqrr", "tag_photo"),
    ("rustix", "rehearsal daemon link"),
    ("rustybuzz", "certificate"),
    (
        "serde",
        "settings certificate recording archive signature exchange",
    ),
    (
        "serde_json",
        "settings certificate recording archive signature exchange",
    ),
    ("serialport", "link"),
    ("sha2", "signature"),
    ("sqlx", "register"),
    ("statrs", "fit"),
    ("thiserror", "*"),
    ("tokio", "daemon link register page main commands"),
    ("tokio_serial", "link"),
    // The body of an event stream.
    ("tokio_stream", "page"),
    ("toml", "settings"),
    // Its macros must be in scope at the crate's root.
    ("uom", "quantity lib"),
    ("usvg", "certificate"),
    ("zune_jpeg", "tag_photo"),
];

/// What any test may name: it makes or reads test data and is in no program.
const ANY_TEST_MAY_NAME: &str = "\
    csv rand rand_chacha rand_distr rqrr rustix serde_json tempfile tokio";

/// Rooms that touch nothing outside: no clock, file, port, thread, log.
const PURE: &str = "\
    quantity cylinder oil circuit fit account health verdict foresight bench procedure recording \
    channel signature tag_photo";

/// The pure part of a room that is not.
const PURE_FILES: &[&str] = &["certificate/compose.rs", "certificate/compose/"];

/// What a pure room does not name.
const OUTSIDE: &str = "\
    std::fs std::net std::thread std::env std::process SystemTime Instant \
    println! eprintln! print! eprint!";

/// What may lie at the top level of the project.
const TOP_LEVEL: &str = "\
    Cargo.toml Cargo.lock README.md DEVELOPERS.md CHANGELOG.md LICENSE-MIT \
    LICENSE-APACHE clippy.toml .gitignore .git .ci src firmware-protocol tests sample-runs \
    benches examples fuzz target stillrod-data";

// ---- what is checked ----

#[test]
fn each_room_names_only_the_rooms_and_crates_it_may_know() {
    let mut findings = Vec::new();
    let files = files_below(Path::new(env!("CARGO_MANIFEST_DIR")), "src");
    assert!(files.len() > 5, "only {} files were read", files.len());
    for (file, text) in &files {
        findings.extend(check(file, text));
    }
    assert!(findings.is_empty(), "\n{}\n", findings.join("\n"));
}

#[test]
fn every_dependency_has_its_rooms_in_the_table() {
    let manifest = Path::new(env!("CARGO_MANIFEST_DIR")).join("Cargo.toml");
    let found = dependencies(&fs::read_to_string(manifest).expect("readable"));
    let listed: Vec<&str> = CRATES.iter().map(|(name, _)| *name).collect();
    for name in &found {
        let known = listed.contains(&name.as_str());
        assert!(
            known,
            "Cargo.toml: `{name}` is in no room; add it to CRATES in tests/architecture.rs"
        );
    }
    assert!(
        found.len() > 5,
        "only {} dependencies were read",
        found.len()
    );
}

#[test]
fn the_top_level_holds_only_what_it_should() {
    let mut findings = Vec::new();
    for entry in fs::read_dir(env!("CARGO_MANIFEST_DIR")).expect("readable") {
        let name = entry.expect("readable").file_name();
        let name = name.to_string_lossy();
        if !lists(TOP_LEVEL, &name) {
            findings.push(format!("{name} does not belong at the top level"));
        }
    }
    assert!(findings.is_empty(), "\n{}\n", findings.join("\n"));
}

#[test]
fn the_tables_name_only_rooms_that_are_in_them() {
    let used = MAY_KNOW.iter().chain(CRATES).map(|row| row.1);
    for room in used.chain([PURE]).flat_map(str::split_whitespace) {
        assert!(room == "*" || is_room(room), "{room}");
    }
}

#[test]
fn no_two_rooms_of_the_core_know_each_other() {
    for (room, others) in MAY_KNOW {
        for other in others.split_whitespace() {
            assert!(!knows(other, room), "{room} and {other} know each other");
        }
    }
}

// ---- how ----

/// All findings in one file of `src/`, each with file and line.
fn check(file: &str, text: &str) -> Vec<String> {
    let inside = file.strip_prefix("src/").unwrap_or(file);
    let room = inside.split('/').next().unwrap_or_default();
    let room = room.strip_suffix(".rs").unwrap_or(room);
    if !is_room(room) {
        return vec![format!(
            "{file}:1: `{room}` is no room; the rooms are in tests/architecture.rs"
        )];
    }
    if !file.ends_with(".rs") {
        return Vec::new();
    }
    let mut findings = Vec::new();
    if !text.starts_with("//!") {
        findings.push(format!("{file}:1: begins without `//!`"));
    }
    let is_test_file = inside.ends_with("/tests.rs") || inside.contains("/tests/");
    let is_pure = lists(PURE, room) || PURE_FILES.iter().any(|pure| inside.starts_with(pure));
    let is_top = !inside.contains('/') || inside == format!("{room}/mod.rs");
    for (index, (line, in_test)) in code_lines(text).into_iter().enumerate() {
        let in_test = in_test || is_test_file;
        let mut found = rooms_named(room, line);
        found.extend(crates_named(room, line, in_test));
        if is_pure && !in_test {
            let outside = OUTSIDE
                .split_whitespace()
                .filter(|name| has_word(line, name));
            found.extend(outside.map(|name| format!("`{room}` is pure and may not name `{name}`")));
        }
        // From a room's own root `super` is the whole crate.
        let leaves = is_top && !line.starts_with(' ') && has_word(line, "super::");
        if leaves || line.contains("super::super::") {
            found.push("`super` leaves the room; write `crate::room`".to_owned());
        }
        findings.extend(
            found
                .into_iter()
                .map(|what| format!("{file}:{}: {what}", index + 1)),
        );
    }
    findings
}

/// What a line says about other rooms that it should not.
fn rooms_named(room: &str, line: &str) -> Vec<String> {
    let mut findings = Vec::new();
    for root in ["crate::", "stillrod::"] {
        for start in words(line, root) {
            let rest = &line[start + root.len()..];
            if rest.starts_with('{') {
                findings
                    .push("names several rooms in one line; write one `use` for each".to_owned());
                continue;
            }
            let (other, rest) = split_name(rest);
            if !is_room(other) {
                findings.push(format!(
                    "`{other}` is no room; the rooms are in tests/architecture.rs"
                ));
            } else if other != room && !knows(room, other) {
                findings.push(format!("`{room}` may not know `{other}`"));
            } else if let Some(items) = only_these(room, other) {
                let item = split_name(rest.trim_start_matches(':')).0;
                if !items.contains(&item) {
                    findings.push(format!("`{room}` may not know `{other}::{item}`"));
                }
            }
        }
    }
    findings
}

/// What a line says about outside crates that it should not.
fn crates_named(room: &str, line: &str, in_test: bool) -> Vec<String> {
    let mut findings = Vec::new();
    for (name, rooms) in CRATES {
        let allowed = lists(rooms, room) || (in_test && lists(ANY_TEST_MAY_NAME, name));
        let code = line.trim_start();
        let is_named = has_word(line, &format!("{name}::"))
            || code.starts_with(&format!("use {name};"))
            || code.starts_with(&format!("use {name} as "))
            || code.starts_with(&format!("extern crate {name};"));
        if is_named && !allowed {
            findings.push(format!("`{room}` may not name the crate `{name}`"));
        }
    }
    findings
}

/// Each line without its comment, and whether it is compiled for tests only.
///
/// What follows `#[cfg(test)]` ends at the first line that closes it at its own
/// indentation; rustfmt sees to that.
fn code_lines(text: &str) -> Vec<(&str, bool)> {
    let mut lines = Vec::new();
    let mut is_marked = false;
    let mut closing: Option<String> = None;
    for line in text.lines() {
        let code = if line.trim_start().starts_with("//") {
            ""
        } else {
            line.split(" // ").next().unwrap_or_default()
        };
        let bare = code.trim();
        if let Some(end) = &closing {
            lines.push((code, true));
            if code == end {
                closing = None;
            }
            continue;
        }
        if bare == "#[cfg(test)]" {
            is_marked = true;
        } else if is_marked && !bare.is_empty() && !bare.starts_with("#[") {
            lines.push((code, true));
            if !bare.ends_with(';') && !bare.ends_with('}') {
                let indentation = &code[..code.len() - code.trim_start().len()];
                closing = Some(format!("{indentation}}}"));
            }
            is_marked = false;
            continue;
        }
        lines.push((code, is_marked));
    }
    lines
}

/// Starts of a name that is not the end of a longer name or path.
fn words<'a>(line: &'a str, name: &'a str) -> impl Iterator<Item = usize> + 'a {
    let is_letter = |c: char| c.is_alphanumeric() || c == '_';
    line.match_indices(name)
        .map(|(start, _)| start)
        .filter(move |start| {
            let before = &line[..*start];
            // `a::name::` is another thing than the `name::` that `::name::` is too; but a
            // plain word such as `Instant` counts behind a path.
            let before = match before.strip_suffix("::") {
                Some(path) if name.ends_with("::") => path,
                _ => before,
            };
            let after = &line[start + name.len()..];
            let goes_on = name.ends_with(is_letter) && after.starts_with(is_letter);
            !before.ends_with(is_letter) && !goes_on
        })
}

fn has_word(line: &str, name: &str) -> bool {
    words(line, name).next().is_some()
}

/// The name a text begins with, and what follows it.
fn split_name(text: &str) -> (&str, &str) {
    let end = text.find(|c: char| !c.is_alphanumeric() && c != '_');
    text.split_at(end.unwrap_or(text.len()))
}

fn is_room(name: &str) -> bool {
    MAY_KNOW.iter().any(|(room, _)| *room == name)
}

/// Whether a list of names separated by blanks holds a name, or stands for all.
fn lists(list: &str, name: &str) -> bool {
    list.split_whitespace().any(|one| one == name || one == "*")
}

fn knows(room: &str, other: &str) -> bool {
    let row = MAY_KNOW.iter().find(|(name, _)| *name == room);
    row.is_some_and(|(_, others)| lists(others, other))
}

fn only_these(room: &str, other: &str) -> Option<&'static [&'static str]> {
    let row = ONLY_THESE
        .iter()
        .find(|row| row.0 == room && row.1 == other);
    row.map(|row| row.2)
}

/// Crates a manifest depends on, as they are named in code.
fn dependencies(manifest: &str) -> Vec<String> {
    let mut in_table = false;
    let mut found = Vec::new();
    for line in manifest.lines() {
        if line.starts_with('[') {
            in_table = line.ends_with("dependencies]") && !line.contains("dev-");
        } else if in_table && let Some((name, _)) = line.split_once('=') {
            found.push(name.trim().trim_end_matches(".workspace").replace('-', "_"));
        }
    }
    found
}

/// All files below a folder with their text, by path from the project.
fn files_below(project: &Path, folder: &str) -> Vec<(String, String)> {
    let mut files = Vec::new();
    for entry in fs::read_dir(project.join(folder)).expect("readable") {
        let entry = entry.expect("readable");
        let path = format!("{folder}/{}", entry.file_name().to_string_lossy());
        if entry.file_type().expect("readable").is_dir() {
            files.extend(files_below(project, &path));
        } else {
            let bytes = fs::read(entry.path()).expect("readable");
            files.push((path, String::from_utf8_lossy(&bytes).into_owned()));
        }
    }
    files.sort();
    files
}
