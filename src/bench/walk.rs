//! Points of a sensor taken one after the other: a person says what the reference shows, the
//! readings of the next seconds are its mean.
//!
//! Pure: rows and words in, sentences out. A reading that was broken or still moved makes no
//! point.

use crate::quantity::number;

/// How long one point is read, s.
pub const POINT_S: f64 = 5.0;

/// Readings that a point needs at least.
const N_LEAST: usize = 10;

/// Blocks that tell whether a reading still moves.
const N_BLOCKS: usize = 5;

/// It moves if its first and last block differ by so many standard uncertainties of that.
const SIGMAS: f64 = 4.0;

/// And by more than this part of what the points span.
const PART_OF_SPAN: f64 = 1e-4;

/// What a walk says.
#[derive(Debug, Clone, PartialEq)]
pub enum WalkEffect {
    /// What was understood or read.
    Say(String),
    /// What is wrong; nothing was taken.
    Warn(String),
}

/// The points of one sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct Walk {
    /// Unit of the reference.
    unit: String,
    /// In what the sensor is read.
    read_in: String,
    /// Reference and reading of each point.
    points: Vec<(f64, f64)>,
    taking: Option<Taking>,
}

#[derive(Debug, Clone, PartialEq)]
struct Taking {
    reference: f64,
    from_s: Option<f64>,
    readings: Vec<f64>,
    n_broken: usize,
}

impl Walk {
    /// A walk without a point yet.
    pub fn new(unit: &str, read_in: &str) -> Self {
        Self {
            unit: unit.into(),
            read_in: read_in.into(),
            points: Vec::new(),
            taking: None,
        }
    }

    /// Reference and reading of each point that was taken.
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// Whether a point is being read.
    pub fn is_taking(&self) -> bool {
        self.taking.is_some()
    }

    /// A person says what the reference shows now, in its unit.
    pub fn reference(&mut self, reference: f64) -> WalkEffect {
        if self.is_taking() {
            return WalkEffect::Warn("a point is being read; wait for it".into());
        }
        self.taking = Some(Taking {
            reference,
            from_s: None,
            readings: Vec::new(),
            n_broken: 0,
        });
        WalkEffect::Say(format!(
            "Understood: {reference} {}. Reading for {POINT_S:.0} s, keep it there.",
            self.unit
        ))
    }

    /// The last point is taken back.
    pub fn back(&mut self) -> WalkEffect {
        if self.taking.take().is_some() {
            return WalkEffect::Say("The point that was being read is left out.".into());
        }
        match self.points.pop() {
            Some((reference, _)) => WalkEffect::Say(format!(
                "Point {} at {reference} {} is taken back.",
                self.points.len() + 1,
                self.unit
            )),
            None => WalkEffect::Warn("there is no point to take back".into()),
        }
    }

    /// A row of the board: bench time in s, and the reading; None outside its good band.
    pub fn row(&mut self, time_s: f64, reading: Option<f64>) -> Option<WalkEffect> {
        let taking = self.taking.as_mut()?;
        let from_s = *taking.from_s.get_or_insert(time_s);
        match reading {
            Some(reading) => taking.readings.push(reading),
            None => taking.n_broken += 1,
        }
        if time_s - from_s < POINT_S {
            return None;
        }
        let taken = self.taking.take()?;
        Some(self.taken(&taken))
    }

    /// A stretch without rows: what was being read is read anew.
    pub fn gap(&mut self) -> Option<WalkEffect> {
        let taking = self.taking.as_mut()?;
        taking.from_s = None;
        taking.readings.clear();
        Some(WalkEffect::Warn(
            "readings were lost; the point is read anew".into(),
        ))
    }

    fn taken(&mut self, taken: &Taking) -> WalkEffect {
        let warn = |text: String| WalkEffect::Warn(format!("{text}. Nothing was taken"));
        if taken.n_broken > 0 {
            return warn("the sensor read as with a broken or shorted wire".into());
        }
        let n = taken.readings.len();
        if n < N_LEAST {
            return warn(format!("only {n} readings came in {POINT_S:.0} s"));
        }
        let (mean, standard) = mean_of(&taken.readings);
        if let Some(by) = self.moved(taken) {
            return warn(format!(
                "the reading still moved by {} {} within {POINT_S:.0} s; let it come to rest and type it again",
                number(by, standard),
                self.read_in
            ));
        }
        self.points.push((taken.reference, rounded(mean, standard)));
        WalkEffect::Say(format!(
            "Point {}: {} {} reads {} ± {} {} ({n} readings)",
            self.points.len(),
            taken.reference,
            self.unit,
            number(mean, 2.0 * standard),
            number(2.0 * standard, 2.0 * standard),
            self.read_in
        ))
    }

    /// By how much the reading moved while it was taken, if that is more than chance and matters.
    fn moved(&self, taken: &Taking) -> Option<f64> {
        let per_block = taken.readings.len() / N_BLOCKS;
        let first = &taken.readings[..per_block];
        let last = &taken.readings[taken.readings.len() - per_block..];
        let ((one, by_one), (other, by_other)) = (mean_of(first), mean_of(last));
        let by = other - one;
        let known = self.points.iter().map(|(_, reading)| *reading);
        let all = known.chain([one]);
        let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), r| {
            (low.min(r), high.max(r))
        });
        let span = if high > low { high - low } else { high.abs() };
        (by.abs() > SIGMAS * by_one.hypot(by_other) && by.abs() > PART_OF_SPAN * span).then_some(by)
    }
}

/// A mean without the digits that say nothing: to a hundredth of its uncertainty.
fn rounded(mean: f64, standard: f64) -> f64 {
    match standard > 0.0 {
        true => {
            let last = 10f64.powi(standard.log10().floor() as i32 - 2);
            // Divided by a whole number where it can be, so that the last digit is clean.
            let per_last = (1.0 / last).round();
            match per_last >= 1.0 {
                true => (mean * per_last).round() / per_last,
                false => (mean / last).round() * last,
            }
        }
        false => mean,
    }
}

/// Mean, and its standard uncertainty by scatter.
fn mean_of(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
    (mean, (squares / (n - 1.0).max(1.0) / n).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows of ten each second, with a little noise of two values.
    fn rows(walk: &mut Walk, course: impl Fn(f64) -> Option<f64>) -> Vec<WalkEffect> {
        let times = (0..60).map(|i| f64::from(i) / 10.0);
        times
            .enumerate()
            .filter_map(|(i, t)| {
                let wiggle = if i % 2 == 0 { 1e-3 } else { -1e-3 };
                walk.row(t, course(t).map(|value| value + wiggle))
            })
            .collect()
    }

    fn warned(effects: &[WalkEffect], part: &str) -> bool {
        effects
            .iter()
            .any(|e| matches!(e, WalkEffect::Warn(text) if text.contains(part)))
    }

    #[test]
    fn a_reading_at_rest_is_a_point_and_the_last_one_can_be_taken_back() {
        let mut walk = Walk::new("bar", "mA");
        assert_eq!(walk.row(0.0, Some(4.0)), None);
        let _ = walk.reference(50.0);
        let said = rows(&mut walk, |_| Some(7.2));
        // 51 readings, one more above than below: 7.2 + 1e-3/51, ± 0.14e-3, so to the microampere
        // hundredth.
        let [(reference, reading)] = walk.points() else {
            panic!("{said:?}");
        };
        assert_eq!(*reference, 50.0);
        assert!((reading - (7.2 + 1e-3 / 51.0)).abs() < 0.5e-6, "{reading}");
        assert_eq!(said.len(), 1);
        assert!(matches!(walk.back(), WalkEffect::Say(text) if text.contains("50 bar")));
        assert!(walk.points().is_empty());
        assert!(matches!(walk.back(), WalkEffect::Warn(_)));
    }

    #[test]
    fn what_moves_or_is_broken_makes_no_point() {
        let mut walk = Walk::new("bar", "mA");
        let _ = walk.reference(50.0);
        assert!(warned(
            &rows(&mut walk, |t| Some(7.2 + 0.01 * t)),
            "still moved by 0.04"
        ));
        let _ = walk.reference(50.0);
        assert!(matches!(walk.reference(60.0), WalkEffect::Warn(_)));
        let broken = |t: f64| (!(2.0..2.5).contains(&t)).then_some(7.2);
        assert!(warned(&rows(&mut walk, broken), "broken"));
        let _ = walk.reference(50.0);
        assert_eq!(walk.row(0.0, Some(7.2)), None);
        assert!(
            walk.row(5.0, Some(7.2))
                .is_some_and(|e| warned(&[e], "only 2"))
        );
        assert!(walk.points().is_empty());
        assert!(!walk.is_taking());
    }

    #[test]
    fn a_gap_begins_the_point_anew() {
        let mut walk = Walk::new("bar", "mA");
        assert_eq!(walk.gap(), None);
        let _ = walk.reference(50.0);
        for i in 0..40 {
            assert_eq!(walk.row(f64::from(i) / 10.0, Some(99.0)), None);
        }
        assert!(walk.gap().is_some());
        let said = rows(&mut walk, |_| Some(7.2));
        assert_eq!(walk.points().len(), 1, "{said:?}");
        assert!((walk.points()[0].1 - 7.2).abs() < 1e-3);
    }
}
