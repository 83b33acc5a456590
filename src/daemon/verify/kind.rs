//! What a file is, told by what stands in it and not by its name.
//!
//! Each kind has two marks, so that one damaged byte does not make a paper unknown.

use crate::signature::BLOCK_BYTES;
use anyhow::Context;
use anyhow::bail;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Longest paper or record that is read, bytes; a longer file is neither.
const LONGEST: u64 = 200_000_000;

/// First bytes of HDF5 (HDF5 file format specification, "Superblock").
const HDF5: &[u8] = b"\x89HDF\r\n\x1a\n";

/// What a file is.
pub(super) enum Kind {
    /// The shop's register.
    Register,
    /// A recording.
    Recording,
    /// A paper, with its bytes.
    Paper(Vec<u8>),
    /// A JSON record, with its bytes.
    Record(Vec<u8>),
}

/// Looks at a file.
pub(super) fn kind(path: &Path) -> anyhow::Result<Kind> {
    let mut file = File::open(path).context("check the path")?;
    let length = file.metadata().context("check the path")?.len();
    let mut start = Vec::new();
    let n_start = (BLOCK_BYTES + HDF5.len()) as u64;
    (&mut file)
        .take(n_start)
        .read_to_end(&mut start)
        .context("check that it is a file")?;
    if start.starts_with(b"SQLite format 3\0") {
        return Ok(Kind::Register);
    }
    let is_block = start.starts_with(b"stillrod statement 1\nof: recording\n");
    let behind = start.get(BLOCK_BYTES..).unwrap_or_default();
    if is_block || start.starts_with(HDF5) || behind.starts_with(HDF5) {
        return Ok(Kind::Recording);
    }
    let mut bytes = start;
    if length <= LONGEST {
        file.read_to_end(&mut bytes).context("check the disk")?;
        let end = &bytes[bytes.len().saturating_sub(64)..];
        if bytes.starts_with(b"%PDF-") || has(end, b"startxref") || has(end, b"%%EOF") {
            return Ok(Kind::Paper(bytes));
        }
        let is_ours = has(&bytes, b"\"stillrod\"") || has(&bytes, b"\"run_id\"");
        let looks_so = bytes.starts_with(b"{") || bytes.ends_with(b"}\n");
        if is_ours && looks_so {
            return Ok(Kind::Record(bytes));
        }
    }
    bail!("it is no paper, record, recording or register of stillrod")
}

fn has(bytes: &[u8], wanted: &[u8]) -> bool {
    bytes.windows(wanted.len()).any(|found| found == wanted)
}
