//! The strokes all pictures are made of, on the SVG backend of plotters.
//!
//! Coordinates are points from the top left corner. The backend takes whole
//! numbers only, so everything is drawn ten times as large and the header is
//! given the true size. Colours are opaque: a fax has no half-transparent ink.
//!
//! Invariant: whatever is not finite is not drawn.

use plotters::prelude::Color;
use plotters::prelude::DrawingBackend;
use plotters::prelude::FontStyle;
use plotters::prelude::FontTransform;
use plotters::prelude::RGBColor;
use plotters::prelude::SVGBackend;
use plotters::prelude::ShapeStyle;
use plotters::style::FontDesc;
use plotters::style::FontFamily;
use plotters::style::TextStyle;
use plotters::style::text_anchor::HPos;
use plotters::style::text_anchor::Pos;
use plotters::style::text_anchor::VPos;

use crate::chart::Size;

/// Steps of the backend in one point.
const STEPS_PER_PT: f64 = 10.0;

/// Family of all text; the paper carries it, a page falls back to the next one.
const FAMILY: &str = "Noto Sans, sans-serif";

/// An opaque colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Ink(pub u8, pub u8, pub u8);

impl Ink {
    /// The same, pale enough that lines of it are read on top.
    pub(super) fn pale(self) -> Self {
        let pale = |part: u8| u8::MAX - (u8::MAX - part) / 3;
        Self(pale(self.0), pale(self.1), pale(self.2))
    }
}

/// Text and strokes that must be read.
pub(super) const BLACK: Ink = Ink(0x14, 0x14, 0x14);
/// Axes and what is read second.
pub(super) const GREY: Ink = Ink(0x5A, 0x5A, 0x5A);
/// Hatching and grid.
pub(super) const PALE: Ink = Ink(0xC4, 0xC4, 0xC4);
/// Grid behind everything.
pub(super) const FAINT: Ink = Ink(0xE2, 0xE2, 0xE2);
/// Cap side: dark blue, of a set that colour-blind people can tell apart.
pub(super) const CAP: Ink = Ink(0x00, 0x4C, 0x8C);
/// The ribbon of the cap side.
pub(super) const CAP_PALE: Ink = Ink(0xCF, 0xE0, 0xEF);
/// Rod side: burnt orange, lighter than the cap side when printed grey.
pub(super) const ROD: Ink = Ink(0xB8, 0x4A, 0x00);
/// Hatching of the ribbon of the rod side.
pub(super) const ROD_PALE: Ink = Ink(0xE0, 0x9A, 0x66);
/// Position.
pub(super) const MOVE: Ink = Ink(0x00, 0x5C, 0x46);
/// Temperature.
pub(super) const WARM: Ink = Ink(0x6E, 0x2A, 0x6E);

/// How a line is drawn: ink, width in points, and dash and space in points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pen {
    /// Its colour.
    pub ink: Ink,
    /// Its width in points.
    pub width_pt: f64,
    /// Dash and space, in turn, in points; empty for a solid line.
    pub dash_pt: &'static [f64],
}

impl Pen {
    /// A solid line.
    pub(super) const fn solid(ink: Ink, width_pt: f64) -> Self {
        Self {
            ink,
            width_pt,
            dash_pt: &[],
        }
    }
}

/// Where a text stands against its point; always centred in height.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// To the right of the point.
    Right,
    /// To the left of the point.
    Left,
    /// Centred on the point.
    Middle,
}

/// How a text looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Hand {
    /// Its colour.
    pub ink: Ink,
    /// Its size in points.
    pub size_pt: f64,
    /// Whether it is bold.
    pub bold: bool,
}

impl Hand {
    /// Plain text.
    pub(super) const fn plain(ink: Ink, size_pt: f64) -> Self {
        Self {
            ink,
            size_pt,
            bold: false,
        }
    }

    /// Bold text.
    pub(super) const fn bold(ink: Ink, size_pt: f64) -> Self {
        Self {
            ink,
            size_pt,
            bold: true,
        }
    }
}

/// A point in points from the top left.
pub(super) type At = (f64, f64);

/// A rectangle in points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Area {
    /// Left edge.
    pub left: f64,
    /// Upper edge.
    pub top: f64,
    /// Right edge.
    pub right: f64,
    /// Lower edge.
    pub bottom: f64,
}

/// Something to draw on.
pub(super) struct Canvas<'a> {
    backend: SVGBackend<'a>,
}

/// Makes a picture: size, what it shows in words, and the strokes.
pub(super) fn picture(size: Size, words: &str, draw: impl FnOnce(&mut Canvas<'_>)) -> String {
    let steps = |pt: f64| (pt.max(1.0) * STEPS_PER_PT).round() as u32;
    let (width, height) = (steps(size.width_pt), steps(size.height_pt));
    let mut body = String::new();
    {
        let mut canvas = Canvas {
            backend: SVGBackend::with_string(&mut body, (width, height)),
        };
        draw(&mut canvas);
        canvas.backend.present().expect("a string takes all");
    }
    let start = body.find('>').map_or(0, |i| i + 1);
    let words = words
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('"', "&quot;");
    let header = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}pt\" height=\"{}pt\" viewBox=\"0 0 {width} {height}\" \
         role=\"img\" aria-label=\"{words}\" stroke-linejoin=\"round\">",
        size.width_pt, size.height_pt
    );
    header + &body[start..].replace(" opacity=\"1\"", "")
}

impl Canvas<'_> {
    /// A line through points; broken where a point is not finite.
    pub(super) fn line(&mut self, points: &[At], pen: Pen) {
        for run in points.split(|p| !finite(*p)).filter(|r| r.len() > 1) {
            if pen.dash_pt.is_empty() {
                self.stroke(run, pen);
            } else {
                for piece in dashes(run, pen.dash_pt) {
                    self.stroke(&piece, pen);
                }
            }
        }
    }

    /// A filled polygon.
    pub(super) fn fill(&mut self, points: &[At], ink: Ink) {
        if points.len() > 2 && points.iter().all(|p| finite(*p)) {
            let style: ShapeStyle = colour(ink).into();
            self.backend
                .fill_polygon(points.iter().copied().map(step), &style)
                .expect("a string takes all");
        }
    }

    /// The outline of a rectangle.
    pub(super) fn frame(&mut self, area: Area, pen: Pen) {
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
        self.line(&corners, pen);
    }

    /// A filled rectangle.
    pub(super) fn block(&mut self, area: Area, ink: Ink) {
        let Area {
            left,
            top,
            right,
            bottom,
        } = area;
        self.fill(
            &[(left, top), (right, top), (right, bottom), (left, bottom)],
            ink,
        );
    }

    /// Lines rising to the right, `gap_pt` apart, inside a rectangle.
    pub(super) fn hatch(&mut self, area: Area, gap_pt: f64, pen: Pen) {
        let (width, height) = (area.right - area.left, area.bottom - area.top);
        if !(width > 0.0 && height > 0.0 && gap_pt > 0.2) {
            return;
        }
        let mut offset = gap_pt;
        while offset < width + height {
            let from = (
                area.left + (offset - height).max(0.0),
                area.top + offset.min(height),
            );
            let to = (
                area.left + offset.min(width),
                area.top + (offset - width).max(0.0),
            );
            self.line(&[from, to], pen);
            offset += gap_pt;
        }
    }

    /// A circle.
    pub(super) fn circle(&mut self, at: At, radius_pt: f64, pen: Pen) {
        let points: Vec<At> = (0..=24)
            .map(|i| f64::from(i) * std::f64::consts::TAU / 24.0)
            .map(|turn| (at.0 + radius_pt * turn.cos(), at.1 + radius_pt * turn.sin()))
            .collect();
        self.line(&points, pen);
    }

    /// A text at a point.
    pub(super) fn text(&mut self, text: &str, at: At, side: Side, hand: Hand) {
        if !finite(at) || text.is_empty() {
            return;
        }
        self.write(text, at, side, hand, FontTransform::None);
    }

    /// A text read from below, centred on a point.
    pub(super) fn text_upwards(&mut self, text: &str, at: At, hand: Hand) {
        self.write(text, at, Side::Middle, hand, FontTransform::Rotate270);
    }

    fn write(&mut self, text: &str, at: At, side: Side, hand: Hand, turn: FontTransform) {
        let style = if hand.bold {
            FontStyle::Bold
        } else {
            FontStyle::Normal
        };
        // The backend divides the size by 1.24.
        let size = hand.size_pt * STEPS_PER_PT * 1.24;
        let h_pos = match side {
            Side::Right => HPos::Left,
            Side::Left => HPos::Right,
            Side::Middle => HPos::Center,
        };
        let style = TextStyle {
            font: FontDesc::new(FontFamily::Name(FAMILY), size, style).transform(turn),
            color: colour(hand.ink).to_backend_color(),
            pos: Pos::new(h_pos, VPos::Center),
        };
        self.backend
            .draw_text(text, &style, step(at))
            .expect("a string takes all");
    }

    fn stroke(&mut self, points: &[At], pen: Pen) {
        let mut steps: Vec<(i32, i32)> = points.iter().copied().map(step).collect();
        steps.dedup();
        if steps.len() < 2 {
            return;
        }
        let style = ShapeStyle {
            color: colour(pen.ink).to_rgba(),
            filled: false,
            stroke_width: (pen.width_pt * STEPS_PER_PT).round().max(1.0) as u32,
        };
        self.backend
            .draw_path(steps, &style)
            .expect("a string takes all");
    }
}

/// Width of a text in points, near enough to keep labels apart.
pub(super) fn width_pt(text: &str, hand: Hand) -> f64 {
    let em: f64 = text
        .chars()
        .map(|c| match c {
            'i' | 'j' | 'l' | 'I' | '.' | ',' | ':' | ' ' | '\'' | '|' => 0.27,
            'f' | 'r' | 't' | '(' | ')' | '-' | '/' => 0.36,
            'm' | 'w' | 'M' | 'W' => 0.90,
            c if c.is_uppercase() => 0.66,
            _ => 0.575,
        })
        .sum();
    em * hand.size_pt * if hand.bold { 1.07 } else { 1.0 }
}

fn dashes(points: &[At], dash_pt: &[f64]) -> Vec<Vec<At>> {
    let mut pieces = Vec::new();
    let mut piece = vec![points[0]];
    let (mut turn, mut left) = (0, dash_pt[0].max(0.5));
    for pair in points.windows(2) {
        let (mut from, to) = (pair[0], pair[1]);
        loop {
            let length = (to.0 - from.0).hypot(to.1 - from.1);
            if length <= left {
                left -= length;
                piece.push(to);
                break;
            }
            let share = left / length;
            from = (
                from.0 + (to.0 - from.0) * share,
                from.1 + (to.1 - from.1) * share,
            );
            piece.push(from);
            if turn % 2 == 0 {
                pieces.push(std::mem::take(&mut piece));
            }
            piece = vec![from];
            turn += 1;
            left = dash_pt[turn % dash_pt.len()].max(0.5);
        }
    }
    if turn % 2 == 0 {
        pieces.push(piece);
    }
    pieces
}

fn finite(at: At) -> bool {
    // Far outside the sheet is as good as nowhere, and keeps the steps in range.
    at.0.abs() < 1e5 && at.1.abs() < 1e5
}

fn step(at: At) -> (i32, i32) {
    let round = |pt: f64| (pt * STEPS_PER_PT).round() as i32;
    (round(at.0), round(at.1))
}

fn colour(ink: Ink) -> RGBColor {
    RGBColor(ink.0, ink.1, ink.2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dashed_line_leaves_its_spaces_open() {
        let pieces = dashes(&[(0.0, 0.0), (10.0, 0.0)], &[3.0, 1.0]);
        let spans: Vec<(f64, f64)> = pieces.iter().map(|p| (p[0].0, p[p.len() - 1].0)).collect();
        assert_eq!(spans, [(0.0, 3.0), (4.0, 7.0), (8.0, 10.0)]);
    }

    #[test]
    fn a_point_that_is_not_finite_breaks_the_line() {
        let size = Size {
            width_pt: 20.0,
            height_pt: 20.0,
        };
        let points = [
            (0.0, 0.0),
            (1.0, 1.0),
            (f64::NAN, 2.0),
            (3.0, 3.0),
            (4.0, 4.0),
        ];
        let svg = picture(size, "", |c| c.line(&points, Pen::solid(BLACK, 1.0)));
        assert_eq!(svg.matches("<polyline").count(), 2);
        assert!(!svg.contains("NaN"));
    }

    #[test]
    fn words_of_the_picture_are_escaped() {
        let size = Size {
            width_pt: 20.0,
            height_pt: 20.0,
        };
        let svg = picture(size, "a < b & \"c\"", |_| ());
        assert!(svg.contains("aria-label=\"a &lt; b &amp; &quot;c&quot;\""));
        assert!(svg.trim_end().ends_with("</svg>"));
    }
}
