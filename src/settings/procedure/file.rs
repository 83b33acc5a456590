//! The shape of a procedure file.

use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::PressureRate;
use crate::quantity::Time;
use crate::quantity::Volume;
use crate::settings::setup::KindWord;
use crate::settings::text::Text;
use serde::Deserialize;
use toml::Spanned;

/// How a setup names its procedure.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct NamingTable {
    pub name: Option<String>,
    pub file: Option<String>,
}

/// A procedure file.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ProcedureFile {
    pub procedure: HeadTable,
    pub step: Vec<Spanned<StepTable>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct HeadTable {
    pub title: String,
    pub about: String,
    pub kinds: Spanned<Vec<KindWord>>,
}

/// A step: what is told, and at most one table of what is recorded.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct StepTable {
    pub id: Spanned<String>,
    pub title: String,
    #[serde(default)]
    pub tell: Vec<String>,
    pub source: Spanned<String>,
    pub vented: Option<VentedTable>,
    pub strokes: Option<Spanned<StrokesTable>>,
    pub squeeze: Option<Spanned<SqueezeTable>>,
    pub dwell: Option<Spanned<DwellTable>>,
    pub hold: Option<Spanned<HoldStepTable>>,
    pub reading: Option<Spanned<ReadingTable>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct VentedTable {
    pub length: Spanned<Text<Time>>,
    /// Within what length the rod comes back to its place at each such step.
    pub place_within: Option<Spanned<Text<Length>>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct StrokesTable {
    pub count: u32,
    /// Figures that the shop's limits are looked for.
    #[serde(default)]
    pub figures: Vec<Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SqueezeTable {
    /// What the cap end is raised to.
    pub pressure: Spanned<Text<GaugePressure>>,
    /// Figures that the shop's limits are looked for.
    #[serde(default)]
    pub figures: Vec<Spanned<String>>,
}

/// What is plumbed and brought to a pressure; common to all that holds one.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct DwellTable {
    pub cap_port: String,
    pub rod_port: Option<String>,
    pub rod: String,
    pub pressure: Spanned<String>,
    /// Another pressure for small bores.
    pub small_bore: Option<SmallBoreTable>,
    pub at: Option<Spanned<String>>,
    pub length: Spanned<Text<Time>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SmallBoreTable {
    pub up_to: Text<Length>,
    pub pressure: Text<GaugePressure>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct HoldStepTable {
    pub cap_port: String,
    pub rod_port: Option<String>,
    pub rod: String,
    #[serde(default)]
    pub joined: bool,
    pub pressure: Option<Spanned<String>>,
    pub other_pressure: Option<Text<GaugePressure>>,
    pub at: Option<Spanned<String>>,
    pub settle: Text<Time>,
    pub steady: Option<SteadyTable>,
    pub length: Text<Time>,
    /// Whether it ends as soon as it is decided.
    #[serde(default)]
    pub until_decided: bool,
    /// Figures that the shop's limits are looked for.
    #[serde(default)]
    pub figures: Vec<Spanned<String>>,
    pub repeats: Option<Spanned<u32>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SteadyTable {
    pub within: Text<PressureRate>,
    pub window: Text<Time>,
    pub at_most: Text<Time>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ReadingTable {
    pub what: ReadingWord,
    /// One sigma of reading a cup or a glass, or of the size of a drop.
    pub uncertainty: Option<Text<Volume>>,
    pub drop: Option<Text<Volume>>,
    /// The figure that a flow is held against, by the shop's limits.
    pub figure: Option<Spanned<String>>,
}

#[derive(Deserialize, Clone, Copy, PartialEq, Eq)]
#[serde(rename_all = "snake_case")]
pub(super) enum ReadingWord {
    Collected,
    Drops,
    LetOff,
    OutsideClass,
    Note,
}
