//! Strokes that were made up by hand: what is found is what went in.

use super::*;
use crate::account::FigureName;
use crate::channel::SensorErrors;

const CAP_M2: f64 = 3117.25e-6;
const ROD_M2: f64 = 2099.37e-6;

/// A cylinder that goes as it is told: forces in N, at once and without a spring.
#[derive(Clone, Copy)]
struct Told {
    breakaway_n: f64,
    running_n: f64,
    weight_n: f64,
    back_pa: f64,
    speed_m_per_s: [f64; 2],
    strokes: u32,
}

const TOLD: Told = Told {
    breakaway_n: 1200.0,
    running_n: 800.0,
    weight_n: 150.0,
    back_pa: 0.7e5,
    speed_m_per_s: [0.012, 0.011],
    strokes: 3,
};

/// What a pressure rises by from reading to reading before the rod moves, Pa.
const RISE_PA: f64 = 0.2e5;

fn plan() -> StrokePlan {
    let pressure = SensorErrors {
        zero_si: 0.05e5,
        span_relative: 1e-3,
        zero_si_per_k: 0.0,
    };
    StrokePlan {
        cap_m2: CAP_M2,
        rod_m2: Some(ROD_M2),
        stroke_m: 0.4,
        errors: [
            pressure,
            pressure,
            SensorErrors {
                zero_si: 0.5e-3,
                span_relative: 5e-4,
                zero_si_per_k: 0.0,
            },
        ],
        step_si: [190.0, 190.0, 3e-6],
    }
}

/// Rows of the strokes, ten a second: rest, slow rise of the pressure, one whole way, and back.
fn rows(told: &Told) -> Vec<StrokeRow> {
    let mut rows = Vec::new();
    let mut add = |cap_pa: f64, rod_pa: f64, x_m: f64| {
        let time_s = 0.1 * rows.len() as f64;
        rows.push(StrokeRow {
            time_s,
            cap_pa: Some(cap_pa),
            rod_pa: Some(rod_pa),
            x_m: Some(x_m),
        });
    };
    let mut one_way = |out: bool| {
        let at_m = if out { 0.0 } else { 0.4 };
        let sign = if out { 1.0 } else { -1.0 };
        let push_m2 = if out { CAP_M2 } else { ROD_M2 };
        let other_m2 = if out { ROD_M2 } else { CAP_M2 };
        let mut read = |push_pa: f64, other_pa: f64, x_m: f64| match out {
            true => add(push_pa, other_pa, x_m),
            false => add(other_pa, push_pa, x_m),
        };
        // Held at the end by the weight, or by nothing.
        (0..10).for_each(|_| read(0.0, 0.0, at_m));
        let to_pa = (told.breakaway_n + sign * told.weight_n) / push_m2;
        let steps = (to_pa / RISE_PA) as u32;
        (1..=steps).for_each(|i| read(f64::from(i) * RISE_PA, 0.0, at_m));
        let net_n = told.running_n + sign * told.weight_n + told.back_pa * other_m2;
        let speed = told.speed_m_per_s[usize::from(!out)];
        let n = (0.4 / speed * 10.0) as u32;
        for i in 1..=n {
            read(
                net_n / push_m2,
                told.back_pa,
                at_m + sign * speed * 0.1 * f64::from(i),
            );
        }
        (0..10).for_each(|_| read(20e5, 0.0, 0.4 - at_m));
    };
    for _ in 0..told.strokes {
        one_way(true);
        one_way(false);
    }
    rows
}

fn watched(rows: &[StrokeRow]) -> StrokeSummary {
    let mut watch = StrokeWatch::new(plan());
    rows.iter().for_each(|row| watch.push(row));
    watch.summary()
}

fn found(summary: &StrokeSummary, name: FigureName, travel: Option<Travel>) -> (f64, f64) {
    let mut all = summary.figures.iter();
    let one = all.find(|f| f.figure.name == name && f.travel == travel);
    let figure = &one
        .unwrap_or_else(|| panic!("{name:?} {:?}", summary.unstated))
        .figure;
    let measured = figure.measured.expect("measured");
    (
        measured.value_si,
        figure.coverage_factor * measured.standard_si,
    )
}

#[test]
fn strokes_show_what_went_into_them() {
    let summary = watched(&rows(&TOLD));
    assert_eq!(summary.unstated, []);
    assert_eq!(summary.sides.map(|side| side.n_ways), [3, 3]);
    for (travel, sign, area) in [(Travel::Out, 1.0, CAP_M2), (Travel::In, -1.0, ROD_M2)] {
        // The last reading before it moves lies up to one rise below: half of it is added.
        let (value, expanded) = found(&summary, FigureName::Breakaway, Some(travel));
        let right = (1200.0 + sign * 150.0) / area;
        assert!(
            (value - right).abs() <= 0.5 * RISE_PA,
            "{travel:?} {value} {right}"
        );
        assert!(
            (value - right).abs() <= expanded,
            "{travel:?} {value} ± {expanded}"
        );
        let (value, _) = found(&summary, FigureName::RunningPressure, Some(travel));
        let right = (800.0 + sign * 150.0) / area;
        assert!(
            (value / right - 1.0).abs() < 1e-9,
            "{travel:?} {value} {right}"
        );
        let (slip, _) = found(&summary, FigureName::StickSlip, Some(travel));
        assert!(slip < 1e-3, "{slip}");
    }
    let (friction, expanded) = found(&summary, FigureName::Friction, None);
    assert!(
        (friction - 800.0).abs() < 1e-6 && expanded < 5.0,
        "{friction} ± {expanded}"
    );
    let speeds = summary.sides.map(|side| side.speed_m_per_s.expect("read"));
    assert!((speeds[0] - 0.012).abs() < 1e-9 && (speeds[1] - 0.011).abs() < 1e-9);
    let (off, expanded) = found(&summary, FigureName::StrokeLength, None);
    assert!(off.abs() < 1e-9 && expanded > 0.3e-3, "{off} ± {expanded}");
}

/// A zero that is wrong by a bar is in each pressure and in no friction.
#[test]
fn a_zero_that_is_off_does_not_touch_the_friction() {
    let mut shifted = rows(&TOLD);
    for row in &mut shifted {
        row.cap_pa = row.cap_pa.map(|pa| pa + 1e5);
    }
    let (off, right) = (watched(&shifted), watched(&rows(&TOLD)));
    let friction = |s: &StrokeSummary| found(s, FigureName::Friction, None).0;
    assert!((friction(&off) - friction(&right)).abs() < 1e-6);
    let running = |s: &StrokeSummary| found(s, FigureName::RunningPressure, Some(Travel::Out)).0;
    assert!((running(&off) - running(&right) - 1e5).abs() < 1e-6);
}

#[track_caller]
fn states_nothing_of(names: &[FigureName], rows: &[StrokeRow], part: &str) {
    let summary = watched(rows);
    for name in names {
        assert!(
            summary.figures.iter().all(|f| f.figure.name != *name),
            "{name:?}"
        );
        let why = summary.why_not(*name).expect("a reason");
        assert!(why.contains(part), "{name:?}: {why}");
    }
}

const PRESSURES: [FigureName; 3] = [
    FigureName::Breakaway,
    FigureName::RunningPressure,
    FigureName::Friction,
];
const ALL: [FigureName; 5] = [
    FigureName::Breakaway,
    FigureName::RunningPressure,
    FigureName::Friction,
    FigureName::StickSlip,
    FigureName::StrokeLength,
];

#[test]
fn a_broken_channel_states_nothing_that_needs_it() {
    let with = |change: &dyn Fn(usize, &mut StrokeRow)| {
        let mut rows = rows(&TOLD);
        rows.iter_mut()
            .enumerate()
            .for_each(|(i, row)| change(i, row));
        rows
    };
    let gone = with(&|_, row| row.rod_pa = None);
    states_nothing_of(&PRESSURES, &gone, "rod-end pressure was not read");
    let loose = with(&|i, row| row.cap_pa = row.cap_pa.filter(|_| i % 50 != 0));
    states_nothing_of(&PRESSURES, &loose, "cap-end pressure was lost for 2.0 %");
    let no_number = with(&|_, row| row.cap_pa = Some(f64::NAN));
    states_nothing_of(&PRESSURES, &no_number, "cap-end pressure was not read");
    let dead = with(&|_, row| (row.cap_pa, row.rod_pa) = (Some(1e5), Some(1e5)));
    states_nothing_of(&PRESSURES, &dead, "at the right ends and alive");
    let swapped = with(&|_, row| (row.cap_pa, row.rod_pa) = (row.rod_pa, row.cap_pa));
    states_nothing_of(&PRESSURES, &swapped, "at the right ends and alive");
    let blind = with(&|_, row| row.x_m = None);
    states_nothing_of(&ALL, &blind, "position was not read");
    // Without a pressure the position still tells its own.
    assert!(watched(&gone).why_not(FigureName::StrokeLength).is_none());
    assert!(watched(&gone).why_not(FigureName::StickSlip).is_none());
}

#[test]
fn a_hole_in_the_readings_is_no_way() {
    let mut holed = rows(&TOLD);
    let middle = holed.len() / 2 + 150;
    holed.drain(middle..middle + 10);
    let summary = watched(&holed);
    let n: u32 = summary.sides.iter().map(|side| side.n_ways).sum();
    assert_eq!(n, 5);
    let few = rows(&Told { strokes: 1, ..TOLD });
    states_nothing_of(&ALL, &few, "1 whole ways");
}

#[test]
fn speeds_that_differ_have_no_friction_in_common() {
    let told = Told {
        speed_m_per_s: [0.012, 0.018],
        ..TOLD
    };
    states_nothing_of(
        &[FigureName::Friction],
        &rows(&told),
        "about the same speed",
    );
    let fast = Told {
        speed_m_per_s: [0.025, 0.024],
        ..TOLD
    };
    states_nothing_of(
        &[FigureName::StickSlip],
        &rows(&fast),
        "2.5 mm from one reading",
    );
}

/// An hour of strokes takes no more room than a minute.
#[test]
fn what_is_kept_does_not_grow_with_the_strokes() {
    let summary = watched(&rows(&Told {
        strokes: 60,
        ..TOLD
    }));
    assert_eq!(summary.sides.map(|side| side.n_ways), [60, 60]);
    assert_eq!(summary.ways.len(), 64);
}
