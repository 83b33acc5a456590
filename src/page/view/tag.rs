//! What the code in a photo of a tag or a paper turned out to be.

/// What came of a photo.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CodeSaid {
    /// The tag of a unit that is known.
    Unit(String),
    /// The number of a paper that is known, and as the register has it.
    Paper(String),
    /// The number of a paper that is known, with another outcome or another recording than the
    /// register has.
    OtherPaper(String),
    /// The number of a paper, or a run, that is not known.
    NoPaper(String),
    /// A text that could be a tag, and is none that is known.
    NoUnit(String),
    /// A text that is neither a tag nor a paper of this program.
    Strange(String),
    /// Nothing was read.
    Unread(Unread),
}

/// Why nothing was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unread {
    /// No file was sent.
    NoFile,
    /// It is neither JPEG nor PNG.
    NoPicture,
    /// It has too many bytes or pixels; how many, in words.
    TooLarge(String),
    /// It is damaged.
    Damaged,
    /// There is no code in it that can be read.
    NoCode,
    /// It took too long.
    NotInTime,
}
