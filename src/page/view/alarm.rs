//! What goes wrong around the bench, told at the top of the first sheet.

/// Something that goes wrong. Instants and durations are texts as the shop writes them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Alarm {
    /// The disk of the data folder is nearly full: what is free, and whole hours of recording.
    LittleRoom(String, u64),
    /// It is as good as full: what is free.
    NoRoom(String),
    /// The wall clock was moved forward: when, by how much.
    ClockForward(String, String),
    /// The wall clock was moved back: when, by how much.
    ClockBack(String, String),
    /// The computer slept: when it woke, for how long.
    Slept(String, String),
    /// So much happened to clock and computer that the first is not listed.
    MoreBefore(usize),
    /// Another program records in this data folder: its name, its number, the run.
    Records(String, u32, String),
    /// Another program has this data folder open: its name, its number.
    AlsoOpen(String, u32),
}
