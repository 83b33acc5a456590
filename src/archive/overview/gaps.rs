//! Which stretches of rows lost samples.

use crate::recording::Gap;

/// Meets the gaps of a recording one after another as its rows go by.
///
/// A gap belongs to the rows behind which it began if none came after it, else to the
/// first row that came: the stretch from the last row before some rows to the last of them has a
/// gap if any of the time in it was lost.
pub(in crate::archive) struct GapWalk {
    /// From and until in s, by their start.
    ahead: std::vec::IntoIter<(f64, f64)>,
    next: Option<(f64, f64)>,
    /// Latest end of those that were met, s.
    reach_s: f64,
    /// Time of the last row of the stretch before, s.
    before_s: f64,
}

impl GapWalk {
    /// Behind a row at `before_s`; negative infinity for the first.
    pub(in crate::archive) fn new(gaps: &[Gap], before_s: f64) -> Self {
        let mut gaps: Vec<_> = gaps.iter().map(|gap| (gap.from_s, gap.until_s)).collect();
        gaps.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut ahead = gaps.into_iter();
        Self {
            next: ahead.next(),
            ahead,
            reach_s: f64::NEG_INFINITY,
            before_s,
        }
    }

    /// Whether samples are missing from behind the stretch before up to the row at `last_s`.
    /// Positive infinity for the last stretch of all.
    pub(in crate::archive) fn step(&mut self, last_s: f64) -> bool {
        let before_s = std::mem::replace(&mut self.before_s, last_s);
        let mut has_gap = self.reach_s > before_s;
        while let Some((from_s, until_s)) = self.next {
            // Without an end it lies at its start.
            let is_point = until_s <= from_s;
            if from_s > last_s || (from_s == last_s && !is_point) {
                break;
            }
            has_gap |= until_s > before_s;
            self.reach_s = self.reach_s.max(until_s);
            self.next = self.ahead.next();
        }
        has_gap
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recording::GapCause;

    fn steps(gaps: &[(f64, f64)], lasts_s: &[f64]) -> Vec<bool> {
        let gaps: Vec<Gap> = gaps
            .iter()
            .map(|&(from_s, until_s)| Gap {
                from_s,
                until_s,
                cause: GapCause::Lost,
            })
            .collect();
        let mut walk = GapWalk::new(&gaps, f64::NEG_INFINITY);
        lasts_s.iter().map(|last_s| walk.step(*last_s)).collect()
    }

    #[test]
    fn a_gap_between_two_stretches_belongs_to_the_later_one() {
        assert_eq!(steps(&[(3.0, 5.0)], &[3.0, 9.0]), [false, true]);
        assert_eq!(steps(&[(2.0, 3.0)], &[3.0, 9.0]), [true, false]);
    }

    #[test]
    fn a_gap_after_which_nothing_came_belongs_to_the_last_row() {
        assert_eq!(steps(&[(3.0, 3.0)], &[3.0, f64::INFINITY]), [true, false]);
        let end = [false, true];
        assert_eq!(steps(&[(9.0, 9.0)], &[3.0, f64::INFINITY]), end);
    }

    #[test]
    fn a_gap_over_several_stretches_is_in_each() {
        let lasts = [1.0, 2.0, 3.0, 4.0, 5.0];
        let gaps = [(1.5, 3.5), (1.6, 1.7)];
        assert_eq!(steps(&gaps, &lasts), [false, true, true, true, false]);
    }
}
