//! What the QR codes in a photo say: of the label of a unit, or of a paper.
//!
//! Bytes of a JPEG or PNG become a grey picture with limits on everything (`picture`); the
//! picture is looked at in several sizes and lights until a code can be read (`search`). What a
//! code means is decided elsewhere.
//!
//! Invariants: a pure function, no clock and no file; a fault of a decoder is an error and never
//! ends the program; a picture that would keep the reader for hours is not shown to it; nothing large is asked of memory for a picture that only says it is large.

mod finders;
mod picture;
mod search;

/// Largest photo, bytes.
pub const LARGEST_PHOTO: usize = 20 * 1024 * 1024;

/// Most pixels of a photo: above what telephones make of a label.
pub const MOST_PIXELS: usize = 50_000_000;

/// Why no code was read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PhotoError {
    /// The first bytes are those of neither kind.
    #[error(
        "this is neither JPEG nor PNG; set the camera to JPEG, or make a picture of the screen"
    )]
    NoPicture,
    /// More bytes or pixels than are looked at.
    #[error(
        "the photo has {size}, and {most} are looked at; set the camera to a smaller picture, or cut out the code"
    )]
    TooLarge {
        /// How large it is, in words.
        size: String,
        /// The limit, in words.
        most: &'static str,
    },
    /// It begins as a picture and cannot be read as one.
    #[error("the photo is damaged ({what}); take it again")]
    Damaged {
        /// What the decoder says.
        what: String,
    },
    /// It is a picture, and no code in it can be read.
    #[error("no code was found in the photo")]
    NoCode,
    /// It was not found in the time there is.
    #[error("no code was found in the photo in time; cut out the code, or take a closer photo")]
    NotInTime,
}

/// What the codes in a photo say, each text once: those that were read in the first look that read
/// any. `may_go_on` is asked before each look.
///
/// # Errors
/// If the bytes are no picture, or no code in it can be read; see [`PhotoError`].
pub fn read_codes(
    bytes: &[u8],
    may_go_on: &mut dyn FnMut() -> bool,
) -> Result<Vec<String>, PhotoError> {
    search::read(&picture::Grey::of(bytes)?, may_go_on)
}

/// Runs what may panic on bytes from outside; None if it did.
fn guarded<T>(what: impl FnOnce() -> T) -> Option<T> {
    // Whatever it had in hand is thrown away.
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(what)).ok()
}

#[cfg(test)]
mod tests;
