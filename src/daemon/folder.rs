//! Where things are kept: one folder with the recordings, the papers and the register.

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

    /// Recordings (`RUN.h5`) and journals of running tests (`RUN.journal`).
    pub fn recordings(&self) -> PathBuf {
        self.root.join("recordings")
    }

    /// Certificates and reports, `NUMBER.pdf` and `NUMBER.json`.
    pub fn papers(&self) -> PathBuf {
        self.root.join("papers")
    }

    /// The register.
    pub fn register(&self) -> PathBuf {
        self.root.join("register.db")
    }
}
