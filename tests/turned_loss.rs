//! A loss that stopped within its hold, held against a limit.

use stillrod::account::Conditions;
use stillrod::account::Evaluation;
use stillrod::account::Figure;
use stillrod::account::FigureName;
use stillrod::account::Measured;
use stillrod::account::Turn;
use stillrod::account::TurnKind;
use stillrod::cylinder::Chamber;
use stillrod::verdict::Basis;
use stillrod::verdict::DecisionRule;
use stillrod::verdict::Limit;
use stillrod::verdict::Outcome;
use stillrod::verdict::judge;

const ML_MIN: f64 = 1e-6 / 60.0;

fn flow(ml_min: f64) -> Measured {
    Measured {
        value_si: ml_min * ML_MIN,
        standard_si: 0.015 * ML_MIN,
    }
}

/// 0.186 mL/min on the mean of a hold that lost 0.6 until it stopped.
fn mean_of_a_hold(turn: Option<Turn>) -> Evaluation {
    let figure = Figure::measured(
        FigureName::CapLoss,
        flow(0.186),
        Vec::new(),
        Conditions::default(),
    );
    Evaluation {
        method_version: 1,
        hold_s: (0.0, 600.0),
        over_hold: Conditions::default(),
        figures: vec![figure],
        lines: Vec::new(),
        findings: Vec::new(),
        doubts: Vec::new(),
        met: None,
        shares_load: false,
        by_heat_m_per_s: None,
        turn,
        evened: None,
        counted: None,
        forecast: None,
    }
}

#[test]
fn a_loss_that_stopped_does_not_pass_by_its_mean_and_still_fails() {
    let stops = Turn {
        kind: TurnKind::Stops,
        chamber: Chamber::Cap,
        at_s: 180.0,
        between_s: (170.0, 190.0),
        before: flow(0.6),
        after: flow(0.0),
        pressures_pa: [110e5, 92e5, 90e5],
        between_pa: (91e5, 93e5),
    };
    for (limit, turn, expected) in [
        (0.25, None, Outcome::Pass),
        (0.25, Some(stops), Outcome::Undecided),
        (0.15, Some(stops), Outcome::Fail),
    ] {
        let limits = [Limit {
            id: "l".into(),
            figure: FigureName::CapLoss,
            number: limit,
            unit: "mL/min".into(),
            si_per_unit: ML_MIN,
            text: format!("{limit} mL/min"),
            at_pressure: None,
            at_temperature: None,
            source: "test".into(),
            basis: Basis::default(),
        }];
        let rule = DecisionRule::Guarded { probability: 0.95 };
        let verdict = judge(Ok(&mean_of_a_hold(turn)), &[], &limits, rule);
        let judged = &verdict.judged[0];
        assert_eq!(judged.outcome, expected, "{judged:?}");
        let says = judged.reason.contains("in the first 180 s");
        assert_eq!(says, expected == Outcome::Undecided, "{}", judged.reason);
    }
}
