//! The signed block in front of a recording, written and looked at.
//!
//! It lies in the user block of the HDF5 file, which readers of HDF5 skip. It is filled
//! after the library has closed the file and before the file has its name.

use super::ArchiveError;
use super::library;
use super::parts::Part;
use super::parts::in_words;
use super::parts::parts_of_file;
use super::pointers::point_nowhere;
use super::progress::Doing;
use super::progress::Progress;
use super::progress::Told;
use super::read::Source;
use super::unlocked;
use crate::signature::BLOCK_BYTES;
use crate::signature::Checked;
use crate::signature::Digest;
use crate::signature::Hasher;
use crate::signature::RecordingStatement;
use crate::signature::SigningKey;
use std::fs::File;
use std::fs::OpenOptions;
use std::io;
use std::io::Read;
use std::io::Seek;
use std::io::SeekFrom;
use std::io::Write;
use std::path::Path;

/// First bytes of HDF5 itself (HDF5 file format specification, "Superblock").
const MAGIC: &[u8] = b"\x89HDF\r\n\x1a\n";

/// Fills the block of a file that is otherwise finished.
pub(super) fn fill(
    run_id: String,
    parts: Vec<Part>,
    path: &Path,
    key: &SigningKey,
    told: Told<'_>,
) -> io::Result<()> {
    let mut file = OpenOptions::new().read(true).write(true).open(path)?;
    let stated = RecordingStatement {
        run_id,
        bytes_sha256: behind_block(&mut file, told)?,
        parts,
    };
    let block = stated.block(key).map_err(io::Error::other)?;
    file.seek(SeekFrom::Start(0))?;
    file.write_all(&block)
}

fn behind_block(file: &mut File, told: Told<'_>) -> io::Result<Digest> {
    const PORTION: usize = 1 << 20;
    let n_all = file.metadata()?.len();
    let mut n_done = file.seek(SeekFrom::Start(BLOCK_BYTES as u64))?;
    let mut hasher = Hasher::default();
    let mut buffer = vec![0; PORTION];
    loop {
        told(Progress::new(Doing::Signing, n_done, n_all));
        match file.read(&mut buffer)? {
            0 => return Ok(hasher.finish()),
            n_read => {
                hasher.update(&buffer[..n_read]);
                n_done += n_read as u64;
            }
        }
    }
}

/// Of a signed file whose statement is in its form and genuine: what it states. None without a
/// block. Nothing behind the block is looked at.
///
/// # Errors
/// If the block is another than it was.
pub(super) fn stated(file: &mut File) -> io::Result<Option<RecordingStatement>> {
    let mut block = Vec::new();
    let length = BLOCK_BYTES as u64;
    file.take(length).read_to_end(&mut block)?;
    if block.starts_with(MAGIC) {
        return Ok(None);
    }
    match RecordingStatement::read(&block) {
        Ok((stated, _)) => Ok(Some(stated)),
        Err(error) => Err(io::Error::new(io::ErrorKind::InvalidData, error)),
    }
}

/// Looks at the signature of a recording, and names what of it was changed.
///
/// # Errors
/// Only if the file cannot be read at all.
pub fn check(path: &Path) -> Result<Checked, ArchiveError> {
    let failed = |cause: io::Error| ArchiveError::Open {
        path: path.into(),
        cause: cause.into(),
    };
    let mut file = File::open(path).map_err(failed)?;
    let mut block = Vec::new();
    let length = BLOCK_BYTES as u64;
    (&mut file)
        .take(length)
        .read_to_end(&mut block)
        .map_err(failed)?;
    if block.starts_with(MAGIC) {
        let why = "it was made before signatures";
        return Ok(Checked::not_signed("recording".into(), why));
    }
    let (stated, signed) = match RecordingStatement::read(&block) {
        Ok(read) => read,
        Err(error) => {
            let what = vec![format!("the signed block at its start: {error}")];
            return Ok(Checked::of("recording".into(), what, Vec::new()));
        }
    };
    let what = format!("recording of run {}", stated.run_id);
    let differs = match behind_block(&mut file, &mut |_| ()).map_err(failed)? == stated.bytes_sha256
    {
        true => Vec::new(),
        false => differs(path, &stated),
    };
    Ok(Checked::of(what, differs, vec![signed.public_key()]))
}

/// What is not as it was stated, in words; at least one.
fn differs(path: &Path, stated: &RecordingStatement) -> Vec<String> {
    // The library would follow such a pointer out of its memory.
    let bytes = std::fs::read(path).unwrap_or_default();
    if point_nowhere(bytes.get(BLOCK_BYTES..).unwrap_or_default()) {
        return vec!["what holds the file together: a text of it points nowhere".into()];
    }
    let _library = library();
    let Ok(file) = unlocked().open(path) else {
        return vec!["what holds the file together: it opens no more as HDF5".into()];
    };
    let found = parts_of_file(&Source::new(file, path));
    let mut differs = Vec::new();
    for (name, digest) in &stated.parts {
        match found.iter().find(|(n, _)| n == name) {
            Some((_, Ok(other))) if other == digest => {}
            Some((_, Ok(_))) => differs.push(in_words(name)),
            Some((_, Err(_))) => differs.push(format!("{} (cannot be read)", in_words(name))),
            None => differs.push(format!("{} (missing)", in_words(name))),
        }
    }
    for (name, _) in &found {
        if !stated.parts.iter().any(|(n, _)| n == name) {
            differs.push(format!("{} (added)", in_words(name)));
        }
    }
    if differs.is_empty() {
        differs.push("bytes that hold nothing of the recording: names, tables, spare room".into());
    }
    differs
}
