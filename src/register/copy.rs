//! A whole copy of the live register, for another disk or another computer.

use super::Register;
use super::error::RegisterError;
use super::error::sorted;
use super::file;
use std::path::Path;

impl Register {
    /// Checks every page, row and index of the file. This reads all of it: minutes for a large
    /// one. A small one is checked whole whenever it is opened, and every one before it is copied.
    ///
    /// # Errors
    /// If the file is damaged or cannot be read.
    pub async fn check(&self) -> Result<(), RegisterError> {
        let connection = self.readers.acquire().await;
        let mut connection = connection.map_err(|error| sorted(&self.path, "check", error))?;
        file::check_whole(&self.path, &mut connection).await
    }

    /// Writes a whole copy of the register to a new file, after checking all of it.
    ///
    /// The live file must not be copied by other means: what was written last may
    /// still be in the log beside it.
    pub async fn export(&self, copy: &Path) -> Result<(), RegisterError> {
        if copy.exists() {
            return Err(RegisterError::CopyExists {
                path: copy.to_owned(),
            });
        }
        let Some(name) = copy.to_str() else {
            return Err(RegisterError::Unfit {
                field: "name of the copy",
                value: copy.display().to_string(),
                wanted: "use letters that are valid UTF-8",
            });
        };
        self.check().await?;
        sqlx::query("VACUUM INTO $1")
            .bind(name)
            .execute(&self.writer)
            .await
            .map_err(|error| sorted(copy, "write the copy", error))?;
        std::fs::File::open(copy)
            .and_then(|file| file.sync_all())
            .map_err(|source| RegisterError::CopyUnsure {
                path: copy.to_owned(),
                source,
            })
    }
}
