//! The ways as they are marked: how each arrow is drawn, and the words beside it.

use crate::account::investigation::Way;
use crate::chart::canvas;
use crate::chart::canvas::Hand;
use crate::chart::canvas::Ink;

/// How an arrow is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FlowWeight {
    /// It leaks: this part of the largest leak, 0 to 1.
    Leaks {
        /// Part of the largest leak.
        share: f64,
    },
    /// It does not leak more than what does not matter.
    Tight,
    /// It cannot be told.
    Open,
    /// It was not tested.
    NotTested,
}

/// One way with its words.
#[derive(Debug, Clone, PartialEq)]
pub struct WayMark {
    /// The way.
    pub way: Way,
    /// How its arrow is drawn.
    pub weight: FlowWeight,
    /// What it is, "plug or hose".
    pub name: String,
    /// What is said of it, "leaks", "cannot tell:"; may be empty.
    pub verb: String,
    /// Its figure, "1.9 ± 0.1 mL/min", or "not tested".
    pub figure: String,
    /// At which pressure and in which phases; may be empty.
    pub at: String,
}

/// What leaks; dark enough for a fax.
pub(super) const LEAK: Ink = Ink(0x8C, 0x10, 0x10);
/// Size of the words.
pub(super) const TEXT_PT: f64 = 8.0;
/// Height of a line of words.
pub(super) const LEADING: f64 = 9.7;
/// Greatest width of one way below a port.
const COLUMN: f64 = 132.0;

/// Height that the drawing of these ways needs at a width, in points.
pub fn ways_height_pt(ways: &[WayMark], width_pt: f64) -> f64 {
    let column = column_pt(ways, width_pt);
    let n_lines = ways
        .iter()
        .filter(|mark| is_on_port(mark.way))
        .map(|mark| lines(mark, column - 6.0).len())
        .max();
    ABOVE_LABELS_PT + above_pt(ways) + n_lines.unwrap_or(1) as f64 * LEADING
}

/// Lines of a label over the tube that have room without more height.
const LINES_ABOVE: usize = 3;

/// Height that labels over the tube take beyond three lines, in points.
pub(super) fn above_pt(ways: &[WayMark]) -> f64 {
    let n_lines = ways
        .iter()
        .filter(|mark| !is_on_port(mark.way))
        .map(|mark| lines(mark, label_pt(ways)).len())
        .max();
    n_lines.unwrap_or(0).saturating_sub(LINES_ABOVE) as f64 * LEADING
}

/// Width for a label over the tube; two at the piston have less each.
pub(super) fn label_pt(ways: &[WayMark]) -> f64 {
    let at_piston = ways
        .iter()
        .filter(|mark| matches!(mark.way, Way::Piston(_)));
    match at_piston.count() {
        0 | 1 => 188.0,
        _ => 150.0,
    }
}

/// Height without the labels below the ports.
const ABOVE_LABELS_PT: f64 = 115.0;

/// Whether a way hangs below a port.
fn is_on_port(way: Way) -> bool {
    way.port().is_some()
}

/// Width for one way below a port.
pub(super) fn column_pt(ways: &[WayMark], width_pt: f64) -> f64 {
    let n = ways.iter().filter(|mark| is_on_port(mark.way)).count();
    (width_pt / n.max(1) as f64).min(COLUMN)
}

/// The lines of a mark, verb and figure in one if they fit into a width.
pub(super) fn lines(mark: &WayMark, width_pt: f64) -> Vec<(String, Hand)> {
    let (ink, bold) = match mark.weight {
        FlowWeight::Leaks { .. } => (LEAK, true),
        FlowWeight::Tight | FlowWeight::Open => (canvas::BLACK, true),
        FlowWeight::NotTested => (canvas::BLACK, false),
    };
    let plain = Hand::plain(canvas::BLACK, TEXT_PT);
    let hand = Hand {
        bold,
        ..Hand::plain(ink, TEXT_PT)
    };
    let mut lines = vec![(mark.name.clone(), plain)];
    let joined = format!("{} {}", mark.verb, mark.figure);
    let joined = joined.trim().to_owned();
    if mark.verb.is_empty() || canvas::width_pt(&joined, hand) <= width_pt {
        lines.push((joined, hand));
    } else {
        lines.push((mark.verb.clone(), hand));
        lines.push((mark.figure.clone(), hand));
    }
    if !mark.at.is_empty() {
        lines.push((mark.at.clone(), plain));
    }
    lines
}
