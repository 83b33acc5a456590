//! The decision rule: how the uncertainty of a figure counts at its limit.
//!
//! Numbers in, numbers out, all in the limit's own unit. Conformance probability and
//! guard bands are those of JCGM 106:2012; `compare` makes an outcome of them.
//!
//! Invariant: more leak never makes a pass likelier, and an uncertainty that is too wide
//! for a limit leaves no value that passes.

use crate::account::FigureName;
use crate::fit::normal_cdf;
use crate::fit::normal_quantile;
use crate::fit::student_cdf;
use crate::fit::student_quantile;
use crate::quantity::number;

/// How uncertainty counts at the limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DecisionRule {
    /// The value alone decides.
    Simple,
    /// Passes only if the leak is below the limit with this probability, fails only
    /// if it is above it with this probability (JCGM 106 guard bands).
    Guarded {
        /// Conformance probability asked for, above 0.5 and below 1.
        probability: f64,
    },
    /// Passes only if the value with its whole expanded uncertainty is inside the limit,
    /// fails only if it is outside with all of it (guard band w = U).
    WhollyInside,
}

impl DecisionRule {
    /// The word in settings and data files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Simple => "simple",
            Self::Guarded { .. } => "guarded",
            Self::WhollyInside => "wholly_inside",
        }
    }

    /// The stricter of two rules: that which accepts with the larger probability.
    #[must_use]
    pub fn stricter(self, other: Self) -> Self {
        let asks = |rule: Self| match rule {
            Self::Simple => 0.5,
            Self::Guarded { probability } => probability,
            // Its guard band is U, which a normal value keeps with 0.977.
            Self::WhollyInside => 0.977,
        };
        if asks(other) > asks(self) {
            other
        } else {
            self
        }
    }

    /// The rule in one sentence, as it stands on screen, paper and record, for what is limited.
    pub fn sentence(self, limited: &[FigureName]) -> String {
        match self {
            Self::Simple => "Decision rule: the measured value alone is compared with the limit; its uncertainty \
                             is stated but does not decide (simple acceptance)."
                .into(),
            Self::Guarded { probability } => {
                let percent = number(100.0 * probability, 1.0);
                let percent = percent.trim_end_matches('0').trim_end_matches('.');
                format!(
                    "Decision rule: a limit is kept only if {} is below it with a probability of at least \
                     {percent} %, broken only if above it with at least {percent} %, else undecided (guard bands, \
                     JCGM 106).",
                    subject(limited)
                )
            }
            Self::WhollyInside => "Decision rule: a limit is kept only if the value with its whole ± is inside it, \
                                   broken only if the value with its whole ± is over it, else undecided (guard band \
                                   w = U: a value that is accepted is wrong with at most 2.5 %, ILAC-G8)."
                .into(),
        }
    }

    /// Whether a value is accepted, and whether it is rejected; neither is undecided.
    pub(super) fn decides(self, found: f64, limit: Tolerance, spread: Spread) -> (bool, bool) {
        match self {
            Self::Simple => (found <= limit.upper, found > limit.upper),
            Self::Guarded { probability } => {
                let within = limit.probability(found, spread);
                let is_over = found > limit.upper && 1.0 - within >= probability;
                (within >= probability, is_over)
            }
            Self::WhollyInside => (
                found + spread.expanded <= limit.upper,
                found - spread.expanded > limit.upper,
            ),
        }
    }

    /// The largest value that is accepted: AL = T − w. None if this spread leaves none.
    pub(super) fn acceptance(self, limit: Tolerance, spread: Spread) -> Option<f64> {
        let accepted = match self {
            Self::Simple => limit.upper,
            Self::WhollyInside => limit.upper - spread.expanded,
            Self::Guarded { probability } => {
                let one_sided = limit.upper - spread.quantile(probability) * spread.standard;
                if limit.is_size {
                    // A size has two ends to stay within: the band is a little wider.
                    let falls_short = |y: f64| limit.probability(y, spread) < probability;
                    if falls_short(0.0) {
                        return None;
                    }
                    let (mut low, mut high) = (0.0, limit.upper);
                    for _ in 0..60 {
                        let middle = 0.5 * (low + high);
                        if falls_short(middle) {
                            high = middle;
                        } else {
                            low = middle;
                        }
                    }
                    low
                } else {
                    one_sided
                }
            }
        };
        (accepted.is_finite() && (accepted >= 0.0 || !limit.is_size)).then_some(accepted)
    }
}

/// "the leak", "the movement or the pressure loss": what limits are for.
fn subject(limited: &[FigureName]) -> String {
    let mut words: Vec<&str> = Vec::new();
    for name in limited {
        let word = match name {
            FigureName::Drift => "the movement",
            FigureName::LeakDown => "the pressure loss",
            name if name.is_flow() => "the leak",
            _ => "the figure of the strokes",
        };
        if !words.contains(&word) {
            words.push(word);
        }
    }
    match words.split_last() {
        None => "the value".into(),
        Some((only, [])) => (*only).into(),
        Some((last, first)) => format!("{} or {last}", first.join(", ")),
    }
}

/// The permitted values of a figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tolerance {
    /// The limit.
    pub upper: f64,
    /// Whether it is for a size: then minus the limit is an end as well.
    pub is_size: bool,
}

impl Tolerance {
    /// Conformance probability of a value (JCGM 106, 7).
    pub(super) fn probability(self, found: f64, spread: Spread) -> f64 {
        let standard = spread.standard.max(f64::MIN_POSITIVE);
        let below = spread.cdf((self.upper - found) / standard);
        if self.is_size {
            below - spread.cdf((-self.upper - found) / standard)
        } else {
            below
        }
    }
}

/// How far the truth may be from a measured value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spread {
    /// Standard uncertainty.
    pub standard: f64,
    /// Expanded uncertainty, the ± that is printed.
    pub expanded: f64,
    /// Effective degrees of freedom of the standard uncertainty, if they are few enough to
    /// matter; then Student's distribution takes the place of the normal one.
    pub freedom: Option<f64>,
}

impl Spread {
    fn cdf(self, z: f64) -> f64 {
        match self.freedom {
            Some(freedom) => student_cdf(z, freedom),
            None => normal_cdf(z),
        }
    }

    fn quantile(self, probability: f64) -> f64 {
        match self.freedom {
            Some(freedom) => student_quantile(probability, freedom),
            None => normal_quantile(probability),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GUARDED: DecisionRule = DecisionRule::Guarded { probability: 0.95 };

    #[test]
    fn of_two_rules_the_stricter_does_not_depend_on_their_order() {
        let close = DecisionRule::Guarded { probability: 0.99 };
        let ordered = [
            DecisionRule::Simple,
            GUARDED,
            DecisionRule::WhollyInside,
            close,
        ];
        for (index, weak) in ordered.iter().enumerate() {
            for strict in &ordered[index..] {
                assert_eq!(weak.stricter(*strict), *strict);
                assert_eq!(strict.stricter(*weak), *strict);
            }
        }
    }

    fn spread(standard: f64) -> Spread {
        Spread {
            standard,
            expanded: 2.0 * standard,
            freedom: None,
        }
    }

    fn upper(upper: f64) -> Tolerance {
        Tolerance {
            upper,
            is_size: false,
        }
    }

    #[track_caller]
    fn near(found: f64, expected: f64, tolerance: f64) {
        assert!(
            (found - expected).abs() < tolerance,
            "{found} is not {expected}"
        );
    }

    /// JCGM 106:2012, breakdown voltage V ≤ −5.40, found −5.47 with u 0.05: 0.92 printed,
    /// 0.919243 recomputed from the recalled inputs.
    #[test]
    fn the_breakdown_voltage_conforms_with_0_919() {
        near(
            upper(-5.40).probability(-5.47, spread(0.05)),
            0.919_243,
            1e-6,
        );
    }

    /// JCGM 106:2012, kinematic viscosity of SAE 40 oil, 12.5 to 16.3 mm²/s: 0.66 printed,
    /// 0.662630 recomputed with 13.6 and 1.8 (inputs recalled). A tolerance with two ends is
    /// one about its middle.
    #[test]
    fn the_motor_oil_conforms_with_0_663() {
        let (low, high, found) = (12.5, 16.3, 13.6);
        let middle = 0.5 * (low + high);
        let tolerance = Tolerance {
            upper: 0.5 * (high - low),
            is_size: true,
        };
        near(
            tolerance.probability(found - middle, spread(1.8)),
            0.662_630,
            1e-6,
        );
    }

    /// JCGM 106:2012, speed limit 100 km/h, relative uncertainty 2 %, to be sure with 99.9 %:
    /// 106.59 recomputed, 107 printed. Rejecting above a limit is accepting below its mirror.
    #[test]
    fn a_driver_is_fined_with_certainty_from_106_59_on() {
        let rule = DecisionRule::Guarded { probability: 0.999 };
        let v = 106.587_609;
        for (speed, is_over) in [(v + 1e-3, true), (v - 1e-3, false)] {
            let (_, rejected) = rule.decides(speed, upper(100.0), spread(0.02 * speed));
            assert_eq!(rejected, is_over, "{speed}");
        }
    }

    /// JCGM 106:2012, table 1: one-sided guard bands in standard uncertainties.
    #[test]
    fn guard_bands_are_those_of_the_guide() {
        for (probability, z) in [
            (0.80, 0.84),
            (0.90, 1.28),
            (0.95, 1.64),
            (0.975, 1.96),
            (0.99, 2.33),
            (0.999, 3.09),
        ] {
            let rule = DecisionRule::Guarded { probability };
            let accepted = rule.acceptance(upper(0.0), spread(1.0)).expect("a value");
            near(-accepted, z, 0.006);
        }
    }

    /// ILAC-G8:09/2019 (table from memory, arithmetic checked: normal, U = 2u): the chance
    /// that a value just accepted is wrong, by the width of the guard band.
    #[test]
    fn the_risk_of_a_guard_band_is_that_of_the_laboratories_table() {
        for (width, risk) in [(0.0, 0.50), (0.83, 0.0485), (1.0, 0.0228), (1.5, 0.001_35)] {
            let found = 10.0 - width * 2.0;
            near(
                1.0 - upper(10.0).probability(found, spread(1.0)),
                risk,
                1e-4,
            );
        }
        let whole = DecisionRule::WhollyInside.acceptance(upper(10.0), spread(1.0));
        let risk = 1.0 - upper(10.0).probability(whole.expect("a value"), spread(1.0));
        assert!(risk < 0.025, "{risk}");
    }

    /// A worked leak budget (computed): u 0.015765 at a limit of 0.25 is accepted up to
    /// 0.2241 with 95 %, up to 0.2185 with the whole ±; 0.185585 conforms to 0.20 with 0.820.
    #[test]
    fn the_worked_budget_has_its_acceptance_limits() {
        let budget = spread(0.015_764_5);
        let accepted = |rule: DecisionRule| rule.acceptance(upper(0.25), budget).expect("a value");
        near(accepted(GUARDED), 0.2241, 5e-5);
        near(accepted(DecisionRule::WhollyInside), 0.2185, 5e-5);
        near(accepted(DecisionRule::Simple), 0.25, 1e-12);
        near(upper(0.20).probability(0.185_585, budget), 0.820, 5e-4);
    }

    /// Student's t one-sided 95 % for 4 degrees of freedom is 2.132 (tables), not 1.645.
    #[test]
    fn few_degrees_of_freedom_widen_the_guard_band() {
        let few = Spread {
            freedom: Some(4.0),
            ..spread(0.1)
        };
        let accepted = GUARDED.acceptance(upper(1.0), few).expect("a value");
        near(accepted, 1.0 - 0.2132, 5e-5);
        assert!(GUARDED.decides(accepted - 1e-6, upper(1.0), few).0);
        assert!(!GUARDED.decides(accepted + 1e-6, upper(1.0), few).0);
    }

    #[test]
    fn what_is_accepted_is_what_decides_up_to_its_last_digit() {
        for is_size in [true, false] {
            for standard in [0.01, 0.1, 0.3, 0.45] {
                let limit = Tolerance {
                    upper: 1.0,
                    is_size,
                };
                for rule in [DecisionRule::Simple, GUARDED, DecisionRule::WhollyInside] {
                    let spread = spread(standard);
                    let accepts = |found| rule.decides(found, limit, spread).0;
                    match rule.acceptance(limit, spread) {
                        Some(accepted) => {
                            assert!(accepts(accepted - 1e-9) && !accepts(accepted + 1e-9));
                        }
                        None => assert!((0..100).all(|i| !accepts(f64::from(i) * 0.02))),
                    }
                }
            }
        }
    }
}
