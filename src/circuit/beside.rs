//! Another cylinder on the same load.
//!
//! Two cylinders at one beam sink as one, and a line between them carries oil from one to the
//! other. A chamber on such a line has no account of its own: what it loses may have leaked in
//! the other one, and what reaches its rod side by the line looks as if it had passed its piston.

/// Where the oil of a second cylinder is that carries the same load.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beside {
    /// Apart from this one's: the ports of one of both are plugged.
    Apart,
    /// On the same line: both are on one valve.
    OnLine,
}

impl Beside {
    /// Its word in setups and data files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Apart => "apart",
            Self::OnLine => "on_line",
        }
    }
}
