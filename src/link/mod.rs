//! The line to the board: from bytes to rows in bench time, and through an unplugged adapter.
//!
//! A task reads and does nothing else; everything it read is decoded by whoever calls
//! [`Link::next`]. The same decoding runs over captured bytes with [`replay`]. What a gap
//! or a fault means for a test is decided elsewhere.
//!
//! Invariants: memory is bounded, what does not fit is counted; an adapter that is gone is
//! never asked again without a pause; bench time rises; samples of another board
//! than the first one never become rows.

mod line;

mod decode;
mod timeline;

mod adapter;
mod held;
mod pump;
mod there;

pub use adapter::Adapter;
pub use adapter::adapters;
pub use decode::Replay;
pub use decode::replay;
pub use held::Holder;
pub use held::holders;
pub use line::Link;
pub use there::Access;
pub use there::AdapterThere;
pub use there::adapters_there;

use crate::recording::Gap;
use crate::recording::Row;
use firmware_protocol::Hello;
use firmware_protocol::Status;
use std::path::PathBuf;

/// What a host can ask of a board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Request {
    /// Say who you are.
    Identify,
    /// Take samples. Asked again by the link until the board runs, also after a restart.
    Start,
    /// Take no more samples.
    Stop,
}

/// What happened on the line.
#[derive(Debug, Clone, PartialEq)]
pub enum LinkEvent {
    /// The board said who it is; it is the same board as before.
    Hello(Box<Hello>),
    /// Another board, or the same with other channels, answers. None of its samples are
    /// taken; open a new link to work with it.
    OtherBoard(Box<Hello>),
    /// Rows of all channels of the board, in its order. The first one is at 0 s.
    Samples(Vec<Row>),
    /// A stretch without samples has ended. Comes before the rows behind it.
    Gap(Gap),
    /// How the board is.
    Status(Status),
    /// The board did not do what it was asked, in words.
    Refused(String),
    /// The board speaks another version of the protocol, in words. Said once until the next opening.
    OtherVersion(String),
    /// The adapter is gone, in words. The link tries to open it again.
    Lost(String),
    /// The line is open and the board has said nothing for two seconds.
    Silent,
    /// The board is there again after [`LinkEvent::Lost`] or [`LinkEvent::Silent`].
    Back {
        /// Time without a word from it, s.
        away_s: f64,
    },
    /// The patience for an adapter that is gone is used up. Nothing comes after this; open a new link.
    GaveUp,
}

/// Why there is no link.
#[derive(Debug, thiserror::Error)]
pub enum LinkError {
    /// There is no such adapter.
    #[error("adapter {} not found; {there}", path.display())]
    NotFound {
        /// Which.
        path: PathBuf,
        /// The adapters there are, in words.
        there: String,
    },
    /// The adapter is there and may not be used.
    #[error("no permission for adapter {} ({owner}); {fix}", path.display())]
    Permission {
        /// Which.
        path: PathBuf,
        /// Owner, group and mode, in words.
        owner: String,
        /// What to do, in words.
        fix: String,
    },
    /// Another program has the adapter.
    #[error(
        "adapter {} is in use by another program; close it (a modem manager lets go after ten seconds) and try again",
        path.display()
    )]
    Busy {
        /// Which.
        path: PathBuf,
    },
    /// The system refused in another way.
    #[error("adapter {} cannot be opened: {what}; unplug it, plug it in again and check the name", path.display())]
    Other {
        /// Which.
        path: PathBuf,
        /// What the system said.
        what: String,
    },
    /// The adapter works and nothing on it is a board.
    #[error("no board answers on {}: {heard}", path.display())]
    NoBoard {
        /// Which.
        path: PathBuf,
        /// What came instead and what to do, in words.
        heard: String,
    },
}
