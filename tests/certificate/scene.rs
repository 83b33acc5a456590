//! One invented test of the Tarn Valley road depot, in all five outcomes.
//!
//! A plough lift cylinder 63/36 × 400 with both ports plugged under a 30 kN load.
//! Every number here is invented for the test of the paper; none was measured and
//! none is a recommendation.

use crate::bench::HOLD_S;
use crate::bench::SETTLE_S;
use crate::bench::noise;
use crate::bench::recording;
use crate::bench::subject;
use stillrod::account::Conditions;
use stillrod::account::Contribution;
use stillrod::account::Doubt;
use stillrod::account::Evaluation;
use stillrod::account::Figure;
use stillrod::account::FigureName;
use stillrod::account::Line;
use stillrod::account::LineKind;
use stillrod::account::METHOD_VERSION;
use stillrod::account::Measured;
use stillrod::certificate::Facts;
use stillrod::certificate::Standing;
use stillrod::cylinder::UnitIdentity;
use stillrod::health::Flag;
use stillrod::health::Weight;
use stillrod::procedure::HoldPlan;
use stillrod::quantity::Time;
use stillrod::quantity::UnitSystem;
use stillrod::quantity::unit;
use stillrod::recording::Recording;
use stillrod::verdict::Basis;
use stillrod::verdict::DecisionRule;
use stillrod::verdict::Judged;
use stillrod::verdict::Limit;
use stillrod::verdict::Outcome;
use stillrod::verdict::Verdict;

/// What the facts of one test borrow from.
pub struct Scene {
    pub recording: Recording,
    pub evaluation: Evaluation,
    pub verdict: Verdict,
    pub flags: Vec<Flag>,
    pub not_looked_at: Vec<stillrod::channel::Role>,
    pub units: UnitSystem,
    pub number: Option<String>,
    pub standing: Standing,
}

impl Scene {
    /// The scene with one of the five outcomes.
    pub fn new(outcome: Outcome) -> Self {
        let practice = "practice bench: every figure comes from a calculation";
        let is_broken = outcome == Outcome::NotValid;
        let mut evaluation = evaluation();
        if is_broken {
            evaluation.figures.clear();
            evaluation.doubts.push(Doubt::NoFit {
                evidence: "the position is missing for 12 s of the counted hold".into(),
            });
        }
        let is_report = matches!(outcome, Outcome::Measured | Outcome::NotValid);
        Self {
            recording: recording(practice, is_broken),
            evaluation,
            verdict: verdict(outcome),
            flags: flags(is_broken),
            not_looked_at: Vec::new(),
            units: UnitSystem::Metric,
            number: (!is_report).then(|| "TVC-2026-0031".into()),
            standing: Standing::Original,
        }
    }

    /// A measurement of a real cylinder instead of practice.
    pub fn in_earnest(mut self) -> Self {
        let is_broken = self.verdict.outcome == Outcome::NotValid;
        self.recording = recording("", is_broken);
        self
    }

    /// The facts of the certificate.
    pub fn facts(&self) -> Facts<'_> {
        Facts {
            certificate_number: self.number.clone(),
            standing: self.standing.clone(),
            shop_name: "Tarn Valley road depot, hydraulics bench".into(),
            letterhead: stillrod::certificate::Letterhead::default(),
            units: self.units,
            role: "bench technician".into(),
            date: "14 March 2026, 08:05".into(),
            identity: UnitIdentity {
                tag: "TV-0312".into(),
                description: "plough lift cylinder".into(),
                machine: "winter carrier 7".into(),
                serial: "0312-B".into(),
                seal: "PTFE slide ring".into(),
                ..UnitIdentity::default()
            },
            subject: subject(),
            plan: HoldPlan::new(
                Time::new::<unit::second>(SETTLE_S),
                Time::new::<unit::second>(HOLD_S),
            )
            .expect("a plan"),
            recording: &self.recording,
            file_name: "tv-0312-20260314-0805.h5".into(),
            sha256_hex: "9f2c4e8a1b7d3605c4e2f8917a6b5d3c0e1f2a3b4c5d6e7f8091a2b3c4d5e6f7".into(),
            evaluation: Some(&self.evaluation),
            verdict: &self.verdict,
            flags: &self.flags,
            not_looked_at: &self.not_looked_at,
            software: "0.1.0".into(),
        }
    }
}

const AT: Conditions = Conditions {
    p_holding_pa: None,
    p_cap_pa: Some(160e5),
    p_rod_pa: Some(94.6e5),
    t_oil_k: Some(318.75),
    x_m: Some(0.212),
};

fn figure(
    name: FigureName,
    value: f64,
    standard: f64,
    budget: &[(&'static str, f64, &'static str)],
) -> Figure {
    let per_unit = name.si_per_metric_unit();
    let measured = |value: f64, standard: f64| Measured {
        value_si: value * per_unit,
        standard_si: standard * per_unit,
    };
    let budget = budget.iter().map(|(source, share, remedy)| Contribution {
        source,
        standard_si: share.sqrt() * standard * per_unit,
        degrees_of_freedom: None,
        remedy,
    });
    let mut figure = Figure::measured(name, measured(value, standard), budget.collect(), AT);
    figure.coverage_factor = 2.0;
    figure.lower_si = (value - 2.0 * standard) * per_unit;
    figure.upper_si = (value + 2.0 * standard) * per_unit;
    let is_flow = name.metric_unit() == "mL/min";
    figure.mean_over_hold = is_flow.then(|| measured(0.98 * value, 0.95 * standard));
    figure
}

fn evaluation() -> Evaluation {
    let flow = [
        (
            "oil still cooling unevenly",
            0.52,
            "let it settle longer, or put the probe deeper",
        ),
        ("temperature sensor", 0.21, "a sensor with a smaller drift"),
        (
            "air in the oil",
            0.14,
            "bleed the cap end again before the hold",
        ),
        ("position sensor", 0.09, "hold longer"),
        ("noise of the pressures", 0.04, "hold longer"),
    ];
    let drift = [
        ("position sensor", 0.8, "hold longer"),
        ("heat of the rod", 0.2, "shield the rod from the sun"),
    ];
    let leak_down = [
        ("zero drift of the sensor", 0.9, "keep the room warm"),
        ("noise", 0.1, "hold longer"),
    ];
    let ml = FigureName::GlandLeakage.si_per_metric_unit();
    Evaluation {
        method_version: METHOD_VERSION,
        hold_s: (SETTLE_S, SETTLE_S + HOLD_S),
        over_hold: Conditions::default(),
        figures: vec![
            figure(FigureName::Drift, -0.021, 0.002, &drift),
            figure(FigureName::LeakDown, 0.24, 0.011, &leak_down),
            figure(FigureName::CapLoss, 0.06, 0.01, &flow),
            figure(FigureName::RodGain, 0.055, 0.012, &flow),
            Figure::bounded(FigureName::GlandLeakage, 0.0, 0.027 * ml, 2.0, AT),
        ],
        lines: lines(),
        findings: vec![
            "The rod went in by 0.1 mm while the rod-end pressure rose: most of the lost oil went past the piston.".into(),
        ],
        doubts: vec![],
        met: None,
        shares_load: false,
        by_heat_m_per_s: None,
            turn: None,
            evened: None,
        counted: None,
        forecast: None,
    }
}

fn lines() -> Vec<Line> {
    let time_s: Vec<f64> = (0..=300)
        .map(f64::from)
        .filter(|t| !(145.0..159.0).contains(t))
        .collect();
    let line = |kind, volume: &dyn Fn(f64) -> f64, half: Option<&dyn Fn(f64) -> f64>| Line {
        kind,
        volume_m3: time_s.iter().map(|t| volume(*t) * 1e-6).collect(),
        half_width_m3: half
            .map_or_else(Vec::new, |h| time_s.iter().map(|t| h(*t) * 1e-6).collect()),
        time_s: time_s.clone(),
    };
    let minute = |t: f64| t / 60.0;
    vec![
        line(
            LineKind::CapLost,
            &|t| 0.06 * minute(t) + 0.004 * noise(t as usize),
            Some(&|t| 0.012 + 0.018 * minute(t)),
        ),
        line(
            LineKind::RodGained,
            &|t| 0.055 * minute(t) + 0.004 * noise(t as usize + 9),
            Some(&|t| 0.012 + 0.021 * minute(t)),
        ),
        line(
            LineKind::Squeeze,
            &|t| 0.11 * (1.0 - (-t / 90.0).exp()),
            None,
        ),
        line(LineKind::Heat, &|t| 0.21 * (1.0 - (-t / 80.0).exp()), None),
    ]
}

fn flags(is_broken: bool) -> Vec<Flag> {
    let mut flags = vec![Flag {
        weight: Weight::Remark,
        evidence: "140 samples were lost between 204.9 s and 219.0 s; the line is open there"
            .into(),
    }];
    if is_broken {
        flags.push(Flag {
            weight: Weight::Voids,
            evidence:
                "position sensor lost for 12 s of the counted hold; check the cable and repeat"
                    .into(),
        });
    }
    flags
}

fn limit(id: &str, figure: FigureName, number: f64, unit: &'static str, text: &str) -> Limit {
    Limit {
        id: id.into(),
        figure,
        number,
        unit: unit.into(),
        si_per_unit: figure.si_per_metric_unit(),
        text: text.into(),
        at_pressure: None,
        at_temperature: None,
        source: "depot worked example 2026, rebuilt 63 mm bore".into(),
        basis: Basis::default(),
    }
}

fn verdict(outcome: Outcome) -> Verdict {
    let cap = match outcome {
        Outcome::Fail => (0.04, "0,04 mL/min", 0.023),
        Outcome::Undecided => (0.065, "0,065 mL/min", 0.69),
        _ => (0.12, "0,12 mL/min", 0.999_999_999),
    };
    let judged = |limit: Limit, outcome, number, expanded, within, reason: &str| Judged {
        // One-sided guard band for 95 %: 1.645 of 2 standard uncertainties.
        acceptance: Some(limit.number - 0.82 * expanded),
        limit,
        outcome,
        number: Some(number),
        expanded: Some(expanded),
        probability_within: Some(within),
        reason: reason.into(),
    };
    let reason = match outcome {
        Outcome::Fail => "the leak is above the limit with a probability of 97.7 %",
        Outcome::Undecided => {
            "the leak is below the limit with a probability of only 69 %, asked for are 95 %"
        }
        Outcome::NotValid => "position sensor lost for 12 s",
        _ => "the leak is below the limit with a probability above 99.9 %",
    };
    let cap_limit = limit(
        "rebuilt-63-cap-loss",
        FigureName::CapLoss,
        cap.0,
        "mL/min",
        cap.1,
    );
    let mut of_cap = judged(cap_limit, outcome, 0.06, 0.02, cap.2, reason);
    let drift = limit(
        "rebuilt-63-drift",
        FigureName::Drift,
        0.05,
        "mm/min",
        "0.05 mm/min",
    );
    let within = "the movement is below the limit with a probability above 99.9 %";
    let mut of_drift = judged(drift, Outcome::Pass, -0.021, 0.004, 0.999_999, within);
    if outcome == Outcome::NotValid {
        for judged in [&mut of_cap, &mut of_drift] {
            judged.outcome = Outcome::NotValid;
            judged.number = None;
            judged.expanded = None;
            judged.probability_within = None;
            judged.acceptance = None;
            judged.reason = reason.into();
        }
    }
    Verdict {
        outcome,
        judged: if outcome == Outcome::Measured {
            Vec::new()
        } else {
            vec![of_cap, of_drift]
        },
        reasons: if outcome == Outcome::NotValid {
            vec![
                "position sensor lost for 12 s of the counted hold; check the cable and repeat"
                    .into(),
            ]
        } else {
            Vec::new()
        },
        rule: DecisionRule::Guarded { probability: 0.95 },
    }
}
