//! Movement and loss of pressure of a cylinder that shares its load.
//!
//! On one beam a sound cylinder sinks with a leaking one, and its pressure rises by what that
//! one lets go. Neither figure belongs to one of them; flows do.

use super::Judged;
use super::Outcome;
use crate::account::FigureName;

/// Judges again what two cylinders do together.
pub(super) fn of_both(judged: Judged) -> Judged {
    let is_of_both = matches!(
        judged.limit.figure,
        FigureName::Drift | FigureName::LeakDown
    );
    if !is_of_both || !matches!(judged.outcome, Outcome::Pass | Outcome::Fail) {
        return judged;
    }
    Judged {
        outcome: Outcome::Undecided,
        reason: format!(
            "{}, but another cylinder carries the same load: that is what both do together; hold the flows of each \
             against limits",
            judged.reason
        ),
        ..judged
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::Basis;
    use crate::verdict::Limit;

    fn judged(figure: FigureName, outcome: Outcome) -> Judged {
        Judged {
            limit: Limit {
                id: "l".into(),
                figure,
                number: 1.0,
                unit: "mm/min".into(),
                si_per_unit: 1e-3 / 60.0,
                text: "1 mm/min".into(),
                at_pressure: None,
                at_temperature: None,
                source: "test".into(),
                basis: Basis::default(),
            },
            number: Some(0.5),
            expanded: None,
            probability_within: None,
            acceptance: None,
            outcome,
            reason: "it was measured".into(),
        }
    }

    #[test]
    fn neither_passes_nor_fails_by_what_both_do_and_flows_are_its_own() {
        for (figure, before, after) in [
            (FigureName::Drift, Outcome::Fail, Outcome::Undecided),
            (FigureName::LeakDown, Outcome::Pass, Outcome::Undecided),
            (FigureName::Drift, Outcome::NotValid, Outcome::NotValid),
            (FigureName::CapLoss, Outcome::Fail, Outcome::Fail),
            (FigureName::CapLoss, Outcome::Pass, Outcome::Pass),
        ] {
            let found = of_both(judged(figure, before));
            assert_eq!(found.outcome, after, "{found:?}");
            assert_eq!(found.reason.contains("another cylinder"), before != after);
        }
    }
}
