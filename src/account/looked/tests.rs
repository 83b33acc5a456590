//! Readings of a hold against what a fitter reckons by hand.

use super::*;
use crate::account::Fluid;
use crate::account::Stated;
use crate::account::evaluate;
use crate::channel::CountsUp;
use crate::channel::EyeUnit;
use crate::channel::SensorPapers;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::cylinder::Cylinder;
use crate::cylinder::Dimensions;
use crate::cylinder::Kind;
use crate::cylinder::Piece;
use crate::oil::DataSheet;
use crate::oil::Oil;
use crate::procedure::HOLD;
use crate::quantity::Expansion;
use crate::quantity::Pressure;
use crate::quantity::Quantity;
use crate::quantity::Viscosity;
use crate::quantity::parse;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::Entry;
use crate::recording::Heading;
use crate::recording::Loss;
use crate::recording::Parts;
use crate::recording::PhaseMark;
use crate::recording::Track;

const AT_MIN: [f64; 7] = [0.0, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0];

fn of<Q: Quantity>(text: &str) -> Q {
    parse::<Q>(text).expect(text).quantity
}

fn gauge() -> EyeInstrument {
    EyeInstrument {
        role: Role::CapPressure,
        unit: EyeUnit {
            name: "bar",
            si_per_unit: 1e5,
            si_at_zero: 0.0,
        },
        range_si: (0.0, 250e5),
        division_si: 2e5,
        error_si: 2.5e5,
        class: Some(1.0),
        counts_up: None,
        papers: SensorPapers::default(),
    }
}

fn dial() -> EyeInstrument {
    EyeInstrument {
        role: Role::Position,
        unit: EyeUnit {
            name: "mm",
            si_per_unit: 1e-3,
            si_at_zero: 0.0,
        },
        range_si: (0.0, 10e-3),
        division_si: 0.01e-3,
        error_si: 0.02e-3,
        class: None,
        counts_up: Some(CountsUp::RodIn),
        papers: SensorPapers::default(),
    }
}

fn thermometer() -> EyeInstrument {
    EyeInstrument {
        role: Role::OilTemperature,
        unit: EyeUnit {
            name: "°C",
            si_per_unit: 1.0,
            si_at_zero: 273.15,
        },
        range_si: (273.15, 373.15),
        division_si: 0.2,
        error_si: 0.5,
        class: None,
        counts_up: None,
        papers: SensorPapers::default(),
    }
}

fn subject(rod: RodHold, rod_port: Port) -> Subject {
    let cylinder = Cylinder::new(
        Kind::DoubleActing,
        Dimensions {
            bore: of("63 mm"),
            rod: of("36 mm"),
            stroke: of("400 mm"),
            wall: Some(of("6 mm")),
            cap_dead_volume: of("20 mL"),
            rod_dead_volume: of("20 mL"),
        },
    )
    .expect("a cylinder");
    let oil = Oil::of(DataSheet {
        name: "ISO VG 46".into(),
        viscosity_40: of::<Viscosity>("46 mm²/s"),
        viscosity_100: of::<Viscosity>("6.8 mm²/s"),
        expansion: of::<Expansion>("7.0e-4 1/K"),
        stiffness: of::<Pressure>("1.6 GPa"),
        density_15: None,
    })
    .expect("an oil");
    Subject {
        piece: Piece::Cylinder(cylinder),
        fluid: Fluid::Oil(oil),
        circuit: Circuit {
            probe: Some(Chamber::Cap),
            ..Circuit::plain(Port::Blocked, rod_port, rod)
        },
        stated: Stated::default(),
        by_eye: Some(ByEye {
            instruments: vec![gauge(), dial(), thermometer()],
            rod_out_m: Some(0.2),
        }),
    }
}

/// A hold of 10 min: pressure in bar, extension in mm and temperature in °C by minutes; each look
/// took `took_s`.
fn recording(course: impl Fn(f64) -> [Option<f64>; 3], took_s: f64) -> Recording {
    let start_s = 300.0;
    let time_s: Vec<f64> = AT_MIN.iter().map(|m| start_s + 60.0 * m).collect();
    let asked = time_s.iter().map(|t| Entry {
        at_s: t - 0.5 * took_s,
        step: String::new(),
        kind: EntryKind::Look,
        text: String::new(),
    });
    let tracks = [gauge(), dial(), thermometer()]
        .into_iter()
        .enumerate()
        .map(|(place, own)| {
            let codes = AT_MIN
                .iter()
                .map(|m| own.code(course(*m)[place].map(|v| own.unit.to_si(v))));
            Track {
                codes: Codes::Raw(codes.collect()),
                channel: own.channel(),
            }
        });
    Recording::new(Parts {
        heading: Heading {
            run_id: "read".into(),
            started_utc_ms: 0,
            time_zone: "UTC".into(),
            software: String::new(),
            source: String::new(),
            setup_toml: String::new(),
            shop_toml: String::new(),
            practice: String::new(),
        },
        tracks: tracks.collect(),
        gaps: Vec::new(),
        phases: vec![PhaseMark {
            name: HOLD.into(),
            from_s: start_s - 10.0,
            until_s: start_s + 600.0,
        }],
        entries: asked.collect(),
        loss: Loss::default(),
        ending: Ending::Complete,
        time_s,
    })
    .expect("rises")
}

/// From 160 to 157 bar in 10 min are 0.3 bar/min. Half a division of 2 bar is 1 bar either way,
/// 0.5774 bar as one sigma, √2 of it 0.8165 bar between two readings, by 10 min 0.08165 bar/min.
/// A look of 12 s is 6 s either way, 3.464 s as one sigma; at twice 0.3 bar/min that is
/// 0.03464 bar, √2 of it by 10 min 0.00490. The span's 2.309 % of 0.3 are 0.00693. The zero goes
/// 0.05774 bar by kelvin, with 0.65 K of the room 0.03753 bar, by 10 min 0.00375. Together
/// u = 0.08217, times 1.96 ± 0.161 bar/min (all by hand).
#[test]
fn a_pressure_loss_is_what_a_fitter_reckons_with_its_division_and_class() {
    let course = |m: f64| [Some(160.0 - 0.3 * m), Some(200.0), Some(40.0)];
    let subject = subject(RodHold::Locked, Port::OpenToVessel);
    let found = evaluate(&recording(course, 12.0), &subject).expect("a hold");
    let loss = found.figure(FigureName::LeakDown).expect("a loss");
    let measured = loss.measured.expect("a value");
    let bar_min = |si: f64| si * 60e-5;
    assert!((bar_min(measured.value_si) - 0.3).abs() < 1e-9);
    assert!(
        (bar_min(measured.standard_si) - 0.082_17).abs() < 2e-5,
        "{}",
        bar_min(measured.standard_si)
    );
    assert!((bar_min(loss.upper_si - loss.lower_si) / 2.0 - 0.161).abs() < 5e-4);
}

/// A rod that sinks 0.5 mm in 10 min: −0.05 mm/min. Half a division of
/// 0.01 mm is 0.005 mm, 0.002887 mm as one sigma, √2 of it by 10 min 0.000408 mm/min.
#[test]
fn a_dial_gives_the_movement_with_its_sign() {
    let course = |m: f64| [Some(160.0), Some(200.0 - 0.05 * m), Some(40.0)];
    let subject = subject(RodHold::PushedIn { load: None }, Port::Blocked);
    let found = evaluate(&recording(course, 0.0), &subject).expect("a hold");
    let drift = found.figure(FigureName::Drift).expect("a movement");
    let measured = drift.measured.expect("a value");
    assert!((measured.value_si * 60e3 + 0.05).abs() < 1e-9);
    let scale = drift.budget.iter().find(|c| c.source == DIVISION.0);
    let scale = scale.map_or(0.0, |c| c.standard_si * 60e3);
    assert!((scale - 0.000_408).abs() < 1e-6, "{scale}");
}

/// Nothing lost, nothing warmed: a cap side that holds 160 bar with the rod locked half out has
/// lost no oil, and what half a division hides of it is not small.
#[test]
fn a_tight_side_has_lost_nothing_within_what_readings_can_tell() {
    let course = |_: f64| [Some(160.0), Some(200.0), Some(40.0)];
    let subject = subject(RodHold::Locked, Port::OpenToVessel);
    let found = evaluate(&recording(course, 12.0), &subject).expect("a hold");
    let loss = found.figure(FigureName::CapLoss).expect("a flow");
    let ml_min = |si: f64| si * 60e6;
    assert!(loss.lower_si < 0.0 && loss.upper_si > 0.0);
    let width = ml_min(loss.upper_si - loss.lower_si) / 2.0;
    assert!((0.01..0.2).contains(&width), "{width}");
    assert!(
        found
            .lines
            .iter()
            .any(|line| line.kind == crate::account::LineKind::CapLost)
    );
}

#[test]
fn four_readings_make_no_figure_and_five_do() {
    let subject = subject(RodHold::Locked, Port::OpenToVessel);
    let without = |lost: &'static [f64]| {
        let course = move |m: f64| {
            let pressure = (!lost.contains(&m)).then_some(160.0 - 0.3 * m);
            [pressure, Some(200.0), Some(40.0)]
        };
        evaluate(&recording(course, 12.0), &subject)
    };
    assert!(without(&[1.0, 3.0]).is_ok());
    let error = without(&[1.0, 2.0, 3.0]).expect_err("too few");
    assert!(
        error
            .to_string()
            .contains("cap-end pressure in the hold: 4, and"),
        "{error}"
    );
}

/// A cubic through its neighbours gives a cubic back.
#[test]
fn weights_give_a_smooth_course_back_between_its_readings() {
    let read: Vec<EyeReading> = AT_MIN
        .iter()
        .map(|t| EyeReading {
            t_s: *t,
            value_si: t.powi(3) - 4.0 * t,
            within_s: 0.0,
        })
        .collect();
    let t = [0.25, 1.5, 4.0, 6.5, 9.0];
    let weights = weights(&read, &t);
    for (row, t) in t.iter().enumerate() {
        let value: f64 = (0..7).map(|i| weights[(row, i)] * read[i].value_si).sum();
        assert!((value - (t.powi(3) - 4.0 * t)).abs() < 1e-9, "{t}");
    }
}
