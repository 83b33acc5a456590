//! A force along the middle of a stroke, in bins of the way: each place counts alike, however
//! long the rod stood there.

/// Bins over the middle half of a stroke.
const N_BINS: usize = 64;

/// Bins that must have been read for a median to be stated.
const BINS_LEAST: usize = 16;

/// Sums of one way.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Bins {
    sums: [(f64, u32); N_BINS],
}

impl Default for Bins {
    fn default() -> Self {
        Self {
            sums: [(0.0, 0); N_BINS],
        }
    }
}

impl Bins {
    /// Takes a force at a part of the middle half, 0 to 1.
    pub fn push(&mut self, part: f64, force_n: f64) {
        let index = ((part.clamp(0.0, 1.0) * N_BINS as f64) as usize).min(N_BINS - 1);
        let (sum, n) = &mut self.sums[index];
        *sum += force_n;
        *n += 1;
    }

    /// Median over the places, and half of what lies between their tenth and their ninetieth
    /// part; None where too few places were read.
    pub fn median_and_spread(&self) -> Option<(f64, f64)> {
        let read = self.sums.iter().filter(|(_, n)| *n > 0);
        let mut means: Vec<f64> = read.map(|(sum, n)| sum / f64::from(*n)).collect();
        if means.len() < BINS_LEAST {
            return None;
        }
        means.sort_by(f64::total_cmp);
        let at = |part: f64| {
            let place = part * (means.len() - 1) as f64;
            let (low, rest) = (place.floor() as usize, place.fract());
            let high = (low + 1).min(means.len() - 1);
            means[low] + rest * (means[high] - means[low])
        };
        Some((at(0.5), 0.5 * (at(0.9) - at(0.1))))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A ramp from 100 N to 164 N over 64 places: median 132, and 0.4 of 63 N between its tenth
    /// and ninetieth part on either side (by hand).
    #[test]
    fn a_ramp_has_its_middle_and_its_spread() {
        let mut bins = Bins::default();
        for step in 0..64 {
            bins.push((f64::from(step) + 0.5) / 64.0, 100.5 + f64::from(step));
        }
        // Standing long at one place changes nothing.
        (0..1000).for_each(|_| bins.push(0.004, 100.5));
        let (median, spread) = bins.median_and_spread().expect("read");
        assert!((median - 132.0).abs() < 1e-9, "{median}");
        assert!((spread - 25.2).abs() < 1e-9, "{spread}");
    }

    #[test]
    fn a_few_places_are_no_middle_of_a_stroke() {
        let mut bins = Bins::default();
        for step in 0..15 {
            bins.push(f64::from(step) / 64.0 + 0.001, 1.0);
        }
        assert_eq!(bins.median_and_spread(), None);
    }
}
