//! What people said and read during a recording, as they said it, and what was decided.

/// One thing that was said.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// When, s of bench time.
    pub at_s: f64,
    /// Name of the step of the procedure.
    pub step: String,
    /// What it was.
    pub kind: EntryKind,
    /// The words as they were typed; empty for a mere confirmation.
    pub text: String,
}

/// What was said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EntryKind {
    /// What the step asks to be done is done.
    Done,
    /// A reading.
    Reading,
    /// The hold was decided and ended before its longest; the words are why.
    Decided,
}

impl EntryKind {
    /// The word in data files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::Reading => "reading",
            Self::Decided => "decided",
        }
    }

    /// From the word in data files.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Done, Self::Reading, Self::Decided]
            .into_iter()
            .find(|kind| kind.word() == word)
    }
}
