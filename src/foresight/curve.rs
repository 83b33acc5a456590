//! What tight holds of several lengths would show: the ± as it falls with the length, with heat as
//! it is expected and as it may be as well.

use super::Intended;
use crate::account::Doubt;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::account::HEAT_COURSES;
use crate::account::PaperHold;
use crate::account::evaluate_to_judge;
use crate::account::tight_hold;
use crate::procedure::SHORTEST_HOLD_S;

/// Noises that are tried at one length, and how far their seeds are apart.
const MOST_SEEDS: u64 = 3;
const APART: u64 = 0x5851_f42d_4c95_7f2d;

/// A length that is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Spot {
    /// That of a place of the lengths.
    At(usize),
    /// One between a place and the next, s.
    Between(usize, f64),
}

/// Tight holds of one length: with heat as expected, and by course of heat.
#[derive(Clone, Default)]
struct Point {
    expected: Option<Option<Evaluation>>,
    courses: [Option<Option<Evaluation>>; HEAT_COURSES],
}

/// Tight holds of one intention, evaluated where somebody asked.
pub(super) struct Curve<'a> {
    intended: &'a Intended,
    lengths_s: Vec<f64>,
    points: Vec<Point>,
}

impl<'a> Curve<'a> {
    /// At these lengths, s, rising.
    pub fn new(intended: &'a Intended, lengths_s: Vec<f64>) -> Self {
        Self {
            intended,
            points: vec![Point::default(); lengths_s.len()],
            lengths_s,
        }
    }

    /// What is intended.
    pub fn intended(&self) -> &'a Intended {
        self.intended
    }

    /// The lengths, s.
    pub fn lengths_s(&self) -> &[f64] {
        &self.lengths_s
    }

    /// The tight hold at a place of the lengths with heat as expected; None where it cannot be
    /// evaluated.
    pub fn at(&mut self, place: usize) -> Option<&Evaluation> {
        self.of(None, place)
    }

    /// The tight hold of a course of heat, or as expected.
    fn of(&mut self, course: Option<usize>, place: usize) -> Option<&Evaluation> {
        let length_s = *self.lengths_s.get(place)?;
        let intended = self.intended;
        let point = self.points.get_mut(place)?;
        let own = match course {
            None => &mut point.expected,
            Some(course) => point.courses.get_mut(course)?,
        };
        own.get_or_insert_with(|| tight(intended, length_s, course))
            .as_ref()
    }

    /// The length of a spot, s.
    pub fn length_s(&self, spot: Spot) -> f64 {
        match spot {
            Spot::At(place) => self.lengths_s[place],
            Spot::Between(_, length_s) => length_s,
        }
    }

    /// The tight hold of any length, by course of heat or as expected. Between two lengths it is the
    /// shorter one with its ± and its values interpolated (the ± by its logarithm over that of the
    /// length).
    pub fn hold(&mut self, course: Option<usize>, spot: Spot) -> Option<Evaluation> {
        let (place, length_s) = match spot {
            Spot::At(place) => return self.of(course, place).cloned(),
            Spot::Between(place, length_s) => (place, length_s),
        };
        let (from_s, to_s) = (*self.lengths_s.get(place)?, *self.lengths_s.get(place + 1)?);
        let part = (length_s / from_s).ln() / (to_s / from_s).ln();
        let mut own = self.of(course, place)?.clone();
        let next = self.of(course, place + 1)?;
        for figure in &mut own.figures {
            if let Some(other) = next.figure(figure.name) {
                mix(figure, other, part);
            }
        }
        Some(own)
    }
}

/// The tight hold of one length: with the first noise that the account can bear, which is nearly
/// always the first; without one the last.
fn tight(intended: &Intended, length_s: f64, course: Option<usize>) -> Option<Evaluation> {
    if length_s < SHORTEST_HOLD_S {
        return None;
    }
    let mut last = None;
    // Each course of heat has a noise of its own.
    let first = course.map_or(1, |course| MOST_SEEDS * (course as u64 + 1) + 1);
    for seed in first..first + MOST_SEEDS {
        let paper = PaperHold {
            subject: &intended.subject,
            sensors: &intended.sensors,
            start: intended.start,
            settle_s: intended.plan.settle().value,
            length_s,
            seed: seed.wrapping_mul(APART),
            course,
        };
        let found = evaluate_to_judge(&tight_hold(&paper)?, &intended.subject).ok()?;
        let is_doubted = found
            .doubts
            .iter()
            .any(|doubt| matches!(doubt, Doubt::NoFit { .. }));
        last = Some(found);
        if !is_doubted {
            break;
        }
    }
    last
}

/// Half of a figure's interval, SI.
pub(super) fn half_width(figure: &Figure) -> f64 {
    match figure.measured {
        Some(measured) => figure.coverage_factor * measured.standard_si,
        None => 0.5 * (figure.upper_si - figure.lower_si),
    }
}

/// A part of the way from one figure to another.
fn mix(figure: &mut Figure, other: &Figure, part: f64) {
    let line = |a: f64, b: f64| a + part * (b - a);
    let by_log = |a: f64, b: f64| match a > 0.0 && b > 0.0 {
        true => line(a.ln(), b.ln()).exp(),
        false => line(a, b),
    };
    figure.coverage_factor = line(figure.coverage_factor, other.coverage_factor);
    if let (Some(own), Some(next)) = (figure.measured.as_mut(), other.measured) {
        own.value_si = line(own.value_si, next.value_si);
        own.standard_si = by_log(own.standard_si, next.standard_si);
    } else {
        figure.lower_si = line(figure.lower_si, other.lower_si);
        figure.upper_si = line(figure.upper_si, other.upper_si);
    }
}
