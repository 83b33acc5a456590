//! How far the writing of a recording is, for whoever waits.

use std::fmt;

/// What is being done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doing {
    /// Rows go into the file.
    Writing,
    /// The file is hashed and signed.
    Signing,
    /// The file is read back and compared.
    ReadingBack,
}

/// How far it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress {
    /// What is being done.
    pub doing: Doing,
    /// How much of that is done, 0 to 1.
    pub share: f64,
}

impl Progress {
    pub(super) fn new(doing: Doing, n_done: u64, n_all: u64) -> Self {
        let share = match n_all {
            0 => 1.0,
            _ => (n_done as f64 / n_all as f64).min(1.0),
        };
        Self { doing, share }
    }
}

/// "writing the recording: 43 %".
impl fmt::Display for Progress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let doing = match self.doing {
            Doing::Writing => "writing the recording",
            Doing::Signing => "signing the recording",
            Doing::ReadingBack => "reading the recording back",
        };
        // Never 100 before the end.
        write!(f, "{doing}: {} %", (100.0 * self.share).floor())
    }
}

/// Who is told.
pub type Told<'a> = &'a mut dyn FnMut(Progress);
