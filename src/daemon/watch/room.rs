//! How much recording the disk has room for.
//!
//! Invariant: pure; how much is free is handed in.

/// Below this it is told of, bytes.
const LITTLE_BYTES: u64 = 2_000_000_000;

/// Below this a recording may not come to its end, bytes.
const NONE_BYTES: u64 = 200_000_000;

/// What an hour of recording takes, bytes: six channels at 1000 samples a second, four bytes each
/// and four for the time; three times over: the journal, the file that is made of it while the
/// journal is still there, and something in hand.
const BYTES_AN_HOUR: u64 = 3 * 3_600 * 1_000 * (6 * 4 + 4);

/// Room on a disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Room {
    /// There is enough.
    Enough,
    /// It is nearly full: bytes that are free, and whole hours of recording they are enough for.
    Little(u64, u64),
    /// It is as good as full: bytes that are free.
    None(u64),
}

impl Room {
    /// By the bytes that are free.
    pub fn of(free: u64) -> Self {
        match free {
            ..NONE_BYTES => Self::None(free),
            NONE_BYTES..LITTLE_BYTES => Self::Little(free, free / BYTES_AN_HOUR),
            _ => Self::Enough,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_disk_has_enough_little_or_no_room() {
        for (free, expected) in [
            (u64::MAX, Room::Enough),
            (2_000_000_000, Room::Enough),
            (1_999_999_999, Room::Little(1_999_999_999, 6)),
            (200_000_000, Room::Little(200_000_000, 0)),
            (199_999_999, Room::None(199_999_999)),
            (0, Room::None(0)),
        ] {
            assert_eq!(Room::of(free), expected, "{free}");
        }
    }
}
