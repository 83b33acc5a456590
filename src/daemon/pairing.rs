//! The secret by which paired browsers are known again: `keys/page-pairing`, for its owner only.
//!
//! It outlasts a start, so that a browser is paired once. Who takes the file away unpairs all. It
//! is in no copy: another computer pairs its own.

use super::keys::make_folder;
use crate::signature::Digest;
use anyhow::Context;
use std::fs::OpenOptions;
use std::io::ErrorKind;
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

const PAIRING: &str = "page-pairing";

/// The secret; made of `fresh` bytes if there is none yet.
///
/// # Errors
/// If it cannot be made or read.
pub(super) fn page_secret(keys: &Path, fresh: &[u8; 32]) -> anyhow::Result<[u8; 32]> {
    let path = keys.join(PAIRING);
    make_folder(keys)?;
    let shown = path.display();
    let text = Digest::of(fresh).hex();
    let mut options = OpenOptions::new();
    match options.write(true).create_new(true).mode(0o600).open(&path) {
        Ok(mut file) => file
            .write_all(text.as_bytes())
            .and_then(|()| file.sync_all())
            .with_context(|| format!("{shown} cannot be written"))?,
        Err(error) if error.kind() == ErrorKind::AlreadyExists => {}
        Err(error) => return Err(error).with_context(|| format!("{shown} cannot be made")),
    }
    let text = std::fs::read_to_string(&path).with_context(|| format!("{shown} cannot be read"))?;
    let secret = Digest::from_hex(text.trim());
    let secret = secret.with_context(|| {
        format!("{shown} is damaged: take it away, and pair every browser once more")
    })?;
    Ok(*secret.bytes())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::os::unix::fs::MetadataExt;

    #[test]
    fn the_secret_outlasts_a_start_and_is_its_owners() {
        let folder = tempfile::tempdir().expect("a folder");
        let first = page_secret(folder.path(), &[1; 32]).expect("made");
        assert_eq!(page_secret(folder.path(), &[2; 32]).expect("read"), first);
        let path = folder.path().join(PAIRING);
        assert_eq!(
            std::fs::metadata(&path).expect("there").mode() & 0o777,
            0o600
        );
        std::fs::write(&path, "half").expect("written");
        let error = page_secret(folder.path(), &[2; 32])
            .expect_err("damaged")
            .to_string();
        assert!(error.contains("take it away"), "{error}");
        std::fs::remove_file(&path).expect("removed");
        assert_ne!(page_secret(folder.path(), &[2; 32]).expect("made"), first);
    }
}
