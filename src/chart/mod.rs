//! Every picture, page and paper alike, as SVG text.
//!
//! The account chart says where the oil went, the record chart shows what was
//! measured, the course chart that with the steps of a procedure, the window chart any stretch of it, the circuit drawing shows how the piece was plumbed, the ways drawing what came
//! out for each way over several holds. All of them come
//! from the same few strokes of `canvas`, so that screen, print and fax agree.
//!
//! Leaves all figures to `account` and all judging to `verdict`.
//!
//! Invariant: a pure function of what it is given; the same input gives the same
//! text. Where nothing was measured, nothing is drawn.

mod account;
mod circuit;
mod course;
mod record;
mod ways;
mod window;
mod years;

mod axis;
mod brush;
mod canvas;
mod fence;
mod label;
mod look;
mod thin;

pub use account::AccountPicture;
pub use account::Seen;
pub use account::account_chart;
pub use circuit::circuit_drawing;
pub use circuit::circuit_size;
pub use course::StepMark;
pub use course::course_chart;
pub use fence::Fence;
pub use fence::fences;
pub use record::RecordPicture;
pub use record::record_chart;
pub use ways::FlowWeight;
pub use ways::WayMark;
pub use ways::WaysPicture;
pub use ways::ways_drawing;
pub use ways::ways_height_pt;
pub use window::window_chart;
pub use window::window_plot;
pub use years::YearMark;
pub use years::YearsPicture;
pub use years::years_chart;

/// Width and height of a picture in points (1/72 inch).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Size {
    /// Width in points.
    pub width_pt: f64,
    /// Height in points.
    pub height_pt: f64,
}
