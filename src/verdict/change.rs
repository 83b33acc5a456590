//! Before and after: whether a figure of a unit changed, as far as two measurements can tell.
//!
//! Both intervals hold with about 95 %; their difference has the root of the sum of both squares
//! (GUM, JCGM 100:2008, 5.1.2, inputs taken as independent: sensors of one bench err alike, so that
//! a change is claimed rather too late than too early). A leak is driven by pressure and held back
//! by viscosity; what two holds differ in these is allowed for in full. "No change that can be
//! shown" is an answer.

/// Where, and driven by what, a figure was measured.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct MeasuredAt {
    /// Pressure of the cap side over that of the rod side, bar.
    pub driving_bar: Option<f64>,
    /// Temperature of the oil, °C.
    pub oil_degc: Option<f64>,
    /// Place of the rod, mm.
    pub x_mm: Option<f64>,
}

/// A figure as it was stated, in its unit of measure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StatedFigure {
    /// Its value; None if it could only be bounded.
    pub value: Option<f64>,
    /// Lower end of its interval.
    pub lower: f64,
    /// Upper end of its interval.
    pub upper: f64,
    /// Where it was measured.
    pub at: MeasuredAt,
}

impl StatedFigure {
    /// The same with the other sign.
    pub fn mirrored(&self) -> Self {
        Self {
            value: self.value.map(|value| -value),
            lower: -self.upper,
            upper: -self.lower,
            at: self.at,
        }
    }
}

/// What two measurements say of a change; the difference is later less earlier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// It is more than it was: the interval of the difference.
    More(f64, f64),
    /// It is less than it was.
    Less(f64, f64),
    /// No change can be shown.
    NotShown(f64, f64),
    /// The two are not alike: why.
    NotComparable(&'static str),
}

/// How much the flow through a gap may change with the oil's viscosity, for each kelvin: mineral oils
/// of VG 32 to VG 68 between 30 °C and 60 °C by ASTM D341, checked against the room `oil`.
pub const FLOW_PER_K: f64 = 0.06;

/// Farthest apart, K: beyond it the allowance says nothing any more.
const MOST_K: f64 = 15.0;

/// Most that one driving pressure may be of the other (common practice, no source).
const MOST_RATIO: f64 = 4.0 / 3.0;

/// Least driving pressure that can be compared by ratio, bar.
const LEAST_DRIVING_BAR: f64 = 5.0;

/// Farthest apart in the stroke, mm: a scored tube leaks where the score is.
const MOST_APART_MM: f64 = 25.0;

/// Compares a figure with the same figure of an earlier measurement.
pub fn change(earlier: &StatedFigure, later: &StatedFigure) -> Change {
    let relative = match allowance(earlier.at, later.at) {
        Ok(relative) => relative,
        Err(reason) => return Change::NotComparable(reason),
    };
    let ends = [earlier.lower, earlier.upper, later.lower, later.upper];
    if !ends.iter().all(|end| end.is_finite()) {
        return Change::NotComparable("one of them has no bound on one side");
    }
    let largest = |figure: &StatedFigure| match figure.value {
        Some(value) => value.abs(),
        None => figure.lower.abs().max(figure.upper.abs()),
    };
    let allowed = relative * largest(earlier).max(largest(later));
    let (lower, upper) = match (earlier.value, later.value) {
        (Some(before), Some(after)) => {
            let below = (later.lower - after).hypot(earlier.upper - before);
            let above = (later.upper - after).hypot(earlier.lower - before);
            let by = after - before;
            (by - below - allowed, by + above + allowed)
        }
        _ => (
            later.lower - earlier.upper - allowed,
            later.upper - earlier.lower + allowed,
        ),
    };
    match (lower > 0.0, upper < 0.0) {
        (true, _) => Change::More(lower, upper),
        (_, true) => Change::Less(lower, upper),
        _ => Change::NotShown(lower, upper),
    }
}

/// What the two differ by because they were not measured alike, as a part of the flow.
fn allowance(a: MeasuredAt, b: MeasuredAt) -> Result<f64, &'static str> {
    if let (Some(x), Some(y)) = (a.x_mm, b.x_mm)
        && (x - y).abs() > MOST_APART_MM
    {
        return Err("the rod stood at another place of the stroke");
    }
    let of_pressure = match (a.driving_bar, b.driving_bar) {
        (Some(p), Some(q)) => {
            let is_alike = p.signum() == q.signum() && p.abs().min(q.abs()) >= LEAST_DRIVING_BAR;
            let ratio = (p / q).abs();
            if !is_alike || !(1.0 / MOST_RATIO..=MOST_RATIO).contains(&ratio) {
                return Err("they were driven by another pressure");
            }
            ratio.ln().abs()
        }
        _ => return Err("what drove them was not measured"),
    };
    let of_oil = match (a.oil_degc, b.oil_degc) {
        (Some(s), Some(t)) if (s - t).abs() > MOST_K => {
            return Err("the oil was much warmer one time than the other");
        }
        (Some(s), Some(t)) => FLOW_PER_K * (s - t).abs(),
        _ => return Err("the temperature of the oil was not measured"),
    };
    Ok(of_pressure + of_oil)
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT: MeasuredAt = MeasuredAt {
        driving_bar: Some(160.0),
        oil_degc: Some(46.0),
        x_mm: Some(300.0),
    };

    fn stated(value: f64, half: f64) -> StatedFigure {
        StatedFigure {
            value: Some(value),
            lower: value - half,
            upper: value + half,
            at: AT,
        }
    }

    /// By hand: 0.10 ± 0.04 after 0.60 ± 0.03 differ by −0.50 ± √(0.03² + 0.04²) = −0.50 ± 0.05.
    #[test]
    fn the_difference_has_the_root_of_both_squares() {
        let Change::Less(lower, upper) = change(&stated(0.60, 0.03), &stated(0.10, 0.04)) else {
            panic!("less was expected");
        };
        assert!((lower + 0.55).abs() < 1e-12 && (upper + 0.45).abs() < 1e-12);
        assert!(matches!(
            change(&stated(0.10, 0.04), &stated(0.60, 0.03)),
            Change::More(..)
        ));
        assert!(matches!(
            change(&stated(0.10, 0.04), &stated(0.14, 0.03)),
            Change::NotShown(..)
        ));
    }

    #[test]
    fn what_is_bounded_is_compared_by_its_ends() {
        let at_most = |upper| StatedFigure {
            value: None,
            lower: 0.0,
            upper,
            at: AT,
        };
        assert_eq!(
            change(&stated(0.5, 0.1), &at_most(0.3)),
            Change::Less(-0.6, -0.5 + 0.1 + 0.3)
        );
        assert!(matches!(
            change(&at_most(0.3), &at_most(0.2)),
            Change::NotShown(..)
        ));
        assert!(matches!(
            change(&at_most(0.3), &at_most(f64::INFINITY)),
            Change::NotComparable(_)
        ));
    }

    #[test]
    fn warmer_oil_and_more_pressure_explain_a_larger_leak() {
        let mut later = stated(0.15, 0.01);
        let earlier = stated(0.10, 0.01);
        assert!(matches!(change(&earlier, &later), Change::More(..)));
        later.at.oil_degc = Some(53.0);
        assert!(matches!(change(&earlier, &later), Change::NotShown(..)));
        later.at.oil_degc = AT.oil_degc;
        later.at.driving_bar = Some(210.0);
        assert!(matches!(change(&earlier, &later), Change::NotShown(..)));
    }

    #[test]
    fn what_was_not_measured_alike_is_not_compared() {
        let earlier = stated(0.6, 0.03);
        let with = |at: MeasuredAt| StatedFigure { at, ..earlier };
        for (at, says) in [
            (
                MeasuredAt {
                    x_mm: Some(200.0),
                    ..AT
                },
                "another place",
            ),
            (
                MeasuredAt {
                    driving_bar: Some(-160.0),
                    ..AT
                },
                "another pressure",
            ),
            (
                MeasuredAt {
                    driving_bar: Some(90.0),
                    ..AT
                },
                "another pressure",
            ),
            (
                MeasuredAt {
                    driving_bar: None,
                    ..AT
                },
                "not measured",
            ),
            (
                MeasuredAt {
                    oil_degc: Some(20.0),
                    ..AT
                },
                "warmer",
            ),
            (
                MeasuredAt {
                    oil_degc: None,
                    ..AT
                },
                "not measured",
            ),
        ] {
            match change(&earlier, &with(at)) {
                Change::NotComparable(reason) => assert!(reason.contains(says), "{reason}"),
                other => panic!("{other:?}"),
            }
        }
    }
}
