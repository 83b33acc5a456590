//! Measured decays of air chambers, judged as tests: no flow is stated of a gas, a burst is
//! no straight line, and what lies near a limit is not decided.
//!
//! Origin of the files: `data/real_signals/ORIGIN.md`. Loss and time constants beside them
//! are by SciPy on the same files.

mod support {
    pub mod made;
}

use std::fs;
use std::path::Path;
use stillrod::account::Evaluation;
use stillrod::account::Figure;
use stillrod::account::FigureName;
use stillrod::channel::Role;
use stillrod::daemon::judgement::Judgement;
use stillrod::daemon::judgement::judged;
use stillrod::verdict::Outcome;
use support::made::recording;
use support::made::track;

const BAR: f64 = 1e5;
const BAR_MIN: f64 = BAR / 60.0;

/// Seconds and gauge pressure in bar of a file.
fn columns(name: &str) -> (Vec<f64>, Vec<f64>) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/real_signals");
    let text = fs::read_to_string(folder.join(format!("{name}.csv"))).expect("a copied file");
    let rows = text.lines().skip(1).map(|line| {
        let cells: Vec<f64> = line
            .split(',')
            .map(|cell| cell.parse().expect("a number"))
            .collect();
        (cells[0], cells[2])
    });
    rows.unzip()
}

/// The file from a time on, as a test of a chamber of gas with a limit in bar/min.
fn judge(name: &str, hold_from_s: f64, limit: f64) -> Judgement {
    let (time_s, bar) = columns(name);
    let setup = "[unit]\ntag = \"TV-0912\"\n[chamber]\n[gas]\n[hold]\nsettle = \"0 s\"\nlength = \"120 s\"\n\
                 [sensors.p_cap]\nzero_uncertainty = \"0.02 bar\"\nspan_uncertainty_percent = 0.5\n\
                 [acceptance]\nlimits = [\"loss\"]\n";
    let shop = format!(
        "[shop]\nname = \"Tarn Valley road depot\"\ntime_zone = \"UTC\"\nnumber_prefix = \"TV\"\n\
         [decision]\nrule = \"guarded\"\nprobability = 0.95\n\
         [[limit]]\nid = \"loss\"\nfigure = \"leak_down\"\nvalue = \"{limit:.4} bar/min\"\nsource = \"test\"\n"
    );
    let readings = bar.iter().map(|bar| bar * BAR).collect();
    // 1 mV of a sensor with 2 bar by volt.
    let pressure = track(Role::CapPressure, 0.002 * BAR, (2e3, 5e-3), readings);
    let made = recording(time_s, vec![pressure], hold_from_s, [setup, &shop]);
    judged(&made, None).expect("settings that can be used")
}

fn evaluation(judgement: &Judgement) -> &Evaluation {
    judgement.evaluation.as_ref().expect("a hold")
}

fn loss(judgement: &Judgement) -> &Figure {
    let figure = evaluation(judgement).figure(FigureName::LeakDown);
    figure.expect("pressure is all that a gas needs")
}

/// Slope of a straight line through a part of the file, bar/min, positive when it falls.
fn slope(name: &str, from_s: f64, until_s: f64) -> f64 {
    let (t, p) = columns(name);
    let rows: Vec<(f64, f64)> = t
        .into_iter()
        .zip(p)
        .filter(|(t, _)| (from_s..=until_s).contains(t))
        .collect();
    let n = rows.len() as f64;
    let (t0, p0) = rows
        .iter()
        .fold((0.0, 0.0), |a, r| (a.0 + r.0 / n, a.1 + r.1 / n));
    let sums = rows.iter().fold((0.0, 0.0), |a, r| {
        (a.0 + (r.0 - t0) * (r.1 - p0), a.1 + (r.0 - t0).powi(2))
    });
    -60.0 * sums.0 / sums.1
}

#[test]
fn no_flow_of_oil_is_stated_of_a_gas() {
    for name in ["aluminium", "resin", "printed_010", "printed_015"] {
        let judgement = judge(name, 0.0, 1.0);
        for figure in FigureName::ALL {
            let found = evaluation(&judgement).figure(figure);
            assert_eq!(found.is_some(), figure == FigureName::LeakDown, "{name}");
        }
    }
}

/// Chambers whose decay is slow and exponential: the line's slope, known to a few per cent,
/// decides a limit of twice or half of itself and none close by.
#[test]
fn the_tight_chambers_are_decided_by_limits_that_are_not_near() {
    // Slopes by statsmodels, bar/s.
    for (name, slope) in [
        ("aluminium", 2.3494e-4),
        ("resin", 2.8739e-4),
        ("printed_010", 7.2240e-4),
    ] {
        let truth = slope * 60.0;
        let judgement = judge(name, 0.0, truth);
        let figure = loss(&judgement);
        let (lower, upper) = (figure.lower_si / BAR_MIN, figure.upper_si / BAR_MIN);
        println!("{name}: {lower:.4} to {upper:.4} bar/min of {truth:.4}");
        assert!(lower < truth && truth < upper, "{name}");
        assert!(
            upper - lower < truth,
            "{name}: {lower} {upper} says nothing"
        );
        assert_eq!(judgement.verdict.outcome, Outcome::Undecided, "{name}");
        for (times, outcome) in [
            (2.0, Outcome::Pass),
            (1.03, Outcome::Undecided),
            (0.97, Outcome::Undecided),
            (0.5, Outcome::Fail),
        ] {
            let judgement = judge(name, 0.0, times * truth);
            assert_eq!(judgement.verdict.outcome, outcome, "{name} {times}");
        }
    }
}

/// The chamber that bursts open is no straight line, and no exponential: that is said, its
/// interval holds what both halves of the hold say by themselves, and no limit near its
/// value is decided.
#[test]
fn the_leaky_chamber_is_no_straight_line_and_no_limit_near_it_is_decided() {
    let end_s = columns("printed_015").0.last().copied().expect("rows");
    for from_s in [0.0, 10.0, 30.0, 60.0] {
        let judgement = judge("printed_015", from_s, 1.0);
        let figure = loss(&judgement);
        let (lower, upper) = (figure.lower_si / BAR_MIN, figure.upper_si / BAR_MIN);
        let middle_s = 0.5 * (from_s + end_s);
        let halves = [
            slope("printed_015", from_s, middle_s),
            slope("printed_015", middle_s, end_s),
        ];
        println!("from {from_s} s: {lower:.3} to {upper:.3} bar/min, halves {halves:.3?}");
        // It slows down by more than half.
        assert!(halves[0] > 2.0 * halves[1], "{halves:?}");
        for half in halves {
            // Halves of ours end between two bins.
            let margin = 0.01 * halves[0];
            assert!(lower - margin < half && half < upper + margin, "{half}");
        }
        let doubts = format!("{:?}", evaluation(&judgement).doubts);
        assert!(doubts.contains("not a straight line"), "{doubts}");
        assert!(!doubts.contains("settling"), "{doubts}");
        let value = figure.measured.expect("a slope").value_si / BAR_MIN;
        let middle = 0.5 * (halves[0] + halves[1]);
        for limit in [halves[1], 0.9 * value, 1.1 * value, middle] {
            let judged = judge("printed_015", from_s, limit);
            assert_ne!(judged.verdict.outcome, Outcome::Pass, "{from_s} {limit}");
            assert_ne!(judged.verdict.outcome, Outcome::Fail, "{from_s} {limit}");
        }
    }
}
