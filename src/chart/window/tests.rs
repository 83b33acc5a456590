//! The window chart: bands, lines, gaps.

use super::*;
use crate::channel::Calibration;
use crate::channel::Channel;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::channel::SensorPapers;
use crate::chart::Size;
use crate::quantity::UnitSystem;
use crate::recording::Band;
use crate::recording::Gap;
use crate::recording::GapCause;

fn picture() -> RecordPicture {
    RecordPicture {
        hold_s: None,
        units: UnitSystem::Metric,
        size: Size {
            width_pt: 500.0,
            height_pt: 200.0,
        },
    }
}

/// Columns of a second each from 100 s on, with `n_rows` rows; the pressure is 100 to 110 bar.
fn window(n_rows: usize, gaps: Vec<Gap>) -> Window {
    let columns: Vec<Stretch> = (0..100)
        .map(|i| Stretch {
            from_s: 100.0 + f64::from(i),
            until_s: 100.9 + f64::from(i),
            n_rows,
            has_gap: false,
        })
        .collect();
    let band = |at: usize| Band {
        min_si: 100e5,
        max_si: if n_rows > 1 { 110e5 } else { 100e5 },
        mean_si: if n_rows > 1 { 104e5 } else { 100e5 } + at as f64,
        n_values: n_rows,
    };
    let channel = Channel {
        role: Role::CapPressure,
        label: String::new(),
        calibration: Calibration {
            si_at_zero_code: 0.0,
            si_per_code: 1.0,
            si_per_code_squared: 0.0,
        },
        good_codes: (0, 1),
        range_si: (0.0, 1.0),
        errors: SensorErrors {
            zero_si: 0.0,
            span_relative: 0.0,
            zero_si_per_k: 0.0,
        },
        papers: SensorPapers::default(),
        against_supply: None,
    };
    Window {
        from_s: 100.0,
        until_s: 200.0,
        n_rows: 100 * n_rows,
        n_rows_each: 1,
        lanes: vec![WindowLane {
            channel,
            bands: (0..100).map(|at| Some(band(at))).collect(),
        }],
        columns,
        n_gaps: gaps.len(),
        gaps,
        phases: Vec::new(),
        entries: Vec::new(),
    }
}

fn n_polygons(svg: &str) -> usize {
    svg.matches("<polygon").count()
}

#[test]
fn many_samples_are_a_band_and_single_ones_a_line() {
    let svg = window_chart(&window(60, Vec::new()), picture(), &[]);
    assert_eq!(n_polygons(&svg), 1);
    assert!(svg.contains("pressure within"), "{svg}");
    let svg = window_chart(&window(1, Vec::new()), picture(), &[]);
    assert_eq!(n_polygons(&svg), 0);
}

#[test]
fn a_gap_opens_the_band() {
    let gap = Gap {
        from_s: 149.9,
        until_s: 152.0,
        cause: GapCause::Lost,
    };
    let mut open = window(60, vec![gap]);
    for list in [50, 50] {
        open.columns.remove(list);
        open.lanes[0].bands.remove(list);
    }
    let svg = window_chart(&open, picture(), &[]);
    // Two bands, and the mark of the gap.
    assert_eq!(n_polygons(&svg), 3);
}

#[test]
fn a_column_without_values_opens_the_band() {
    let mut open = window(60, Vec::new());
    open.lanes[0].bands[50] = None;
    assert_eq!(n_polygons(&window_chart(&open, picture(), &[])), 2);
}

#[test]
fn a_gap_shorter_than_a_column_is_marked() {
    let whole = window_chart(&window(60, Vec::new()), picture(), &[]);
    let mut short = window(60, Vec::new());
    short.columns[30].has_gap = true;
    let marked = window_chart(&short, picture(), &[]);
    assert_eq!(n_polygons(&marked), n_polygons(&whole) + 1);
}

#[test]
fn a_step_is_drawn_where_it_is_seen_and_only_there() {
    let step = |number, from_s, until_s| StepMark {
        number,
        title: "Hold".into(),
        from_s,
        counts_from_s: Some(from_s + 5.0),
        until_s,
    };
    let steps = [
        step(1, 0.0, 90.0),
        step(2, 90.0, 150.0),
        step(3, 210.0, 300.0),
    ];
    let seen = steps_within(&window(1, Vec::new()), &steps);
    assert_eq!(seen.len(), 1);
    assert_eq!((seen[0].from_s, seen[0].until_s), (100.0, 150.0));
    assert_eq!(seen[0].counts_from_s, Some(100.0));
}

#[test]
fn nothing_recorded_is_said() {
    let mut empty = window(1, Vec::new());
    empty.columns.clear();
    empty.lanes[0].bands.clear();
    let svg = window_chart(&empty, picture(), &[]);
    assert!(svg.contains("nothing was recorded here"));
}
