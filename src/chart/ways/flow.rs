//! The arrow of one way.

use super::mark::FlowWeight;
use super::mark::LEAK;
use crate::chart::canvas::At;
use crate::chart::canvas::BLACK;
use crate::chart::canvas::Canvas;
use crate::chart::canvas::GREY;
use crate::chart::canvas::Pen;

/// Draws an arrow along a straight way.
pub(super) fn flow(canvas: &mut Canvas<'_>, from: At, to: At, weight: FlowWeight) {
    let length = (to.0 - from.0).hypot(to.1 - from.1);
    let along = ((to.0 - from.0) / length, (to.1 - from.1) / length);
    let back = |pt: f64, aside: f64| {
        (
            to.0 - along.0 * pt - along.1 * aside,
            to.1 - along.1 * pt + along.0 * aside,
        )
    };
    match weight {
        FlowWeight::Leaks { share } => {
            let half = 1.1 + 1.2 * share.clamp(0.0, 1.0);
            let (head, wing) = (5.0 + 2.4 * half, 2.4 + 1.8 * half);
            // One filled shape: a thin stroke may be lost on a fax, a shape is not.
            let shape = [
                to,
                back(head, wing),
                back(head, half),
                back(length, half),
                back(length, -half),
                back(head, -half),
                back(head, -wing),
            ];
            canvas.fill(&shape, LEAK);
        }
        FlowWeight::Open => {
            let pen = Pen {
                ink: BLACK,
                width_pt: 1.5,
                dash_pt: &[4.0, 2.4],
            };
            canvas.line(&[from, back(7.0, 0.0)], pen);
            let head = [to, back(7.0, 3.8), back(7.0, -3.8), to];
            canvas.line(&head, Pen::solid(BLACK, 1.1));
        }
        FlowWeight::Tight => {
            let pen = Pen::solid(BLACK, 0.9);
            canvas.line(&[from, back(3.0, 0.0)], pen);
            let bar = [back(3.0, 4.5), back(3.0, -4.5)];
            canvas.line(&bar, Pen::solid(BLACK, 2.0));
        }
        FlowWeight::NotTested => {
            let pen = Pen {
                ink: GREY,
                width_pt: 1.1,
                dash_pt: &[1.1, 2.6],
            };
            canvas.line(&[from, to], pen);
        }
    }
}
