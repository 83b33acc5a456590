//! What can be put on the bench: setups of the data folder, pieces of the practice bench.
//!
//! A key from a browser is looked up among those that are listed; it never becomes a path.

use crate::daemon::conduct::NamedText;
use crate::daemon::paper::chain;
use crate::daemon::session::practice_pieces;
use crate::daemon::session::practice_setup;
use crate::daemon::setup_file::setup_text;
use crate::page::view::BenchPiece;
use crate::rehearsal::SHOP_FILE_NAME;
use crate::rehearsal::SHOP_TOML;
use crate::settings::Shop;
use crate::settings::Test;
use std::path::Path;
use std::path::PathBuf;

/// Most setups that are listed.
const MOST_SETUPS: usize = 500;

/// Largest setup file that is read, bytes.
const LARGEST_SETUP: u64 = 1 << 20;

/// What stands before the name of a piece of the practice bench, and of a setup, in a key.
pub(super) const PRACTICE: &str = "practice:";
const SETUP: &str = "setup:";

/// A piece that was found by its key.
pub(super) struct Piece {
    /// Its setup.
    pub setup: NamedText,
    /// Its name at the practice bench, if it is one of it.
    pub practice: Option<String>,
}

/// Pieces of the practice bench.
pub(super) fn practice() -> Vec<BenchPiece> {
    let line = |piece: crate::daemon::session::PracticePiece| BenchPiece {
        key: format!("{PRACTICE}{}", piece.name),
        name: piece.name.into(),
        about: piece.description.into(),
        trouble: String::new(),
    };
    practice_pieces().into_iter().map(line).collect()
}

/// Setups of a folder by their keys.
pub(super) fn setups(folder: &Path, shop: Option<&Shop>) -> Vec<BenchPiece> {
    let line = |(name, path): (String, PathBuf)| {
        let key = format!("{SETUP}{name}");
        let read = read(&path).and_then(|setup| Ok(Test::parse(&name, &setup.1, shop)?));
        match read {
            Ok(test) => {
                let unit = &test.first_setup().unit;
                let title = match test.title.as_str() {
                    "" => String::new(),
                    title => format!(" – {title}"),
                };
                BenchPiece {
                    key,
                    name: unit.tag.clone(),
                    about: format!("{}{title} ({name})", unit.description),
                    trouble: String::new(),
                }
            }
            Err(error) => BenchPiece {
                key,
                name,
                about: String::new(),
                trouble: chain(&error),
            },
        }
    };
    files(folder).into_iter().map(line).collect()
}

/// The piece of a key; None if there is none.
///
/// # Errors
/// If its setup cannot be read.
pub(super) fn piece(folder: &Path, key: &str) -> anyhow::Result<Option<Piece>> {
    if let Some(name) = key.strip_prefix(PRACTICE) {
        let setup = practice_setup(name)?;
        return Ok(setup.map(|setup| Piece {
            setup,
            practice: Some(name.into()),
        }));
    }
    let Some(name) = key.strip_prefix(SETUP) else {
        return Ok(None);
    };
    let found = files(folder).into_iter().find(|(known, _)| known == name);
    let Some((name, path)) = found else {
        return Ok(None);
    };
    let (_, text) = read(&path)?;
    Ok(Some(Piece {
        setup: (name, text),
        practice: None,
    }))
}

/// The shop of the practice bench, where the program was started without one.
pub(super) fn practice_shop() -> NamedText {
    (SHOP_FILE_NAME.into(), SHOP_TOML.into())
}

fn read(path: &Path) -> anyhow::Result<NamedText> {
    let size = std::fs::metadata(path).map_or(0, |found| found.len());
    anyhow::ensure!(
        size <= LARGEST_SETUP,
        "{} is larger than {LARGEST_SETUP} bytes: that is no setup",
        path.display()
    );
    setup_text(path)
}

/// Name and path of each setup, by name. What cannot be listed has none.
fn files(folder: &Path) -> Vec<(String, PathBuf)> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut found: Vec<(String, PathBuf)> = entries
        .filter_map(|entry| {
            let path = entry.ok()?.path();
            let name = path.file_name()?.to_str()?.to_owned();
            let is_setup = path.extension().is_some_and(|end| end == "toml");
            // What stands beside the setups for them: a shop's own procedures.
            let is_other = name.starts_with("procedure");
            (is_setup && !is_other && path.is_file()).then_some((name, path))
        })
        .collect();
    found.sort();
    found.truncate(MOST_SETUPS);
    found
}
