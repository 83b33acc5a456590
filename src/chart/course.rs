//! The course of a procedure: the record chart with its steps marked.
//!
//! Each step has a bar over its stretch of time, thick for a hold, with its number and as
//! much of its name as fits. Time in which a hold settles is hatched.
//!
//! Invariant: no two names overlap, however short the steps are; what cannot be named is
//! still marked.

use crate::chart::axis::Scale;
use crate::chart::canvas;
use crate::chart::canvas::Area;
use crate::chart::canvas::Canvas;
use crate::chart::canvas::Hand;
use crate::chart::canvas::Pen;
use crate::chart::canvas::Side;
use crate::chart::record::RecordPicture;
use crate::chart::record::drawn;
use crate::recording::Recording;

const TEXT_PT: f64 = 8.5;
/// Space between two names.
const APART_PT: f64 = 3.0;
/// A step as short as nothing is still drawn this wide.
const LEAST_PT: f64 = 1.6;

/// A step of a procedure on the time axis of its recording.
#[derive(Debug, Clone, PartialEq)]
pub struct StepMark {
    /// Its number, from 1.
    pub number: usize,
    /// Its name for people.
    pub title: String,
    /// When it began, s.
    pub from_s: f64,
    /// When its hold began to count, s; None for a step that is no hold.
    pub counts_from_s: Option<f64>,
    /// When it was over, s.
    pub until_s: f64,
}

/// Draws the record chart with the steps of a procedure over it.
pub fn course_chart(recording: &Recording, picture: RecordPicture, steps: &[StepMark]) -> String {
    let mut steps = steps.to_vec();
    steps.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
    drawn(recording, picture, &steps)
}

/// Settling hatched and the bounds of each step, behind the lines of one panel.
pub(super) fn stretches(canvas: &mut Canvas<'_>, steps: &[StepMark], area: Area, time: Scale) {
    for step in steps {
        let (left, right) = (time.at(step.from_s), time.at(step.until_s));
        let counts = step.counts_from_s.map(|s| time.at(s));
        if let Some(counts) = counts {
            let settling = Area {
                left: left.max(area.left),
                right: counts.min(area.right),
                ..area
            };
            canvas.hatch(settling, 5.0, Pen::solid(canvas::PALE, 0.5));
        }
        let bound = match counts {
            Some(_) => Pen::solid(canvas::GREY, 0.7),
            None => Pen::solid(canvas::PALE, 0.6),
        };
        for x in [counts.unwrap_or(left), right] {
            canvas.line(&[(x, area.top), (x, area.bottom)], bound);
        }
    }
}

/// A name of a step with its place.
struct Name {
    text: String,
    hand: Hand,
    middle: f64,
    half: f64,
}

/// Bars over the stretches, and the names over the bars.
pub(super) fn names(canvas: &mut Canvas<'_>, steps: &[StepMark], plot: Area, time: Scale) {
    let bar_y = plot.top - 5.0;
    for step in steps {
        let (left, right) = (time.at(step.from_s), time.at(step.until_s));
        let spare = (LEAST_PT - (right - left)).max(0.0) / 2.0;
        let from = step.counts_from_s.map_or(left, |s| time.at(s));
        if from > left {
            let settling = [(left, bar_y), (from, bar_y)];
            canvas.line(&settling, Pen::solid(canvas::GREY, 0.8));
        }
        let width = match step.counts_from_s {
            Some(_) => 3.0,
            None => 1.6,
        };
        let bar = [(from - spare, bar_y), (right + spare, bar_y)];
        canvas.line(&bar, Pen::solid(canvas::BLACK, width));
    }
    let room = plot.right - plot.left;
    let written = [Wordy::Names, Wordy::Numbers, Wordy::Holds]
        .into_iter()
        .map(|wordy| spoken(steps, time, wordy))
        .find(|names| taken(names) <= room)
        .unwrap_or_default();
    let wanted: Vec<(f64, f64)> = written.iter().map(|n| (n.middle, n.half)).collect();
    let places = spread(&wanted, (plot.left, plot.right));
    for (name, x) in written.iter().zip(places) {
        if (x - name.middle).abs() > 2.0 {
            let line = [(x, bar_y - 5.0), (name.middle, bar_y - 1.5)];
            canvas.line(&line, Pen::solid(canvas::GREY, 0.5));
        }
        canvas.text(&name.text, (x, bar_y - 11.0), Side::Middle, name.hand);
    }
}

/// How much is written over the bars.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Wordy {
    /// Numbers, and names where they fit.
    Names,
    /// Numbers only.
    Numbers,
    /// Numbers of holds only.
    Holds,
}

fn spoken(steps: &[StepMark], time: Scale, wordy: Wordy) -> Vec<Name> {
    let shown = steps
        .iter()
        .filter(|step| wordy != Wordy::Holds || step.counts_from_s.is_some());
    shown
        .map(|step| {
            let (left, right) = (time.at(step.from_s), time.at(step.until_s));
            let hand = match step.counts_from_s {
                Some(_) => Hand::bold(canvas::BLACK, TEXT_PT),
                None => Hand::plain(canvas::BLACK, TEXT_PT),
            };
            let number = step.number.to_string();
            let text = match wordy {
                Wordy::Names => short_name(step, right - left, hand).unwrap_or(number),
                Wordy::Numbers | Wordy::Holds => number,
            };
            Name {
                half: canvas::width_pt(&text, hand) / 2.0,
                middle: (left + right) / 2.0,
                text,
                hand,
            }
        })
        .collect()
}

/// As much of a name as fits: all of it, or what stands before its first comma.
fn short_name(step: &StepMark, room: f64, hand: Hand) -> Option<String> {
    let first = step.title.split(',').next().unwrap_or_default();
    [step.title.as_str(), first]
        .into_iter()
        .filter(|name| !name.is_empty())
        .map(|name| format!("{} {name}", step.number))
        .find(|text| canvas::width_pt(text, hand) <= room)
}

fn taken(names: &[Name]) -> f64 {
    names.iter().map(|n| 2.0 * n.half + APART_PT).sum()
}

/// Middles that keep labels of half widths apart and within bounds, each near where it was
/// wanted. Both are in the order of the axis.
fn spread(wanted: &[(f64, f64)], (low, high): (f64, f64)) -> Vec<f64> {
    let n = wanted.len();
    let mut rightwards = vec![0.0; n];
    let mut leftwards = vec![0.0; n];
    let mut free = low;
    for (i, (middle, half)) in wanted.iter().enumerate() {
        rightwards[i] = middle.max(free + half);
        free = rightwards[i] + half + APART_PT;
    }
    let mut free = high;
    for (i, (middle, half)) in wanted.iter().enumerate().rev() {
        leftwards[i] = middle.min(free - half);
        free = leftwards[i] - half - APART_PT;
    }
    // Each way keeps them apart, so their mean does; what it pushes out is pushed back.
    let mut places: Vec<f64> = (0..n)
        .map(|i| (rightwards[i] + leftwards[i]) / 2.0)
        .collect();
    let mut free = low;
    for (place, (_, half)) in places.iter_mut().zip(wanted) {
        *place = place.max(free + half);
        free = *place + half + APART_PT;
    }
    let mut free = high;
    for (place, (_, half)) in places.iter_mut().zip(wanted).rev() {
        *place = place.min(free - half);
        free = *place - half - APART_PT;
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn apart(wanted: &[(f64, f64)], bounds: (f64, f64)) -> Vec<f64> {
        let places = spread(wanted, bounds);
        for (i, pair) in places.windows(2).enumerate() {
            let least = wanted[i].1 + wanted[i + 1].1 + APART_PT;
            assert!(pair[1] - pair[0] >= least - 1e-9, "{places:?}");
        }
        for (place, (_, half)) in places.iter().zip(wanted) {
            assert!(place - half >= bounds.0 - 1e-9 && place + half <= bounds.1 + 1e-9);
        }
        places
    }

    #[test]
    fn names_that_have_room_stay_where_they_are_wanted() {
        let wanted = [(10.0, 4.0), (40.0, 10.0), (80.0, 4.0)];
        assert_eq!(apart(&wanted, (0.0, 100.0)), [10.0, 40.0, 80.0]);
    }

    #[test]
    fn names_of_steps_that_last_no_time_stand_side_by_side() {
        apart(&[(50.0, 4.0); 7], (0.0, 100.0));
        apart(&[(0.0, 4.0); 7], (0.0, 100.0));
        apart(&[(99.0, 4.0); 7], (0.0, 100.0));
        assert!(spread(&[], (0.0, 1.0)).is_empty());
    }

    #[test]
    fn a_name_is_cut_at_its_comma_before_it_is_left_out() {
        let step = StepMark {
            number: 6,
            title: "Piston seal, nearly in".into(),
            from_s: 0.0,
            counts_from_s: Some(1.0),
            until_s: 2.0,
        };
        let hand = Hand::plain(canvas::BLACK, 8.5);
        let name = |room| short_name(&step, room, hand);
        assert_eq!(name(200.0).as_deref(), Some("6 Piston seal, nearly in"));
        assert_eq!(name(60.0).as_deref(), Some("6 Piston seal"));
        assert_eq!(name(20.0), None);
    }
}
