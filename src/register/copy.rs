//! A whole copy of the live register, for another disk or another computer.

use super::Register;
use super::error::RegisterError;
use super::error::sorted;
use std::path::Path;

impl Register {
    /// Writes a whole copy of the register to a new file.
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
