//! A figure over the years: each time it was measured, with its interval and the limit of then.
//!
//! Whether the figure grows is to be seen at once, and whether the intervals allow to say so. A
//! figure that could only be bounded is a bar from zero with an open top. What came out is told by the
//! form of the mark, so that colour is not needed.
//!
//! Invariant: no line joins two times; nobody knows what was between them.

use crate::chart::Size;
use crate::chart::axis;
use crate::chart::axis::Scale;
use crate::chart::canvas;
use crate::chart::canvas::Area;
use crate::chart::canvas::Canvas;
use crate::chart::canvas::Hand;
use crate::chart::canvas::Pen;
use crate::chart::canvas::Side;
use crate::chart::canvas::picture;
use crate::verdict::Outcome;

const TEXT_PT: f64 = 10.0;
/// Half of the width of a mark.
const MARK_PT: f64 = 4.5;
/// Room beside the first and the last mark.
const AIR_PT: f64 = 16.0;
const LIMIT: Pen = Pen {
    ink: canvas::BLACK,
    width_pt: 1.4,
    dash_pt: &[7.0, 3.0],
};

/// A figure, once.
#[derive(Debug, Clone, PartialEq)]
pub struct YearMark {
    /// When, UTC ms since 1970.
    pub at_utc_ms: i64,
    /// The day as the shop writes it.
    pub day: String,
    /// Its value; None if it could only be bounded.
    pub value: Option<f64>,
    /// Lower end of its interval; may be without end.
    pub lower: f64,
    /// Upper end of its interval; may be without end.
    pub upper: f64,
    /// The limit of then, in the unit of the figure.
    pub limit: Option<f64>,
    /// What came out of the test.
    pub outcome: Outcome,
}

/// What is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YearsPicture<'a> {
    /// How large.
    pub size: Size,
    /// What it shows, in words.
    pub words: &'a str,
    /// Unit of measure, upright at the axis.
    pub unit: &'a str,
    /// What is written at the limit.
    pub limit_word: &'a str,
}

/// Draws a figure over the years; `marks` in the order of time.
pub fn years_chart(shown: YearsPicture<'_>, marks: &[YearMark]) -> String {
    picture(shown.size, shown.words, |canvas| {
        let ends = marks
            .iter()
            .flat_map(|m| [m.value, Some(m.lower), Some(m.upper), m.limit, Some(0.0)]);
        let Some((low, high)) = axis::range(ends.flatten(), 1e-6) else {
            return;
        };
        let (Some(first), Some(last)) = (marks.first(), marks.last()) else {
            return;
        };
        let area = Area {
            left: 58.0,
            top: 12.0,
            right: shown.size.width_pt - 12.0,
            bottom: shown.size.height_pt - 34.0,
        };
        // A floor at zero unless something is below it.
        let is_signed = marks.iter().any(|m| m.value.is_some_and(|v| v < 0.0));
        let up = Scale {
            low: if is_signed { low } else { 0.0 },
            high,
            from_pt: area.bottom,
            until_pt: area.top,
        };
        let across = Scale {
            low: first.at_utc_ms as f64,
            high: (last.at_utc_ms as f64).max(first.at_utc_ms as f64 + 1.0),
            from_pt: area.left + AIR_PT,
            until_pt: area.right - AIR_PT,
        };
        grid(canvas, shown, area, up);
        days(canvas, marks, area, across);
        limits(canvas, shown, marks, (area, across, up));
        for mark in marks {
            interval(canvas, mark, across.at(mark.at_utc_ms as f64), (area, up));
        }
    })
}

fn grid(canvas: &mut Canvas<'_>, shown: YearsPicture<'_>, area: Area, up: Scale) {
    let hand = Hand::plain(canvas::BLACK, TEXT_PT);
    for (value, text) in up.ticks(5) {
        let y = up.at(value);
        let line = [(area.left, y), (area.right, y)];
        canvas.line(&line, Pen::solid(canvas::FAINT, 0.8));
        canvas.text(&text, (area.left - 5.0, y), Side::Left, hand);
    }
    let middle = (area.top + area.bottom) / 2.0;
    canvas.text_upwards(
        shown.unit,
        (12.0, middle),
        Hand::bold(canvas::BLACK, TEXT_PT),
    );
    let axis = [
        (area.left, area.top),
        (area.left, area.bottom),
        (area.right, area.bottom),
    ];
    canvas.line(&axis, Pen::solid(canvas::BLACK, 1.2));
}

/// Days below the marks, as many as have room.
fn days(canvas: &mut Canvas<'_>, marks: &[YearMark], area: Area, across: Scale) {
    let hand = Hand::plain(canvas::BLACK, TEXT_PT);
    let mut free_from = f64::NEG_INFINITY;
    let last = marks.len().saturating_sub(1);
    let half = |mark: &YearMark| canvas::width_pt(&mark.day, hand) / 2.0 + 4.0;
    let place = |mark: &YearMark| {
        let x = across.at(mark.at_utc_ms as f64);
        x.clamp(area.left, (area.right - half(mark) + 8.0).max(area.left))
    };
    for (index, mark) in marks.iter().enumerate() {
        let x = across.at(mark.at_utc_ms as f64);
        let tick = [(x, area.bottom), (x, area.bottom + 4.0)];
        canvas.line(&tick, Pen::solid(canvas::BLACK, 1.0));
        let (at, half_width) = (place(mark), half(mark));
        // The last day is always named.
        let before_last = place(&marks[last]) - half(&marks[last]);
        let has_room = index == last || at + half_width <= before_last;
        if at - half_width >= free_from && has_room {
            canvas.text(&mark.day, (at, area.bottom + 16.0), Side::Middle, hand);
            free_from = at + half_width;
        }
    }
}

/// The limit as a dashed line over the time it was in force; a change is a step.
fn limits(
    canvas: &mut Canvas<'_>,
    shown: YearsPicture<'_>,
    marks: &[YearMark],
    (area, across, up): (Area, Scale, Scale),
) {
    let mut named = None;
    for (index, mark) in marks.iter().enumerate() {
        let Some(limit) = mark.limit else {
            continue;
        };
        let x = across.at(mark.at_utc_ms as f64);
        let half_way = |other: &YearMark| (x + across.at(other.at_utc_ms as f64)) / 2.0;
        let left = match index {
            0 => area.left,
            _ => half_way(&marks[index - 1]),
        };
        let right = marks.get(index + 1).map_or(area.right, half_way);
        let y = up.at(limit);
        canvas.line(&[(left, y), (right, y)], LIMIT);
        // Half way to the mark before nothing else is drawn.
        named = Some((left, y));
    }
    if let Some((left, y)) = named {
        let hand = Hand::bold(canvas::BLACK, TEXT_PT);
        let above = if y - 9.0 < area.top { y + 9.0 } else { y - 9.0 };
        canvas.text(shown.limit_word, (left + 2.0, above), Side::Right, hand);
    }
}

fn interval(canvas: &mut Canvas<'_>, mark: &YearMark, x: f64, (area, up): (Area, Scale)) {
    let pen = Pen::solid(canvas::CAP, 2.2);
    let end = |value: f64| up.at(value).clamp(area.top, area.bottom);
    let (low, high) = match mark.value {
        Some(_) => (mark.lower, mark.upper),
        None => (0.0, mark.upper),
    };
    let (bottom, top) = (
        if low.is_finite() {
            end(low)
        } else {
            area.bottom
        },
        if high.is_finite() {
            end(high)
        } else {
            area.top
        },
    );
    canvas.line(&[(x, bottom), (x, top)], pen);
    for (value, y) in [(mark.lower, bottom), (mark.upper, top)] {
        if value.is_finite() {
            canvas.line(&[(x - MARK_PT, y), (x + MARK_PT, y)], pen);
        }
    }
    let Some(value) = mark.value else {
        return;
    };
    let y = up.at(value);
    let square = Area {
        left: x - MARK_PT,
        top: y - MARK_PT,
        right: x + MARK_PT,
        bottom: y + MARK_PT,
    };
    match mark.outcome {
        Outcome::Fail => {
            for cross in [
                [(square.left, square.top), (square.right, square.bottom)],
                [(square.left, square.bottom), (square.right, square.top)],
            ] {
                canvas.line(&cross, Pen::solid(canvas::BLACK, 2.6));
            }
        }
        Outcome::Pass => canvas.block(square, canvas::CAP),
        Outcome::Undecided | Outcome::Measured | Outcome::NotValid => {
            canvas.block(square, canvas::Ink(0xFF, 0xFF, 0xFF));
            canvas.frame(square, Pen::solid(canvas::BLACK, 1.4));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(day: i64, value: Option<f64>, limit: Option<f64>) -> YearMark {
        YearMark {
            at_utc_ms: day * 86_400_000,
            day: format!("day-{day}"),
            value,
            lower: value.map_or(f64::NEG_INFINITY, |v| v - 0.1),
            upper: value.map_or(0.5, |v| v + 0.1),
            limit,
            outcome: Outcome::Pass,
        }
    }

    fn drawn(marks: &[YearMark], width_pt: f64) -> String {
        let shown = YearsPicture {
            size: Size {
                width_pt,
                height_pt: 200.0,
            },
            words: "a <course>",
            unit: "mL/min",
            limit_word: "limit",
        };
        years_chart(shown, marks)
    }

    #[test]
    fn the_last_day_is_named_however_little_room_there_is() {
        let marks: Vec<_> = (0..40).map(|day| mark(day, Some(1.0), Some(2.0))).collect();
        let svg = drawn(&marks, 300.0);
        assert!(svg.contains("day-0\n") && svg.contains("day-39\n"), "{svg}");
        assert!(!svg.contains("day-38\n"));
        assert!(
            svg.contains("limit") && svg.contains("a &lt;course&gt;")
                || svg.contains("a &lt;course>")
        );
    }

    #[test]
    fn what_is_only_bounded_has_no_mark() {
        let bounded = drawn(&[mark(0, None, None), mark(9, None, None)], 300.0);
        let valued = drawn(&[mark(0, Some(0.2), None), mark(9, Some(0.2), None)], 300.0);
        assert_eq!(bounded.matches("<polygon").count(), 0);
        assert_eq!(valued.matches("<polygon").count(), 2);
        assert!(!bounded.contains("inf") && !bounded.contains("NaN"));
    }

    #[test]
    fn nothing_measured_is_nothing_drawn() {
        assert_eq!(drawn(&[], 300.0).matches("<polyline").count(), 0);
    }
}
