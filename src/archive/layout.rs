//! Names and groups of the file, shared by writing and reading.
//!
//! Invariant: a name that is written under one constant is read under the same.

use crate::channel::Role;

pub(super) const ENTRY: &str = "entry";
pub(super) const INSTRUMENT: &str = "entry/instrument";
pub(super) const RECORDING: &str = "entry/recording";
pub(super) const TIME: &str = "entry/recording/time";
pub(super) const GAPS: &str = "entry/recording/gaps";
pub(super) const PHASES: &str = "entry/recording/phases";
pub(super) const ENTRIES: &str = "entry/recording/entries";
pub(super) const LOSS: &str = "entry/recording/loss";
/// Blocks of rows for looking at long recordings; missing in short ones.
pub(super) const OVERVIEW: &str = "entry/overview";
pub(super) const VERSION: &str = "entry/recording/recording_version";
/// Attribute of codes that are read against the supply: name of the channel it stands in.
pub(super) const SUPPLY_CHANNEL: &str = "supply_channel";

pub(super) const CHECKSUM: &str = "entry/recording/content_crc32c";

pub(super) const COMPLETE: &str = "complete";
pub(super) const INTERRUPTED: &str = "interrupted";

/// Most rows of a recording: two days at 1 kHz. More is damage.
pub(super) const MAX_ROWS: usize = 200_000_000;

/// Most gaps or phases. More is damage.
pub(super) const MAX_MARKS: usize = 10_000_000;

/// A group that a viewer plots: values of one kind over time.
pub(super) struct Plot {
    pub(super) group: &'static str,
    pub(super) title: &'static str,
    pub(super) units: &'static str,
    pub(super) roles: &'static [Role],
}

/// The plots of a recording; the first one with a channel is shown first.
pub(super) const PLOTS: [Plot; 4] = [
    Plot {
        group: "pressure",
        title: "gauge pressure",
        units: "bar",
        roles: &[Role::CapPressure, Role::RodPressure],
    },
    Plot {
        group: "position",
        title: "extension of the rod",
        units: "mm",
        roles: &[Role::Position],
    },
    Plot {
        group: "temperature",
        title: "temperature",
        units: "degC",
        roles: &[Role::OilTemperature, Role::WallTemperature],
    },
    Plot {
        group: "supply",
        title: "supply of the sensors",
        units: "V",
        roles: &[Role::Supply],
    },
];

/// A value of the plots in SI units again, as near as the plots are.
pub(super) fn si(role: Role, plotted: f32) -> f64 {
    let shown = f64::from(plotted);
    match role {
        Role::CapPressure | Role::RodPressure => shown * 1e5,
        Role::Position => shown / 1e3,
        Role::OilTemperature | Role::WallTemperature => shown + 273.15,
        Role::Supply => shown,
    }
}

/// An SI value in the units of the plots, for people; NaN stays NaN.
pub(super) fn plotted(role: Role, si: f64) -> f32 {
    let shown = match role {
        Role::CapPressure | Role::RodPressure => si / 1e5,
        Role::Position => si * 1e3,
        Role::OilTemperature | Role::WallTemperature => si - 273.15,
        Role::Supply => si,
    };
    shown as f32
}

/// Where the plotted values of a channel lie.
pub(super) fn plot_field(role: Role) -> Option<String> {
    let plot = PLOTS.iter().find(|plot| plot.roles.contains(&role))?;
    Some(format!("{ENTRY}/{}/{}", plot.group, role.word()))
}
