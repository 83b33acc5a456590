//! A mean and its scatter, one value at a time.

/// Mean and sum of squares (Welford 1962), in whatever unit is pushed.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Mean {
    n: u32,
    mean: f64,
    squares: f64,
}

impl Mean {
    pub fn push(&mut self, value: f64) {
        self.n += 1;
        let off = value - self.mean;
        self.mean += off / f64::from(self.n);
        self.squares += off * (value - self.mean);
    }

    pub fn n(&self) -> u32 {
        self.n
    }

    /// The mean; None of nothing.
    pub fn value(&self) -> Option<f64> {
        (self.n > 0).then_some(self.mean)
    }

    /// Standard deviation of the mean, with n − 1 degrees of freedom; None of fewer than two.
    pub fn standard(&self) -> Option<f64> {
        let n = f64::from(self.n);
        (self.n > 1).then(|| (self.squares / (n - 1.0) / n).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 2, 4, 9: mean 5, variance 13, of the mean 13/3 (by hand).
    #[test]
    fn three_values_have_the_mean_and_the_scatter_of_the_hand() {
        let mut mean = Mean::default();
        assert_eq!((mean.value(), mean.standard()), (None, None));
        for value in [2.0, 4.0, 9.0] {
            mean.push(value);
        }
        assert_eq!(mean.n(), 3);
        assert!((mean.value().unwrap_or(0.0) - 5.0).abs() < 1e-12);
        assert!((mean.standard().unwrap_or(0.0) - (13.0_f64 / 3.0).sqrt()).abs() < 1e-12);
    }
}
