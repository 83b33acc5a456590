//! Recordings that were opened to be looked at, kept for the next look.
//!
//! A long recording of a program that made no overview is gone through once; who looks along it
//! must not wait for that at each step.

use super::spoiled;
use crate::archive::Opened;
use crate::page::Trouble;
use std::path::Path;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::PoisonError;
use std::time::SystemTime;

/// Recordings that are kept opened; the one that was opened first goes. No file stays open.
const MOST_KEPT: usize = 4;

/// What a file was when it was opened: name, length, when it was changed last.
type Known = (String, u64, Option<SystemTime>);

/// Opened files, the one that was opened first in front.
type Kept = Vec<(Known, Arc<Opened>)>;

/// Recordings that were opened. Cheap to clone; all clones share them.
#[derive(Debug, Clone, Default)]
pub(in crate::daemon::desk) struct Recordings(Arc<Mutex<Kept>>);

impl Recordings {
    /// Opens a file that the register names.
    pub fn open(&self, folder: &Path, known_name: &str) -> Result<Arc<Opened>, Trouble> {
        let gone = || Trouble::file_gone(known_name);
        // A register from elsewhere could name anything.
        if Path::new(known_name).file_name() != Some(known_name.as_ref()) {
            return Err(gone());
        }
        let path = folder.join(known_name);
        let found = std::fs::metadata(&path).ok();
        let found = found.filter(std::fs::Metadata::is_file).ok_or_else(gone)?;
        let known = (known_name.to_owned(), found.len(), found.modified().ok());
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let there = kept.iter().find(|(same, _)| *same == known);
        if let Some((_, opened)) = there {
            return Ok(Arc::clone(opened));
        }
        // Others need not wait while this one is opened; twice is no harm.
        drop(kept);
        let opened = Arc::new(Opened::open(&path).map_err(|error| spoiled(&error))?);
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.retain(|((name, ..), _)| *name != known.0);
        if kept.len() == MOST_KEPT {
            kept.remove(0);
        }
        kept.push((known, Arc::clone(&opened)));
        Ok(opened)
    }
}
