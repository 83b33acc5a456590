//! What eyes see of a hold: places that stay dry or get wet, and oil in a vessel.

use crate::cylinder::Chamber;

/// What is looked at during a hold: clean and dry at its start, what at its end?
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// Nothing came out: not two drops.
    Dry,
    /// Oil came out.
    Wet,
}

/// Oil that was collected from an open port or a breather.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Collected {
    /// Of which chamber.
    pub chamber: Chamber,
    /// How much over the counted hold, m³; negative if the vessel gave oil.
    pub volume_m3: f64,
    /// Its standard uncertainty, m³.
    pub standard_m3: f64,
}

/// What eyes saw of a phase; None where nobody looked.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Seen {
    /// At the gland.
    pub gland: Option<Look>,
    /// At the cap port with its plug.
    pub cap_port: Option<Look>,
    /// At the rod port with its plug.
    pub rod_port: Option<Look>,
    /// In a vessel.
    pub collected: Option<Collected>,
}
