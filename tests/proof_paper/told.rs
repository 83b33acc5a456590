//! What strokes told, on the paper: a small table, a row for each limit, what is not stated.

use crate::scene::SOUND;
use stillrod::account::Conditions;
use stillrod::account::Figure;
use stillrod::account::FigureName;
use stillrod::account::Measured;
use stillrod::account::StrokeFigure;
use stillrod::account::StrokeSide;
use stillrod::account::StrokeSummary;
use stillrod::account::Travel;
use stillrod::certificate::ProofFacts;
use stillrod::certificate::ProofPaper;
use stillrod::certificate::StepShown;
use stillrod::certificate::StrokesTold;
use stillrod::certificate::compose_proof;
use stillrod::quantity::UnitSystem;
use stillrod::verdict::Basis;
use stillrod::verdict::DecisionRule;
use stillrod::verdict::Judged;
use stillrod::verdict::Limit;
use stillrod::verdict::judge_stated;

fn figure(name: FigureName, travel: Option<Travel>, value: f64, standard: f64) -> StrokeFigure {
    let per_unit = name.si_per_metric_unit();
    let measured = Measured {
        value_si: value * per_unit,
        standard_si: standard * per_unit,
    };
    StrokeFigure {
        travel,
        figure: Figure::measured(name, measured, Vec::new(), Conditions::default()),
    }
}

fn summary() -> StrokeSummary {
    let side = |speed: f64, spread: f64| StrokeSide {
        n_ways: 3,
        speed_m_per_s: Some(speed),
        spread_pa: Some(spread),
    };
    StrokeSummary {
        sides: [side(0.012, 0.1e5), side(0.011, 0.2e5)],
        length_m: Some(0.40012),
        figures: vec![
            figure(FigureName::Breakaway, Some(Travel::Out), 2.4, 0.1),
            figure(FigureName::Breakaway, Some(Travel::In), 3.9, 0.1),
            figure(FigureName::RunningPressure, Some(Travel::Out), 1.9, 0.06),
            figure(FigureName::RunningPressure, Some(Travel::In), 3.1, 0.09),
            figure(FigureName::Friction, None, 640.0, 4.0),
            figure(FigureName::StrokeLength, None, 0.12, 0.2),
        ],
        unstated: vec![(FigureName::StickSlip, "the rod went too fast".into())],
        ways: Vec::new(),
    }
}

fn judged(summary: &StrokeSummary, bar: f64) -> Vec<Judged> {
    let limit = Limit {
        id: "breakaway".into(),
        figure: FigureName::Breakaway,
        number: bar,
        unit: "bar".into(),
        si_per_unit: 1e5,
        text: format!("{bar} bar"),
        at_pressure: None,
        at_temperature: None,
        source: "Tarn Valley depot, invented".into(),
        basis: Basis::default(),
    };
    let figures = summary.figures.iter();
    let figures: Vec<(&str, &Figure)> = figures
        .map(|f| (f.travel.map_or("", Travel::word), &f.figure))
        .collect();
    judge_stated(
        &figures,
        Conditions::default(),
        &[limit],
        DecisionRule::Simple,
        |_| None,
    )
}

fn paper(told: &StrokesTold<'_>, units: UnitSystem) -> ProofPaper {
    let mut facts: ProofFacts<'_> = SOUND.facts();
    facts.units = units;
    for step in &mut facts.steps {
        if let StepShown::Strokes { told: own, .. } = &mut step.shown {
            *own = Some(*told);
        }
    }
    compose_proof(&facts)
}

#[test]
fn strokes_have_a_small_table_of_out_and_in() {
    let summary = summary();
    let judged = judged(&summary, 6.0);
    let told = StrokesTold {
        summary: &summary,
        judged: &judged,
    };
    let paper = paper(&told, UnitSystem::Metric);
    let lines = paper.strokes.lines.iter();
    let lines: Vec<[&str; 3]> = lines
        .map(|l| [l.name.as_str(), l.out.as_str(), l.back.as_str()])
        .collect();
    assert_eq!(
        lines,
        [
            ["Mean speed, middle half", "12.0 mm/s", "11.0 mm/s"],
            ["Breakaway pressure", "2.40 ± 0.20 bar", "3.90 ± 0.20 bar"],
            ["Running pressure", "1.90 ± 0.12 bar", "3.10 ± 0.18 bar"],
            ["Running, along the way", "± 0.10 bar", "± 0.20 bar"],
            ["Friction at 11.5 mm/s", "640.0 ± 7.8 N", ""],
            ["Stroke", "400.12 ± 0.39 mm; nominal 400.0", ""],
        ]
    );
    let notes = paper.strokes.notes.join(" ");
    assert!(notes.contains("a weight cancels"), "{notes}");
    assert!(
        notes.contains("Not stated: stick-slip. The rod went too fast."),
        "{notes}"
    );
    assert!(
        paper
            .outcome_sentence
            .contains("The moving rod is within its limit too.")
    );
    assert!(
        paper
            .not_tested
            .iter()
            .any(|n| n.starts_with("friction at other speeds"))
    );
    assert!(
        paper
            .not_tested
            .iter()
            .all(|n| !n.starts_with("friction, "))
    );
}

#[test]
fn a_limit_of_strokes_has_a_row_with_its_source() {
    let summary = summary();
    let judged = judged(&summary, 3.0);
    let told = StrokesTold {
        summary: &summary,
        judged: &judged,
    };
    let paper = paper(&told, UnitSystem::Metric);
    let row = paper
        .steps
        .iter()
        .find(|row| row.is_further && row.result.starts_with("Breakaway"));
    let row = row.expect("a row");
    assert_eq!(row.result, "Breakaway pressure in: 3.90 ± 0.20 bar");
    assert!(
        row.limit.starts_with("3 bar") && row.outcome == "Fail",
        "{row:?}"
    );
    assert_eq!(row.source, "Tarn Valley depot, invented");
}

#[test]
fn an_inch_shop_reads_pounds_and_psi() {
    let summary = summary();
    let told = StrokesTold {
        summary: &summary,
        judged: &[],
    };
    let paper = paper(&told, UnitSystem::Inch);
    let line = |name: &str| {
        let mut lines = paper.strokes.lines.iter();
        lines
            .find(|l| l.name.starts_with(name))
            .expect(name)
            .out
            .clone()
    };
    // 640 N are 143.88 lbf and 2.4 bar 34.81 psi (computed).
    assert_eq!(line("Friction"), "143.9 ± 1.8 lbf");
    assert_eq!(line("Breakaway"), "34.8 ± 2.8 psi");
}
