//! `stillrod key`: the public key of the shop, and a new one in its place.

use std::path::Path;
use stillrod::daemon::folder::DataFolder;
use stillrod::daemon::keys::PUBLIC_KEYS;
use stillrod::daemon::keys::replace;
use stillrod::daemon::keys::signing_key;

/// Shows the public key; makes a key where there is none, or a new one if that was asked.
///
/// # Errors
/// If the key cannot be made or must not be used.
pub fn key(data: &Path, is_new: bool) -> anyhow::Result<u8> {
    let folder = DataFolder::open(data)?.keys();
    let key = match is_new {
        true => replace(&folder)?,
        false => signing_key(&folder)?,
    };
    println!("Public key  {}", key.public().hex());
    println!("To hand out {}", folder.join(PUBLIC_KEYS).display());
    if is_new {
        println!("The old public key stays in that list, so that older papers are still known.");
    }
    Ok(0)
}
