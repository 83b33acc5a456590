//! Looks at fixed times: what each may spend, what it may decide, and that paths of estimates
//! which are looked at keep the risk.

use super::*;
use crate::account::Conditions;
use crate::account::FigureName;
use crate::account::Measured;
use crate::verdict::Basis;
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;

const ML_MIN: f64 = 1e-6 / 60.0;
const GUARDED: DecisionRule = DecisionRule::Guarded { probability: 0.975 };

fn limit(number: f64) -> Limit {
    Limit {
        id: "l".into(),
        figure: FigureName::CapLoss,
        number,
        unit: "mL/min".into(),
        si_per_unit: ML_MIN,
        text: format!("{number} mL/min"),
        at_pressure: None,
        at_temperature: None,
        source: "test".into(),
        basis: Basis::default(),
    }
}

fn found(value: f64, standard: f64) -> Evaluation {
    let measured = Measured {
        value_si: value * ML_MIN,
        standard_si: standard * ML_MIN,
    };
    let at = Conditions::default();
    of(Figure::measured(
        FigureName::CapLoss,
        measured,
        Vec::new(),
        at,
    ))
}

fn of(figure: Figure) -> Evaluation {
    Evaluation {
        method_version: 1,
        hold_s: (0.0, 240.0),
        over_hold: Conditions::default(),
        figures: vec![figure],
        lines: Vec::new(),
        findings: Vec::new(),
        doubts: Vec::new(),
        met: None,
        shares_load: false,
        by_heat_m_per_s: None,
        turn: None,
        evened: None,
        counted: None,
        forecast: None,
    }
}

fn judged(evaluation: &Evaluation, flags: &[Flag], end: HoldEnd) -> Verdict {
    EarlyRule::new(GUARDED, 600.0).judge(Ok(evaluation), flags, &[limit(0.12)], end)
}

#[test]
fn looks_stand_at_fixed_times_and_the_last_is_not_at_the_end() {
    let looks = |longest_s| EarlyRule::new(GUARDED, longest_s).looks_s().to_vec();
    assert_eq!(
        looks(600.0),
        [60.0, 90.0, 120.0, 180.0, 240.0, 360.0, 480.0]
    );
    assert_eq!(looks(60.0), Vec::<f64>::new());
    assert_eq!(looks(120.0), [60.0, 90.0]);
    assert!(looks(172_800.0).len() <= MOST_LOOKS);
    assert!(EarlyRule::new(GUARDED, 600.0).is_look(90.0));
    assert!(!EarlyRule::new(GUARDED, 600.0).is_look(100.0));
}

/// Risks of all looks and of the end add up to that of the shop, by any rule and length.
#[test]
fn what_is_spent_is_the_risk_of_the_shop() {
    let rules = [
        (DecisionRule::Guarded { probability: 0.95 }, 0.05),
        (DecisionRule::WhollyInside, 0.025),
        (DecisionRule::Simple, 0.025),
    ];
    for (rule, risk) in rules {
        for longest_s in [30.0, 100.0, 600.0, 86_400.0] {
            let early = EarlyRule::new(rule, longest_s);
            let of_look = 1.0 - early.confidence(HoldEnd::Decided(60.0));
            let of_end = 1.0 - early.confidence(HoldEnd::Whole);
            let all = of_look * early.looks_s().len() as f64 + of_end;
            assert!((all - risk).abs() < 1e-12, "{rule:?} {longest_s}: {all}");
        }
    }
}

/// Normal quantile at 1 - 0.025/2/7 is 2.914, at 1 - 0.025/2 2.241 (computed).
#[test]
fn the_interval_that_decides_is_the_one_that_is_said() {
    let early = judged(&found(0.02, 0.02), &[], HoldEnd::Decided(240.0));
    assert_eq!(early.outcome, Outcome::Pass);
    let own = &early.judged[0];
    let expanded = own.expanded.expect("a value");
    assert!((expanded - 2.914 * 0.02).abs() < 2e-5, "{expanded}");
    assert!(own.reason.contains("0.020 ± 0.058"), "{}", own.reason);
    assert!(own.reason.contains("after 240 s"), "{}", own.reason);
    assert!(own.reason.contains("for 99.6 %"), "{}", own.reason);
    let whole = judged(&found(0.02, 0.02), &[], HoldEnd::Whole);
    let expanded = whole.judged[0].expanded.expect("a value");
    assert!((expanded - 2.241 * 0.02).abs() < 2e-5, "{expanded}");
    // Enough for the end, and for a single look at 95 %, but not for one look of seven.
    let close = found(0.07, 0.02);
    assert_eq!(judged(&close, &[], HoldEnd::Whole).outcome, Outcome::Pass);
    let look = judged(&close, &[], HoldEnd::Decided(240.0));
    assert_eq!(look.outcome, Outcome::Undecided);
}

#[test]
fn more_leak_and_less_certainty_never_help() {
    let score = |outcome| match outcome {
        Outcome::Pass => 0,
        Outcome::Undecided => 1,
        _ => 2,
    };
    for end in [HoldEnd::Decided(180.0), HoldEnd::Whole] {
        for standard in [0.001, 0.01, 0.03, 0.1] {
            let outcomes: Vec<i32> = (0..60)
                .map(|i| judged(&found(f64::from(i) * 0.01, standard), &[], end))
                .map(|verdict| score(verdict.outcome))
                .collect();
            assert!(outcomes.is_sorted(), "{standard}: {outcomes:?}");
        }
        for value in [0.0, 0.05, 0.1] {
            let passes: Vec<bool> = (1..40)
                .map(|i| judged(&found(value, f64::from(i) * 0.002), &[], end))
                .map(|verdict| verdict.outcome != Outcome::Pass)
                .collect();
            assert!(passes.is_sorted(), "{value}: {passes:?}");
        }
    }
}

#[test]
fn nothing_passes_before_a_minute_and_nothing_fails_before_two() {
    let at = |value: f64, held_s: f64| {
        judged(&found(value, 0.001), &[], HoldEnd::Decided(held_s)).outcome
    };
    for held_s in [0.0, 10.0, 59.9, 30.0, 100.0] {
        assert_eq!(at(0.0, held_s), Outcome::Undecided, "{held_s}");
        assert_eq!(at(1.0, held_s), Outcome::Undecided, "{held_s}");
    }
    assert_eq!(at(0.0, 60.0), Outcome::Pass);
    assert_eq!(at(1.0, 60.0), Outcome::Undecided);
    assert_eq!(at(1.0, 90.0), Outcome::Undecided);
    assert_eq!(at(1.0, 120.0), Outcome::Fail);
}

#[test]
fn a_broken_or_doubtful_figure_ends_no_hold() {
    let end = HoldEnd::Decided(240.0);
    for broken in [
        found(f64::NAN, 0.001),
        found(0.0, f64::NAN),
        found(0.0, f64::INFINITY),
        found(f64::INFINITY, 0.001),
    ] {
        assert!(!ends_the_hold(&judged(&broken, &[], end)));
    }
    let bounded = |low: f64, high: f64| {
        let at = Conditions::default();
        of(Figure::bounded(
            FigureName::CapLoss,
            low * ML_MIN,
            high * ML_MIN,
            1.96,
            at,
        ))
    };
    for (low, high) in [(0.0, 0.01), (1.0, 2.0)] {
        assert!(!ends_the_hold(&judged(&bounded(low, high), &[], end)));
    }
    for value in [0.0, 1.0] {
        let mut doubtful = found(value, 0.001);
        doubtful.doubts.push(Doubt::NoFit {
            evidence: "the pressures contradict the position".into(),
        });
        assert!(!ends_the_hold(&judged(&doubtful, &[], end)));
        let flag = Flag {
            weight: Weight::Voids,
            evidence: "sensor lost".into(),
        };
        let void = judged(&found(value, 0.001), &[flag], end);
        assert_eq!(void.outcome, Outcome::NotValid);
    }
    let early = EarlyRule::new(GUARDED, 600.0);
    let none = early.judge(Err("too short".into()), &[], &[limit(0.12)], end);
    assert!(!ends_the_hold(&none));
    let unlimited = early.judge(Ok(&found(0.0, 0.001)), &[], &[], end);
    assert!(!ends_the_hold(&unlimited));
}

/// Estimates that gather information as 1/u² with u falling as 1/T, truth at the limit: passed
/// and failed at any look or at the end, each at most as often as the shop allows, give or take
/// three sigma of 20 000 paths.
#[test]
fn paths_that_are_looked_at_keep_the_risk() {
    let early = EarlyRule::new(GUARDED, 600.0);
    let normal = rand_distr::StandardNormal;
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let (mut n_passed, mut n_failed, n_paths) = (0, 0, 20_000);
    let mut times = early.looks_s().to_vec();
    times.push(600.0);
    for _ in 0..n_paths {
        // u of 600 s is a tenth of the limit of 1.
        let (mut information, mut sum) = (0.0f64, 0.0f64);
        for (index, time) in times.iter().enumerate() {
            let u = 0.1 * 600.0 / time;
            let next = u.powi(-2);
            let step: f64 = random.sample(normal);
            sum += step * (next - information).sqrt();
            information = next;
            let error = sum / information / u;
            let end = match index + 1 == times.len() {
                true => HoldEnd::Whole,
                false => HoldEnd::Decided(*time),
            };
            let z = normal_quantile(early.confidence(end));
            if error < -z {
                n_passed += 1;
                break;
            }
            if error > z && (end == HoldEnd::Whole || *time >= FAILS_FROM_S) {
                n_failed += 1;
                break;
            }
        }
    }
    let most = 0.025 * f64::from(n_paths) + 3.0 * (0.025 * f64::from(n_paths)).sqrt();
    assert!(f64::from(n_passed) < most, "{n_passed}");
    assert!(f64::from(n_failed) < most, "{n_failed}");
    // A rule that never decides would keep it as well.
    assert!(
        n_passed > n_paths / 100 && n_failed > n_paths / 100,
        "{n_passed} {n_failed}"
    );
}
