//! A brush for circuits: strokes of one scale, and the symbols of ISO 1219-1 drawn by us.
//!
//! Whoever draws thinks in units of an own drawing; the brush scales them to points. Text
//! never becomes smaller than what a fax can carry.

use crate::chart::canvas;
use crate::chart::canvas::Area;
use crate::chart::canvas::At;
use crate::chart::canvas::Canvas;
use crate::chart::canvas::Hand;
use crate::chart::canvas::Pen;
use crate::chart::canvas::Side;
use crate::quantity::Force;
use crate::quantity::UnitSystem;
use crate::quantity::unit::kilonewton;

/// Least size of a text, in points.
pub(super) const LEAST_TEXT_PT: f64 = 7.5;

/// Size of a text in units of the drawing.
const TEXT: f64 = 10.0;

/// Draws on a canvas, scaled.
pub(super) struct Brush<'a, 'b> {
    /// What is drawn on.
    pub canvas: &'a mut Canvas<'b>,
    /// Points to one unit of the drawing.
    pub scale: f64,
}

impl Brush<'_, '_> {
    fn scaled(&self, at: At) -> At {
        (at.0 * self.scale, at.1 * self.scale)
    }

    /// A black line.
    pub(super) fn line(&mut self, points: &[At], width: f64) {
        let points: Vec<_> = points.iter().map(|p| self.scaled(*p)).collect();
        let pen = Pen::solid(canvas::BLACK, width * self.scale);
        self.canvas.line(&points, pen);
    }

    /// A black rectangle.
    pub(super) fn block(&mut self, area: Area) {
        let (left, top) = self.scaled((area.left, area.top));
        let (right, bottom) = self.scaled((area.right, area.bottom));
        let scaled = Area {
            left,
            top,
            right,
            bottom,
        };
        self.canvas.block(scaled, canvas::BLACK);
    }

    /// The outline of a rectangle.
    pub(super) fn frame(&mut self, area: Area, width: f64) {
        let Area {
            left,
            top,
            right,
            bottom,
        } = area;
        let corners = [
            (left, top),
            (right, top),
            (right, bottom),
            (left, bottom),
            (left, top),
        ];
        self.line(&corners, width);
    }

    /// The outline of a circle.
    pub(super) fn circle(&mut self, at: At, radius: f64) {
        let (at, radius) = (self.scaled(at), radius * self.scale);
        let pen = Pen::solid(canvas::BLACK, self.scale);
        self.canvas.circle(at, radius, pen);
    }

    /// Size of text, in points.
    pub(super) fn text_pt(&self) -> f64 {
        (TEXT * self.scale).max(LEAST_TEXT_PT)
    }

    /// Whether text is larger than the drawing round it, so that long words are broken.
    pub(super) fn is_small(&self) -> bool {
        TEXT * self.scale < LEAST_TEXT_PT - 0.2
    }

    /// A text at a place.
    pub(super) fn text(&mut self, text: &str, at: At, side: Side) {
        let hand = Hand::plain(canvas::BLACK, self.text_pt());
        self.canvas.text(text, self.scaled(at), side, hand);
    }

    /// A text, its words under each other from `at` downwards where there is little room.
    pub(super) fn words(&mut self, text: &str, at: At) {
        if !self.is_small() {
            return self.text(text, at, Side::Middle);
        }
        let leading = 1.1 * self.text_pt() / self.scale;
        for (index, word) in text.split(' ').enumerate() {
            let at = (at.0, at.1 + index as f64 * leading);
            self.text(word, at, Side::Middle);
        }
    }

    /// A plugged line that ends at a point.
    pub(super) fn plug(&mut self, (x, y): At) {
        self.line(&[(x - 5.0, y - 5.0), (x + 5.0, y + 5.0)], 1.4);
        self.line(&[(x - 5.0, y + 5.0), (x + 5.0, y - 5.0)], 1.4);
    }

    /// A valve in its shut position, below a point.
    pub(super) fn shut_valve(&mut self, (x, y): At) {
        self.frame(
            Area {
                left: x - 10.0,
                top: y,
                right: x + 10.0,
                bottom: y + 20.0,
            },
            1.0,
        );
        // Both ways of the middle position end blind.
        self.line(&[(x, y), (x, y + 6.0)], 1.0);
        self.line(&[(x - 4.0, y + 6.0), (x + 4.0, y + 6.0)], 1.3);
        self.line(&[(x, y + 20.0), (x, y + 14.0)], 1.0);
        self.line(&[(x - 4.0, y + 14.0), (x + 4.0, y + 14.0)], 1.3);
    }

    /// A check valve in its frame, below a point: shut to what comes from above.
    pub(super) fn holding_valve(&mut self, (x, y): At) {
        self.frame(
            Area {
                left: x - 10.0,
                top: y,
                right: x + 10.0,
                bottom: y + 20.0,
            },
            1.0,
        );
        // The ball, pressed from above onto its seat.
        self.line(&[(x, y), (x, y + 4.6)], 1.0);
        self.circle((x, y + 8.0), 3.2);
        let seat = [(x - 5.5, y + 7.0), (x, y + 13.0), (x + 5.5, y + 7.0)];
        self.line(&seat, 1.2);
        self.line(&[(x, y + 13.0), (x, y + 20.0)], 1.0);
    }

    /// An open vessel whose rim is at a height.
    pub(super) fn vessel(&mut self, (x, y): At) {
        let bowl = [
            (x - 12.0, y),
            (x - 12.0, y + 12.0),
            (x + 12.0, y + 12.0),
            (x + 12.0, y),
        ];
        self.line(&bowl, 1.2);
    }

    /// A hydraulic energy source: its triangle points to the cylinder.
    pub(super) fn supply(&mut self, (x, y): At) {
        let corners = [(x, y), (x + 7.0, y + 12.0), (x - 7.0, y + 12.0), (x, y)];
        self.line(&corners, 1.2);
        self.line(&[(x, y + 12.0), (x, y + 20.0)], 1.0);
    }

    /// Ground to the right of a point: a mechanical stop.
    pub(super) fn ground(&mut self, (x, middle): At) {
        let top = middle - 11.0;
        self.line(&[(x, top), (x, top + 22.0)], 1.6);
        for step in 0..6 {
            let y = top + f64::from(step) * 4.0;
            self.line(&[(x, y + 3.0), (x + 5.0, y - 1.0)], 0.7);
        }
    }

    /// A force along the rod.
    pub(super) fn arrow(&mut self, from: f64, to: f64, y: f64) {
        self.line(&[(from, y), (to, y)], 1.8);
        let back = to + (from - to).signum() * 8.0;
        self.line(&[(back, y - 5.0), (to, y), (back, y + 5.0)], 1.8);
    }
}

/// "30.0 kN", or only "load" where it is not known.
pub(super) fn load_words(load: Option<Force>, units: UnitSystem) -> String {
    match (load, units) {
        (None, _) => "load".to_string(),
        (Some(load), UnitSystem::Metric) => format!("{:.1} kN", load.get::<kilonewton>()),
        (Some(load), UnitSystem::Inch) => format!("{:.0} lbf", load.value / 4.448_221_615),
    }
}
