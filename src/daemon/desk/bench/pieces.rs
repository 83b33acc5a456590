//! What can be put on the bench: setups of the data folder, pieces of the practice bench.
//!
//! A key from a browser is looked up among those that are listed; it never becomes a path.

use crate::daemon::conduct::NamedText;
use crate::daemon::desk::setups::read;
use crate::daemon::desk::setups::setups;
use crate::daemon::folder::DataFolder;
use crate::daemon::paper::chain;
use crate::daemon::session::practice_pieces;
use crate::daemon::session::practice_setup;
use crate::page::view::BenchPiece;
use crate::rehearsal::SHOP_FILE_NAME;
use crate::rehearsal::SHOP_TOML;
use crate::settings::Shop;
use crate::settings::Test;
use std::path::PathBuf;

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
pub(super) fn listed(folder: &DataFolder, shop: Option<&Shop>) -> Vec<BenchPiece> {
    let line = |(name, path): (String, PathBuf)| {
        let key = format!("{SETUP}{name}");
        let read = read(&path).and_then(|text| Ok(Test::parse(&name, &text, shop)?));
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
    setups(folder).into_iter().map(line).collect()
}

/// The piece of a key; None if there is none.
///
/// # Errors
/// If its setup cannot be read.
pub(super) fn piece(folder: &DataFolder, key: &str) -> anyhow::Result<Option<Piece>> {
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
    let found = setups(folder).into_iter().find(|(known, _)| known == name);
    let Some((name, path)) = found else {
        return Ok(None);
    };
    let text = read(&path)?;
    Ok(Some(Piece {
        setup: (name, text),
        practice: None,
    }))
}

/// The shop of the practice bench, where the program was started without one.
pub(super) fn practice_shop() -> NamedText {
    (SHOP_FILE_NAME.into(), SHOP_TOML.into())
}
