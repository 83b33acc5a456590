//! How each line of the account chart looks, and the room that all of them take.
//!
//! What is lost or gained goes up, bold and in colour; what only looks like a leak goes
//! down, thin and grey. Drawing is left to `account`.

use crate::account::LineKind;
use crate::chart::account::AccountPicture;
use crate::chart::axis;
use crate::chart::canvas;
use crate::chart::canvas::Hand;
use crate::chart::canvas::Pen;
use crate::chart::label::LABEL_GAP_PT;
use crate::chart::label::TEXT_PT;

/// What stands beside a line.
pub(super) fn name(kind: LineKind) -> &'static str {
    match kind {
        LineKind::CapLost => "lost from the cap side",
        LineKind::RodGained => "gained on the rod side",
        LineKind::Squeeze => "squeeze, no leak",
        LineKind::Heat => "heat, no leak",
    }
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

/// What only looks like a leak is drawn downwards.
pub(super) fn sense(kind: LineKind) -> f64 {
    match kind {
        LineKind::CapLost | LineKind::RodGained => 1.0,
        LineKind::Squeeze | LineKind::Heat => -1.0,
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
                let v = v * sense(line.kind);
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

/// Width that the names beside the lines take, in points.
pub(super) fn label_width(picture: &AccountPicture<'_>) -> f64 {
    let hand = Hand::bold(canvas::BLACK, TEXT_PT);
    let names = picture.lines.iter().map(|l| name(l.kind));
    let widest = names
        .chain(picture.fences.iter().map(|f| f.name.as_str()))
        .map(|text| canvas::width_pt(text, hand))
        .fold(0.0, f64::max);
    (widest + LABEL_GAP_PT + 10.0).min(0.4 * picture.size.width_pt)
}
