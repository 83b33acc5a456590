//! The journal: an append-only file that holds a recording while it is made.
//!
//! Pure: bytes out of [`JournalWriter`], bytes into [`read_journal`]; files are the business of
//! `daemon`. A finished recording is always made by reading its journal, after a normal end as after
//! a power cut, so that there is one way only and memory does not grow while recording. Two
//! passes make it without growing either: [`scan_journal`] finds all but the rows and how far the
//! journal can be believed, [`JournalRows`] hands out the rows.
//!
//! Layout, version 2; files of version 1 have no entries and are read as well. All integers and floats are little endian; `f64` is IEEE 754 binary64.
//!
//! ```text
//! file  = magic version block*
//! magic = 8A 53 52 4A 0D 0A 1A 0A      "SRJ" between bytes that a transfer as text would spoil
//! version = u32, 2
//! block = length u32 | kind u8 | payload of `length` bytes | checksum u32
//! ```
//!
//! The checksum is CRC-32C (Castagnoli, RFC 3720) over length, kind and payload. Kinds:
//!
//! | Kind | Payload |
//! |---|---|
//! | 1 heading | UTF-8 JSON, once and first: what [`Heading`] and [`Channel`] hold, units in the names |
//! | 2 rows | channels u8, rows u16, then for each row: bench time f64 in s, one code i32 a channel |
//! | 3 gap | from f64 s, until f64 s, cause as UTF-8: lost, unplugged, silent, restarted |
//! | 4 phase begins | from f64 s, name as UTF-8 |
//! | 5 phase ends | until f64 s, name as UTF-8 |
//! | 6 loss | samples lost, bad frames, dropped by the board, bytes overrun: 4 × u64, totals so far |
//! | 7 ending | u8 (0 complete, 1 interrupted), reason as UTF-8; nothing follows |
//! | 8 entry | at f64 s, then UTF-8: kind, name of the step, text as typed, each on a line of its own; the text may have more |
//!
//! Invariants: what stands before the first bad block is read to the last row, nothing behind it is
//! believed; a journal without an ending is a recording that was interrupted; row times rise.

mod blocks;
mod description;
mod read;
mod rows;
mod write;

pub use read::Cut;
pub use read::TailReport;
pub use read::read_journal;
pub use read::scan_journal;
pub use rows::JournalRows;
pub use write::JournalWriter;

/// First bytes of each journal.
const MAGIC: [u8; 8] = *b"\x8aSRJ\r\n\x1a\n";

/// Version of this layout.
const JOURNAL_VERSION: u32 = 2;

/// Oldest version that is read.
const OLDEST_VERSION: u32 = 1;

/// Bytes of magic and version.
const START_BYTES: usize = MAGIC.len() + 4;

/// Longest payload; a longer length is damage. A setup of this size is no setup.
const MAX_PAYLOAD_BYTES: usize = 1 << 20;

/// Most rows in one block; the writer begins another one.
const MAX_ROWS: usize = 4_096;

/// What a block holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Heading,
    Rows,
    Gap,
    PhaseBegins,
    PhaseEnds,
    Loss,
    Ending,
    Entry,
}

impl Kind {
    const ALL: [Self; 8] = [
        Self::Heading,
        Self::Rows,
        Self::Gap,
        Self::PhaseBegins,
        Self::PhaseEnds,
        Self::Loss,
        Self::Ending,
        Self::Entry,
    ];

    fn code(self) -> u8 {
        match self {
            Self::Heading => 1,
            Self::Rows => 2,
            Self::Gap => 3,
            Self::PhaseBegins => 4,
            Self::PhaseEnds => 5,
            Self::Loss => 6,
            Self::Ending => 7,
            Self::Entry => 8,
        }
    }

    fn from_code(code: u8) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.code() == code)
    }
}

/// CRC-32C as in RFC 3720.
fn checksum(bytes: &[u8]) -> u32 {
    const CASTAGNOLI: crc::Crc<u32, crc::Table<16>> =
        crc::Crc::<u32, crc::Table<16>>::new(&crc::CRC_32_ISCSI);
    CASTAGNOLI.checksum(bytes)
}

/// Why something cannot be written to a journal, or bytes are no journal.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// The file does not begin as a journal does.
    #[error(
        "this is no stillrod journal: it has {n_bytes} bytes and does not begin with the mark of one; \
         look for the right file"
    )]
    Foreign {
        /// Size of the file.
        n_bytes: usize,
    },
    /// The journal was written by a later version of the program.
    #[error(
        "the journal has layout {found}, this program knows {JOURNAL_VERSION}; use a newer stillrod"
    )]
    Newer {
        /// Layout of the file.
        found: u32,
    },
    /// The first block is not a whole heading, so nothing says what the rows mean.
    #[error(
        "the journal has no readable heading ({why}), so its rows mean nothing; nothing can be recovered"
    )]
    NoHeading {
        /// What is wrong with it.
        why: String,
    },
    /// The file cannot be read.
    #[error("the journal cannot be read; check the disk it lies on")]
    Unreadable {
        /// What the system said.
        #[source]
        cause: std::io::Error,
    },
    /// The file is not what it was a moment ago.
    #[error("the journal changed while it was read; nobody may write it now: try again")]
    Changed,
    /// A number of the heading cannot be stored.
    #[error("{what} of channel {role} is not a finite number; correct the setup")]
    NotFinite {
        /// Which number.
        what: &'static str,
        /// Channel.
        role: &'static str,
    },
    /// The heading does not fit in a block.
    #[error(
        "setup and shop file make a heading of {n_bytes} bytes, a journal takes {MAX_PAYLOAD_BYTES}; \
         shorten the comments in them"
    )]
    HeadingTooLong {
        /// Size of the heading.
        n_bytes: usize,
    },
    /// A row has another number of codes than there are channels.
    #[error("a row has {n_codes} codes for {n_channels} channels")]
    RowWidth {
        /// Codes in the row.
        n_codes: usize,
        /// Channels of the journal.
        n_channels: usize,
    },
    /// The time of a row does not follow that of the row before.
    #[error("time does not go forward: {before_s} s is followed by {after_s} s")]
    TimeBackwards {
        /// Time of the row before, s.
        before_s: f64,
        /// Time of the row, s.
        after_s: f64,
    },
}

#[cfg(test)]
mod tests;
