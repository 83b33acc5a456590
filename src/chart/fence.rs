//! Limits of flow as fences: a slope from the start of the counted hold.
//!
//! Which side is forbidden is shown by the posts, so that colour is not needed.

use crate::account::FigureName;
use crate::chart::canvas;
use crate::chart::canvas::At;
use crate::chart::canvas::Canvas;
use crate::chart::canvas::Pen;
use crate::verdict::Limit;

/// A limit of flow, as it stands in the chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Fence {
    /// What is written at it.
    pub name: String,
    /// Its slope in m³/s.
    pub flow_m3_per_s: f64,
}

/// Fences of those limits whose figure has its place in the account chart.
pub fn fences<'a>(limits: impl Iterator<Item = &'a Limit>) -> Vec<Fence> {
    limits
        .filter_map(|limit| {
            let what = match limit.figure {
                FigureName::CapLoss => "cap side",
                FigureName::RodGain => "rod side",
                FigureName::PistonBypass => "piston",
                _ => return None,
            };
            Some(Fence {
                name: format!("limit, {what}: {}", limit.text),
                flow_m3_per_s: limit.number * limit.si_per_unit,
            })
        })
        .filter(|f| f.flow_m3_per_s.is_finite())
        .collect()
}

/// Posts on the far side of the fence, where a ribbon must not go.
pub(super) fn posts(canvas: &mut Canvas<'_>, from: At, end: At) {
    let length = (end.0 - from.0).hypot(end.1 - from.1);
    if length < 1.0 {
        return;
    }
    let along = ((end.0 - from.0) / length, (end.1 - from.1) / length);
    let n_posts = (length / 9.0).floor() as usize;
    for index in 1..=n_posts {
        let at = index as f64 * 9.0;
        let foot = (from.0 + along.0 * at, from.1 + along.1 * at);
        let head = (foot.0 + along.1 * 3.5, foot.1 - along.0 * 3.5);
        canvas.line(&[foot, head], Pen::solid(canvas::BLACK, 0.7));
    }
}
