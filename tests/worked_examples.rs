//! The account against worked examples of blocked and held cylinders.
//!
//! The courses are integrated here by a Runge–Kutta method from continuity of both
//! chambers and a constant load, with none of the account's code; mass is conserved
//! (flow times density), so they are the mass-exact form.

mod support {
    pub mod made;
}

use stillrod::account::FigureName;
use stillrod::account::Fluid;
use stillrod::account::Stated;
use stillrod::account::Subject;
use stillrod::account::evaluate;
use stillrod::channel::Role;
use stillrod::circuit::Circuit;
use stillrod::circuit::Port;
use stillrod::circuit::RodHold;
use stillrod::cylinder::Chamber;
use stillrod::cylinder::Cylinder;
use stillrod::cylinder::Dimensions;
use stillrod::cylinder::Kind;
use stillrod::cylinder::Piece;
use stillrod::oil::Oil;
use stillrod::quantity::Expansion;
use stillrod::quantity::Force;
use stillrod::quantity::Length;
use stillrod::quantity::Pressure;
use stillrod::quantity::Viscosity;
use stillrod::quantity::Volume;
use stillrod::quantity::unit::gigapascal;
use stillrod::quantity::unit::kilonewton;
use stillrod::quantity::unit::milliliter;
use stillrod::quantity::unit::millimeter;
use stillrod::recording::Codes;
use stillrod::recording::Recording;
use stillrod::verdict::Basis;
use stillrod::verdict::DecisionRule;
use stillrod::verdict::Limit;
use stillrod::verdict::Outcome;
use stillrod::verdict::judge;
use support::made;
use support::made::track;

const K_PA: f64 = 1.4e9;
const ML_MIN: f64 = 1e-6 / 60.0;

struct Example {
    bore_mm: f64,
    rod_mm: f64,
    columns_mm: [f64; 2],
    dead_ml: f64,
    load_kn: f64,
    first_bypass_ml_min: f64,
    rod_start_bar: f64,
    hold_s: f64,
}

impl Example {
    fn cylinder(&self) -> Cylinder {
        let mm = Length::new::<millimeter>;
        let dead = Volume::new::<milliliter>(self.dead_ml);
        let size = Dimensions {
            bore: mm(self.bore_mm),
            rod: mm(self.rod_mm),
            stroke: mm(self.columns_mm[0] + self.columns_mm[1]),
            wall: None,
            cap_dead_volume: dead,
            rod_dead_volume: dead,
        };
        Cylinder::new(Kind::DoubleActing, size).expect("fits")
    }

    /// Rows of time, cap and rod pressure (Pa), extension (m).
    fn course(&self) -> Vec<[f64; 4]> {
        let c = self.cylinder();
        let (ac, ar) = (c.cap_area().value, c.annulus_area().value);
        let x0 = self.columns_mm[0] * 1e-3;
        let load = self.load_kn * 1e3;
        let pr0 = self.rod_start_bar * 1e5;
        let pc0 = (load + pr0 * ar) / ac;
        let conductance = self.first_bypass_ml_min * ML_MIN / (pc0 - pr0);
        let volume = |chamber, x: f64| c.volume(chamber, Length::new::<millimeter>(x * 1e3)).value;
        // State: cap pressure and extension; rod pressure follows from the load.
        let rod = |pc: f64| (pc * ac - load) / ar;
        let rate = |[pc, x]: [f64; 2]| {
            let pr = rod(pc);
            let flow = conductance * (pc - pr);
            let (vc, vr) = (volume(Chamber::Cap, x), volume(Chamber::Rod, x));
            // Mass from cap at its density arrives in the rod side at another one.
            let arriving = flow * ((pc - pr) / K_PA).exp();
            // dp_c·A_c = dp_r·A_r with dp = K·(flow in − swept)/V on each side.
            let sink = (flow * ac / vc + arriving * ar / vr) / (ac * ac / vc + ar * ar / vr);
            [K_PA / vc * (ac * sink - flow), -sink]
        };
        let step = 0.1;
        let mut state = [pc0, x0];
        let mut rows = Vec::new();
        let n_rows = (self.hold_s / step) as usize;
        for index in 0..=n_rows {
            rows.push([index as f64 * step, state[0], rod(state[0]), state[1]]);
            let add = |s: [f64; 2], k: [f64; 2], h: f64| [s[0] + h * k[0], s[1] + h * k[1]];
            let k1 = rate(state);
            let k2 = rate(add(state, k1, step / 2.0));
            let k3 = rate(add(state, k2, step / 2.0));
            let k4 = rate(add(state, k3, step));
            let mean = [0, 1].map(|i| (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]) / 6.0);
            state = add(state, mean, step);
        }
        rows
    }

    fn recording(&self) -> Recording {
        let rows = self.course();
        let column = |index: usize| rows.iter().map(|row| row[index]).collect();
        let tracks = vec![
            track(Role::CapPressure, 100.0, (2e3, 1e-3), column(1)),
            track(Role::RodPressure, 100.0, (2e3, 1e-3), column(2)),
            track(Role::Position, 1e-7, (1e-4, 5e-4), column(3)),
        ];
        made::recording(column(0), tracks, 0.0, ["", ""])
    }

    fn subject(&self) -> Subject {
        let oil = Oil::new(
            "VG 46".into(),
            Viscosity::from_mm2_per_s(46.0),
            Viscosity::from_mm2_per_s(6.8),
            Expansion::from_per_kelvin(7e-4),
            Pressure::new::<gigapascal>(K_PA / 1e9),
        )
        .expect("an oil");
        Subject {
            piece: Piece::Cylinder(self.cylinder()),
            fluid: Fluid::Oil(oil),
            circuit: Circuit::plain(
                Port::Blocked,
                Port::Blocked,
                RodHold::PushedIn {
                    load: Some(Force::new::<kilonewton>(self.load_kn)),
                },
            ),
            stated: Stated::default(),
            by_eye: None,
        }
    }
}

fn example_1(rod_start_bar: f64, hold_s: f64) -> Example {
    Example {
        bore_mm: 63.0,
        rod_mm: 36.0,
        columns_mm: [300.0, 100.0],
        dead_ml: 20.0,
        load_kn: 30.0,
        first_bypass_ml_min: 10.0,
        rod_start_bar,
        hold_s,
    }
}

fn example_4() -> Example {
    Example {
        bore_mm: 80.0,
        rod_mm: 56.0,
        columns_mm: [400.0, 200.0],
        dead_ml: 30.0,
        load_kn: 60.0,
        first_bypass_ml_min: 5.0,
        rod_start_bar: 15.0,
        hold_s: 300.0,
    }
}

/// Worked example 1 (63/36, 30 kN, K 1.4 GPa, 10 mL/min at the start), mass-exact form:
/// 17.92 mm and 294.731 bar in the end (computed independently).
#[test]
fn the_reference_course_ends_where_the_worked_example_does() {
    let rows = example_1(0.0, 5000.0).course();
    let last = rows.last().expect("rows");
    assert!((last[1] / 1e5 - 294.731).abs() < 0.01, "{}", last[1] / 1e5);
    assert!(
        ((0.300 - last[3]) * 1e3 - 17.92).abs() < 0.01,
        "{}",
        (0.300 - last[3]) * 1e3
    );
}

#[track_caller]
fn check_bypass(example: &Example) {
    let evaluation = evaluate(&example.recording(), &example.subject()).expect("evaluates");
    assert_eq!(
        evaluation
            .doubts
            .iter()
            .filter(|d| format!("{d:?}").contains("NoFit"))
            .count(),
        0,
        "{evaluation:?}"
    );
    let truth = example.first_bypass_ml_min;
    for name in [FigureName::CapLoss, FigureName::RodGain] {
        let figure = evaluation.figure(name).expect("both sides are readable");
        let measured = figure.measured.expect("a total has a value");
        let value = measured.value_si / ML_MIN;
        let expanded = 2.0 * measured.standard_si / ML_MIN;
        eprintln!("{name:?}: {value:.3} ± {expanded:.3} of {truth}");
        assert!(
            (value - truth).abs() < expanded,
            "{name:?}: {value} ± {expanded} is not {truth}"
        );
        assert!(
            expanded < 0.15 * truth,
            "{name:?}: ± {expanded} says nothing"
        );
    }
    let bypass = evaluation
        .figure(FigureName::PistonBypass)
        .expect("is bounded");
    assert!(bypass.measured.is_none());
    assert!(bypass.lower_si / ML_MIN < truth && bypass.upper_si / ML_MIN > truth);
    // Area × drift alone reads far off: 32 % high at the start of example 1.
    let drift = evaluation
        .figure(FigureName::Drift)
        .and_then(|f| f.measured)
        .expect("position");
    assert!(drift.value_si < 0.0);
}

/// Worked example 1 with the rod side pre-charged to 15 bar, so that it can be read.
#[test]
fn a_bypass_of_ten_millilitres_a_minute_is_found_on_both_sides() {
    check_bypass(&example_1(15.0, 300.0));
}

/// Worked example 4 (80/56, 60 kN, 5 mL/min).
#[test]
fn a_bypass_of_five_millilitres_a_minute_is_found_on_both_sides() {
    check_bypass(&example_4());
}

/// The recording of an example with other courses: a value by role and time.
fn with_courses(example: &Example, course: impl Fn(Role, f64) -> f64) -> Recording {
    let whole = example.recording();
    let tracks = whole.tracks().iter().cloned().map(|mut track| {
        let role = track.channel.role;
        track.codes = Codes::Si(whole.time_s().iter().map(|t| course(role, *t)).collect());
        track
    });
    made::recording(whole.time_s().to_vec(), tracks.collect(), 0.0, ["", ""])
}

/// Worked example 2 (63/36 hanging 10 kN, cap side void): 4.717 mm/min without end and
/// 9.902 mL/min past the piston, referred to the rod side (computed independently).
#[test]
fn a_hanging_load_gives_the_total_of_the_rod_side_with_its_sign() {
    let mut example = example_1(15.0, 120.0);
    let speed = 4.717e-3 / 60.0;
    let recording = with_courses(&example, |role, t| match role {
        Role::CapPressure => -0.96e5,
        Role::RodPressure => 46.204e5,
        _ => 0.2 + speed * t,
    });
    example.load_kn = -10.0;
    let mut subject = example.subject();
    subject.circuit.rod = RodHold::PulledOut { load: None };
    let evaluation = evaluate(&recording, &subject).expect("evaluates");
    let drift = evaluation
        .figure(FigureName::Drift)
        .and_then(|f| f.measured)
        .expect("position");
    assert!((drift.value_si / speed - 1.0).abs() < 1e-9);
    let gain = evaluation.figure(FigureName::RodGain).expect("readable");
    let truth = -example.cylinder().annulus_area().value * speed / ML_MIN;
    assert!((truth + 9.902).abs() < 0.003, "{truth}");
    assert!(
        gain.lower_si / ML_MIN < truth && truth < gain.upper_si / ML_MIN,
        "{gain:?}"
    );
    let bypass = evaluation
        .figure(FigureName::PistonBypass)
        .expect("bounded");
    assert!(bypass.upper_si <= 0.0 && bypass.lower_si / ML_MIN < truth);
    assert!(
        evaluation.figure(FigureName::CapLoss).is_none(),
        "a void chamber has no account"
    );
}

/// Worked example 3 (double rod 50/28, 8 kN): 1.484 mm/min steady from 2 mL/min.
#[test]
fn a_double_rod_under_a_steady_leak_reads_two_millilitres_a_minute() {
    let mut example = example_1(15.0, 300.0);
    (example.bore_mm, example.rod_mm) = (50.0, 28.0);
    let cylinder = Cylinder::new(Kind::DoubleRod, *example.cylinder().size()).expect("fits");
    let mut subject = example.subject();
    subject.piece = Piece::Cylinder(cylinder);
    let recording = with_courses(&example, |role, t| match role {
        Role::CapPressure => (59.358 + 15.0) * 1e5,
        Role::RodPressure => 15e5,
        _ => 0.2 - 1.484e-3 / 60.0 * t,
    });
    let evaluation = evaluate(&recording, &subject).expect("evaluates");
    for name in [FigureName::CapLoss, FigureName::RodGain] {
        let figure = evaluation.figure(name).expect("readable");
        assert!(
            figure.lower_si / ML_MIN < 2.0 && 2.0 < figure.upper_si / ML_MIN,
            "{figure:?}"
        );
        assert!(
            (figure.upper_si - figure.lower_si) / ML_MIN < 0.4,
            "{figure:?}"
        );
    }
}

/// A locked rod with the pressure on the rod side: 0.15 mL/min towards the cap raise it by
/// K·Q·t/V and let the rod side fall likewise (closed form, K 1.4 GPa).
#[test]
fn oil_that_passes_the_piston_backwards_is_a_leak_and_no_pass() {
    let mut example = example_1(15.0, 300.0);
    example.columns_mm = [50.0, 350.0];
    let flow = 0.15 * ML_MIN;
    let volume = |chamber| {
        example
            .cylinder()
            .volume(chamber, Length::new::<millimeter>(50.0))
            .value
    };
    let (cap, rod) = (volume(Chamber::Cap), volume(Chamber::Rod));
    let recording = with_courses(&example, |role, t| match role {
        Role::CapPressure => 20e5 + K_PA * flow * t / cap,
        Role::RodPressure => 120e5 - K_PA * flow * t / rod,
        _ => 0.05,
    });
    let mut subject = example.subject();
    subject.circuit.rod = RodHold::Locked;
    let evaluation = evaluate(&recording, &subject).expect("evaluates");
    for name in [
        FigureName::CapLoss,
        FigureName::RodGain,
        FigureName::PistonBypass,
    ] {
        let figure = evaluation
            .figure(name)
            .unwrap_or_else(|| panic!("{name:?}: {evaluation:?}"));
        let truth = -0.15;
        assert!(
            figure.lower_si / ML_MIN < truth && truth < figure.upper_si / ML_MIN,
            "{figure:?}"
        );
    }
    let limit = |figure| Limit {
        id: "limit".into(),
        figure,
        number: 0.05,
        unit: "mL/min".into(),
        si_per_unit: ML_MIN,
        text: "0.05 mL/min".into(),
        at_pressure: None,
        at_temperature: None,
        source: "test".into(),
        basis: Basis::default(),
    };
    for name in [FigureName::CapLoss, FigureName::PistonBypass] {
        let verdict = judge(
            Ok(&evaluation),
            &[],
            &[limit(name)],
            DecisionRule::Guarded { probability: 0.95 },
        );
        assert_eq!(verdict.outcome, Outcome::Fail, "{name:?}");
    }
}

/// A cap side that gains oil against its pressure is a fault of the measurement.
#[test]
fn a_gain_against_the_pressure_is_not_valid() {
    let example = example_1(15.0, 300.0);
    let recording = with_courses(&example, |role, t| match role {
        Role::CapPressure => 110e5,
        Role::RodPressure => 15e5,
        _ => 0.3 + 0.4e-3 / 60.0 * t,
    });
    let evaluation = evaluate(&recording, &example.subject()).expect("evaluates");
    assert!(
        evaluation.figure(FigureName::CapLoss).is_none(),
        "{evaluation:?}"
    );
    let verdict = judge(Ok(&evaluation), &[], &[], DecisionRule::Simple);
    assert_eq!(verdict.outcome, Outcome::NotValid);
}
