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
    /// A person was asked to read the instruments; the words are what they said, one instrument
    /// after the other. The next row has it in SI, at the middle between this and their last word.
    Look,
    /// An instrument was not read in time; the words are its role.
    Missed,
    /// A reading was taken back before the next one was in; the words are role and reading.
    TakenBack,
}

impl EntryKind {
    /// All kinds.
    pub const ALL: [Self; 6] = [
        Self::Done,
        Self::Reading,
        Self::Decided,
        Self::Look,
        Self::Missed,
        Self::TakenBack,
    ];

    /// Whether it belongs to a hold itself and goes with it when it is cut out.
    pub(super) fn is_of_hold(self) -> bool {
        !matches!(self, Self::Done | Self::Reading)
    }

    /// The word in data files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::Reading => "reading",
            Self::Decided => "decided",
            Self::Look => "look",
            Self::Missed => "missed",
            Self::TakenBack => "taken_back",
        }
    }

    /// From the word in data files.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}
