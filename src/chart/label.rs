//! Names at the right ends of lines, none covering another.

use crate::chart::canvas;
use crate::chart::canvas::Area;
use crate::chart::canvas::At;
use crate::chart::canvas::Canvas;
use crate::chart::canvas::Hand;
use crate::chart::canvas::Ink;
use crate::chart::canvas::Pen;
use crate::chart::canvas::Side;

/// Size of the text, in points.
pub(super) const TEXT_PT: f64 = 8.5;
/// Space between plot and leader, in points.
pub(super) const LABEL_GAP_PT: f64 = 5.0;

/// A name at the right end of a line.
pub(super) struct Label {
    /// Height of its middle, in points.
    pub y: f64,
    /// Where its line ends.
    pub end: At,
    /// The name.
    pub text: String,
    /// A second line, plain.
    pub second: Option<String>,
    /// Colour of the name.
    pub ink: Ink,
    /// Whether the name is bold.
    pub bold: bool,
}

impl Label {
    fn height(&self) -> f64 {
        if self.second.is_some() { 22.0 } else { 12.0 }
    }

    fn hand(&self) -> Hand {
        Hand {
            ink: self.ink,
            size_pt: TEXT_PT,
            bold: self.bold,
        }
    }

    /// Draws it beside a plot that ends at `right`, with a leader from its line.
    pub(super) fn draw(&self, canvas: &mut Canvas<'_>, right: f64) {
        let x = right + LABEL_GAP_PT + 5.0;
        canvas.line(
            &[self.end, (right + 2.0, self.end.1), (x - 2.0, self.y)],
            Pen::solid(self.ink, 0.5),
        );
        match &self.second {
            None => canvas.text(&self.text, (x, self.y), Side::Right, self.hand()),
            Some(second) => {
                canvas.text(&self.text, (x, self.y - 5.0), Side::Right, self.hand());
                let plain = Hand::plain(canvas::BLACK, TEXT_PT);
                canvas.text(second, (x, self.y + 5.5), Side::Right, plain);
            }
        }
    }
}

/// Pushes labels apart until none covers another, and keeps them beside the plot.
pub(super) fn place(labels: &mut [Label], plot: Area) {
    let room = plot.bottom - plot.top + 10.0;
    if labels.iter().map(Label::height).sum::<f64>() > room {
        // Names come before figures, which the table has as well.
        for label in labels.iter_mut() {
            label.second = None;
        }
    }
    labels.sort_by(|a, b| a.y.total_cmp(&b.y));
    let mut free = plot.top - 4.0;
    for label in labels.iter_mut() {
        label.y = label.y.max(free + label.height() / 2.0);
        free = label.y + label.height() / 2.0;
    }
    let mut free = plot.bottom + 6.0;
    for label in labels.iter_mut().rev() {
        label.y = label.y.min(free - label.height() / 2.0);
        free = label.y - label.height() / 2.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_lines_that_end_together_do_not_cover_each_other() {
        let plot = Area {
            left: 0.0,
            top: 0.0,
            right: 100.0,
            bottom: 100.0,
        };
        let label = |y: f64, second: Option<String>| Label {
            y,
            end: (100.0, y),
            text: "x".into(),
            second,
            ink: canvas::BLACK,
            bold: false,
        };
        let two = Some("y".to_string());
        let mut labels = [
            label(99.0, two.clone()),
            label(98.5, two),
            label(99.5, None),
            label(3.0, None),
        ];
        place(&mut labels, plot);
        for pair in labels.windows(2) {
            let apart = (pair[0].height() + pair[1].height()) / 2.0;
            assert!(pair[1].y - pair[0].y >= apart - 1e-9);
        }
        assert!(labels[3].y + labels[3].height() / 2.0 <= plot.bottom + 6.0);
    }
}
