//! How each line of the account chart looks, and the room that all of them take.
//!
//! What is lost or gained goes up, bold and in colour; what only looks like a leak goes
//! down, thin and grey. Drawing is left to `account`.

use crate::account::Line;
use crate::account::LineKind;
use crate::chart::account::AccountPicture;
use crate::chart::account::Seen;
use crate::chart::axis;
use crate::chart::canvas;
use crate::chart::canvas::Hand;
use crate::chart::canvas::Pen;
use crate::chart::label::LABEL_GAP_PT;
use crate::chart::label::TEXT_PT;

/// What stands beside a line; it follows the sign of what was found at its end.
pub(super) fn name(line: &Line) -> &'static str {
    match (line.kind, is_turned(line)) {
        (LineKind::CapLost, false) => "lost from the cap side",
        (LineKind::CapLost, true) => "gained on the cap side",
        (LineKind::RodGained, false) => "gained on the rod side",
        (LineKind::RodGained, true) => "lost from the rod side",
        (LineKind::Squeeze, _) => "squeeze, no leak",
        (LineKind::Heat, _) => "heat, no leak",
    }
}

/// Whether oil went the other way than the line's kind says.
fn is_turned(line: &Line) -> bool {
    let is_oil = matches!(line.kind, LineKind::CapLost | LineKind::RodGained);
    is_oil && line.volume_m3.last().is_some_and(|v| *v < 0.0)
}

/// What it is drawn with.
pub(super) fn pen(kind: LineKind) -> Pen {
    match kind {
        LineKind::CapLost => Pen::solid(canvas::CAP, 2.2),
        LineKind::RodGained => Pen {
            ink: canvas::ROD,
            width_pt: 1.6,
            dash_pt: &[6.0, 3.0],
        },
        LineKind::Squeeze => Pen::solid(canvas::GREY, 0.7),
        LineKind::Heat => Pen {
            ink: canvas::GREY,
            width_pt: 0.9,
            dash_pt: &[1.2, 2.2],
        },
    }
}

/// Whether it is oil that went somewhere, and not what only looks like it.
pub(super) fn is_main(kind: LineKind) -> bool {
    matches!(kind, LineKind::CapLost | LineKind::RodGained)
}

/// What went somewhere is drawn upwards, whichever way it went; what only looks like a leak
/// downwards.
pub(super) fn sense(line: &Line) -> f64 {
    if is_main(line.kind) && !is_turned(line) {
        1.0
    } else {
        -1.0
    }
}

/// Lowest and highest volume of the chart, in the shown unit.
pub(super) fn volumes(picture: &AccountPicture<'_>, factor: f64) -> (f64, f64) {
    let of_lines = picture.lines.iter().flat_map(|line| {
        let halves = line.half_width_m3.iter().copied();
        let halves = halves.chain(std::iter::repeat(0.0));
        line.volume_m3
            .iter()
            .zip(halves)
            .flat_map(move |(v, half)| {
                let v = v * sense(line);
                [(v - half) * factor, (v + half) * factor]
            })
    });
    let (low, high) = axis::range(of_lines.chain([0.0]), 1e-9).unwrap_or((0.0, 1.0));
    let ends = picture
        .fences
        .iter()
        .map(|f| f.flow_m3_per_s * picture.hold_length_s * factor * 1.06);
    let fence = ends.fold(0.0, f64::max);
    // A limit far above the lines must not press them flat.
    let ceiling = 3.0 * high.max(-low).max(1e-9);
    let high = if fence > ceiling && high > 1e-9 {
        ceiling.max(high)
    } else {
        high.max(fence)
    };
    (low, if high > low { high } else { low + 1.0 })
}

/// How much wider letters of usual screens are than those that are embedded in papers (measured on
/// bold DejaVu Sans against Noto Sans).
const SCREEN_LETTERS: f64 = 1.18;

/// Width that the names beside the lines take, in points.
pub(super) fn label_width(picture: &AccountPicture<'_>) -> f64 {
    let hand = Hand::bold(canvas::BLACK, TEXT_PT);
    let names = picture.lines.iter().map(|line| -> &str { name(line) });
    let widest = names
        .chain(picture.fences.iter().map(|f| f.name.as_str()))
        .map(|text| canvas::width_pt(text, hand))
        .fold(0.0, f64::max);
    let wider = match picture.seen {
        Seen::OnPaper => 1.0,
        Seen::OnScreen => SCREEN_LETTERS,
    };
    (widest * wider + LABEL_GAP_PT + 10.0).min(0.4 * picture.size.width_pt)
}
