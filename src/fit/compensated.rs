//! Sums that keep twice the digits (Ogita, Rump and Oishi 2005).
//!
//! Each addition and product leaves its rounding error, which is summed beside it.

/// A sum with what rounding took from it.
#[derive(Clone, Copy)]
pub(super) struct Sum {
    high: f64,
    low: f64,
}

impl Sum {
    /// Begins with `value`.
    pub(super) fn new(value: f64) -> Self {
        Self {
            high: value,
            low: 0.0,
        }
    }

    /// Adds one number (Knuth's two-sum).
    pub(super) fn add(&mut self, value: f64) {
        let sum = self.high + value;
        let part = sum - self.high;
        self.low += (self.high - (sum - part)) + (value - part);
        self.high = sum;
    }

    /// Adds a product, of which no digit is lost.
    pub(super) fn add_product(&mut self, a: f64, b: f64) {
        let product = a * b;
        self.low += a.mul_add(b, -product);
        self.add(product);
    }

    /// The sum, rounded once.
    pub(super) fn value(self) -> f64 {
        self.high + self.low
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cancels_leaves_its_small_part() {
        let mut sum = Sum::new(1e17);
        sum.add(1.0);
        sum.add(-1e17);
        assert_eq!(sum.value(), 1.0);
        let (a, b) = (1.0 + f64::EPSILON, 1.0 - f64::EPSILON);
        let mut sum = Sum::new(-1.0);
        sum.add_product(a, b);
        assert_eq!(sum.value(), -f64::EPSILON * f64::EPSILON);
    }
}
