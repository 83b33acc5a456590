//! Adapters of the computer, and a look at the zeros of sensors through one of them.

/// An adapter as it is seen from outside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AdapterLine {
    /// The path to use.
    pub path: String,
    /// What it says it is; may be empty.
    pub says: String,
    /// Whether it is plugged in rather than built in.
    pub is_usb: bool,
    /// Whether the program may open it.
    pub may: MayOpen,
    /// Other programs that have it open: name and number.
    pub held_by: Vec<(String, u32)>,
    /// Whether this program has it open.
    pub is_ours: bool,
}

/// Whether an adapter may be opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum MayOpen {
    /// It may.
    Yes,
    /// Being in a group would open it: the group, and the user that is to be in it.
    WantsGroup(String, String),
    /// Only a rule of the system would: owner, group and mode.
    WantsRule(String),
    /// It is gone; what the system says.
    Gone(String),
}

/// The sheet for a look at zeros.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ZeroSheet {
    /// Setup files of the data folder.
    pub setups: Vec<String>,
    /// Where they lie.
    pub setups_folder: String,
    /// Paths of adapters that may be opened.
    pub adapters: Vec<String>,
    /// The last look since the program was started.
    pub last: Option<ZeroTold>,
}

/// A look at zeros.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ZeroTold {
    /// When.
    pub at: String,
    /// The setup file.
    pub setup: String,
    /// The adapter.
    pub adapter: String,
    /// A line for each sensor.
    pub lines: Vec<ZeroLine>,
}

/// The zero of one sensor. Figures are texts with their unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ZeroLine {
    /// What it measures.
    pub sensor: String,
    /// Its serial number; may be empty.
    pub serial: String,
    /// What came of it.
    pub said: ZeroSaid,
}

/// What a vented sensor said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ZeroSaid {
    /// Mean and scatter of its readings, and how far from zero its papers allow.
    Within(String, String, String),
    /// The same, further from zero than they allow.
    Off(String, String, String),
    /// So many of so many readings were outside what a sound sensor sends.
    Broken(usize, usize),
}
