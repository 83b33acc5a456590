//! The shop's keys on the disk: the secret one that signs, and the list to hand out.
//!
//! `keys/signing-key` is made at the first start and may be read by its owner only; one
//! that others can read is refused. `keys/public-keys.txt` has every public key there ever
//! was, newest last, with the day it came. A key that is replaced leaves its public half in
//! the list and its secret nowhere.
//!
//! Invariants: a key file under its name is whole; the key in use is in the list.

use super::clock;
use super::paper::write_whole;
use crate::signature::PublicKey;
use crate::signature::SigningKey;
use anyhow::Context;
use anyhow::bail;
use std::fs::DirBuilder;
use std::fs::OpenOptions;
use std::io::ErrorKind;
use std::io::Write;
use std::os::unix::fs::DirBuilderExt;
use std::os::unix::fs::MetadataExt;
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;
use std::path::PathBuf;

/// Name of the list of public keys.
pub const PUBLIC_KEYS: &str = "public-keys.txt";

/// Name of the secret key.
pub(super) const SIGNING_KEY: &str = "signing-key";

/// Longest list of keys that is read, bytes; a longer file is another.
const LONGEST_LIST: u64 = 1_000_000;

const LIST_BEGINS: &str = "# Public keys of this shop, newest last, each with the UTC day since which it is used.\n\
     # Hand this file out: `stillrod verify --key public-keys.txt FILE` checks papers with it.\n";

/// A public key of the shop, and since when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KnownKey {
    /// UTC day, "2026-11-27".
    pub since: String,
    /// The key.
    pub key: PublicKey,
}

/// The key that signs; made if there is none.
///
/// # Errors
/// If it cannot be made or read, or others than its owner can read it.
pub fn signing_key(folder: &Path) -> anyhow::Result<SigningKey> {
    let path = folder.join(SIGNING_KEY);
    make_folder(folder)?;
    if !path.exists() {
        let unnamed = new_secret(folder)?;
        // A link takes its name only if nobody has it: of two programs that start together
        // one makes the key, and nobody ever reads half of one.
        let named = std::fs::hard_link(&unnamed, &path);
        let _ = std::fs::remove_file(&unnamed);
        match named {
            Err(error) if error.kind() != ErrorKind::AlreadyExists => {
                return Err(error).with_context(|| cannot_make(&path));
            }
            _ => sync_folder(folder)?,
        }
    }
    let key = read(&path)?;
    // One program at a time adds to the list.
    let lock = std::fs::File::open(&path).and_then(|file| file.lock().map(|()| file));
    let _lock = lock.with_context(|| format!("{} cannot be locked", path.display()))?;
    list(folder, key.public())?;
    Ok(key)
}

/// Makes a new key in the place of the one there is, whose secret is gone then.
///
/// # Errors
/// If it cannot be made.
pub fn replace(folder: &Path) -> anyhow::Result<SigningKey> {
    let path = folder.join(SIGNING_KEY);
    make_folder(folder)?;
    let unnamed = new_secret(folder)?;
    std::fs::rename(&unnamed, &path).with_context(|| cannot_make(&path))?;
    sync_folder(folder)?;
    signing_key(folder)
}

/// The keys in a list of public keys, in order.
///
/// # Errors
/// If it cannot be read, or has a line that is none.
pub fn known_keys(path: &Path) -> anyhow::Result<Vec<KnownKey>> {
    let shown = path.display();
    let size = std::fs::metadata(path).map_or(0, |found| found.len());
    if size > LONGEST_LIST {
        bail!("{shown} is no list of public keys: it has {size} bytes");
    }
    let text = std::fs::read_to_string(path)
        .with_context(|| format!("the list of public keys {shown} cannot be read"))?;
    let mut keys = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        let found = line.split_once(' ').and_then(|(since, key)| {
            let key = PublicKey::from_hex(key)?;
            Some(KnownKey {
                since: since.into(),
                key,
            })
        });
        let wanted = "a day and 64 hexadecimal digits";
        keys.push(found.with_context(|| format!("{shown}, line {}: no {wanted}", index + 1))?);
    }
    Ok(keys)
}

pub(super) fn make_folder(folder: &Path) -> anyhow::Result<()> {
    let made = DirBuilder::new().recursive(true).mode(0o700).create(folder);
    made.with_context(|| {
        let shown = folder.display();
        format!("the folder {shown} for the keys cannot be made; check who may write there")
    })
}

fn cannot_make(path: &Path) -> String {
    format!(
        "the signing key {} cannot be made; check who may write there",
        path.display()
    )
}

/// A new secret in a file of its own, brought to the disk.
fn new_secret(folder: &Path) -> anyhow::Result<PathBuf> {
    let mut bytes = [0; 32];
    let mut name = [0; 8];
    getrandom::fill(&mut bytes)
        .and_then(|()| getrandom::fill(&mut name))
        .context("the system gives no random numbers for a key")?;
    let key = SigningKey::from_random(&bytes);
    // Nobody else makes a file of this name at the same time.
    let name = u64::from_le_bytes(name);
    let path = folder.join(format!("{SIGNING_KEY}.{name:016x}.part"));
    let write = || -> std::io::Result<()> {
        let mut options = OpenOptions::new();
        let mut file = options
            .write(true)
            .create_new(true)
            .mode(0o600)
            .open(&path)?;
        file.write_all(key.to_text().as_bytes())?;
        file.sync_all()
    };
    write().with_context(|| cannot_make(&path))?;
    Ok(path)
}

fn read(path: &Path) -> anyhow::Result<SigningKey> {
    let shown = path.display();
    let found = std::fs::metadata(path)
        .with_context(|| format!("the signing key {shown} cannot be read; check who owns it"))?;
    let mode = found.mode() & 0o777;
    if mode & 0o077 != 0 {
        bail!(
            "others than its owner can get at the signing key {shown} (mode {mode:o}): `chmod 600 {shown}`; \
             if somebody may have copied it, make a new one with `stillrod key --replace`"
        );
    }
    let text = std::fs::read_to_string(path)
        .with_context(|| format!("the signing key {shown} cannot be read; check who owns it"))?;
    SigningKey::from_text(&text).with_context(|| {
        format!("the signing key {shown} is damaged: put its copy back, or make a new one with `stillrod key --replace`")
    })
}

/// Sees to it that a key is in the list.
fn list(folder: &Path, key: PublicKey) -> anyhow::Result<()> {
    let path = folder.join(PUBLIC_KEYS);
    let mut text = match std::fs::read_to_string(&path) {
        Ok(text) => text,
        Err(error) if error.kind() == ErrorKind::NotFound => LIST_BEGINS.to_owned(),
        Err(error) => {
            return Err(error).with_context(|| format!("{} cannot be read", path.display()));
        }
    };
    if text.contains(&key.hex()) {
        return Ok(());
    }
    if !text.ends_with('\n') {
        text.push('\n');
    }
    let day = clock::utc_date(clock::now_utc_ms());
    text.push_str(&format!("{day} {}\n", key.hex()));
    write_whole(&path, text.as_bytes())
}

fn sync_folder(folder: &Path) -> anyhow::Result<()> {
    let synced = std::fs::File::open(folder).and_then(|folder| folder.sync_all());
    synced.with_context(|| format!("{} cannot be brought to the disk", folder.display()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs::Permissions;
    use std::os::unix::fs::PermissionsExt;

    fn listed(folder: &Path) -> Vec<PublicKey> {
        let keys = known_keys(&folder.join(PUBLIC_KEYS)).expect("a list");
        keys.into_iter().map(|known| known.key).collect()
    }

    #[test]
    fn a_key_is_made_once_for_its_owner_only() {
        let data = tempfile::tempdir().expect("a folder");
        let folder = data.path().join("keys");
        let key = signing_key(&folder).expect("a key");
        let again = signing_key(&folder).expect("the same key");
        assert_eq!(again.public(), key.public());
        assert_eq!(listed(&folder), [key.public()]);
        let mode = |path: &Path| std::fs::metadata(path).expect("there").mode() & 0o777;
        assert_eq!(mode(&folder), 0o700);
        assert_eq!(mode(&folder.join(SIGNING_KEY)), 0o600);
        let mut names: Vec<_> = std::fs::read_dir(&folder)
            .expect("a folder")
            .map(|entry| entry.expect("an entry").file_name())
            .collect();
        names.sort();
        assert_eq!(names, [PUBLIC_KEYS, SIGNING_KEY]);
    }

    #[test]
    fn a_key_that_others_can_read_is_refused_with_what_to_do() {
        let data = tempfile::tempdir().expect("a folder");
        let path = data.path().join(SIGNING_KEY);
        signing_key(data.path()).expect("a key");
        for mode in [0o604, 0o640, 0o660, 0o644] {
            std::fs::set_permissions(&path, Permissions::from_mode(mode)).expect("changed");
            let error = signing_key(data.path()).expect_err("refused").to_string();
            assert!(error.contains("chmod 600"), "{mode:o}: {error}");
            assert!(error.contains("--replace"), "{mode:o}: {error}");
        }
        std::fs::set_permissions(&path, Permissions::from_mode(0o600)).expect("changed");
        assert!(signing_key(data.path()).is_ok());
    }

    #[test]
    fn a_replaced_key_leaves_its_public_half_and_no_secret() {
        let data = tempfile::tempdir().expect("a folder");
        let first = signing_key(data.path()).expect("a key");
        let second = replace(data.path()).expect("another");
        assert_ne!(first.public(), second.public());
        assert_eq!(listed(data.path()), [first.public(), second.public()]);
        let secret = first.to_text();
        for entry in std::fs::read_dir(data.path()).expect("a folder") {
            let text = std::fs::read_to_string(entry.expect("an entry").path());
            assert!(!text.expect("a text").contains(secret.trim()));
        }
    }

    #[test]
    fn a_damaged_key_is_not_replaced_in_silence() {
        let data = tempfile::tempdir().expect("a folder");
        signing_key(data.path()).expect("a key");
        let path = data.path().join(SIGNING_KEY);
        std::fs::write(&path, "0123\n").expect("writable");
        let error = signing_key(data.path()).expect_err("refused").to_string();
        assert!(error.contains("damaged"), "{error}");
        assert_eq!(std::fs::read_to_string(&path).expect("there"), "0123\n");
    }

    #[test]
    fn programs_that_start_together_use_one_key() {
        let data = tempfile::tempdir().expect("a folder");
        let keys: Vec<_> = std::thread::scope(|scope| {
            let path = data.path();
            let all: Vec<_> = (0..2)
                .map(|_| scope.spawn(move || signing_key(path)))
                .collect();
            all.into_iter()
                .map(|one| one.join().expect("ended"))
                .collect()
        });
        let kept = signing_key(data.path()).expect("a key").public();
        for key in keys {
            assert_eq!(key.expect("a key").public(), kept);
        }
        assert_eq!(listed(data.path()), [kept]);
    }

    #[test]
    fn a_list_with_a_line_that_is_no_key_says_which() {
        let data = tempfile::tempdir().expect("a folder");
        let path = data.path().join("list.txt");
        std::fs::write(&path, "# ours\n2026-11-27 abc\n").expect("writable");
        let error = known_keys(&path).expect_err("no key").to_string();
        assert!(error.contains("line 2"), "{error}");
    }
}
