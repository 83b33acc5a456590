//! Counting full strokes from the position.

/// Part of the stroke from an end within which the rod counts as having been there
/// (common practice, no source): cushions and stops leave a little.
const END_PART: f64 = 0.05;

/// Full strokes out and in so far.
#[derive(Debug, Clone, PartialEq)]
pub struct StrokeCount {
    stroke_m: f64,
    last: Option<End>,
    n_ways: u32,
    seen_m: Option<(f64, f64)>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    In,
    Out,
}

impl StrokeCount {
    /// None yet, of a nominal length in m.
    pub fn new(stroke_m: f64) -> Self {
        Self {
            stroke_m,
            last: None,
            n_ways: 0,
            seen_m: None,
        }
    }

    /// Takes an extension in m; a reading that is missing counts for nothing.
    pub fn push(&mut self, x_m: Option<f64>) {
        let Some(x_m) = x_m else { return };
        let (low, high) = self.seen_m.unwrap_or((x_m, x_m));
        self.seen_m = Some((low.min(x_m), high.max(x_m)));
        let end = if x_m <= END_PART * self.stroke_m {
            End::In
        } else if x_m >= (1.0 - END_PART) * self.stroke_m {
            End::Out
        } else {
            return;
        };
        if self.last.is_some_and(|last| last != end) {
            self.n_ways += 1;
        }
        self.last = Some(end);
    }

    /// Full strokes: out and in are one.
    pub fn count(&self) -> u32 {
        self.n_ways / 2
    }

    /// Furthest in and furthest out that was seen, m; None without a reading.
    pub fn seen_m(&self) -> Option<(f64, f64)> {
        self.seen_m
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_ways_from_end_to_end_make_a_stroke() {
        let mut strokes = StrokeCount::new(0.4);
        let run = |strokes: &mut StrokeCount, places: &[f64]| {
            places.iter().for_each(|x| strokes.push(Some(*x)));
        };
        // Half strokes, and trembling at an end, are none.
        run(&mut strokes, &[0.2, 0.39, 0.2, 0.39, 0.385, 0.379, 0.39]);
        assert_eq!(strokes.count(), 0);
        strokes.push(None);
        run(&mut strokes, &[0.2, 0.01, 0.2]);
        assert_eq!(strokes.count(), 0, "one way is half");
        run(&mut strokes, &[0.395, 0.01]);
        assert_eq!(strokes.count(), 1);
        run(&mut strokes, &[0.395, 0.0, 0.4, 0.0]);
        assert_eq!(strokes.count(), 3);
        assert_eq!(strokes.seen_m(), Some((0.0, 0.4)));
    }
}
