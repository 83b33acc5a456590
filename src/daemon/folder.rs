//! Where things are kept: one folder with the recordings, the papers, the register and the keys.

use super::keys::signing_key;
use crate::signature::SigningKey;
use anyhow::Context;
use std::path::Path;
use std::path::PathBuf;

/// The data folder of a shop.
#[derive(Debug, Clone)]
pub struct DataFolder {
    root: PathBuf,
}

impl DataFolder {
    /// Opens a data folder, and makes it if there is none.
    ///
    /// # Errors
    /// If it cannot be made.
    pub fn open(root: &Path) -> anyhow::Result<Self> {
        let folder = Self { root: root.into() };
        for part in [folder.recordings(), folder.papers()] {
            std::fs::create_dir_all(&part).with_context(|| {
                format!(
                    "the data folder {} cannot be made; check the path and who may write there",
                    part.display()
                )
            })?;
        }
        Ok(folder)
    }

    /// A data folder as it lies there; nothing is made.
    pub fn at(root: &Path) -> Self {
        Self { root: root.into() }
    }

    /// The folder itself.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Recordings (`RUN.h5`) and journals of running tests (`RUN.journal`).
    pub fn recordings(&self) -> PathBuf {
        self.root.join("recordings")
    }

    /// Certificates and reports, `NUMBER.pdf` and `NUMBER.json`.
    pub fn papers(&self) -> PathBuf {
        self.root.join("papers")
    }

    /// Photos and other files of units, under their hashes.
    pub fn files(&self) -> PathBuf {
        self.root.join("files")
    }

    /// Setup files that the page offers.
    pub fn setups(&self) -> PathBuf {
        self.root.join("setups")
    }

    /// The signing key, for its owner only, and `public-keys.txt`.
    pub fn keys(&self) -> PathBuf {
        self.root.join("keys")
    }

    /// Where recordings go, with the key that signs them; makes the key if there is none.
    ///
    /// # Errors
    /// If the key cannot be made or must not be used.
    pub fn shelf(&self) -> anyhow::Result<Shelf> {
        Ok(Shelf {
            folder: self.recordings(),
            key: Some(signing_key(&self.keys())?),
        })
    }

    /// The register.
    pub fn register(&self) -> PathBuf {
        self.root.join("register.db")
    }
}

/// A folder for recordings, and the key that signs them.
#[derive(Debug, Clone)]
pub struct Shelf {
    /// The folder.
    pub folder: PathBuf,
    /// The key; without one recordings are not signed.
    pub key: Option<SigningKey>,
}
